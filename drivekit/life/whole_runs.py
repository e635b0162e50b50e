"""Lives in whole runs taken at their word: two likelihoods that need no rule for failures at the same age.

**Exact ties**: which of those at risk failed, given how many. Of a set's d failures among n at risk the likelihood is
``exp(sum of x b over the failed) / e_d``, with e_d the sum of that product over all choices of d of the n (Cox, J R
Stat Soc B 1972, the discrete model). e_d comes by the recursion over rows (Gail, Lubin and Rubinstein, Biometrika
1981), carried here as the chance that d of n independent coins of odds ``c exp(x b)`` fall, c such that d are expected,
so that no choice overflows; first and second moments of the chosen covariates ride along and give score and
information. Directions without end differ from Efron's: failures of one set need not be level with each other, only
none below any row that was kept. A set in which all failed says nothing.

**Grouped**: did this run end in failure, yes or no, with the same hazard ratios. If the hazard within a run is
``h_k exp(x b)``, the chance that run k ends in failure is ``1 - exp(-exp(a_k + x b))``: a binomial fit with a
complementary log-log link, a factor for each age at which something failed, the stratum as a factor, and the terms
(Prentice and Gloeckler, Biometrics 1978). Its b estimates the same log hazard ratios, but it makes strata proportional
to each other where the hazard fit leaves them free. Steps use the observed information, standard errors the expected
one, as fits of this family have it. Directions without end are those that raise every failed row and lower every kept
one: an age at which all failed, a stratum without a failure and a level without one leave so.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from drivekit.life.folds import Bools, Floats, Ints, frozen
from drivekit.life.riskset import RiskSets
from drivekit.life.separation import (
    MOVES,
    NO_FAILURE,
    Estimates,
    determined,
    in_null_space,
    level_gap,
    limit,
    rising,
    untold,
)

__all__ = ["exact", "exact_likelihood", "grouped", "top"]

# About a second's work on a small machine; beyond it failures are so many that ties hardly matter.
MOST_WORK = 1e8
TOO_LARGE = "there are too many runs and failures at one age to take the ties exactly"
CONSTANT = "it was the same in all runs at the ages at which something failed"
DETERMINED = "age, car and the other settings determine it in these runs"


def exact_likelihood(rows: RiskSets, at: Floats) -> tuple[float, Floats, Floats]:
    """Exact log partial likelihood, score and information at given coefficients."""
    from drivekit.life import _loops

    p = rows.n_terms
    score, information = np.zeros(p), np.zeros((p, p))
    sets = rows.x, rows.first, rows.n_failed, rows.pattern
    loglik = _loops.exact_likelihood(np.asarray(at, np.float64), *sets, score, information)
    return float(loglik), score, information


def exact(rows: RiskSets) -> Estimates:
    """Fit all terms with exact ties."""
    p = rows.n_terms
    coef, se = (np.full(p, np.nan) for _ in range(2))
    telling = np.diff(rows.first) > rows.n_failed
    if not telling.any():
        return Estimates(frozen(coef), frozen(se), 0.0, (NO_FAILURE,) * p)
    work = float((np.diff(rows.first) * rows.n_failed)[telling].sum()) * rows.moments.shape[1]
    if work > MOST_WORK:
        return Estimates(frozen(coef), frozen(se), np.nan, (TOO_LARGE,) * p)
    left, inside = rows.keeping(telling[rows.member_set]), np.arange(p)
    reasons: list[str | None] = [None] * p

    def within(at: Floats) -> tuple[float, Floats, Floats]:
        whole = np.zeros(p)
        whole[inside] = at
        loglik, score, information = exact_likelihood(left, whole)
        return loglik, score[inside], information[np.ix_(inside, inside)]

    found = top(within, np.zeros(p))
    if found is None:  # only now is it asked which terms can be told, and on what
        alone, reasons = untold(left)
        left, moves, basis = limit(left, ~alone, _pairs, _at_the_edge)
        reasons = [MOVES if moved else reason for moved, reason in zip(moves, reasons, strict=True)]
        inside = np.flatnonzero(basis)
        found = top(within, np.zeros(inside.size))
    if found is None:
        raise ArithmeticError("the exact fit did not settle although its likelihood has a maximum")
    coef[inside], se[inside] = found[0], _errors(found[2])
    lacking = [reason is not None for reason in reasons]
    coef[lacking], se[lacking] = np.nan, np.nan
    return Estimates(frozen(coef), frozen(se), found[1], tuple(reasons))


def _errors(information: Floats) -> Floats:
    """Give standard errors by the inverse of an information."""
    return np.asarray(np.sqrt(np.diag(np.linalg.inv(information))))


def _pairs(rows: RiskSets, x: Floats) -> tuple[Floats, Floats]:
    """Take every kept row of a set from every failed one; nothing must stay level."""
    pairs = ((x[lost][:, None] - x[kept]).reshape(-1, x.shape[1]) for lost, kept in rows.sides)
    return np.concatenate([np.unique(gaps, axis=0) for gaps in pairs]), np.zeros((0, x.shape[1]))


def _at_the_edge(rows: RiskSets, height: Floats) -> RiskSets:
    """Leave out rows above the highest kept row, surely failed in the limit, and those below it, surely kept."""
    edge = np.array([height[kept].max() for _, kept in rows.sides])
    return rows.keeping(level_gap(height - edge[rows.member_set]))


def grouped(age: Ints, failed: Bools, x: Floats, stratum: Ints) -> Estimates:
    """Fit failure of each run on age, stratum and terms, ``x`` of shape (n, n_terms)."""
    n_terms = x.shape[1]
    here = np.isin(age, np.unique(age[failed]))
    if not here.any():
        nan = frozen(np.full(n_terms, np.nan))
        return Estimates(nan, nan, 0.0, (NO_FAILURE,) * n_terms)
    fell = failed[here]
    age, stratum = np.unique(age[here], return_inverse=True)[1], np.unique(stratum[here], return_inverse=True)[1]
    centred = x[here] - x[here].mean(axis=0)
    stay = _telling(age, stratum, fell)
    found = _Rows(age[stay], np.hstack((_factor(stratum[stay])[:, 1:], centred[stay])), fell[stay]).fit()
    if found is not None:
        coef, se = (values[-n_terms:] for values in found[:2])
        return Estimates(frozen(coef), frozen(se), found[2], (None,) * n_terms)
    # A maximum proves that every term can be told; only where there is none is it asked which cannot, on all rows.
    n_ages, others = int(age.max()) + 1, np.hstack((_factor(stratum)[:, 1:], centred))
    design = np.hstack((_factor(age), others))
    terms = slice(design.shape[1] - n_terms, None)
    length = np.linalg.norm(design, axis=0)
    alone = determined(design, length)
    stay, moves = _binomial_limit(design[:, ~alone], fell)
    basis, moved = ~alone, np.zeros(alone.size, bool)
    basis[~alone] = ~determined(design[stay][:, ~alone], length[~alone])
    moved[~alone] = moves
    told = ~(alone | moved)[terms]
    flat = length[terms] <= 1e-9 * np.maximum(1.0, np.abs(x[here]).max(axis=0))
    reasons = tuple(
        None if known else MOVES if moves else CONSTANT if same else DETERMINED
        for known, moves, same in zip(told, moved[terms], flat, strict=True)
    )
    found = _Rows(age[stay], others[stay][:, basis[n_ages:]], fell[stay]).fit()
    if found is None:
        raise ArithmeticError("the grouped fit did not settle although its likelihood has a maximum")
    at, error = (np.full(alone.size, np.nan) for _ in range(2))
    at[basis], error[basis], loglik = found
    coef, se = np.where(told, at[terms], np.nan), np.where(told, error[terms], np.nan)
    return Estimates(frozen(coef), frozen(se), loglik, reasons)


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


class _Rows:
    """Runs of the fit: an own column for each age, kept as a code alone, and the other columns."""

    def __init__(self, age: Ints, others: Floats, fell: Bools) -> None:
        ages, self.age = np.unique(age, return_inverse=True)
        self.n_ages, self.others, self.fell = ages.size, others, fell

    def fit(self) -> tuple[Floats, Floats, float] | None:
        """Give coefficients, errors and log likelihood, begun at each age's own share of failures; or no maximum."""
        at_risk, failed = np.bincount(self.age), np.bincount(self.age, weights=self.fell)
        share = (failed + 0.5) / (at_risk + 1.0)
        found = top(self.likelihood, np.concatenate((np.log(-np.log1p(-share)), np.zeros(self.others.shape[1]))))
        return None if found is None else (found[0], _errors(self.expected_information(found[0])), found[1])

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


