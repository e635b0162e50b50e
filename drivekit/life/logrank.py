"""Whether groups of belts fail alike: the log-rank test, its exact p-value, and Holm's adjustment over several."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import comb, fsum, prod

import numpy as np
from numpy.typing import ArrayLike

from drivekit.life.folds import Floats, Ints, fold, frozen

__all__ = ["LogRank", "TooManyOutcomes", "holm", "logrank", "totals"]

# A chi2 this near to the one seen counts as large: a tie can differ in its last digits by the way it is summed.
NEAR = 1e-9
# Measured: 5 ns a pair of outcomes, 30 ns and 8 bytes a cell, 1.5 ns a binary digit; each at most a second or so.
MOST_PAIRS = 200_000_000
MOST_CELLS = 20_000_000
MOST_DIGITS = 500_000_000
# Outcomes taken at a time: so few stay in the processor's own memory, which halves the time.
BLOCK = 16_384


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
    chi2: float | None = None
    dof: int | None = None
    p: float | None = None
    p_exact: float | None = None
    p_exact_reason: str | None = None
    reason: str | None = None


def logrank(age: ArrayLike, failed: ArrayLike, group: ArrayLike, n_groups: int) -> LogRank:
    """Compare the failures of the groups with those expected if all failed alike at each age.

    Parameters
    ----------
    age, failed, group : array_like, shape (n_runs,)
        As :func:`drivekit.life.folds.fold` takes them; a belt counts in the group it ran in.
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
    from scipy.special import chdtrc

    _, at_risk, failed_at = fold(age, failed, group, n_groups)
    some = failed_at.any(axis=0)
    at_risk, failed_at = at_risk[:, some], failed_at[:, some]
    everyone, lost = at_risk.sum(axis=0), failed_at.sum(axis=0)
    observed = failed_at.sum(axis=1)
    # fsum: observed less expected is small beside both, and ties in chi2 are told by its last digits.
    expected = np.array([fsum(row) for row in lost * at_risk / everyone])
    variance = _variance(at_risk, everyone, lost)
    compared = np.flatnonzero(at_risk.any(axis=1))
    fixed = frozen(observed), frozen(expected), frozen(variance), tuple(int(code) for code in compared)
    reason = _why_not(at_risk[compared], everyone, lost)
    if reason is not None:
        return LogRank(*fixed, reason=reason)
    inverse = np.linalg.inv(variance[np.ix_(compared[:-1], compared[:-1])])

    def size(failures: Ints) -> Floats:
        excess = failures[:, :-1] - expected[compared[:-1]]
        return np.asarray(np.einsum("ij,jk,ik->i", excess, inverse, excess))

    chi2 = float(size(observed[compared][None])[0])
    dof = compared.size - 1
    p = float(chdtrc(dof, chi2))
    try:
        outcomes, probability = totals(at_risk[compared], lost)
    except TooManyOutcomes as too_many:
        return LogRank(*fixed, chi2, dof, p, p_exact_reason=str(too_many))
    extreme = size(outcomes) >= chi2 * (1 - NEAR)
    return LogRank(*fixed, chi2, dof, p, min(1.0, fsum(probability[extreme])))


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
    return np.asarray(np.diag(share @ spread) - (share * spread) @ share.T)


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


class TooManyOutcomes(Exception):
    """More outcomes than can be listed in a second or two; the message is one plain sentence."""


def totals(at_risk: Ints, failed: Ints) -> tuple[Ints, Floats]:
    """List the totals over all ages of the failures in each group that chance could give.

    Given, at every age, how many were at risk in each group and how many failed, chance picks the failed among those at
    risk: a multivariate hypergeometric draw at each age, independent of the other ages. The totals are the convolution
    of these draws, and there are few enough of them to be listed, each with its probability.

    Parameters
    ----------
    at_risk : ndarray of int, shape (n_groups, n_ages)
        At risk in each group at each age.
    failed : ndarray of int, shape (n_ages,)
        Failures at each age, no more than were at risk.

    Returns
    -------
    failed : ndarray of int, shape (n_outcomes, n_groups)
        Failures in each group, one line for each way in which chance could share them out.
    probability : ndarray of float, shape (n_outcomes,)
        Of each, which sum to 1.

    Raises
    ------
    TooManyOutcomes
        If listing them would take more than a second or two, or half a gigabyte.
    """
    least = np.maximum(0, failed - (at_risk.sum(axis=0) - at_risk))
    span = np.minimum(at_risk, failed) - least
    # The last group's total follows from the others', so let the widest be the last: the box of the others is smallest.
    order = np.argsort(span.sum(axis=1), kind="stable")
    shared = np.flatnonzero(span.any(axis=0))
    moves = failed - least.sum(axis=0)
    _refuse_long_numbers(at_risk[:, shared].sum(axis=0), moves[shared], order.size)
    # The largest draw first, while there is little to convolve it with.
    sizes = {int(place): _size(at_risk[:, place], int(failed[place])) for place in shared}
    shared = np.array(sorted(sizes, key=lambda place: -sizes[place]), np.int64)
    _refuse_too_many(span[:, shared][order], moves[shared], [sizes[int(place)] for place in shared])
    # The last group follows from the total; the free groups' counts above their least are the digits of one number.
    free = order[:-1]
    box = span[free][:, shared].sum(axis=1) + 1
    stride = np.concatenate([np.cumprod(box[::-1])[::-1][1:], [1]])
    reached, chances = np.zeros(1, np.int64), np.ones(1)
    for place in shared:
        counts, weights = _draws(at_risk[order, place], int(failed[place]))
        shift = (counts[:, :-1] - least[free, place]) @ stride
        reached, chances = _convolved(reached, chances, shift, weights)
    # An age at which all or none failed, or where one group ran alone, leaves nothing to chance.
    outcomes = np.empty((reached.size, order.size), np.int64)
    outcomes[:, free] = np.stack(np.unravel_index(reached, tuple(box)), axis=1) + least[free].sum(axis=1)
    outcomes[:, order[-1]] = failed.sum() - outcomes[:, free].sum(axis=1)
    return frozen(outcomes), frozen(chances)


