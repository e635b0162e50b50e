"""Where the idler must sit for a belt of N teeth, what the adjuster has left, and which belts fit.

The idler's centre moves along a line; the path's length L(s) over the travel s is found exactly, so the travel for a
belt is the root of L(s) = N p (1 + T / EA): the pitch length stretched by the static tension T. For two pulleys alone
the same is done for their distance: L = 2 sqrt(C^2 - (R - r)^2) + pi (R + r) + 2 (R - r) asin((R - r) / C).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from math import asin, ceil, floor, pi, sqrt

from drivekit.drive.layout import Belt, Layout
from drivekit.drive.path import Impossible, belt_path

__all__ = ["Fit", "centre_distance", "fit", "fitting_belts", "two_pulley_length"]

SAMPLES = 33
EDGE_HALVINGS = 40


@dataclass(frozen=True, slots=True)
class Fit:
    """Where the idler sits for a belt.

    Parameters
    ----------
    teeth : int
        Teeth of the belt.
    length_m : float
        Its pitch length under the tension.
    travel_m : float
        Travel of the idler along its slide.
    left_m, back_m : float
        Travel left to the far end of the slide, and back to its near end.
    per_travel : float
        Path length gained per length of travel there.
    """

    teeth: int
    length_m: float
    travel_m: float
    left_m: float
    back_m: float
    per_travel: float

    def __str__(self) -> str:
        return (
            f"A belt of {self.teeth} teeth seats the idler at {self.travel_m * 1e3:.2f} mm of travel; "
            f"{self.left_m * 1e3:.1f} mm are left to tighten and {self.back_m * 1e3:.1f} mm to slacken."
        )


Reach = list[tuple[float, float]]  # travel and path length, over the travel on which a belt can run


def fit(layout: Layout, *, teeth: int | None = None, tension_n: float = 0.0) -> Fit:
    """Travel at which a belt fits the path, to 1e-9 of its length or better.

    Parameters
    ----------
    layout : Layout
        A drive with a pulley on a slide.
    teeth : int, optional
        Teeth of the belt; the layout's own belt by default.
    tension_n : float
        Static tension it is to have, which stretches it.

    Raises
    ------
    Impossible
        If no travel of the slide gives that length; the sentence says which belts would fit.
    """
    wanted = layout.belt.teeth if teeth is None else teeth
    reach = _reach(layout)
    found = _travel(layout, reach, wanted, tension_n)
    if found is None:
        takes = _whole_teeth(layout.belt, reach, tension_n)
        belts = f"belts of {takes[0]} to {takes[-1]} teeth" if takes else "no belt of whole teeth"
        raise Impossible(
            f"a belt of {wanted} teeth does not fit: the slide takes {belts} of pitch {layout.belt.pitch_m * 1e3:g} mm",
            layout.pulleys[_sliding(layout)].name,
        )
    return _fit(layout, wanted, tension_n, found)


def fitting_belts(layout: Layout, *, tension_n: float = 0.0) -> tuple[Fit, ...]:
    """Every belt in whole teeth that the slide takes, shortest first."""
    reach = _reach(layout)
    return tuple(
        _fit(layout, teeth, tension_n, travel)
        for teeth in _whole_teeth(layout.belt, reach, tension_n)
        if (travel := _travel(layout, reach, teeth, tension_n)) is not None
    )


def two_pulley_length(distance_m: float, first_m: float, second_m: float) -> float:
    """Length of an open belt over two pulleys of these pitch diameters; exact, not the usual series.

    Raises
    ------
    ValueError
        If one pulley lies within the other.
    """
    step, total = abs(first_m - second_m) / 2, (first_m + second_m) / 2
    if not distance_m > step:
        raise ValueError(
            f"centres {distance_m * 1e3:.1f} mm apart leave one pulley within the other; they must be more than "
            f"{step * 1e3:.1f} mm apart"
        )
    return 2 * sqrt(distance_m**2 - step**2) + pi * total + 2 * step * asin(step / distance_m)


def centre_distance(length_m: float, first_m: float, second_m: float) -> float:
    """Distance of two pulleys' centres for a belt of this length (the inverse of `two_pulley_length`).

    Raises
    ------
    ValueError
        If the belt is too short to go around both pulleys side by side.
    """
    from scipy.optimize import brentq

    least = (first_m + second_m) / 2
    if not length_m >= two_pulley_length(least, first_m, second_m):
        raise ValueError(
            f"a belt of {length_m * 1e3:.1f} mm is too short for pulleys of {first_m * 1e3:.1f} and "
            f"{second_m * 1e3:.1f} mm; it must be at least {two_pulley_length(least, first_m, second_m) * 1e3:.1f} mm"
        )
    return float(
        brentq(lambda c: two_pulley_length(c, first_m, second_m) - length_m, least, length_m, xtol=1e-14, rtol=1e-14)
    )


def _sliding(layout: Layout) -> int:
    if layout.slide is None or layout.sliding is None:
        raise Impossible(f"{layout.name} has no idler on a slide, so no travel can fit the belt")
    return layout.sliding


def _reach(layout: Layout) -> Reach:
    """Sample the slide; keep the longest unbroken part on which a belt can run, its edges found by halving."""
    _sliding(layout)
    assert layout.slide is not None  # _sliding refused that
    low, high = layout.slide.least_m, layout.slide.most_m
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


def _pitch_length(belt: Belt, teeth: int, tension_n: float) -> float:
    return teeth * belt.pitch_m * (1 + tension_n / belt.stiffness_n)


def _whole_teeth(belt: Belt, reach: Reach, tension_n: float) -> range:
    lengths, tooth = [length for _, length in reach], _pitch_length(belt, 1, tension_n)
    return range(ceil(min(lengths) / tooth - 1e-12), floor(max(lengths) / tooth + 1e-12) + 1)


def _travel(layout: Layout, reach: Reach, teeth: int, tension_n: float) -> float | None:
    """Return the travel for a belt; where two would do, the one at which more travel tightens."""
    from scipy.optimize import brentq

    length = _pitch_length(layout.belt, teeth, tension_n)
    roots = [pair for pair in pairwise(reach) if (pair[0][1] - length) * (pair[1][1] - length) <= 0]
    if not roots:
        return None
    (low, at_low), (high, at_high) = max(roots, key=lambda pair: pair[1][1] - pair[0][1])
    if at_low == length or at_high == length:
        return low if at_low == length else high
    off = partial(_off, layout, length)
    return float(brentq(off, low, high, xtol=1e-14, rtol=1e-14))


def _off(layout: Layout, length_m: float, travel_m: float) -> float:
    return belt_path(layout.at_travel(travel_m)).length_m - length_m


def _fit(layout: Layout, teeth: int, tension_n: float, travel_m: float) -> Fit:
    slide, sliding = layout.slide, _sliding(layout)
    assert slide is not None  # _sliding refused that
    per_travel = belt_path(layout.at_travel(travel_m)).length_per_move(sliding, slide.direction_rad)
    left, back = slide.most_m - travel_m, travel_m - slide.least_m
    return Fit(teeth, _pitch_length(layout.belt, teeth, tension_n), travel_m, left, back, per_travel)
