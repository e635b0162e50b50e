"""Say what a flat of the idler and of the snout does to a car's belts, where they run even, and what to turn next.

One car at a time. The reading is the edge temperature difference right after warm-up, front less rear (C): the hotter
edge is the one the belt leans on. The settings are the net idler flats, front less rear, and the snout's lift, the
mean flats of its two jack screws, left and right, where it ever changed. The fit is that of `by_belt`: a line in both,
each belt off it by a constant of its own, since belts walk by themselves.

Crews steer: the flats of a run answer the reading of the run before. A plain line, or a constant estimated for each
belt, is then far off; the likelihood with a random constant is not, for what the crews steered by stands in it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from drivekit.decide.by_belt import ByBelt, by_belt
from drivekit.decide.next_move import NextMove, next_move
from drivekit.life.folds import Bools, Estimate, Floats, Ints
from drivekit.units import SI, Spoken, Units

__all__ = ["Tracking", "tracking", "tracking_of"]

LEAST_RUNS, LEAST_BELTS = 6, 3
NO_LIFT = "the snout's flats are not in the log"


@dataclass(frozen=True, slots=True, eq=False)
class Tracking(Spoken):
    """What one car's readings say; where `fit` is None the estimates carry the reason.

    `used` marks the runs that are in it, `settings` are theirs (constant, net flats, lift where it varied) and `code`
    tells which of `belts` ran; `zero` holds at `lift_now`.
    """

    n: int
    belts: tuple[str, ...]
    slope: Estimate
    lift: Estimate
    zero: Estimate
    lift_now: float | None
    move: NextMove
    used: Bools
    settings: Floats
    code: Ints
    fit: ByBelt | None = None

    @property
    def reason(self) -> str:
        """Why nothing can be told, or nothing."""
        return "" if self.fit is not None else self.slope.reason or ""

    def block(self) -> dict[str, Any]:
        """Give the plain form of findings."""
        fit, lone = self.fit, self.lift.reason if self.lift_now is None else None
        spread = {} if fit is not None else dict.fromkeys(("belt_sd_c_reason", "noise_sd_c_reason"), self.reason)
        return {
            "n": self.n,
            "belts": len(self.belts),
            "slope_c_per_flat": _plain(self.slope),
            "lift_slope_c_per_flat": _plain(self.lift),
            "belt_sd_c": None if fit is None else fit.belt_sd,
            "noise_sd_c": None if fit is None else fit.noise_sd,
            **spread,
            "lift_now": self.lift_now,
            **({} if lone is None else {"lift_now_reason": lone}),
            "zero_flats": _plain(self.zero),
            "move": self.move.block(),
        }

    def _said(self, units: Units) -> str:
        move = self.move.said(units)
        if self.fit is None:
            return f"What a flat does to the edges' difference {words(self.slope, '°C', units)}. {move}"
        lift = words(self.lift, "°C", units)
        snout = "" if self.lift_now is None else f", one flat more of both jack screws by {lift}"
        where = "" if self.lift_now is None else f" with the snout at {self.lift_now:g} flats"
        even = "belts run even at" if self.zero.lower is not None else "at how many flats belts run even"
        return (
            f"Over {self.n} runs of {len(self.belts)} belts, one net flat more at the front of the idler moves the "
            f"edges' difference by {words(self.slope, '°C', units)}{snout}. On average{where}, {even} "
            f"{words(self.zero, 'net flats')}; belts differ from it by {units.warmer(self.fit.belt_sd)} and readings "
            f"of one belt by {units.warmer(self.fit.noise_sd)} (standard deviations). {move}"
        )


def words(found: Estimate, unit: str, units: Units = SI) -> str:
    """Say an estimate, in degrees warmer or in flats, with its limits, or why it cannot be told."""
    if found.estimate is None or found.lower is None or found.upper is None:
        return f"cannot be told: {found.reason}"
    times, name = (units.apart(1.0, unit), units.name(unit)) if unit == "°C" else (1.0, unit)
    return f"{times * found.estimate:z.1f} {name} ({times * found.lower:z.1f} to {times * found.upper:z.1f})"


def tracking(
    net_flats: Floats,
    difference_c: Floats,
    belt: NDArray[Any],
    *,
    lift_flats: Floats | None = None,
    confidence: float = 0.95,
    aim_c: float = 0.0,
) -> Tracking:
    """Fit one car's edge temperature difference on its net idler flats and its snout's lift.

    Parameters
    ----------
    net_flats, difference_c : ndarray of float, shape (n_runs,)
        Front less rear, in the order of the runs; nan where a run lacks one of its two numbers.
    belt : ndarray, shape (n_runs,)
        Which belt ran.
    lift_flats : ndarray of float, shape (n_runs,), optional
        Snout lift, the mean of left and right; nan where unknown. Runs without it leave where it ever changed.
    confidence : float
        Level of every interval.
    aim_c : float
        The difference that the next move is to come nearest to; 0 is even.

    Raises
    ------
    ValueError
        If the arrays differ in length.
    """
    lift = np.full(net_flats.shape, np.nan) if lift_flats is None else lift_flats
    if len({net_flats.shape, difference_c.shape, belt.shape, lift.shape}) != 1 or net_flats.ndim != 1:
        raise ValueError("Flats, differences and belts must be listed for the same runs.")
    used = np.isfinite(net_flats) & np.isfinite(difference_c)
    lifts = np.unique(lift[used & np.isfinite(lift)])
    if lifts.size > 1:
        used &= np.isfinite(lift)
        no_lift = ""
    else:
        no_lift = f"the snout stood at {lifts[0]:g} flats on every run" if lifts.size else NO_LIFT
    columns = [np.ones(net_flats.size), net_flats] + ([] if no_lift else [lift])
    settings = np.column_stack(columns)[used]
    names, code = np.unique(belt[used].astype(str), return_inverse=True)
    refused = _refused(settings, len(names))
    fit = refused or by_belt(settings, difference_c[used], code)
    if isinstance(fit, str):
        null = Estimate(reason=fit)
        held = Estimate(reason=no_lift or fit)
        return Tracking(
            int(used.sum()), tuple(names), null, held, null, None, NextMove(None, reason=fit), used, settings, code
        )
    slopes = [Estimate(float(fit.coefficients[at]), *fit.slope_limits(at, confidence)) for at in range(1, len(columns))]
    now = settings[-1]
    known = [not slope.lower <= 0 <= slope.upper for slope in slopes]  # type: ignore[operator]
    move = NextMove(None, reason="the limits of what a flat does span 0, so which way to turn is not known")
    if any(known):
        turns = known[0], known[-1] and len(known) > 1
        move = next_move(fit, now, int(code[-1]), str(names[code[-1]]), settings, turns, aim_c)
    return Tracking(
        n=int(used.sum()),
        belts=tuple(names),
        slope=slopes[0],
        lift=Estimate(reason=no_lift) if no_lift else slopes[1],
        zero=fit.crossing(1, now, confidence),
        lift_now=None if no_lift else float(now[2]),
        move=move,
        used=used,
        settings=settings,
        code=code,
        fit=fit,
    )


def tracking_of(readings: Mapping[str, Any], *, confidence: float = 0.95, aim_c: float = 0.0) -> Tracking:
    """Fit again what the findings hold of one car: the same readings give the same numbers.

    Parameters
    ----------
    readings : mapping
        Lists or arrays ``belt``, ``net_flats``, ``difference_c`` and perhaps ``lift_flats``; None or nan where a run
        lacks one.
    confidence, aim_c : float
        As in `tracking`.
    """
    net, difference = (np.array(readings[name], float) for name in ("net_flats", "difference_c"))
    lift = np.array(readings["lift_flats"], float) if "lift_flats" in readings else None
    belt = np.array(readings["belt"], object)
    return tracking(net, difference, belt, lift_flats=lift, confidence=confidence, aim_c=aim_c)


def _refused(settings: Floats, belts: int) -> str:
    n = len(settings)
    if n < LEAST_RUNS:
        return f"{n} runs with edges and flats known, and it takes {LEAST_RUNS}"
    if belts < LEAST_BELTS:
        return f"{n} runs of {belts} {'belt' if belts == 1 else 'belts'}, and it takes {LEAST_BELTS} belts"
    if np.ptp(settings[:, 1]) == 0:
        return f"all {n} runs were made at one setting ({settings[0, 1]:g})"
    if n <= settings.shape[1] or np.linalg.matrix_rank(settings - settings.mean(axis=0)) < settings.shape[1] - 1:
        return "idler and snout were only ever turned together, so neither can be told from the other"
    return ""


def _plain(found: Estimate) -> dict[str, Any]:
    three = {"estimate": found.estimate, "lower": found.lower, "upper": found.upper}
    return three | ({"reason": found.reason} if None in three.values() else {})