def _size(at_risk: Ints, failed: int) -> float:
    """Count the ways to share out `failed` among the groups."""
    ways = np.ones(1)
    for group in at_risk:
        ways = np.convolve(ways, np.ones(min(int(group), failed) + 1))[: failed + 1]
    return float(ways[failed])


def _refuse_long_numbers(everyone: Ints, moves: Ints, groups: int) -> None:
    """Bound from above the digits of all the whole numbers whose ratios are the chances of a draw."""
    weights = (moves + 1.0) * (1 + (groups - 2) * (moves + 1.0))
    if float(weights @ everyone) > MOST_DIGITS:
        raise TooManyOutcomes("too many belts failed for the ways in which chance could share them out to be listed")


def _refuse_too_many(span: Ints, moves: Ints, sizes: list[float]) -> None:
    """Bound from above the pairs of outcomes and the cells that convolving in this order will take."""
    pairs, reached, cells = 0.0, 1.0, 1
    for done, size in enumerate(sizes, start=1):
        pairs += reached * size
        cells = prod(int(width) + 1 for width in span[:-1, :done].sum(axis=1))
        reached = min(reached * size, cells, comb(int(moves[:done].sum()) + len(span) - 1, len(span) - 1))
    if pairs > MOST_PAIRS or cells > MOST_CELLS:
        raise TooManyOutcomes("the failures could fall among the groups in too many ways to list each of them")


def _draws(at_risk: Ints, failed: int) -> tuple[Ints, Floats]:
    """List the multivariate hypergeometric draw of one age, group by group out of those that are left."""
    counts, probability = np.zeros((1, 0), np.int64), np.ones(1)
    left, rest = np.array([failed]), int(at_risk.sum())
    for group in at_risk[:-1]:
        rest -= int(group)
        rows, picks, chances = [], [], []
        for open_ in sorted(set(left.tolist())):
            least, weights = _hypergeometric(int(group), rest, open_)
            here = np.flatnonzero(left == open_)
            rows.append(np.repeat(here, weights.size))
            picks.append(np.tile(least + np.arange(weights.size), here.size))
            chances.append(np.tile(weights, here.size))
        row, pick = np.concatenate(rows), np.concatenate(picks)
        probability = probability[row] * np.concatenate(chances)
        counts = np.column_stack([counts[row], pick])
        left = left[row] - pick
    return np.column_stack([counts, left]), probability


def _hypergeometric(group: int, others: int, failed: int) -> tuple[int, Floats]:
    """Chances that least, least + 1, ... of `failed` fall in `group`, in whole numbers up to the last division."""
    least, most = max(0, failed - others), min(group, failed)
    weights = [comb(group, least) * comb(others, failed - least)]
    for k in range(least, most):
        weights.append(weights[-1] * (group - k) * (failed - k) // ((k + 1) * (others - failed + k + 1)))
    whole = sum(weights)
    return least, np.array([weight / whole for weight in weights])


def _convolved(one: Ints, chances: Floats, other: Ints, weights: Floats) -> tuple[Ints, Floats]:
    """List the sums of two independent whole numbers from 0, each given by those it can be and their chances."""
    from drivekit.life import _loops

    (few, chances), (many, weights) = sorted(((one, chances), (other, weights)), key=lambda draw: draw[1].size)
    sums = np.zeros(int(few.max() + many.max()) + 1)
    for begin in range(0, many.size, BLOCK):
        near = slice(begin, begin + BLOCK)
        _loops.convolve(sums, many[near], weights[near], few, chances)
    reached = np.flatnonzero(sums)
    return reached, sums[reached]