def _binomial_limit(design: Floats, fell: Bools) -> tuple[Bools, Bools]:
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


def top(
    evaluate: Callable[[Floats], tuple[float, Floats, Floats]], start: Floats
) -> tuple[Floats, float, Floats] | None:
    """Climb a concave log likelihood by Newton's steps, halved while it falls.

    The same rule as in the compiled hazard fit: along a direction without end a step stays long while the information
    falls by a factor each time, so a fit is given up once some pivot of the information is below 1e-8 of what it was.

    Parameters
    ----------
    evaluate : callable
        Log likelihood, score and observed information at given coefficients, shape (n_terms,).
    start : ndarray of float, shape (n_terms,)

    Returns
    -------
    tuple or None
        Coefficients, log likelihood and information at the maximum; None where there is none, or no single one.
    """
    at = np.array(start, np.float64)
    loglik, score, information = evaluate(at)
    at_start = _pivots(information)
    if at_start is None or not (at_start > 1e-12 * np.diag(information)).all():
        return None
    for _ in range(100):
        pivots = _pivots(information)
        if pivots is None or (pivots < 1e-8 * at_start).any():
            return None
        step = np.linalg.solve(information, score)
        settled = bool((np.abs(step) * np.maximum(1.0, np.sqrt(np.diag(information))) <= 1e-10).all())
        length = 1.0
        for _ in range(60):
            tried = at + length * step
            after, score, information = evaluate(tried)
            if settled or after >= loglik - 1e-11 * (1 + abs(loglik)):
                break
            length /= 2
        at, loglik = tried, after
        if settled:
            return at, loglik, information
    return None


def _pivots(information: Floats) -> Floats | None:
    """Pivots of the square-root-free factor, or None where the matrix is not positive."""
    if not np.isfinite(information).all():
        return None
    try:
        return np.asarray(np.diag(np.linalg.cholesky(information)) ** 2)
    except np.linalg.LinAlgError:
        return None
