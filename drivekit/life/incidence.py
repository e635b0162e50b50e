"""How belts fail, cause by cause: the share that has failed of each by each age (Aalen and Johansen)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from drivekit.life.folds import Floats, Ints, codes, fold, frozen

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

__all__ = ["Incidence", "incidence"]


@dataclass(frozen=True, slots=True, eq=False)
class Incidence:
    """Share of belts that has failed of each cause by each age.

    Parameters
    ----------
    age : ndarray of int, shape (n_ages,)
        Every age at which someone was at risk.
    incidence, se : ndarray of float, shape (n_causes, n_ages)
        The share and its standard error; with `survival` the shares add to 1 at every age.
    survival : ndarray of float, shape (n_ages,)
        Share that has not failed.
    """

    age: Ints
    incidence: Floats
    se: Floats
    survival: Floats


def incidence(age: ArrayLike, cause: ArrayLike, n_causes: int) -> Incidence:
    """Estimate the incidence of each cause; causes compete, and every other ending is a belt that leaves unfailed.

    Parameters
    ----------
    age : array_like of int, shape (n_runs,)
        Age in runs of the belt on that run.
    cause : array_like of int, shape (n_runs,)
        Code of the failure that ended that run, 0 to ``n_causes - 1``, or -1 for none.
    n_causes : int
        How many causes there are, seen or not.

    Raises
    ------
    ValueError
        If there are no runs, arrays differ in length, an age is below 1 or a code out of range.

    Notes
    -----
    At each age the failures by cause are multinomial among those at risk, and the delta method gives the variance of
    the incidence F of one cause. With B = F(t) - F(s), S(s-) and S(s) the shares unfailed before and after age s, and d
    of n failed at s, c of them of this cause, it is Gaynor's ::

        sum over s <= t of  B^2 d / (n (n - d))  +  S(s-)^2 c (n - c) / n^3  -  2 B S(s-) c / n^2

    written here as a sum of squares, since rounding would else leave something where the variance is 0 ::

        sum over s <= t of  (c (S(s) - B)^2 + (d - c) B^2) / (n (n - d))  +  S(s-)^2 c (d - c) / n^3

    Where all at risk failed (n = d) nothing can rise any more and the last term alone is left. Forms that take each
    cause's failures as a count of its own give more: .125 in place of .1169 where one in eight failed.

    References
    ----------
    Gaynor et al., J Am Stat Assoc 1993.
    """
    causes = codes(cause, "cause", -1, n_causes)
    counts = fold(age, causes >= 0, np.zeros(causes.size, np.int64), 1)
    if not causes.size:
        raise ValueError("an incidence needs at least one run")
    at_risk, failed_at = counts.at_risk[0].astype(np.float64), counts.failed_at[0].astype(np.float64)
    place = np.searchsorted(counts.age, np.asarray(age))[causes >= 0]
    cell = causes[causes >= 0] * counts.age.size + place
    by_cause = np.bincount(cell, minlength=n_causes * counts.age.size).reshape(n_causes, counts.age.size)
    survival = np.cumprod((at_risk - failed_at) / at_risk)
    before = np.concatenate([[1.0], survival[:-1]])
    share = np.cumsum(before * by_cause / at_risk, axis=1)
    se = np.zeros(share.shape)
    for code in range(n_causes):
        se[code] = _se(share[code], by_cause[code], at_risk, failed_at, before, survival)
    return Incidence(counts.age, frozen(share), frozen(se), frozen(survival))


def _se(share: Floats, of_cause: Ints, at_risk: Floats, failed_at: Floats, before: Floats, after: Floats) -> Floats:
    other, left = failed_at - of_cause, at_risk - failed_at
    weight = np.divide(1, at_risk * left, out=np.zeros(left.size), where=left > 0)
    # One row an age t, one column an age s <= t.
    rise = share[:, None] - share[None, :]
    spread = (of_cause * (after - rise) ** 2 + other * rise**2) * weight + before**2 * of_cause * other / at_risk**3
    root: Floats = np.sqrt(np.tril(spread).sum(axis=1))
    return root
