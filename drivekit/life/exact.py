"""The hazard fit with ties taken exactly: which of those at risk failed, given how many.

Of a set's d failures among n at risk the likelihood is ``exp(sum of x b over the failed) / e_d``, with e_d the sum of
that product over all choices of d of the n (Cox, J R Stat Soc B 1972, the discrete model). e_d comes by the recursion
over rows (Gail, Lubin and Rubinstein, Biometrika 1981), carried here as the chance that d of n independent coins of
odds ``c exp(x b)`` fall, c such that d are expected, so that no choice overflows; first and second moments of the
chosen covariates ride along and give score and information.

Directions without end differ from Efron's: failures of one set need not be level with each other, only none below any
row that was kept. A set in which all failed says nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from drivekit.life.newton import top
from drivekit.life.riskset import Floats, RiskSets, frozen
from drivekit.life.separation import MOVES, NO_FAILURE, level_gap, limit_of, untold

__all__ = ["ExactFit", "exact", "exact_likelihood"]

# About five seconds' work on a small machine; beyond it failures are so many that ties hardly matter.
_MOST_WORK = 4e8
TOO_LARGE = "there are too many runs and failures at one age to take the ties exactly"


@dataclass(frozen=True, eq=False, slots=True)
class ExactFit:
    """Exact partial-likelihood estimates; nan where a term has none, with its reason.

    Attributes
    ----------
    coef, se : ndarray of float, shape (n_terms,)
    loglik : float
    reasons : tuple of str or None
    """

    coef: Floats
    se: Floats
    loglik: float
    reasons: tuple[str | None, ...]


def exact_likelihood(rows: RiskSets, at: Floats) -> tuple[float, Floats, Floats]:
    """Exact log partial likelihood, score and information.

    Parameters
    ----------
    rows : RiskSets
    at : ndarray of float, shape (n_terms,)

    Returns
    -------
    loglik : float
    score : ndarray of float, shape (n_terms,)
    information : ndarray of float, shape (n_terms, n_terms)
    """
    from drivekit.life import _exact

    p = rows.n_terms
    score, information = np.zeros(p), np.zeros((p, p))
    loglik = _exact.likelihood(
        np.asarray(at, np.float64), rows.x, rows.first, rows.n_failed, rows.pattern, score, information
    )
    return float(loglik), score, information


def exact(rows: RiskSets) -> ExactFit:
    """Fit all terms with exact ties.

    Parameters
    ----------
    rows : RiskSets

    Returns
    -------
    ExactFit
    """
    p = rows.n_terms
    nan = np.full(p, np.nan)
    telling = np.diff(rows.first) > rows.n_failed
    rows = rows.keeping(telling[rows.member_set])
    if not rows.n_sets:
        return ExactFit(frozen(nan), frozen(nan), 0.0, (NO_FAILURE,) * p)
    work = float((np.diff(rows.first) * rows.n_failed).sum()) * rows.moments.shape[1]
    if work > _MOST_WORK:
        return ExactFit(frozen(nan), frozen(nan), np.nan, (TOO_LARGE,) * p)
    found = top(lambda at: exact_likelihood(rows, at), np.zeros(p))
    if found is not None:
        se = np.sqrt(np.diag(np.linalg.inv(found.information)))
        return ExactFit(frozen(found.at), frozen(se), found.loglik, (None,) * p)
    alone, reasons = untold(rows)
    left = limit_of(rows, ~alone, _pairs, _at_the_edge)
    for term in np.flatnonzero(left.moves):
        reasons[term] = MOVES
    inside = np.flatnonzero(left.basis)

    def within(at: Floats) -> tuple[float, Floats, Floats]:
        whole = np.zeros(p)
        whole[inside] = at
        loglik, score, information = exact_likelihood(left.rows, whole)
        return loglik, score[inside], information[np.ix_(inside, inside)]

    found = top(within, np.zeros(inside.size))
    if found is None:
        raise ArithmeticError("the exact fit did not settle although its likelihood has a maximum")
    coef, se = nan.copy(), nan.copy()
    coef[inside] = found.at
    se[inside] = np.sqrt(np.diag(np.linalg.inv(found.information)))
    coef[left.moves], se[left.moves] = np.nan, np.nan
    return ExactFit(frozen(coef), frozen(se), found.loglik, tuple(reasons))


def _pairs(rows: RiskSets, x: Floats) -> tuple[Floats, Floats]:
    """Take every kept row of a set from every failed one; nothing must stay level."""
    gaps = []
    for first, last, deaths in zip(rows.first[:-1], rows.first[1:], rows.n_failed, strict=True):
        lost, kept = x[first : first + deaths], x[first + deaths : last]
        pairs = lost[:, None, :] - kept[None, :, :]
        gaps.append(np.unique(pairs.reshape(-1, x.shape[1]), axis=0))
    return np.concatenate(gaps), np.zeros((0, x.shape[1]))


def _at_the_edge(rows: RiskSets, height: Floats) -> RiskSets:
    """Leave out rows above the highest kept row, surely failed in the limit, and those below it, surely kept."""
    stay = np.zeros(height.size, bool)
    for first, last, deaths in zip(rows.first[:-1], rows.first[1:], rows.n_failed, strict=True):
        edge = height[first + deaths : last].max()
        stay[first:last] = level_gap(height[first:last] - edge)
    return rows.keeping(stay)
