"""Whether groups of belts come to one cause alike, the causes competing: Gray's test of their incidences.

At each age, group g has n at risk, S and F just before it (share unfailed, and failed of this cause), and d fail of
it. With R = n (1 - F) / S, the belts that would be at risk of this cause if the others stayed in, the score of a group
is the sum of ``d - R (all d) / (all R)``. Under the null all groups share one F, so that each group's rises of F
(binomial, its other causes beside it) carry the variance: a rise at age s moves the score at s itself, and through S
and F all later ones. R here is n / S times 1 - F of all groups together, as the null has it.

A belt must be seen from its first run, in one group: with late entry n / S is no count of belts any more.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from drivekit.life.folds import Floats, codes, fold, frozen

__all__ = ["Gray", "gray", "whole_lives"]


@dataclass(frozen=True, slots=True, eq=False)
class Gray:
    """Gray's test of one cause, or why it cannot be had.

    Parameters
    ----------
    score, variance : ndarray of float, shapes (n_groups,) and (n_groups, n_groups)
        Failures of the cause in each group less those expected, and the covariance of these.
    chi2, dof, p, reason : float, int, float, str or None
        The statistic, its degrees of freedom and its p-value; None exactly when `reason` says why, in plain words.
    """

    score: Floats
    variance: Floats
    chi2: float | None = None
    dof: int | None = None
    p: float | None = None
    reason: str | None = None


def whole_lives(age: ArrayLike, belt: ArrayLike, group: ArrayLike) -> str | None:
    """Say why these runs are not whole lives, each in one group, or give None where they are; belts count from 0."""
    ages, belts, groups = np.asarray(age), codes(belt, "belt", 0), np.asarray(group)
    oldest, highest = np.zeros((2, belts.max(initial=-1) + 1), np.int64)
    lowest = np.full(oldest.size, groups.max(initial=0))
    np.maximum.at(oldest, belts, ages)
    np.maximum.at(highest, belts, groups)
    np.minimum.at(lowest, belts, groups)
    part = int((np.bincount(belts) != oldest).sum())
    changed = int((highest > lowest).sum())
    said = [f"{part} came with runs on them or have a blank"] * (part > 0)
    said += [f"{changed} ran in more than one group"] * (changed > 0)
    return f"the test needs belts with every run here and in one group; {' and '.join(said)}" if said else None


def gray(age: ArrayLike, cause: ArrayLike, group: ArrayLike, n_groups: int, of: int) -> Gray:
    """Test whether the incidence of one cause is the same in all groups.

    Parameters
    ----------
    age, cause, group : array_like of int, shape (n_runs,)
        Age in runs of the belt on that run, each belt from age 1 on, in one group (`whole_lives`); code of the failure
        that ended it, or -1 for none; and of the group, 0 to ``n_groups - 1``.
    of : int
        Code of the cause tested; all others compete with it.

    Raises
    ------
    ValueError
        If arrays differ in length, an age is below 1 or a code out of range.

    References
    ----------
    Gray, Annals of Statistics 1988, with weight 1 (rho 0); the factors for several failures at one age are those of a
    draw without replacement.
    """
    from scipy.special import chdtrc

    _, at_risk, all_failed = fold(age, codes(cause, "cause", -1) >= 0, group, n_groups)
    d = fold(age, np.asarray(cause) == of, group, n_groups)[2].astype(np.float64)
    n, other = at_risk.astype(np.float64), all_failed - d
    if not d.any():
        nothing = np.zeros(n_groups), np.zeros((n_groups, n_groups))
        return Gray(frozen(nothing[0]), frozen(nothing[1]), reason="no belt failed of it")
    alive = np.cumprod(1 - _share(all_failed, n), axis=1)
    before = np.hstack((np.ones((n_groups, 1)), alive[:, :-1]))
    rise = before * _share(d, n)
    # where S is 0 nobody is at risk any more, and each share of nothing is 0
    weight = _share(n, before)
    adjusted = weight * (1 - np.cumsum(rise, axis=1) + rise)
    lost, total = d.sum(axis=0), weight.sum(axis=0)
    score = (d - adjusted * lost / adjusted.sum(axis=0)).sum(axis=1)
    left = 1 - np.cumsum(lost / total)
    # how a rise of group k's F at age t moves the score of group i: at t itself, shape (i, k, t), and after it
    at_once = weight[:, None] * (np.eye(n_groups)[:, :, None] - weight[None] / total)
    pulled = np.cumsum(at_once * _share(lost, total * np.concatenate(([1.0], left[:-1]))), axis=2)
    after = pulled[:, :, -1:] - pulled
    ratio = _share(left, alive)
    own = before * _share(lost, total * n) * (1 - _share(np.maximum(lost - 1, 0), total * before - 1))
    beside = (before * _share(1, n)) ** 2 * other * (1 - _share(np.maximum(other - 1, 0), n - 1))
    variance = np.zeros((n_groups, n_groups))
    for moved, spread in ((at_once + (1 - ratio) * after, own), (ratio * after, beside)):
        variance += np.einsum("ikt,jkt,kt->ij", moved, moved, spread)
    fixed = frozen(score), frozen(variance)
    if np.linalg.matrix_rank(variance, tol=1e-9) < max(n_groups - 1, 1):
        return Gray(*fixed, reason="some groups were never at risk beside the others where a belt failed of it")
    chi2 = float(score[:-1] @ np.linalg.solve(variance[:-1, :-1], score[:-1]))
    return Gray(*fixed, chi2, n_groups - 1, float(chdtrc(n_groups - 1, chi2)))


def _share(part: ArrayLike, whole: ArrayLike) -> Floats:
    """Divide, and give 0 where there is nothing to divide by."""
    parts, wholes = np.broadcast_arrays(np.asarray(part, np.float64), np.asarray(whole, np.float64))
    return np.asarray(np.divide(parts, wholes, out=np.zeros(wholes.shape), where=wholes > 0))
