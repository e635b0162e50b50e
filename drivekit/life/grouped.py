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
    runs, fell = int(here.sum()), failed[here]
    age, stratum = np.unique(age[here], return_inverse=True)[1], np.unique(stratum[here], return_inverse=True)[1]
    centred = x[here] - x[here].mean(axis=0)
    stay = _telling(age, stratum, fell)
    rows = _Rows.of(age[stay], np.hstack((_factor(stratum[stay])[:, 1:], centred[stay])), fell[stay])
    found = top(rows.likelihood, rows.start())
    if found is not None:
        error = np.sqrt(np.diag(np.linalg.inv(rows.expected_information(found.at))))
        coef, se = found.at[-n_terms:], error[-n_terms:]
        return GroupedFit(frozen(coef), frozen(se), found.loglik, runs, (None,) * n_terms)
    # A maximum proves that every term can be told; only where there is none is it asked which cannot, on all rows.
    n_ages, others = int(age.max()) + 1, np.hstack((_factor(stratum)[:, 1:], centred))
    design = np.hstack((_factor(age), others))
    terms = slice(design.shape[1] - n_terms, None)
    length = np.linalg.norm(design, axis=0)
    alone = determined(design, length)
    stay, moves = _limit(design[:, ~alone], fell)
    basis, moved = ~alone, np.zeros(alone.size, bool)
    basis[~alone] = ~determined(design[stay][:, ~alone], length[~alone])
    moved[~alone] = moves
    told = ~(alone | moved)[terms]
    flat = length[terms] <= 1e-9 * np.maximum(1.0, np.abs(x[here]).max(axis=0))
    reasons: list[str | None] = [None] * n_terms
    for term in range(n_terms):
        if alone[terms][term]:
            reasons[term] = CONSTANT if flat[term] else DETERMINED
        elif moved[terms][term]:
            reasons[term] = MOVES
    rows = _Rows.of(age[stay], others[stay][:, basis[n_ages:]], fell[stay])
    found = top(rows.likelihood, rows.start())
    if found is None:
        raise ArithmeticError("the grouped fit did not settle although its likelihood has a maximum")
    at, error = np.full(alone.size, np.nan), np.full(alone.size, np.nan)
    at[basis] = found.at
    error[basis] = np.sqrt(np.diag(np.linalg.inv(rows.expected_information(found.at))))
    coef, se = np.where(told, at[terms], np.nan), np.where(told, error[terms], np.nan)
    return GroupedFit(frozen(coef), frozen(se), found.loglik, runs, tuple(reasons))


def _factor(code: Ints) -> Floats:
    """One column of 0 and 1 for each value met."""
    return np.asarray(code[:, None] == np.unique(code), np.float64)


def _telling(age: Ints, stratum: Ints, fell: Bools) -> Bools:
    """Rows left once every age and every stratum in which none or all failed have gone, and those that follow."""
    stay = np.ones(fell.size, bool)
    while True:
        rest = stay.copy()
        for code in (age, stratum):
            at_risk, failed = np.bincount(code[stay]), np.bincount(code[stay], weights=fell[stay])
            mixed = (failed > 0) & (failed < at_risk)
            rest[stay] &= mixed[code[stay]]
        if (rest == stay).all():
            return stay
        stay = rest


@dataclass(frozen=True, eq=False, slots=True)
class _Rows:
    """Runs of the fit: an own column for each age, kept as a code alone, and the other columns."""

    age: Ints
    n_ages: int
    others: Floats
    fell: Bools

    @classmethod
    def of(cls, age: Ints, others: Floats, fell: Bools) -> _Rows:
        ages, code = np.unique(age, return_inverse=True)
        return cls(code, ages.size, others, fell)

    def start(self) -> Floats:
        """Each age's own share of failures, all else without effect."""
        at_risk, failed = np.bincount(self.age), np.bincount(self.age, weights=self.fell)
        share = (failed + 0.5) / (at_risk + 1.0)
        return np.concatenate((np.log(-np.log1p(-share)), np.zeros(self.others.shape[1])))

    def likelihood(self, at: Floats) -> tuple[float, Floats, Floats]:
        """Log likelihood, score and observed information; with m = exp(height) a failed row gives log(1 - exp(-m))."""
        fell = self.fell
        with np.errstate(over="ignore", under="ignore"):
            m = np.exp(np.minimum(self._height(at), 700.0))
            pull = _pull(m)
            loglik = np.log(-np.expm1(-m[fell])).sum() - m[~fell].sum()
            slope = np.where(fell, pull, -m)
            curve = np.where(fell, -pull * (1 - m - pull), m)
        score = np.concatenate((np.bincount(self.age, weights=slope), self.others.T @ slope))
        return float(loglik), np.asarray(score, np.float64), self._squared(curve)

    def expected_information(self, at: Floats) -> Floats:
        """Sum of (dp/dheight)^2 / (p (1 - p)) = m^2 / (exp(m) - 1) over rows."""
        m = np.exp(self._height(at))
        return self._squared(m * _pull(m))

    def _height(self, at: Floats) -> Floats:
        return np.asarray(at[self.age] + self.others @ at[self.n_ages :])

    def _squared(self, weight: Floats) -> Floats:
        """Sum over rows of weight times the outer product of all columns; an age has none in common with another."""
        n_ages = self.n_ages
        weighted = self.others * weight[:, None]
        square = np.zeros((n_ages + weighted.shape[1],) * 2)
        square[np.arange(n_ages), np.arange(n_ages)] = np.bincount(self.age, weights=weight)
        for place, column in enumerate(weighted.T, start=n_ages):
            square[place, :n_ages] = square[:n_ages, place] = np.bincount(self.age, weights=column)
        square[n_ages:, n_ages:] = self.others.T @ weighted
        return square


def _pull(m: Floats) -> Floats:
    """Slope of log(1 - exp(-m)) along log m: ``m / (exp(m) - 1)``, 1 at 0."""
    return np.asarray(np.divide(m, np.expm1(np.minimum(m, 700.0)), out=np.ones_like(m), where=m > 0))


def _limit(design: Floats, fell: Bools) -> tuple[Bools, Bools]:
    """Which rows are left once every direction without end is followed, and the columns that move along one."""
    sign = np.where(fell, 1.0, -1.0)[:, None]
    size = np.abs(design).max(axis=0)
    length = np.linalg.norm(design, axis=0)
    moves = np.zeros(design.shape[1], bool)
    stay = np.ones(fell.size, bool)
    while stay.any():
        left = design[stay]
        direction = rising(sign[stay] * left / size, np.zeros((0, size.size)))
        if direction is None:
            break
        stay[stay] = level_gap(left / size @ direction)
        moves = in_null_space(design[stay], length)
    return stay, moves
