"""Which settings go with more failures a run, all at once: the stratified proportional hazards fit in whole runs.

Estimand: b in ``hazard of failing on run k in stratum s = h_s(k) exp(x b)``, x the settings as on that run; h_s is left
free, so nothing is said about it. The partial likelihood (Cox, J R Stat Soc B 1972) is maximised with Efron's or
Breslow's treatment of failures at the same age; see :mod:`drivekit.life._cox` for the formula.

Case weights are whole numbers from 0. A failure of weight 0 is not there. Under Breslow a weight of 3 is three copies;
under Efron it is not: the d tied failures of a set carry their mean weight each, as R's survival has it.

A coefficient that cannot be had is nan, with its reason; the others are those of the limit that
:mod:`drivekit.life.separation` describes. Limits and tests: :mod:`drivekit.life.profile`.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from drivekit.life.folds import Bools, Floats, Ints, frozen
from drivekit.life.riskset import MANY_ROWS, RiskSets
from drivekit.life.separation import MOVES, NO_FAILURE, limit, untold

__all__ = ["CoxFit", "Ties", "fit", "fit_many", "likelihood", "maximum", "side_by_side"]

Ties = Literal["efron", "breslow"]

NEAR = 1e-10
"""A fit is settled at a step of so much, or of so many standard errors where those are the smaller."""

NEAR_OF_MANY = 1e-4
"""Of `MANY_ROWS` the last step may be of so much: what remains after it is the square of that."""


@dataclass(frozen=True, eq=False, slots=True)
class CoxFit:
    """A fitted hazard, or for each term why it could not be.

    Attributes
    ----------
    coef, se : ndarray of float, shape (n_terms,)
        Log hazard ratios and standard errors from the observed information; nan where not ``free``.
    covariance, information : ndarray of float, shape (n_terms, n_terms)
        Inverse of the observed information, nan where not ``free``; and that itself at ``at``, over all terms.
    loglik : float
        Log partial likelihood at the estimate, its limit where some term moves without end.
    free : ndarray of bool, shape (n_terms,)
        Terms with an estimate.
    reasons : tuple of str or None
        Why a term has none.
    sets, rows : RiskSets
        All risk sets, less what has no case weight; and what the estimate rests on: these, or what is left of them in
        the limit.
    basis : ndarray of bool, shape (n_terms,)
        Terms fitted: the free ones, and those that stand for a difference of terms that have no estimate of their own.
    at : ndarray of float, shape (n_terms,)
        Coefficients over the basis, 0 elsewhere.
    weight : ndarray of float, shape (n_units,)
        Case weights.
    """

    coef: Floats
    se: Floats
    covariance: Floats
    information: Floats
    loglik: float
    free: Bools
    reasons: tuple[str | None, ...]
    ties: Ties
    sets: RiskSets
    rows: RiskSets
    basis: Bools
    at: Floats
    weight: Floats

    @property
    def member_weight(self) -> Floats:
        """Case weight of each member of ``rows``, shape (n_members,)."""
        return self.weight[self.rows.unit][self.rows.pattern]

    @property
    def inverse(self) -> tuple[NDArray[np.intp], Floats]:
        """Places of the terms of the basis, and the inverse of their information."""
        inside = np.flatnonzero(self.basis)
        return inside, np.asarray(np.linalg.inv(self.information[np.ix_(inside, inside)]))


def maximum(
    rows: RiskSets, ties: Ties, weight: Floats, held: Bools, begin: Floats
) -> tuple[bool, Floats, float, Floats]:
    """Maximise over the terms that are not held, which keep their value of ``begin``; ``weight`` is one a unit.

    Returns
    -------
    settled : bool
        False where there is no maximum, and the other values then mean nothing.
    at : ndarray of float, shape (n_terms,)
    loglik : float
    score : ndarray of float, shape (n_terms,)
        Its slope along the held terms is not 0.
    """
    from drivekit.life import _cox

    at = np.array(begin, np.float64)
    score, information = np.zeros(at.size), np.zeros((at.size, at.size))
    near = NEAR if rows.row.size < MANY_ROWS else NEAR_OF_MANY
    given = rows.folded, weight[rows.unit] * rows.often, ties == "efron", near
    status, loglik = _cox.maximise(at, held, *given, score, information)
    return status == _cox.SETTLED, at, float(loglik), score


def fit(rows: RiskSets, ties: Ties = "efron", weight: Ints | None = None) -> CoxFit:
    """Fit the hazard ratios of all terms together.

    Parameters
    ----------
    ties : {"efron", "breslow"}
        How failures at the same age in the same stratum enter.
    weight : ndarray of int, shape (n_units,), optional
        Case weight of each unit, 0 or more.

    Raises
    ------
    ValueError
        If ``ties`` is neither, or a weight is negative or no whole number.
    """
    if ties not in ("efron", "breslow"):
        raise ValueError(f'ties is "efron" or "breslow", not {ties!r}')
    weights = _checked(np.ones(rows.n_units, np.int64) if weight is None else weight, (rows.n_units,))
    if (weights == 0).any():
        rows = rows.keeping(weights[rows.unit[rows.pattern]] > 0)
    p = rows.n_terms
    zero, nothing = np.zeros(p), np.zeros(p, bool)
    if not rows.n_sets:
        return _result(rows, rows, ties, weights, nothing, (NO_FAILURE,) * p, zero)
    # A maximum, once reached, proves that no direction is without end; only where none is reached are they looked for.
    settled, at, *_ = maximum(rows, ties, weights, nothing, zero)
    if settled:
        return _result(rows, rows, ties, weights, ~nothing, (None,) * p, at)
    alone, reasons = untold(rows)
    left, moves, basis = limit(rows, ~alone)
    reasons = [MOVES if moved else reason for moved, reason in zip(moves, reasons, strict=True)]
    settled, at, *_ = maximum(left, ties, weights, ~basis, zero)
    if not settled:
        raise ArithmeticError("the hazard fit did not settle although its likelihood has a maximum")
    return _result(rows, left, ties, weights, basis, tuple(reasons), at)


def standing(rows: RiskSets, at: Floats) -> CoxFit:
    """Give the sets at coefficients that are not of their fit, for what is split over their members; Efron's ties."""
    nothing, reasons = np.zeros(rows.n_terms, bool), ("its coefficient was given",) * rows.n_terms
    return _result(rows, rows, "efron", np.ones(rows.n_units), nothing, reasons, at)


