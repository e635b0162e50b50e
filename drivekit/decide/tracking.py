"""Say at how many idler flats the belt runs even, and how far to turn next.

One car at a time. The reading is the edge temperature difference d, front less rear, right after warm-up (C): the
hotter edge is the one the belt leans on. The setting is the net idler flats f, front less rear. The fit is d = a + b f
by least squares (`line`): b in C per flat with t limits, the flats at zero with Fieller's.

Two doubts go with it. Crews steer: the flats of a run answer the reading of the run before, so chance that lasts (a
belt that walks by itself) is met by flats against it, and the plain slope comes out too small or with the wrong sign.
So the slope is given a second time with the last run's difference and the belt held. And the readings are of warm-up,
not of the pull, where the belt should run even.

The proposed move is in whole flats from the last known setting, to where the line comes nearest to zero among the
settings that were tried; its chance is that the next reading is nearer to zero than the last one, under the t law of a
new reading, beside the same chance without a move (a large reading tends to be followed by a smaller one anyway).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from drivekit.decide.line import Estimate, Floats, Line, adjusted_slope, line

__all__ = ["Proposal", "Tracking", "tracking", "tracking_of"]


_LIKELY = 0.5
_AGAIN = "The last reading is nearer to even than readings usually come: read once more before a screw is turned."


@dataclass(frozen=True, slots=True)
class Proposal:
    """The next move in whole flats of net idler setting (front less rear), or why there is none."""

    flats: int | None
    now_flats: float | None = None
    last_c: float | None = None
    expected_c: float | None = None
    chance: float | None = None
    chance_unmoved: float | None = None
    at_the_edge: bool = False
    reason: str = ""

    def block(self) -> dict[str, Any]:
        """Give the plain form of findings."""
        if self.flats is None:
            return {"reason": self.reason}
        return {
            "flats": self.flats,
            "now_flats": self.now_flats,
            "last_c": self.last_c,
            "expected_c": self.expected_c,
            "chance_smaller": self.chance,
            "chance_smaller_unmoved": self.chance_unmoved,
            "at_the_edge": self.at_the_edge,
        }

    def __str__(self) -> str:
        if self.flats is None or self.chance is None or self.chance_unmoved is None:
            return f"No move is proposed: {self.reason}."
        if self.flats:
            size = "1 flat" if abs(self.flats) == 1 else f"{abs(self.flats)} flats"
            said = f"Turn {size} more at the {'front' if self.flats > 0 else 'rear'} (net)"
        else:
            said = "Leave the idler where it is"
        edge = ", the last setting that was tried that way" if self.at_the_edge else ""
        again = "" if self.chance >= _LIKELY else f" {_AGAIN}"
        unmoved = f", and {_percent(self.chance_unmoved)} without a move" if self.flats else ""
        return (
            f"{said}{edge}: the next reading is expected at {self.expected_c:+.1f} °C after {self.last_c:+.1f} °C; "
            f"the chance that it is nearer to even is {_percent(self.chance)}{unmoved}.{again}"
        )


@dataclass(frozen=True, slots=True)
class Tracking:
    """What one car's readings say of its idler flats."""

    n: int
    slope: Estimate
    zero: Estimate
    line: Line | None
    steered: Estimate
    steered_n: int
    lift: Estimate
    move: Proposal

    def block(self) -> dict[str, Any]:
        """Give the plain form of findings: the fixed keys first, the second looks beside them."""
        return {
            "n": self.n,
            "slope_c_per_flat": self.slope.block(),
            "zero_flats": self.zero.block(),
            "steered": {"n": self.steered_n, "slope_c_per_flat": self.steered.block()},
            "snout_lift": {"slope_c_per_flat": self.lift.block()},
            "move": self.move.block(),
        }

    def __str__(self) -> str:
        if self.line is None:
            return f"What a flat does to the edges' difference {self.slope.words('°C')}. {self.move}"
        even = "The belt runs even at" if self.zero.estimate is not None else "At how many flats the belt runs even"
        held = "it is" if self.steered.estimate is not None else "it"
        return (
            f"Over {self.n} runs, one net flat more at the front moves the edges' difference by "
            f"{self.slope.words('°C')}; with the last run's difference and the belt held, {held} "
            f"{self.steered.words('°C')}. {even} {self.zero.words('net flats')}. {self.move}"
        )


