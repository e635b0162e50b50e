"""Whether groups of belts fail alike: the log-rank test, its exact p-value, and Holm's adjustment over several."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum
from typing import TYPE_CHECKING

import numpy as np

from drivekit.life.convolution import TooManyOutcomes, totals
from drivekit.life.folds import Floats, Ints, fold, frozen

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

__all__ = ["LogRank", "holm", "logrank"]

# A chi2 this near to the one seen counts as large: a tie can differ in its last digits by the way it is summed.
NEAR = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class LogRank:
    """The log-rank test of several groups, or why it cannot be had.

    Parameters
    ----------
    observed, expected : ndarray, shape (n_groups,)
        Failures in each group at the ages at which some belt failed, and those expected if all groups failed alike.
    variance : ndarray of float, shape (n_groups, n_groups)
        Hypergeometric covariance of observed less expected.
    compared : tuple of int
        Codes of the groups that were at risk at some failure age; the others leave the test.
    chi2, dof, p : float, int, float or None
        The statistic, its degrees of freedom and the asymptotic p-value; None exactly when `reason` says why.
    p_exact : float or None
        Chance of a chi2 at least as large, given at every age how many were at risk in each group and how many failed.
        Exact given those margins; not a permutation of belts. None when `p_exact_reason` (or `reason`) says why.
    p_exact_reason, reason : str or None
        In plain words.
    """

    observed: Ints
    expected: Floats
    variance: Floats
    compared: tuple[int, ...]
    chi2: float | None
    dof: int | None
    p: float | None
    p_exact: float | None
    p_exact_reason: str | None = None
    reason: str | None = None


def logrank(age: ArrayLike, failed: ArrayLike, group: ArrayLike, n_groups: int) -> LogRank:
    """Compare the failures of the groups with those expected if all failed alike at each age.

    Parameters
    ----------
    age : array_like of int, shape (n_runs,)
        Age in runs of the belt on that run.
    failed : array_like of bool, shape (n_runs,)
        Whether that run ended in a failure.
    group : array_like of int, shape (n_runs,)
        Code of the group, 0 to ``n_groups - 1``; a belt counts in the group it ran in.
    n_groups : int
        How many groups there are, with or without runs.

    Raises
    ------
    ValueError
        If arrays differ in length, an age is below 1 or a code out of range.

    References
    ----------
    Mantel, Cancer Chemother Rep 1966; Klein and Moeschberger, *Survival Analysis*, 2nd ed. (2003), section 7.3.
    """
    counts = fold(age, failed, group, n_groups)
    some = counts.failed_at.any(axis=0)
    at_risk, failed_at = counts.at_risk[:, some], counts.failed_at[:, some]
    everyone, lost = at_risk.sum(axis=0), failed_at.sum(axis=0)
    observed = failed_at.sum(axis=1)
    # fsum: observed less expected is small beside both, and ties in chi2 are told by its last digits.
    expected = np.array([fsum(row) for row in lost * at_risk / everyone])
    variance = _variance(at_risk, everyone, lost)
    compared = np.flatnonzero(at_risk.any(axis=1))
    fixed = frozen(observed), frozen(expected), frozen(variance), tuple(int(code) for code in compared)
    reason = _why_not(at_risk[compared], everyone, lost)
    if reason is not None:
        return LogRank(*fixed, None, None, None, None, None, reason)
    inverse = np.linalg.inv(variance[np.ix_(compared[:-1], compared[:-1])])

    def size(failures: Ints) -> Floats:
        excess = failures[:, :-1] - expected[compared[:-1]]
        return np.asarray(np.einsum("ij,jk,ik->i", excess, inverse, excess))

    chi2 = float(size(observed[compared][None])[0])
    dof = compared.size - 1
    try:
        outcomes = totals(at_risk[compared], lost)
    except TooManyOutcomes as too_many:
        return LogRank(*fixed, chi2, dof, _upper_tail(chi2, dof), None, str(too_many))
    extreme = size(outcomes.failed) >= chi2 * (1 - NEAR)
    return LogRank(*fixed, chi2, dof, _upper_tail(chi2, dof), min(1.0, fsum(outcomes.probability[extreme])))


def holm(ps: Sequence[float | None]) -> list[float | None]:
    """Adjust p-values for there being several: Holm, Scand J Stat 1979; None stays None and does not count."""
    known = sorted((p, place) for place, p in enumerate(ps) if p is not None)
    adjusted: list[float | None] = [None] * len(ps)
    largest = 0.0
    for rank, (p, place) in enumerate(known):
        largest = max(largest, min(1.0, (len(known) - rank) * p))
        adjusted[place] = largest
    return adjusted


def _variance(at_risk: Ints, everyone: Ints, lost: Ints) -> Floats:
    """Sum over ages d (n - d) / (n - 1) (diag(n_g / n) - n_g n_h / n^2); an age with one at risk adds nothing."""
    share = at_risk / everyone
    spread = lost * (everyone - lost) / np.maximum(everyone - 1, 1)
    variance: Floats = np.diag(share @ spread) - (share * spread) @ share.T
    return variance


def _why_not(at_risk: Ints, everyone: Ints, lost: Ints) -> str | None:
    """Say in plain words why the groups cannot be compared, if they cannot."""
    if not lost.size:
        return "no belt failed"
    if at_risk.shape[0] < 2:
        return "fewer than two groups had a belt at risk at an age at which one failed"
    # The variance is that of a chain of comparisons: it has its full rank exactly where every group is linked to every
    # other by ages at which both were at risk and some, but not all, failed.
    together = at_risk[:, lost < everyone] > 0
    linked = np.arange(at_risk.shape[0]) == 0
    for _ in at_risk:
        linked |= together[:, together[linked].any(axis=0)].any(axis=1)
    if not linked.all():
        return "some groups never had a belt at risk beside the others at an age at which some but not all failed"
    return None


def _upper_tail(chi2: float, dof: int) -> float:
    from scipy.special import chdtrc

    return float(chdtrc(dof, chi2))