def _result(
    sets: RiskSets,
    rows: RiskSets,
    ties: Ties,
    weight: Floats,
    basis: Bools,
    reasons: tuple[str | None, ...],
    at: Floats,
) -> CoxFit:
    loglik, _, information = likelihood(rows, ties, weight, at)
    free = np.array([reason is None for reason in reasons], bool)
    covariance = np.full(information.shape, np.nan)
    if free.any():
        inside = np.flatnonzero(basis)
        inverse = np.linalg.inv(information[np.ix_(inside, inside)])
        told = free[inside]
        covariance[np.ix_(inside[told], inside[told])] = inverse[np.ix_(told, told)]
    return CoxFit(
        coef=frozen(np.where(free, at, np.nan)),
        se=frozen(np.sqrt(np.diag(covariance))),
        covariance=frozen(covariance),
        information=frozen(information),
        loglik=loglik,
        free=frozen(free),
        reasons=reasons,
        ties=ties,
        sets=sets,
        rows=rows,
        basis=frozen(basis),
        at=frozen(np.array(at)),
        weight=frozen(weight),
    )


def likelihood(rows: RiskSets, ties: Ties, weight: Floats, at: Floats) -> tuple[float, Floats, Floats]:
    """Log partial likelihood, its score and its information at given coefficients; ``weight`` is one a unit."""
    from drivekit.life import _cox

    p = rows.n_terms
    score, information = np.zeros(p), np.zeros((p, p))
    rate, raw = np.zeros(rows.x.shape[0]), np.zeros(p)
    given = rows.folded, weight[rows.unit] * rows.often, ties == "efron"
    loglik = _cox.likelihood(np.asarray(at, np.float64), *given, rate, score, information, raw)
    return float(loglik), score, information


