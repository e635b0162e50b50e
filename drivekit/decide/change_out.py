"""When to change a belt: what a run costs if belts come off after N of them, and which N costs least.

Age replacement in whole runs. A belt is changed after N runs or when it fails, whichever comes first; a planned change
costs c_p and a failure c_f. By the renewal theorem the cost a run is, in the long run, the cost of one belt over the
runs it makes:

    cost(N) = (c_p S(N) + c_f (1 - S(N))) / (S(0) + S(1) + ... + S(N - 1)),

S the Kaplan-Meier curve. N goes from 1 to the oldest age with at least 5 at risk: what a belt does beyond was not seen.
Barlow and Hunter, "Optimum preventive maintenance policies", Operations Research 8 (1960), give it for a life in
continuous time; Nakagawa and Osaki, IEEE Transactions on Reliability R-26 (1977), in whole steps.

The cheapest of many ages is cheap by chance, too. So an age is told to be worse where what it costs beyond another, in
units of that one's spread, is more for some other than draws of the belts lessen it beyond any (a paired bootstrap of
the largest difference; Hsu, Annals of Statistics 9, 1981, for such limits of the distance from the best).

Where a failure in a round of eliminations costs more than one in a test, c_f is their mean in the shares in which runs
were made. A belt that looks bad comes off whatever the curve says; no cost here knows its looks.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from drivekit.life.folds import Bools, Estimate, Floats, frozen

__all__ = ["ChangeOut", "best_by_ratio", "change_out", "cost_per_run", "mean_failure", "runs_at_risk"]

# Two costs that differ by rounding alone are one.
TOLERANCE = 1e-12
FLAT = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class ChangeOut:
    """What each change age costs a run, and which are best.

    Parameters
    ----------
    cost_per_run : ndarray of float, shape (last,)
        Of change ages 1 to `last`, in the unit of the costs.
    best : Estimate
        The change age of least cost, and the least and the greatest that are not told from it; None where the cost
        still falls at the last one, for then none that was seen pays.
    not_worse : ndarray of bool, shape (last,)
        Change ages that are not told to be worse than some other, and those between them.
    within_5_percent : tuple of two int
        Least and greatest change age that costs at most 5 % more than the best.
    """

    cost_per_run: Floats
    best: Estimate
    not_worse: Bools
    within_5_percent: tuple[int, int]


def change_out(
    survival: Floats,
    drawn: Floats,
    *,
    cost_planned: float,
    cost_failure: float,
    confidence: float = 0.95,
) -> ChangeOut:
    """Find when to change.

    Parameters
    ----------
    survival : ndarray of float, shape (last + 1,)
        Share still running after 0, 1, ..., `last` runs.
    drawn : ndarray of float, shape (n_draws, at least last)
        Hazards of seasons with other belts drawn, as `ages.redrawn` gives them.
    cost_planned, cost_failure : float
        Of a planned change and of a failure, in any one unit.
    confidence : float
        Of the limits.

    Raises
    ------
    ValueError
        If a cost is not above 0, or no change age was seen.
    """
    last = survival.size - 1
    if last < 1:
        raise ValueError("a change age needs at least one run with enough belts at risk")
    if not (0 < cost_planned < np.inf and 0 < cost_failure < np.inf):
        raise ValueError(f"costs are numbers above 0, not {cost_planned} and {cost_failure}")
    cost = cost_per_run(survival, cost_planned, cost_failure)
    cheapest = _first_least(cost)
    drawn_survival = np.cumprod(1 - drawn[:, :last], axis=1)
    moved = cost_per_run(np.insert(drawn_survival, 0, 1.0, axis=1), cost_planned, cost_failure) - cost
    spread = moved.std(axis=0)

    def told_worse(age: int) -> bool:
        if cost_failure <= cost_planned:  # then a run more is cheaper for every curve
            return age < cheapest
        # a cost that no draw moves is measured by the spread of what is held against it
        unit = np.where(spread > TOLERANCE * cost, spread, max(spread[age], TOLERANCE * cost[age]))
        by_chance = ((moved - moved[:, [age]]) / unit).max(axis=1)
        return bool(((cost[age] - cost) / unit).max() > np.quantile(by_chance, confidence) + TOLERANCE)

    alike = 1 + np.flatnonzero([not told_worse(age) for age in range(last)])
    between = (np.arange(1, last + 1) >= alike[0]) & (np.arange(1, last + 1) <= alike[-1])
    near = np.flatnonzero(cost <= (1 + FLAT) * cost[cheapest] * (1 + TOLERANCE)) + 1
    best = Estimate(cheapest + 1, int(alike[0]), int(alike[-1]))
    if cheapest + 1 == last:
        reason = f"no change age up to {last} pays; beyond is not seen"
        best = Estimate(None, int(alike[0]), None, reason=reason)
    return ChangeOut(frozen(cost), best, frozen(between), (int(near[0]), int(near[-1])))


def cost_per_run(survival: Floats, cost_planned: float, cost_failure: float) -> Floats:
    """Give the cost a run of changing after 1, 2, ... runs.

    Parameters
    ----------
    survival : ndarray of float, shape (..., last + 1)
        Share still running after 0, 1, ..., `last` runs.
    cost_planned, cost_failure : float
        Of a planned change and of a failure.

    Returns
    -------
    ndarray of float, shape (..., last)
    """
    after = survival[..., 1:]
    made = np.cumsum(survival[..., :-1], axis=-1)
    return np.asarray((cost_planned * after + cost_failure * (1 - after)) / made)


def mean_failure(costs: Mapping[str, float]) -> float:
    """Give the mean ``cost_failure``: in the ``elimination_share`` of runs, if told, it is the ``cost_elimination``."""
    share = costs.get("elimination_share", 0.0)
    return (1 - share) * costs["cost_failure"] + share * costs.get("cost_elimination", 0.0)


def best_by_ratio(survival: Floats, ratios: Floats) -> list[int | None]:
    """Give the best change age where a failure costs so many times a planned change; None where none pays."""
    last = survival.size - 1
    found = (_first_least(cost_per_run(survival, 1.0, ratio)) + 1 for ratio in ratios)
    return [None if age == last else age for age in found]


def _first_least(cost: Floats) -> int:
    """Find the first place whose cost is the least."""
    return int(np.flatnonzero(cost <= cost.min() * (1 + TOLERANCE))[0])


def runs_at_risk(survival: Floats, risk: float) -> int:
    """Find the most runs after which at most this share has failed, 0 if the first run is beyond it.

    Parameters
    ----------
    survival : ndarray of float, shape (last + 1,)
        A curve or one of its limits, which never counts where it is nan.
    risk : float
        The share, between 0 and 1.
    """
    return int(np.flatnonzero(1 - survival <= risk + TOLERANCE)[-1])
