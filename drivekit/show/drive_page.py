"""The page of a drive: what to set, when it goes slack, what pulls where; one self-contained HTML file, no network.

It looks like the page of the findings and stands beside it. The words are the set-up's own; the tables carry the
numbers of every span and pulley in the three states. What stands where is in ``drive_page.html.j2``.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import degrees
from typing import TYPE_CHECKING

from drivekit.cautions import CAUTIONS
from drivekit.show.belt_path import belt_path_picture
from drivekit.show.markup import written
from drivekit.units import Units

if TYPE_CHECKING:
    from drivekit.drive.set_up import SetUp

__all__ = ["METHODS", "drive_page", "pulleys_table", "spans_table"]

Table = tuple[Sequence[str], Sequence[Sequence[str]], str]

METHODS: tuple[str, ...] = (
    "Belt path: common tangents and arcs of the pitch circles, exact; pitch diameter is teeth x pitch / pi (ISO 5296).",
    "Tensions: on fixed centres the mean over the belt's length stays set + growth; the sides differ by power / speed.",
    "Contact tension is total less mass x speed squared (balance of forces); it presses on pulleys, pulls on shafts.",
    "Goes slack: where set + growth - share x pull - mass x speed squared is 0; share: of the belt on the tight side.",
    "Most tension: the least of what the belt maker, the bearings, the clamp and the snout's owner allow.",
    "Blower power: the table joined by a monotone cubic (Fritsch and Carlson 1980), never carried beyond its end.",
    "Growth: expansion x height x warmer (Callister), and the belt's own, through the belt's stiffness.",
    "Span: T = 4 m L^2 f^2 for a string (Mersenne); push: T = F L / (4 d) sqrt(1 + (2 d / L)^2) (statics).",
    "Pulls: vector sum of contact tensions. Bearings: ISO 76 and ISO 281.",
    "Pin: cantilever (Roark), or beam on three supports that do not give (theorem of three moments), shear included.",
    "Left out: vibration, the blower's pulses, the polygon of the teeth, give of brackets and plates.",
)
"""How it is computed, with sources and limits."""


def drive_page(set_up: SetUp) -> str:
    """Set a drive's whole set-up as one HTML page: the whole file."""
    layout, said = set_up.layout, dict(set_up.sentences())
    return written(
        "drive_page.html.j2",
        layout=layout,
        answers=(
            ("When does the belt go slack?", said["Goes slack"]),
            ("How tight?", (set_up.set_to, *set_up.said(set_up.guide))),
            ("How is that set and read?", set_up.said(set_up.gain, set_up.reading)),
        ),
        warnings=set_up.warnings,
        picture=belt_path_picture(set_up),
        spans=spans_table(set_up),
        pulleys=pulleys_table(set_up),
        snout=(*set_up.said(set_up.snap), set_up.snout),
        fit=(*said["Path"][: 1 if set_up.seat is None else 2], *said["Belt"]),
        growth=said["Growth"],
        screws=said["Idler, screws and shims"],
        cautions=CAUTIONS,
        methods=METHODS,
    )


def spans_table(set_up: SetUp) -> Table:
    """Give every span's length and what it carries in each state: headings, rows and caption."""
    tensions = (f"Contact tension {state.name}" for state in set_up.states)
    rows, full, units = [], set_up.states[2], set_up.layout.spoken
    for i, span in enumerate(set_up.path.spans):
        carried = [_force(state.span_n[i], units) for state in set_up.states]
        cords = _force(full.span_n[i] + full.tensions.own_n, units)
        free = units.both(span.length_m * 1e3, "mm", 1, sep=", {}")
        rows.append([f"{span.leaves} to {span.meets}", free, *carried, cords])
    return (
        ["Span", "Free length", *tensions, "Cords, full load"],
        rows,
        f"The belt's path is {units.long(set_up.path.length_m)} long.",
    )


def pulleys_table(set_up: SetUp) -> Table:
    """Give every pulley's wrap, teeth in mesh and what the belt pulls on it in each state, as `spans_table` does."""
    pulls, rows = (f"Pull {state.name}" for state in set_up.states), []
    for i, arc in enumerate(set_up.path.arcs):
        mesh = "smooth" if arc.teeth_in_mesh is None else f"{arc.teeth_in_mesh:.1f}"
        pulled = (_force(state.load(i).force_n, set_up.layout.spoken) for state in set_up.states)
        rows.append([arc.pulley, f"{degrees(arc.wrap_rad):.1f}", mesh, *pulled])
    return ["Pulley", "Wrap, degrees", "Teeth in mesh", *pulls], rows, "Cold at rest; hot at idle and at full load."


def _force(force_n: float, units: Units) -> str:
    return units.both(force_n, "N", sep=", {}")