def fit_many(
    rows: RiskSets,
    weights: Ints,
    ties: Ties = "efron",
    threads: int | None = None,
    begin: Floats | None = None,
    near: float = NEAR,
) -> tuple[Floats, Floats, Ints]:
    """Fit the same rows under many whole-number weightings, as a bootstrap by belt needs.

    A weighting without an estimate is told by its own likelihood, not by a linear programme each: see ``status`` and
    :func:`drivekit.life._cox.maximise`.

    Parameters
    ----------
    rows : RiskSets
        Built with ``unit`` set to what is drawn, such as the belt.
    weights : ndarray of int, shape (n_weightings, n_units)
        How often each unit was drawn.
    threads : int, optional
        Weightings fitted side by side; the digits do not depend on it. By default one a processor.
    begin : ndarray of float, shape (n_weightings, n_terms), optional
        A guess at each weighting's coefficients, which saves steps: it changes no status, and no estimate by more than
        rounding. By default zero.
    near : float
        The last step taken is of so much at most; as Newton's steps go, what then remains is about its square.

    Returns
    -------
    coef : ndarray of float, shape (n_weightings, n_terms)
        nan where there is no estimate.
    loglik : ndarray of float, shape (n_weightings,)
    status : ndarray of int, shape (n_weightings,)
        0 settled; 1 no estimate, some direction is without end; 2 no estimate, a term never differs within a risk set
        or the others determine it.

    Raises
    ------
    ValueError
        If a weight is negative or no whole number, or a shape does not fit.
    """
    from drivekit.life import _cox

    lines = np.asarray(weights).shape[0]
    checked = _checked(weights, (lines, rows.n_units))
    coef, loglik = np.zeros((lines, rows.n_terms)), np.zeros(lines)
    status = np.zeros(lines, np.int64)
    guess = np.zeros((0, rows.n_terms)) if begin is None else np.ascontiguousarray(begin, np.float64)
    if begin is not None and guess.shape != coef.shape:
        raise ValueError(f"begin must have the shape {coef.shape}, one line a weighting, not {guess.shape}")

    def fit_lines(part: slice) -> None:
        here = coef[part], loglik[part], status[part], guess[part], rows.unit, checked[part]
        _cox.maximise_each(*here, rows.folded, ties == "efron", near)

    side_by_side(fit_lines, lines, threads)
    coef[status != _cox.SETTLED] = np.nan
    return frozen(coef), frozen(loglik), frozen(status)


def side_by_side(work: Callable[[slice], None], lines: int, threads: int | None) -> None:
    """Have threads, by default one a processor, do their own part of the lines each."""
    from concurrent.futures import ThreadPoolExecutor

    workers = max(1, min(threads or os.cpu_count() or 1, lines))
    if workers == 1:
        work(slice(0, lines))
        return
    edges = np.linspace(0, lines, workers + 1).astype(int)
    work(slice(0, 0))  # its loops are compiled here, once and not by every thread
    with ThreadPoolExecutor(workers) as pool:
        list(pool.map(work, (slice(a, b) for a, b in pairwise(edges))))


def _checked(weights: Ints, shape: tuple[int, ...]) -> Floats:
    """Case weights as the kernel takes them."""
    given = np.asarray(weights)
    if given.shape != shape:
        raise ValueError(f"case weights must have the shape {shape}, one for each unit, not {given.shape}")
    if given.size and (given.min() < 0 or not np.array_equal(given, np.floor(given))):
        raise ValueError("a case weight is a whole number of 0 or more")
    return given.astype(np.float64)
