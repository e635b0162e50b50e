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
    "belt that walks by itself is met by flats against it, and the plain slope comes out too flat; where the one with "
    "the last reading and the belt held is clearly steeper, take fewer flats than the line says, and read again."
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
    articles, notes = [], set()
    for place, (car, fit) in enumerate(cars_fits(findings).items()):
        picture = cars_picture(findings, car, fit)
        figure = inlined(svg(picture, "phone", bare=True), f"{picture.name}-{place}", picture.title, "narrow")
        said = f'<p class="answer">{html(picture.title)}.</p><p>{html(str(fit.move))}</p>'
        steered = f"{'' if fit.steered.estimate is None else 'is '}{fit.steered.words('°C')}"
        held = f"With the last reading and the belt held, that {steered}."
        caption = f"<figcaption>{html(picture.subtitle)} {html(held)}</figcaption>"
        articles.append(f"<article><div>{said}</div><figure>{figure}{caption}</figure></article>")
        notes.add(picture.note)
    if not articles:
        return ""
    below = "".join(f'<p class="small">{html(note)}</p>' for note in sorted(notes)) + f"<p>{html(STEERING)}</p>"
    return f'<div class="part"><div class="answers">{"".join(articles)}</div></div>{below}'
