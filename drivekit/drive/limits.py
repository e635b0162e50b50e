"""The most static tension that belt, bearings, clamp and snout stand, each on its own.

Every pull on a shaft grows with the tension set, so each limit is the root of what is left of it over that tension: the
worst of the three states, the growth at its greatest, and a reading too low by its error (the true tension is then set
x (1 + e)). The idler is taken where it sits at the tension of the file.

    belt       the tight side's cords carry mean + (1 - c) Te at full load, at most the maker's limit
    bearings   n C0 / pull at least the static safety wanted (ISO 76, `idler`)
    clamp      the pull along the slide at most the least grip (`clamp`)
    snout      the pull on the blower at most what its owner allows
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from math import cos, sin

from drivekit.drive.idler import SHOCK_SAFETY
from drivekit.drive.layout import Layout
from drivekit.drive.loads import State, states
from drivekit.drive.path import BeltPath

__all__ = ["idler_place", "pull_along", "tension_limits"]

HIGHEST_N = 1e6

Left = Callable[[tuple[State, ...]], float]


def idler_place(layout: Layout) -> int | None:
    """Find the idler that the idler's section describes: the one on the slide, or else the first."""
    idlers = [place for place, pulley in enumerate(layout.pulleys) if pulley.role == "idler"]
    return layout.sliding if layout.sliding is not None else next(iter(idlers), None)


def pull_along(layout: Layout, state: State, idler: int) -> float:
    """Part of the belt's pull on the idler that lies along its slide, which the clamp must hold."""
    assert layout.slide is not None  # the caller has one
    load, way = state.load(idler), layout.slide.direction_rad
    return abs(load.x_n * cos(way) + load.y_n * sin(way))


def tension_limits(layout: Layout, path: BeltPath, growth_n: float, least_grip_n: float | None) -> dict[str, float]:
    """Most static tension to set by each limit that the drive file gives, in N; 0 where no tension is low enough.

    Parameters
    ----------
    layout : Layout
        The drive, idler where it sits.
    path : BeltPath
        Its path.
    growth_n : float
        The greatest tension that growth adds.
    least_grip_n : float or None
        Least grip of the clamp, where known.
    """
    from scipy.optimize import brentq

    def after(left: Left, set_n: float) -> float:
        true = replace(layout.tension, set_n=set_n * (1 + layout.tension.reading_error))
        return left(states(replace(layout, tension=true), path, growth_n))

    found = {}
    for name, left in _limits(layout, least_grip_n).items():
        stands, breaks = after(left, 0.0) > 0, after(left, HIGHEST_N) < 0
        found[name] = 0.0 if not stands else HIGHEST_N
        if stands and breaks:
            found[name] = float(brentq(lambda set_n, left=left: after(left, set_n), 0.0, HIGHEST_N, xtol=1e-6))
    return found


def _limits(layout: Layout, least_grip_n: float | None) -> dict[str, Left]:
    """Give by its name what is left of each limit in the worst of some states."""
    idler, own = idler_place(layout), layout.idler
    limits: dict[str, Left] = {}
    most = layout.belt.tension_limit_n
    if most is not None:
        limits["the belt maker's limit"] = lambda three: most - three[-1].tensions.tight_n - three[-1].tensions.own_n
    if idler is not None and own is not None and own.bearing_static_n is not None:
        bears = (own.bearings or 1) * own.bearing_static_n / SHOCK_SAFETY[own.bearing_kind]
        limits["the bearings' static safety"] = lambda three: bears - max(state.load(idler).force_n for state in three)
    if idler is not None and least_grip_n is not None and layout.slide is not None:
        limits["the clamp's least grip"] = lambda three: (
            least_grip_n - max(pull_along(layout, state, idler) for state in three)
        )
    if layout.snout is not None and layout.snout.limit_n is not None:
        blower, allowed = layout.place("blower"), layout.snout.limit_n
        limits["the snout's limit"] = lambda three: allowed - max(state.load(blower).force_n for state in three)
    return limits
