"""Which way the belt walks when a pulley's axis is tilted: the sign, never millimetres.

Normal entry: a belt (a web) comes to run square to the axis of the pulley it arrives at, and so walks toward the edge
it meets first (Shelton, *Lateral dynamics of a moving web*, thesis, Oklahoma State University, 1968; Shelton and Reid,
J Dyn Syst Meas Control 93, 1971).

Look at the drive from the front; u is the direction of travel, z points to the front, and the front end of the axis
leans by e (a small vector in the plane, rise per length). The face of the pulley is square to its axis, so where the
belt travels along u the face carries it sideways by -e.u for each length travelled. Three parts follow, to first order:

- entry: the belt meets the pulley at slope -e.u_in; as a beam without moment at the entry the span before it, L_in
  long, is moved by 2/3 of L_in times that slope;
- wrap: round the pulley the belt stays in the plane square to the axis, so it leaves moved by -e.c, c the chord from
  entry to exit (2 R sin(wrap / 2) long);
- exit: it leaves at slope -e.u_out, which moves the span after it by 1/3 of L_out times that.

Their sum is the walk in one pass, every other pulley true. Tilt all pulleys alike and the sum over the loop is zero, as
it must be: that is a loop that was merely turned. Stated limits: one pulley off at a time, a plain flat belt with
enough grip to be carried sideways, elastic and thin; spans of a blower drive are short and wide, so the sizes of the
three parts are rough, and only the sign of the sum is given, none where they nearly cancel.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, get_args

from drivekit.drive.amounts import finite, positive

if TYPE_CHECKING:
    from drivekit.drive.path import BeltPath

__all__ = ["LEANS", "PHASES", "UNSEEN", "Walk", "leaning", "reading_words", "walk", "walk_on"]

Side = Literal["front", "rear", "even"]
Lean = Literal["along the slide", "across the slide"]

LEANS: tuple[Lean, ...] = ("along the slide", "across the slide")
UNSEEN: tuple[str, ...] = (
    "the twist of the belt's cord, which makes a belt walk by itself and changes with the belt",
    "the lead of the teeth, on the belt and on the pulleys, which screws it sideways",
)
"""What this model cannot see; both need a reading, not a calculation."""

# Parts that cancel to less than this share of their sizes leave the sign to what the model cannot see. The lift of a
# blower whose span before is some half of the span after comes to at most .16, an idler's adjusters to .27 and more.
_CLEAR_SHARE = 0.2


@dataclass(frozen=True, slots=True)
class Walk:
    """Which way the belt walks (even when nothing drives it or the parts nearly cancel), and how the parts share in it.

    `entry`, `wrap` and `exit` are shares of their sizes, toward the front positive: a picture of the sign, not a
    distance. `lean_rad` is the direction in which the front end of the axis leans, counterclockwise from the x axis,
    seen from the front; `arrives_rad` that in which the belt arrives, `wrap_rad` how far it turns, the same way round.
    """

    toward: Side
    entry: float
    wrap: float
    exit: float
    lean_rad: float
    arrives_rad: float
    wrap_rad: float

    def __str__(self) -> str:
        if self.toward == "even":
            said = "This tilt gives the belt no clear way to walk: what is left of it is within what cannot be seen"
        else:
            met = "rear" if self.toward == "rear" else "front"
            said = f"The belt walks to the {self.toward}: on balance it meets the {met} edge of the pulley first"
        return f"{said}. Sign only; not seen: {'; '.join(UNSEEN)}."


def walk(
    lean_rad: float, arrives_rad: float, wrap_rad: float, radius_m: float, span_before_m: float, span_after_m: float
) -> Walk:
    """Say which way one tilted pulley makes the belt walk, all others being true.

    Parameters
    ----------
    lean_rad : float
        Direction, in the plane of the drive seen from the front, in which the front end of the axis leans;
        counterclockwise from the x axis.
    arrives_rad : float
        Direction of travel of the span that arrives.
    wrap_rad : float
        Angle through which the pulley turns the belt, counterclockwise positive.
    radius_m : float
        Pitch radius of the pulley.
    span_before_m, span_after_m : float
        Lengths of the spans before and after it.

    Raises
    ------
    ValueError
        If a length is not positive, or the wrap is none or more than a full turn.

    References
    ----------
    Shelton (1968), see the top of this module; the sum over a loop tilted as a whole is zero (tested).
    """
    for value, what in ((lean_rad, "the direction of the lean"), (arrives_rad, "the direction of the belt")):
        finite(value, what)
    if not 0 < abs(finite(wrap_rad, "the wrap")) <= 2 * math.pi:
        raise ValueError(
            f"A wrap of {math.degrees(wrap_rad):g} degrees is none; give more than 0, at most 360 degrees."
        )
    entry, around, leaving = parts_m(
        lean_rad,
        arrives_rad,
        wrap_rad,
        positive(radius_m, "the pulley's radius"),
        positive(span_before_m, "the span before the pulley"),
        positive(span_after_m, "the span after the pulley"),
    )
    size = abs(entry) + abs(around) + abs(leaving)
    balance = entry + around + leaving
    if size <= 1e-12 * (radius_m + span_before_m + span_after_m) or abs(balance) < _CLEAR_SHARE * size:
        toward: Side = "even"
    else:
        toward = "front" if balance > 0 else "rear"
    scale = size or 1.0
    return Walk(toward, entry / scale, around / scale, leaving / scale, lean_rad, arrives_rad, wrap_rad)


def walk_on(path: BeltPath, pulley: int, lean_rad: float) -> Walk:
    """Say which way one tilted pulley of a computed path makes the belt walk.

    Parameters
    ----------
    path : BeltPath
        From ``drivekit.drive.path.belt_path``.
    pulley : int
        Which pulley of the path, from 0.
    lean_rad : float
        As for `walk`; `leaning` gives it from the slide, and a quarter turn up is what a jack screw lifts.
    """
    arc, before, after = path.arcs[pulley], path.spans[pulley - 1], path.spans[pulley]
    turned = arc.turn * arc.wrap_rad
    return walk(lean_rad, before.heading_rad, turned, arc.radius_m, before.length_m, after.length_m)


def parts_m(
    lean_rad: float, arrives_rad: float, wrap_rad: float, radius_m: float, span_before_m: float, span_after_m: float
) -> tuple[float, float, float]:
    """Walk by entry, wrap and exit for a lean of one (front positive), as derived at the top of this module.

    The chord of the wrap, from where the belt arrives to where it leaves, has the direction midway between the two
    directions of travel and the length 2 R sin(wrap / 2).
    """
    along_arriving = math.cos(lean_rad - arrives_rad)
    along_leaving = math.cos(lean_rad - arrives_rad - wrap_rad)
    along_chord = math.cos(lean_rad - arrives_rad - wrap_rad / 2)
    return (
        -2 / 3 * span_before_m * along_arriving,
        -2 * radius_m * math.sin(abs(wrap_rad) / 2) * along_chord,
        -1 / 3 * span_after_m * along_leaving,
    )


def leaning(slide_rad: float, lean: Lean = "along the slide") -> float:
    """Direction of lean for more screw at the front: the front end further along the slide, or a quarter turn from it.

    Parameters
    ----------
    slide_rad : float
        Direction in which the slide (or the jack screw) pushes, into the belt.
    lean : {"along the slide", "across the slide"}
        Along: the two adjusters differ. Across: the support leans sideways, counterclockwise seen from the front.

    Raises
    ------
    ValueError
        If ``lean`` is neither.
    """
    if lean not in LEANS:
        raise ValueError(f'"{lean}" is no way to lean; write {LEANS[0]} or {LEANS[1]}.')
    return finite(slide_rad, "the direction of the slide") + (math.pi / 2 if lean == LEANS[1] else 0.0)


PHASES: dict[str, tuple[str, Side]] = {
    "idle": ("At idle", "rear"),
    "load": ("Under load", "even"),
    "winding down": ("Winding down", "front"),
}
"""When a phase of a run is, and where a belt that is set right leans in it: common practice, no source."""


def reading_words(phase: str, leans: Side) -> str:
    """Say what a lean means in a phase of the run, and which screw it asks for.

    Common practice (no source): off the front under load, the snout is too low and both jack screws, which stand under
    it left and right, go in; off the rear it is too high and both go out. The idler's own adjusters, front and rear,
    are another pair: more at the end the belt runs off, as normal entry has it wherever a screw pushes its pulley
    squarely into the belt (midway between the two spans) and the span before it is longer than half the span after it,
    as for the idlers of the example drives (tested). Of the blower's own lift normal entry says nothing clear there.

    Parameters
    ----------
    phase : str
        A key of `PHASES`.
    leans : {"front", "rear", "even"}
        Where the belt leans, from the edges' temperatures or the eye.

    Raises
    ------
    ValueError
        If the phase or the lean is none.
    """
    if phase not in PHASES:
        raise ValueError(f'"{phase}" is no phase of a run; one of {", ".join(PHASES)}.')
    if leans not in get_args(Side):
        raise ValueError(f'"{leans}" is no way a belt leans; write front, rear or even.')
    when, expected = PHASES[phase]
    seen = "runs even" if leans == "even" else f"leans to the {leans}"
    if leans == expected:
        return f"{when} it {seen}, as it should (common practice, no source)."
    should = "run even" if expected == "even" else f"lean to the {expected}"
    turn = "By itself that asks for no screw: what counts is how it runs under load."
    if phase == "load":
        snout, way = ("too low", "in") if leans == "front" else ("too high", "out")
        turn = (
            f"The snout is {snout}: both jack screws {way}; or the idler's adjusters, more at the {leans} "
            "(common practice, no source)."
        )
    return f"{when} it {seen}, but it should {should}. {turn}"
