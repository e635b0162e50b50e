"""A second model for lives in whole runs: did this run end in failure, yes or no, with the same hazard ratios.

If the hazard within a run is ``h_k exp(x b)``, the chance that run k ends in failure is ``1 - exp(-exp(a_k + x b))``:
a binomial fit with a complementary log-log link, a factor for each age at which something failed, the stratum as a
factor, and the terms (Prentice and Gloeckler, Biometrics 1978). Its b estimates the same log hazard ratios without any
rule for ties, but makes strata proportional to each other where the hazard fit leaves them free.

Steps use the observed information, standard errors the expected one, as fits of this family have it. Directions without
end are those that raise every failed row and lower every kept one: an age at which all failed, a stratum without a
failure and a level without one leave so.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from drivekit.life.newton import top
from drivekit.life.riskset import Bools, Floats, Ints, frozen
from drivekit.life.separation import MOVES, NO_FAILURE, determined, in_null_space, level_gap, rising

__all__ = ["GroupedFit", "grouped"]

CONSTANT = "it was the same in all runs at the ages at which something failed"
DETERMINED = "age, car and the other settings determine it in these runs"


@dataclass(frozen=True, eq=False, slots=True)
class GroupedFit:
    """Complementary log-log estimates; nan where a term has none, with its reason.

    Attributes
    ----------
    coef, se : ndarray of float, shape (n_terms,)
        Log hazard ratios; standard errors from the expected information.
    loglik : float
        Binomial log likelihood, its limit where something runs off.
    rows : int
        Runs at ages at which something failed.
    reasons : tuple of str or None
    """

    coef: Floats
    se: Floats
    loglik: float
    rows: int
    reasons: tuple[str | None, ...]


def grouped(age: Ints, failed: Bools, x: Floats, stratum: Ints) -> GroupedFit:
    """Fit failure of each run on age, stratum and terms.

    Parameters
    ----------
    age : ndarray of int, shape (n,)
    failed : ndarray of bool, shape (n,)
    x : ndarray of float, shape (n, n_terms)
    stratum : ndarray of int, shape (n,)

    Returns
    -------
    GroupedFit
    """
    n_terms = x.shape[1]
    nan = np.full(n_terms, np.nan)
    here = np.isin(age, np.unique(age[failed]))
    if not here.any():
        return GroupedFit(frozen(nan), frozen(nan), 0.0, 0, (NO_FAILURE,) * n_terms)
    fell = failed[here]
    centred = x[here] - x[here].mean(axis=0)
    ages, strata = _indicators(age[here]), _indicators(stratum[here])
    terms = slice(ages.shape[1] + strata.shape[1] - 1, None)
    design = np.hstack((ages, strata[:, 1:], centred))
    share = (ages.T @ fell + 0.5) / (ages.sum(axis=0) + 1.0)
    start = np.concatenate((np.log(-np.log1p(-share)), np.zeros(design.shape[1] - share.size)))
    basis = np.ones(design.shape[1], bool)
    told = np.ones(n_terms, bool)
    reasons: list[str | None] = [None] * n_terms
    found = top(lambda at: _likelihood(design, fell, at), start)
    if found is None:
        length = np.linalg.norm(design, axis=0)
        alone = determined(design, length)
        left, fell_left, moves = _limit(design[:, ~alone], fell)
        basis = ~alone
        basis[~alone] = ~determined(left, length[~alone])
        moved = np.zeros(design.shape[1], bool)
        moved[~alone] = moves
        told = ~(alone | moved)[terms]
        flat = length[terms] <= 1e-9 * np.maximum(1.0, np.abs(x[here]).max(axis=0))
        for term in range(n_terms):
            if alone[terms][term]:
                reasons[term] = CONSTANT if flat[term] else DETERMINED
            elif moved[terms][term]:
                reasons[term] = MOVES
        kept = left[:, basis[~alone]]
        design, fell = kept, fell_left
        found = top(lambda at: _likelihood(kept, fell_left, at), start[basis])
        if found is None:
            raise ArithmeticError("the grouped fit did not settle although its likelihood has a maximum")
    at, error = np.full(basis.size, np.nan), np.full(basis.size, np.nan)
    at[basis] = found.at
    error[basis] = np.sqrt(np.diag(np.linalg.inv(_expected_information(design, found.at))))
    coef, se = np.where(told, at[terms], np.nan), np.where(told, error[terms], np.nan)
    return GroupedFit(frozen(coef), frozen(se), found.loglik, int(here.sum()), tuple(reasons))


def _indicators(code: Ints) -> Floats:
    """One column of 0 and 1 for each value."""
    return np.asarray(code[:, None] == np.unique(code), np.float64)


def _likelihood(design: Floats, fell: Bools, at: Floats) -> tuple[float, Floats, Floats]:
    """Log likelihood, score and observed information; with m = exp(height) a failed row gives log(1 - exp(-m))."""
    with np.errstate(over="ignore", under="ignore"):
        m = np.exp(np.minimum(design @ at, 700.0))
        pull = _pull(m)
        loglik = np.log(-np.expm1(-m[fell])).sum() - m[~fell].sum()
        slope = np.where(fell, pull, -m)
        curve = np.where(fell, -pull * (1 - m - pull), m)
    return float(loglik), design.T @ slope, design.T @ (design * curve[:, None])


def _pull(m: Floats) -> Floats:
    """Slope of log(1 - exp(-m)) along log m: ``m / (exp(m) - 1)``, 1 at 0."""
    return np.asarray(np.divide(m, np.expm1(np.minimum(m, 700.0)), out=np.ones_like(m), where=m > 0))


def _expected_information(design: Floats, at: Floats) -> Floats:
    """Sum of (dp/dheight)^2 / (p (1 - p)) = m^2 / (exp(m) - 1) over rows."""
    m = np.exp(design @ at)
    return np.asarray(design.T @ (design * (m * _pull(m))[:, None]))


def _limit(design: Floats, fell: Bools) -> tuple[Floats, Bools, Bools]:
    """Rows left once every direction without end is followed, and the columns that move along one."""
    sign = np.where(fell, 1.0, -1.0)[:, None]
    size = np.abs(design).max(axis=0)
    length = np.linalg.norm(design, axis=0)
    moves = np.zeros(design.shape[1], bool)
    while design.shape[0]:
        direction = rising(sign * design / size, np.zeros((0, size.size)))
        if direction is None:
            break
        stay = level_gap(design / size @ direction)
        design, fell, sign = design[stay], fell[stay], sign[stay]
        moves = in_null_space(design, length)
    return design, fell, moves
