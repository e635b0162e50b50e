"""Runs that a belt makes out of its first h, and how two groups differ in it.

The mean to a horizon h is the area under the survival curve from 0 to h: the runs a belt makes out of its first h, the
run it fails on included. Unlike a median it uses the whole curve, and unlike a mean it asks nothing of ages beyond h.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, sqrt
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike

from drivekit.life.folds import Floats, Ints, fold

__all__ = ["Difference", "Mean", "common_horizon", "difference", "mean_to", "two_sided_z"]


@dataclass(frozen=True, slots=True)
class Mean:
    """Runs made out of the first `horizon`, or why that cannot be told.

    Parameters
    ----------
    horizon : int
        The number of runs looked at.
    estimate, se : float or None
        Mean in runs and its standard error; None exactly when `reason` says why.
    reason : str or None
        In plain words.
    """

    horizon: int
    estimate: float | None
    se: float | None
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class Difference:
    """How many more of the first runs one group makes than another, or why that cannot be told.

    Parameters
    ----------
    estimate, se, lower, upper : float or None
        The difference in runs, its standard error and limits; None exactly when `reason` says why.
    reason : str or None
        In plain words.
    """

    estimate: float | None
    se: float | None
    lower: float | None
    upper: float | None
    reason: str | None = None


def mean_to(age: Ints, at_risk: Ints, failed_at: Ints, survival: Floats, horizon: int) -> Mean:
    """Area under a survival curve from 0 to `horizon`: S(0) + ... + S(horizon - 1).

    Parameters
    ----------
    age, at_risk, failed_at, survival : ndarray, shape (n_ages,)
        The curve at each age at which someone was at risk; S stands still over an age at which nobody was.
    horizon : int
        In runs, 1 or more.

    Returns
    -------
    Mean
        Its variance is the sum, over the failure ages t below the horizon, of (S(t) + ... + S(horizon - 1)) squared
        times d / (n (n - d)), and 0 where n = d. Null if the curve stops before ``horizon - 1`` while above 0.

    Raises
    ------
    ValueError
        If the horizon is no whole number of 1 or more.

    References
    ----------
    Klein and Moeschberger, *Survival Analysis*, 2nd ed. (2003), section 4.5 (without the factor n / (n - 1)).
    """
    if isinstance(horizon, bool) or horizon != int(horizon) or horizon < 1:
        raise ValueError(f"a horizon is a whole number of runs, 1 or more, not {horizon}")
    oldest = int(age[-1])
    if oldest < horizon - 1 and survival[-1] > 0:
        return Mean(
            horizon,
            None,
            None,
            f"no belt here got beyond run {oldest} and an estimated {100 * survival[-1]:.0f} % outlast it, "
            f"so the first {horizon} runs cannot be counted",
        )
    below = age < horizon
    steps = np.concatenate([[1.0], survival[below]])
    widths = np.diff(np.concatenate([[0], age[below], [horizon]]))
    areas = steps * widths
    beyond = np.cumsum(areas[:0:-1])[::-1]
    at, failed = at_risk[below].astype(np.float64), failed_at[below].astype(np.float64)
    stays = at > failed
    term = np.divide(failed, at * (at - failed), out=np.zeros(at.size), where=stays)
    return Mean(horizon, float(areas.sum()), sqrt(float(np.sum(beyond**2 * term))))


def difference(earlier: Mean, later: Mean, confidence: float = 0.95) -> Difference:
    """Say how many more runs the later level makes than the earlier one.

    Parameters
    ----------
    earlier, later : Mean
        Of two groups of belts, to the same horizon.
    confidence : float
        Of the limits, estimate -/+ z se, with se the root of the summed squares.

    Raises
    ------
    ValueError
        If the horizons differ, or the confidence does not lie between 0 and 1.
    """
    z = two_sided_z(confidence)
    if earlier.horizon != later.horizon:
        raise ValueError(f"means to run {earlier.horizon} and to run {later.horizon} cannot be compared")
    if earlier.estimate is None or later.estimate is None or earlier.se is None or later.se is None:
        reasons = dict.fromkeys(mean.reason for mean in (earlier, later) if mean.reason)
        return Difference(None, None, None, None, "; ".join(reasons))
    estimate, se = later.estimate - earlier.estimate, hypot(earlier.se, later.se)
    return Difference(estimate, se, estimate - z * se, estimate + z * se)


def common_horizon(age: ArrayLike, group: ArrayLike, n_groups: int, least: int = 5) -> int | None:
    """Find the largest age at which every group still has at least `least` runs at that age.

    Returns
    -------
    int or None
        None where no age has that many in every group; smaller ages need not have them.
    """
    counts = fold(age, np.zeros(np.size(age), np.bool_), group, n_groups)
    enough = counts.age[(counts.at_risk >= least).all(axis=0)]
    return int(enough[-1]) if enough.size and n_groups else None


def two_sided_z(confidence: float) -> float:
    """Give the normal quantile that leaves half of 1 - `confidence` on each side."""
    if not 0 < confidence < 1:
        raise ValueError(f"a confidence lies between 0 and 1, not at {confidence}")
    return -NormalDist().inv_cdf((1 - confidence) / 2)
