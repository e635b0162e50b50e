"""The part of the page on tracking: each car's edge temperatures on its idler flats, and what to turn next."""

from __future__ import annotations

from collections.abc import Mapping
from math import nan
from typing import TYPE_CHECKING, Any

from drivekit.decide.tracking import tracking_of
from drivekit.show.embed import inlined
from drivekit.show.picture import Picture
from drivekit.show.tables import html
from drivekit.show.tracking_brush import svg
from drivekit.show.tracking_picture import ReadingsPicture, readings_picture

if TYPE_CHECKING:
    from drivekit.decide.tracking import Tracking

__all__ = ["STEERING", "cars_fits", "cars_picture", "tracking"]

Plain = Mapping[str, Any]

STEERING = (
    "The readings are of warm-up, where the belt leans more than under load. Crews answer a reading with flats, so a "
    "belt that walks by itself is met by flats against it, and the plain slope comes out too small; where the one with "
    "the last reading and the belt held is clearly larger, take fewer flats than the line says, and read again."
)


def cars_fits(findings: Plain) -> dict[str, Tracking]:
    """Give the fit of every car of which at least one run has both its flats and its edge temperatures."""
    block, confidence = findings.get("tracking", {}), findings["settings"]["confidence"]
    if isinstance(block.get("reason"), str):
        return {}
    return {car: tracking_of(of_car["readings"], confidence=confidence) for car, of_car in block.items() if of_car["n"]}


def cars_picture(findings: Plain, car: str, fit: Tracking) -> ReadingsPicture:
    """Draw up the readings of one car."""
    readings = findings["tracking"][car]["readings"]
    flats, difference = (
        [nan if value is None else value for value in readings[name]] for name in ("net_flats", "difference_c")
    )
    return readings_picture(car, flats, difference, fit)


def tracking(findings: Plain, drawn: Mapping[str, Picture]) -> str:
    """Set a picture and its sentences for every car that has readings; nothing when none has."""
    parts = []
    for car, fit in cars_fits(findings).items():
        picture = cars_picture(findings, car, fit)
        figure = "".join(
            inlined(svg(picture, size, bare=True), f"{picture.name}-{car}", picture.title, kind)
            for size, kind in (("screen", "wide"), ("phone", "narrow"))
        )
        said = f'<p class="answer">{html(picture.title)}.</p><p>{html(str(fit.move))}</p>'
        caption = f"<figcaption>{html(picture.subtitle)} {html(picture.note)}</figcaption>"
        parts.append(
            f'<div class="part"><h3>{html(car)}</h3>{said}<figure class="both">{figure}{caption}</figure></div>'
        )
    return "".join((*parts, f"<p>{html(STEERING)}</p>")) if parts else ""
