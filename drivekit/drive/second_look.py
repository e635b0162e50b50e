"""What in a set-up needs a second look: limits passed, margins missed, each in a sentence.

Limits of belt, bearing and bolt are the makers' and come from the drive file. Six teeth in mesh on a pulley that
carries power, and a tenth of the slide kept for the belt to settle, are common practice, no source.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from drivekit.drive.amounts import force_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from drivekit.drive.set_up import SetUp

__all__ = ["second_look"]

LEAST_IN_MESH = 6.0
LEAST_LEFT = 0.1


def second_look(found: SetUp) -> tuple[str, ...]:
    """Return a sentence for everything that needs a second look."""
    return (*_tension(found), *_path(found), *_idler(found))


def _tension(found: SetUp) -> Iterator[str]:
    layout, full = found.layout, found.states[2]
    if full.tensions.slack_n <= 0:
        yield "At full load the belt is slack: a tooth can jump. Set more tension or carry less power."
    elif found.margin.low_n < 0:
        yield "With growth and reading as far off as they may be, the belt can go slack at full load."
    elif found.margin.low_n < found.margin.wanted_n:
        yield (
            f"The least slack-side tension, {force_words(found.margin.low_n)}, is under the "
            f"{force_words(found.margin.wanted_n)} wanted."
        )
    if found.guide.limit_n is not None and layout.tension.set_n > found.guide.limit_n:
        yield (
            f"{force_words(layout.tension.set_n)} is over {force_words(found.guide.limit_n)}, the most that keeps the "
            "tight side within the belt maker's limit."
        )


def _path(found: SetUp) -> Iterator[str]:
    belt, seat, slide = found.layout.belt, found.seat, found.layout.slide
    for pulley, arc in zip(found.layout.pulleys, found.path.arcs, strict=True):
        if pulley.role != "idler" and arc.teeth_in_mesh is not None and arc.teeth_in_mesh < LEAST_IN_MESH:
            yield f"Only {arc.teeth_in_mesh:.1f} teeth mesh on {pulley.name}; six is common practice (no source)."
        if belt.diameter_limit_m is not None and 2 * arc.radius_m < belt.diameter_limit_m:
            yield (
                f"The belt bends around {pulley.name} with {arc.radius_m * 2e3:.1f} mm of pitch diameter, under its "
                f"maker's {belt.diameter_limit_m * 1e3:.1f} mm."
            )
    if seat is None:
        wanted = belt.length_m * (1 + found.layout.tension.set_n / belt.stiffness_n)
        strain = found.path.length_m / belt.length_m - 1
        if abs(found.path.length_m - wanted) > 1e-4 * wanted:
            yield (
                f"With no slide the path of {found.path.length_m * 1e3:.2f} mm stretches a belt of {belt.teeth} teeth "
                f"to {force_words(max(strain, 0.0) * belt.stiffness_n)}, not to the tension to set."
            )
    elif slide is not None and seat.left_m < LEAST_LEFT * (slide.most_m - slide.least_m):
        yield f"Only {seat.left_m * 1e3:.1f} mm of the slide are left to tighten as the belt settles."


def _idler(found: SetUp) -> Iterator[str]:
    bearing = found.bearing
    if bearing is not None and bearing.safe is False and bearing.safety is not None:
        yield f"The idler's bearings have a static safety of {bearing.safety:.1f}; {bearing.safety_wanted:g} is wanted."
    if bearing is not None and bearing.slow_enough is False and bearing.limit_rpm is not None:
        yield f"The idler turns at {bearing.idler_rpm:,.0f} rpm, beyond its bearings' {bearing.limit_rpm:,.0f} rpm."
    if found.stack is not None and found.stack.verdict != "has play":
        yield f"The idler's stack {found.stack.verdict} in its bracket."
    if found.grip_refused:
        yield found.grip_refused
    elif found.grip is not None and not found.grip.holds:
        yield "The clamp does not hold the idler at the least grip its bolts may have."