def tracking(
    net_flats: Floats,
    difference_c: Floats,
    belt: NDArray[Any],
    *,
    lift_flats: Floats | None = None,
    confidence: float = 0.95,
) -> Tracking:
    """Fit one car's edge temperature difference on its net idler flats.

    Parameters
    ----------
    net_flats, difference_c : ndarray of float, shape (n_runs,)
        Front less rear, in the order of the runs; nan where a run lacks one of its two numbers.
    belt : ndarray, shape (n_runs,)
        Which belt ran.
    lift_flats : ndarray of float, shape (n_runs,), optional
        Snout lift, the mean of left and right; nan where unknown.
    confidence : float
        Level of every interval.

    Raises
    ------
    ValueError
        If the arrays differ in length.
    """
    lengths = {net_flats.shape, difference_c.shape, belt.shape} | (
        {lift_flats.shape} if lift_flats is not None else set()
    )
    if len(lengths) != 1 or net_flats.ndim != 1:
        raise ValueError("Flats, differences and belts must be listed for the same runs.")
    known = np.isfinite(net_flats) & np.isfinite(difference_c)
    fitted = line(net_flats[known], difference_c[known], confidence=confidence)
    steered_n, steered = _steered(net_flats, difference_c, belt, confidence)
    lift = _lift(lift_flats, difference_c, confidence)
    n = int(known.sum())
    if isinstance(fitted, str):
        none = Estimate(None, None, None, fitted)
        return Tracking(n, none, none, None, steered, steered_n, lift, Proposal(None, reason=fitted))
    zero = fitted.zero()
    move = _proposal(fitted, zero, net_flats[known], difference_c[known])
    return Tracking(n, fitted.slope_estimate(), zero, fitted, steered, steered_n, lift, move)


def tracking_of(readings: Mapping[str, Any], *, confidence: float = 0.95) -> Tracking:
    """Fit again what the findings hold of one car: the same readings give the same numbers.

    Parameters
    ----------
    readings : mapping
        Plain lists ``belt``, ``net_flats``, ``difference_c`` and perhaps ``lift_flats``; None where a run lacks one.
    confidence : float
        Level of every interval.
    """
    net, difference = (np.array(readings[name], float) for name in ("net_flats", "difference_c"))
    lift = np.array(readings["lift_flats"], float) if "lift_flats" in readings else None
    return tracking(net, difference, np.array(readings["belt"], object), lift_flats=lift, confidence=confidence)


def _percent(share: float) -> str:
    """Write a chance in whole percent; one that is neither none nor all is never rounded to either."""
    whole = min(max(round(100 * share), 1), 99)
    return f"under {whole} %" if share < 0.005 else f"over {whole} %" if share > 0.995 else f"{whole} %"


def _steered(net_flats: Floats, difference_c: Floats, belt: NDArray[Any], confidence: float) -> tuple[int, Estimate]:
    before = np.concatenate([[np.nan], difference_c[:-1]])
    rows = np.isfinite(net_flats) & np.isfinite(difference_c) & np.isfinite(before)
    n = int(rows.sum())
    if n == 0:
        return 0, Estimate(None, None, None, "no run follows a run whose difference is known")
    # A constant for each belt stands in for the one of all.
    code = np.unique(belt[rows].astype(str), return_inverse=True)[1]
    others = before[rows][:, None]
    return n, adjusted_slope(net_flats[rows], difference_c[rows], others, group=code, confidence=confidence)


def _lift(lift_flats: Floats | None, difference_c: Floats, confidence: float) -> Estimate:
    if lift_flats is None:
        return Estimate(None, None, None, "the snout's flats are not in the log")
    known = np.isfinite(lift_flats) & np.isfinite(difference_c)
    fitted = line(lift_flats[known], difference_c[known], confidence=confidence)
    return Estimate(None, None, None, fitted) if isinstance(fitted, str) else fitted.slope_estimate()


def _proposal(fitted: Line, zero: Estimate, net_flats: Floats, difference_c: Floats) -> Proposal:
    if zero.lower is None:
        return Proposal(None, reason=zero.reason)
    now, last = float(net_flats[-1]), float(difference_c[-1])
    if last == 0.0:
        return Proposal(None, reason="the last reading was even")
    reach = range(math.ceil(net_flats.min() - now), math.floor(net_flats.max() - now) + 1)
    flats = min(reach, key=lambda k: (round(abs(fitted.at(now + k)), 9), abs(k)))
    edge = flats in (reach[0], reach[-1]) and not reach[0] <= round((zero.estimate or 0.0) - now) <= reach[-1]
    return Proposal(
        flats=flats,
        now_flats=now,
        last_c=last,
        expected_c=fitted.at(now + flats),
        chance=fitted.chance_within(now + flats, abs(last)),
        chance_unmoved=fitted.chance_within(now, abs(last)),
        at_the_edge=edge,
    )
