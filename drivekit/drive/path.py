"""The belt's path: how long it is, and how it lies around each pulley.

The pitch line is made of straight spans and arcs. A pulley turned anticlockwise by the belt has the signed radius +r,
one turned clockwise -r. A span leaves pulley i and meets pulley j, their centres `d` apart at the angle `theta`; with
R = signed radius its heading and length are

    phi = theta - asin((Rj - Ri) / d),    span = sqrt(d^2 - (Rj - Ri)^2)

(Euclid's common tangents: outer ones between pulleys on the same side of the belt, inner ones between opposite sides).
The wrap of a pulley is the change of heading there, the arc r x wrap; all changes of a belt that does not cross itself
add up to one turn. The length so found is exact for the pitch line; it leaves out the polygon a toothed pulley makes of
it and the belt's stiffness against bending.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import asin, atan2, cos, degrees, hypot, sin, sqrt, tau
from typing import Literal

from drivekit.drive.layout import Layout
from drivekit.units import Refusal, Spoken, Units, long

__all__ = ["Arc", "BeltPath", "Circle", "Impossible", "Span", "around", "belt_path"]

Turn = Literal[1, -1]
NOTHING_M = 1e-12
NOTHING_RAD = 1e-9


class Impossible(Refusal):
    """A layout that no belt can run around: one sentence, and the pulley it is about."""

    def __init__(self, sentence: str, *parts: object, pulley: str = "") -> None:
        super().__init__(sentence, *parts)
        self.pulley = pulley


@dataclass(frozen=True, slots=True)
class Circle:
    """A pulley as the pitch line sees it.

    `radius_m` is that of the pitch line around it, `body_m` its own; `turn` is 1 where the belt turns it anticlockwise;
    `pitch_m` is that of the teeth that mesh with it, None on a smooth pulley.
    """

    name: str
    x_m: float
    y_m: float
    radius_m: float
    body_m: float
    turn: Turn
    pitch_m: float | None = None


@dataclass(frozen=True, slots=True)
class Span(Spoken):
    """A free span from where the belt leaves one pulley to where it meets the next."""

    leaves: str
    meets: str
    from_x_m: float
    from_y_m: float
    to_x_m: float
    to_y_m: float
    length_m: float
    heading_rad: float

    def _said(self, units: Units) -> str:
        return f"Span {self.leaves} to {self.meets}: {units.long(self.length_m, 1)}."


@dataclass(frozen=True, slots=True)
class Arc(Spoken):
    """The belt on one pulley: `wrap_rad` of it, `starts_rad` the angle of the first point seen from its centre."""

    pulley: str
    x_m: float
    y_m: float
    radius_m: float
    turn: Turn
    starts_rad: float
    wrap_rad: float
    teeth_in_mesh: float | None

    def _said(self, units: Units) -> str:
        teeth = "smooth" if self.teeth_in_mesh is None else f"{self.teeth_in_mesh:.1f} teeth in mesh"
        return f"{self.pulley}: {degrees(self.wrap_rad):.1f} degrees of wrap, {teeth}."


@dataclass(frozen=True, slots=True)
class BeltPath(Spoken):
    """The path: `arcs[i]` lies on pulley i, `spans[i]` leads from it to the next."""

    length_m: float
    spans: tuple[Span, ...]
    arcs: tuple[Arc, ...]

    def length_per_move(self, pulley: int, direction_rad: float) -> float:
        """Change of the path's length per length that a pulley's centre moves in a direction.

        The span that arrives grows by its own heading's part of the move, the one that leaves shrinks by its own; the
        arcs add nothing of first order (the belt is tangent to them). With e the direction: (u_in - u_out) . e.
        """
        arriving, leaving = self.spans[pulley - 1].heading_rad, self.spans[pulley].heading_rad
        return cos(arriving - direction_rad) - cos(leaving - direction_rad)

    def _said(self, units: Units) -> str:
        lines = [f"The belt's path is {units.long(self.length_m, 1)} long."]
        pairs = zip(self.arcs, self.spans, strict=True)
        return "\n".join(lines + [part.said(units) for pair in pairs for part in pair])


def belt_path(layout: Layout) -> BeltPath:
    """Path of the belt around a layout, each pulley where it is given (idler at travel 0).

    Raises
    ------
    Impossible
        If no belt can run so; the sentence names the pulley.
    """
    turn: Turn = 1 if layout.turns == "anticlockwise" else -1
    circles = []
    for pulley in layout.pulleys:
        mesh = layout.belt.pitch_m if pulley.face == "toothed" and pulley.side == "inside" else None
        way: Turn = turn if pulley.side == "inside" else (-1 if turn == 1 else 1)
        radius, body = pulley.pitch_radius(layout.belt), pulley.body_radius(layout.belt)
        circles.append(Circle(pulley.name, pulley.x_m, pulley.y_m, radius, body, way, mesh))
    return around(circles, turn)


def around(circles: Sequence[Circle], turn: Turn) -> BeltPath:
    """Path of a belt that meets these pulleys in this order and runs round once in the sense `turn`.

    Raises
    ------
    Impossible
        If pulleys overlap, a span has no room, a pulley is not touched, or the belt crosses itself or a pulley.
    """
    _refuse_bodies(circles)
    spans, arcs = _pieces(circles)
    _refuse_turns(circles, arcs, turn)
    _refuse_crossings(circles, spans)
    length = sum(arc.radius_m * arc.wrap_rad for arc in arcs) + sum(span.length_m for span in spans)
    return BeltPath(length, spans, arcs)


def _pieces(circles: Sequence[Circle]) -> tuple[tuple[Span, ...], tuple[Arc, ...]]:
    spans = tuple(_span(one, circles[(i + 1) % len(circles)]) for i, one in enumerate(circles))
    return spans, tuple(_arc(one, spans[i - 1], spans[i]) for i, one in enumerate(circles))


def _turns(arcs: Sequence[Arc], turn: Turn) -> int:
    """Whole turns the belt makes, counted in the sense `turn`."""
    return round(turn * sum(arc.turn * arc.wrap_rad for arc in arcs) / tau)


def _span(one: Circle, other: Circle) -> Span:
    """Return the tangent along which the belt goes from one pulley to another."""
    across, up = other.x_m - one.x_m, other.y_m - one.y_m
    distance, step = hypot(across, up), other.turn * other.radius_m - one.turn * one.radius_m
    if distance <= abs(step):
        raise Impossible(
            "no belt goes from {} to {}: their centres are {} apart and must be more than {}",
            *(one.name, other.name, long(distance), long(abs(step))),
            pulley=other.name,
        )
    heading = atan2(up, across) - asin(step / distance)
    # a pulley turned anticlockwise lies to the left of the belt: seen from its centre, the contact lies to the right
    right_x, right_y = sin(heading), -cos(heading)
    leave, meet = one.turn * one.radius_m, other.turn * other.radius_m
    return Span(
        one.name,
        other.name,
        one.x_m + leave * right_x,
        one.y_m + leave * right_y,
        other.x_m + meet * right_x,
        other.y_m + meet * right_y,
        sqrt(distance**2 - step**2),
        heading,
    )


def _arc(circle: Circle, arriving: Span, leaving: Span) -> Arc:
    wrap = circle.turn * (leaving.heading_rad - arriving.heading_rad) % tau
    if wrap > tau - NOTHING_RAD:
        wrap = 0.0
    starts = atan2(arriving.to_y_m - circle.y_m, arriving.to_x_m - circle.x_m)
    mesh = None if circle.pitch_m is None else wrap * circle.radius_m / circle.pitch_m
    return Arc(circle.name, circle.x_m, circle.y_m, circle.radius_m, circle.turn, starts, wrap, mesh)


def _refuse_bodies(circles: Sequence[Circle]) -> None:
    if len(circles) < 2:
        raise Impossible("a belt needs at least two pulleys", pulley=circles[0].name if circles else "")
    for circle in circles:
        if not 0 < circle.body_m <= circle.radius_m:
            raise Impossible(
                "{} has a face of radius {} under a pitch line of radius {}; the face must be above 0 and not above "
                "the pitch line",
                *(circle.name, long(circle.body_m), long(circle.radius_m)),
                pulley=circle.name,
            )
    for i, one in enumerate(circles):
        for other in circles[i + 1 :]:
            distance, need = hypot(other.x_m - one.x_m, other.y_m - one.y_m), one.body_m + other.body_m
            if distance < need:
                raise Impossible(
                    "{} and {} overlap: their centres are {} apart and their faces need {}",
                    *(one.name, other.name, long(distance), long(need)),
                    pulley=other.name,
                )


def _refuse_turns(circles: Sequence[Circle], arcs: Sequence[Arc], turn: Turn) -> None:
    turns = _turns(arcs, turn)
    if turns == 1:
        return
    if len(circles) > 2 and _runs_the_other_way(circles, turn):
        way = "anticlockwise" if turn == -1 else "clockwise"
        raise Impossible(
            f"from {circles[0].name} on, the pulleys stand in the order of a belt that runs {way}; "
            f"reverse their order or the way it turns",
            pulley=circles[0].name,
        )
    # an untouched pulley would be wrapped backwards, which shows as nearly a whole turn
    suspects = [arc for arc in arcs if arc.turn == (turn if turns > 1 else -turn)]
    untouched = max(suspects or arcs, key=lambda arc: arc.wrap_rad)
    raise Impossible(
        f"the belt does not touch {untouched.pulley}: it would have to bend the other way there, by "
        f"{degrees(tau - untouched.wrap_rad):.1f} degrees",
        pulley=untouched.pulley,
    )


def _runs_the_other_way(circles: Sequence[Circle], turn: Turn) -> bool:
    """Whether the same order makes a sound path for a belt that runs the other way."""
    turned = [replace(circle, turn=1 if circle.turn == -1 else -1) for circle in circles]
    try:
        spans, arcs = _pieces(turned)
        _refuse_crossings(turned, spans)
    except Impossible:
        return False
    return _turns(arcs, 1 if turn == -1 else -1) == 1


def _refuse_crossings(circles: Sequence[Circle], spans: Sequence[Span]) -> None:
    for i, span in enumerate(spans):
        for circle in circles:
            if circle.name not in (span.leaves, span.meets) and _nearest(span, circle) < circle.body_m - NOTHING_M:
                through = f"the span from {span.leaves} to {span.meets} runs through {circle.name}"
                raise Impossible(through, pulley=circle.name)
        for other in spans[i + 1 :]:
            if _cross(span, other):
                raise Impossible(
                    f"the belt crosses itself: the span from {span.leaves} to {span.meets} cuts the span from "
                    f"{other.leaves} to {other.meets}",
                    pulley=span.meets,
                )


def _nearest(span: Span, circle: Circle) -> float:
    """Distance from a pulley's centre to a span."""
    across, up = circle.x_m - span.from_x_m, circle.y_m - span.from_y_m
    along = across * cos(span.heading_rad) + up * sin(span.heading_rad)
    held = min(max(along, 0.0), span.length_m)
    return hypot(across - held * cos(span.heading_rad), up - held * sin(span.heading_rad))


def _cross(one: Span, other: Span) -> bool:
    """Whether two spans cut each other; touching at an end is no cut."""

    def left_of(span: Span, x: float, y: float) -> float:
        return cos(span.heading_rad) * (y - span.from_y_m) - sin(span.heading_rad) * (x - span.from_x_m)

    def parted(span: Span, by: Span) -> bool:
        first, last = left_of(by, span.from_x_m, span.from_y_m), left_of(by, span.to_x_m, span.to_y_m)
        return min(abs(first), abs(last)) > NOTHING_M and first * last < 0

    return parted(one, other) and parted(other, one)
