"""Path, belt and tension together: where the idler sits, which belts fit, what a turn and the engine's growth add.

The idler's centre moves along a line; the path's length L(s) over the travel s is found exactly, so the travel for a
belt is the root of L(s) = N p (1 + T / EA): the pitch length stretched by the static tension T.

A path longer by dL adds EA dL / L to the tension (Hooke's law; EA from the belt's maker or from a pull test). A turn of
the adjusters makes it longer, and so does heat: each part of the height between crank and blower grows by expansion x
height x warmer; the sum lifts the blower's centre (each pulley by its share). The belt's own cord grows by expansion x
warmer of its length and takes tension away again:

    gain = EA (dL_path - L alpha_belt warmer_belt) / L

with the path's growth dL found exactly by laying the belt anew. Linear expansion: Callister, *Materials Science and
Engineering*, whose values `layout.py` carries. Temperatures are taken even along each part, and the belt as stiff as
cold; both are rough, so a measured range of growth goes beside the computed one and is used where given.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, copysign, floor, inf

from drivekit.drive.amounts import positive
from drivekit.drive.layout import Layout, Slide
from drivekit.drive.path import BeltPath, Impossible, belt_path
from drivekit.drive.screws import FLATS_IN_A_TURN, height, thread
from drivekit.units import Spoken, Units, flats_words, long

__all__ = [
    "AdjusterGain",
    "BeltChange",
    "Growth",
    "Seat",
    "adjuster_gain",
    "belt_change",
    "fitting_belts",
    "growth",
    "refuse_misfit",
    "seat",
    "stiffness_by_turns",
]

SAMPLES = 33
EDGE_HALVINGS = 40
STIFFNESS_ROUNDS = 12
# a belt on fixed centres that carries less or more than a drive file may ask for does not fit, nor one whose path is
# further from what its tension makes of it than a tape is off (common practice, no source)
FITTING_N = (50.0, 50_000.0)
TAPE_M = 0.002


@dataclass(frozen=True, slots=True)
class Seat(Spoken):
    """Where the idler sits for a belt of `length_m` under its tension.

    `travel_m` is along the slide, `left_m` to its far end, `back_m` to its near end.
    """

    teeth: int
    length_m: float
    travel_m: float
    left_m: float
    back_m: float

    def _said(self, units: Units) -> str:
        return (
            f"A belt of {self.teeth} teeth seats the idler at {units.long(self.travel_m, 2)} of travel; "
            f"{units.long(self.left_m, 1)} are left to tighten and {units.long(self.back_m, 1)} to slacken."
        )


@dataclass(frozen=True, slots=True)
class AdjusterGain(Spoken):
    """What a turn and a flat of the adjusters do to the static tension."""

    travel_per_turn_m: float
    path_per_travel: float
    per_turn_n: float

    @property
    def per_flat_n(self) -> float:
        """Tension gained a flat, all adjusters moved alike."""
        return self.per_turn_n / FLATS_IN_A_TURN

    def _said(self, units: Units) -> str:
        return (
            f"A turn of every adjuster moves the idler {units.long(self.travel_per_turn_m, 3)} and gains "
            f"{units.force(self.per_turn_n)}; a flat gains {units.force(self.per_flat_n)}."
        )


@dataclass(frozen=True, slots=True)
class BeltChange(Spoken):
    """Whole flats by which every adjuster is backed off for a change of belt, and how loose the belt then hangs."""

    flats: int
    loose_m: float

    def _said(self, units: Units) -> str:
        turns = self.flats / FLATS_IN_A_TURN
        return (
            f"For a change of belt back every adjuster off {flats_words(self.flats)} ({turns:.1f} turns): the belt "
            f"then hangs {units.long(self.loose_m)} loose. As many back bring the same belt to its tension again, "
            "another one near it: read it."
        )


@dataclass(frozen=True, slots=True)
class Growth(Spoken):
    """Growth of the engine and the tension it adds.

    `computed_m` is the sum over the parts of the height; `engine_m` is least, expected and greatest, `tension_n` what
    each adds to every span with the belt's own growth taken off; `path_m` and `belt_m` are the expected growth of the
    belt's path, and of the belt itself.
    """

    computed_m: float
    engine_m: tuple[float, float, float]
    tension_n: tuple[float, float, float]
    path_m: float
    belt_m: float

    def _said(self, units: Units) -> str:
        return (
            f"Hot, the engine grows {units.length(self.engine_m[1])} between crank and blower and the belt's path "
            f"{units.long(self.path_m, 2)}, the belt itself {units.long(self.belt_m, 2)}: that adds "
            f"{units.force(self.tension_n[1])} ({units.range(*self.tension_n[::2], 'N')}) to every span."
        )


Reach = list[tuple[float, float]]  # travel and path length, over the travel on which a belt can run


def seat(layout: Layout, belts: Sequence[Seat]) -> Seat:
    """Choose the layout's own belt among those that fit.

    Raises
    ------
    Impossible
        If no travel of the slide gives that length; the sentence says which belts would fit.
    """
    wanted = layout.belt.teeth
    found = next((belt for belt in belts if belt.teeth == wanted), None)
    if found is None:
        takes = f"belts of {belts[0].teeth} to {belts[-1].teeth} teeth" if belts else "no belt of whole teeth"
        raise Impossible(
            f"a belt of {wanted} teeth does not fit: the slide takes {takes} of pitch {{}}",
            long(layout.belt.pitch_m),
            pulley=layout.pulleys[_sliding(layout)[1]].name,
        )
    return found


def fitting_belts(layout: Layout, *, tension_n: float = 0.0) -> tuple[Seat, ...]:
    """Every belt in whole teeth that the slide takes, shortest first, each seated to 1e-9 of its length or better.

    Parameters
    ----------
    layout : Layout
        A drive with a pulley on a slide.
    tension_n : float
        Static tension that is to stretch the belt.

    Raises
    ------
    Impossible
        If there is no slide, or no belt can run anywhere on it.
    """
    slide, _ = _sliding(layout)
    reach = _reach(layout, slide)
    stretched = 1 + tension_n / layout.belt.stiffness_n
    lengths, tooth = [length for _, length in reach], layout.belt.pitch_m * stretched
    belts = []
    for teeth in range(ceil(min(lengths) / tooth - 1e-12), floor(max(lengths) / tooth + 1e-12) + 1):
        length = teeth * layout.belt.pitch_m * stretched
        travel = _travel(layout, reach, length)
        if travel is not None:
            belts.append(Seat(teeth, length, travel, slide.most_m - travel, travel - slide.least_m))
    return tuple(belts)


def refuse_misfit(layout: Layout, path: BeltPath) -> None:
    """Refuse a belt on fixed centres that would hang loose on them, be torn by them, or carry another tension.

    What is set may be misread, and the path be off as far as a tape is; what is beyond both makes every number wrong.

    Raises
    ------
    Impossible
        With what it would carry.
    """
    belt, tension, units = layout.belt, layout.tension, layout.spoken
    carries = (path.length_m / belt.length_m - 1) * belt.stiffness_n
    off = tension.set_n * tension.reading_error + belt.stiffness_n * TAPE_M / belt.length_m
    least, most = max(FITTING_N[0], tension.set_n - off), min(belt.tension_limit_n or FITTING_N[1], tension.set_n + off)
    if not least <= carries <= most:
        how = f"would carry {units.force(carries)}, not the {units.said(tension.set_n, 'N')} set,"
        raise Impossible(
            "a belt of {} teeth, {} long, {} on a path of {}",
            *(belt.teeth, long(belt.length_m, 2)),
            *("hangs loose" if carries < FITTING_N[0] else how, long(path.length_m, 2)),
        )


def adjuster_gain(layout: Layout) -> AdjusterGain:
    """Tension gained per turn of the adjusters, with the idler where the layout has it.

    The travel of one turn is the thread's pitch, twice that with a left and a right hand end; the path grows by
    (u_in - u_out) . e per travel (`path.length_per_move`), the tension by EA over the belt's length times that.

    Raises
    ------
    ValueError
        If the layout has no slide or no adjusters.
    """
    sliding, slide, screws = layout.sliding, layout.slide, layout.adjusters
    if sliding is None or slide is None or screws is None:
        raise ValueError(
            f"{layout.name} has no adjusters on a slide, so a turn of them gains nothing that can be told."
        )
    travel = height(thread(screws.thread), FLATS_IN_A_TURN, ends=screws.ends)
    growth = belt_path(layout).length_per_move(sliding, slide.direction_rad)
    return AdjusterGain(travel, growth, layout.belt.stiffness_n * growth * travel / layout.belt.length_m)


def belt_change(layout: Layout, loose_m: float) -> BeltChange:
    """Count the flats off from where the idler sits until the path is shorter than the belt by `loose_m` or more.

    Raises
    ------
    ValueError
        If there are no adjusters on a slide, or it ends before; one sentence.
    """
    slide, _ = _sliding(layout)
    turn, reach = adjuster_gain(layout), _reach(layout, slide)
    off = _travel(layout, reach, layout.belt.length_m - positive(loose_m, "how loose the belt is to hang"))
    if off is None:
        most = layout.belt.length_m - min(length for _, length in reach)
        raise ValueError(
            f"The slide ends before the belt hangs {layout.spoken.long(loose_m)} loose: at most "
            f"{layout.spoken.long(max(most, 0.0))}."
        )
    flat = turn.travel_per_turn_m / FLATS_IN_A_TURN
    flats = ceil(abs(off) / flat - 1e-9)
    there = layout.at_travel(max(min(copysign(flats * flat, off), slide.most_m), slide.least_m))
    return BeltChange(flats, layout.belt.length_m - belt_path(there).length_m)


def stiffness_by_turns(layout: Layout, loose_n: float, tight_n: float, turns: float) -> float:
    """Tension over strain (EA) of the belt, in N, from two readings of its tension and the turns between.

    The path at the first reading is the belt's length stretched by it, N p (1 + T1 / EA); every adjuster turned tighter
    makes it longer by dL, found exactly, and T2 - T1 = EA dL / N p. Where the idler sat depends a little on EA, so the
    two are solved together.

    Raises
    ------
    ValueError
        If there are no adjusters on a slide (or `Impossible`: no belt runs there), or the turns did not tighten it.
    """
    slide, _ = _sliding(layout)
    reach, length = _reach(layout, slide), layout.belt.length_m
    stiffness = inf
    for _ in range(STIFFNESS_ROUNDS):
        at = _travel(layout, reach, length * (1 + loose_n / stiffness))
        if at is None:
            raise Impossible(f"a belt of {layout.belt.teeth} teeth does not fit the slide")
        there = layout.at_travel(at)
        turn = adjuster_gain(there)
        moved = turns * copysign(turn.travel_per_turn_m, turn.path_per_travel)
        stiffness = (
            length * (tight_n - loose_n) / (belt_path(there.at_travel(moved)).length_m - belt_path(there).length_m)
        )
    return stiffness


def growth(layout: Layout) -> Growth:
    """Growth of a drive from cold to hot.

    Where a range was measured it rules: the expected growth is the computed one held within it.
    """
    computed = sum(part.growth_m for part in layout.heights)
    low, high = layout.tension.growth_low_m, layout.tension.growth_high_m
    least = computed if low is None else low
    most = max(computed, least) if high is None else high
    engine = (min(least, most), min(max(computed, least), most), most)
    cold = belt_path(layout).length_m
    path = [belt_path(layout.grown(height)).length_m - cold for height in engine]
    belt = layout.belt.length_m * layout.belt.expansion_per_c * layout.belt.warmer_c
    low_n, expected_n, high_n = (layout.belt.stiffness_n * (more - belt) / layout.belt.length_m for more in path)
    return Growth(computed, engine, (low_n, expected_n, high_n), path[1], belt)


def _sliding(layout: Layout) -> tuple[Slide, int]:
    """Return the slide, and which pulley is on it."""
    if layout.slide is None or layout.sliding is None:
        raise Impossible(f"{layout.name} has no idler on a slide, so no travel can fit the belt")
    return layout.slide, layout.sliding


def _reach(layout: Layout, slide: Slide) -> Reach:
    """Sample the slide; keep the longest unbroken part on which a belt can run, its edges found by halving."""
    low, high = slide.least_m, slide.most_m
    at = [low + (high - low) * i / (SAMPLES - 1) for i in range(SAMPLES)]
    lengths = [_length(layout, travel) for travel in at]
    runs: list[Reach] = [[]]
    for travel, length in zip(at, lengths, strict=True):
        if length is None:
            runs.append([])
        else:
            runs[-1].append((travel, length))
    best = max(runs, key=len)
    if not best:
        belt_path(layout.at_travel((low + high) / 2))  # raises: no belt runs there, and it says why
    first, last = at.index(best[0][0]), at.index(best[-1][0])
    before = [_edge(layout, best[0], at[first - 1])] if first > 0 else []
    after = [_edge(layout, best[-1], at[last + 1])] if last + 1 < SAMPLES else []
    return before + best + after


def _edge(layout: Layout, inside: tuple[float, float], outside: float) -> tuple[float, float]:
    """Return the last travel on the way from one that can run to one that cannot, with its path length."""
    for _ in range(EDGE_HALVINGS):
        middle = (inside[0] + outside) / 2
        length = _length(layout, middle)
        if length is None:
            outside = middle
        else:
            inside = middle, length
    return inside


def _length(layout: Layout, travel_m: float) -> float | None:
    try:
        return belt_path(layout.at_travel(travel_m)).length_m
    except Impossible:
        return None


def _travel(layout: Layout, reach: Reach, length: float) -> float | None:
    """Return the travel that makes the path so long; where two would do, the one at which more travel tightens."""
    from scipy.optimize import brentq

    roots = [pair for pair in pairwise(reach) if (pair[0][1] - length) * (pair[1][1] - length) <= 0]
    if not roots:
        return None
    (low, at_low), (high, at_high) = max(roots, key=lambda pair: pair[1][1] - pair[0][1])
    if at_low == length or at_high == length:
        return low if at_low == length else high
    return float(
        brentq(lambda at: belt_path(layout.at_travel(at)).length_m - length, low, high, xtol=1e-14, rtol=1e-14)
    )
