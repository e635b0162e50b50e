"""A hazard ratio even where a level never fails: the likelihood with Jeffreys' penalty.

``l*(b) = l(b) + log det I(b) / 2`` with l the Efron (or Breslow) log partial likelihood and I its own information. Its
score is ``U_j + tr(I^-1 dI/db_j) / 2``; dI/db is the third central moment of the covariates over each set. The penalty
takes most of the small-sample bias away and keeps the estimate finite where the plain one runs off (Firth, Biometrika
1993; Heinze and Schemper, Biometrics 2001). Standard errors come from the unpenalised information at the penalised
estimate; limits and p from the profile of l*, its determinant over all terms.

It needs every term to differ somewhere beside a failure, no term determined by the others, and rests on all rows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from drivekit.life.cox import Ties
from drivekit.life.profile import limits
from drivekit.life.riskset import Bools, Floats, RiskSets, frozen
from drivekit.life.separation import NO_FAILURE, untold

__all__ = ["FirthFit", "firth"]

UNREACHED = "the penalised likelihood has no maximum that could be reached"


@dataclass(frozen=True, eq=False, slots=True)
class FirthFit:
    """Penalised estimates; nan where a term has none, with its reason.

    Attributes
    ----------
    coef, se : ndarray of float, shape (n_terms,)
        Log hazard ratios; standard errors from the unpenalised information.
    lower, upper, p : ndarray of float, shape (n_terms,)
        Profile limits of the coefficients and penalised ratio tests against 0.
    loglik, penalised : float
        Plain and penalised log likelihood at the estimate.
    reasons : tuple of str or None
    """

    coef: Floats
    se: Floats
    lower: Floats
    upper: Floats
    p: Floats
    loglik: float
    penalised: float
    reasons: tuple[str | None, ...]


@dataclass(frozen=True, eq=False, slots=True)
class _Point:
    """The penalised likelihood at one place, over the terms in use."""

    loglik: float
    penalised: float
    score: Floats
    information: Floats


def _point(rows: RiskSets, ties: Ties, used: Bools, at: Floats) -> _Point:
    from drivekit.life import _cox

    p = at.size
    score, information, third = np.zeros(p), np.zeros((p, p)), np.zeros((p, p, p))
    loglik = _cox.third_moments(
        at, rows.x, rows.first, rows.n_failed, rows.pattern, ties == "efron", score, information, third
    )
    inside = np.flatnonzero(used)
    plain = information[np.ix_(inside, inside)]
    inverse = _inverse(plain)
    if inverse is None or not np.isfinite(loglik):
        return _Point(-np.inf, -np.inf, score[inside], plain)
    change = third[np.ix_(inside, inside, inside)]
    pull = 0.5 * np.einsum("ab,jab->j", inverse, change)
    logdet = np.linalg.slogdet(plain)[1]
    return _Point(float(loglik), float(loglik + logdet / 2), score[inside] + pull, plain)


def _inverse(information: Floats) -> Floats | None:
    """Inverse of an information, or None where it is not positive."""
    if not np.isfinite(information).all():
        return None
    try:
        np.linalg.cholesky(information)
        return np.asarray(np.linalg.inv(information))
    except np.linalg.LinAlgError:
        return None


def _climb(rows: RiskSets, ties: Ties, used: Bools, at: Floats, held: Bools) -> tuple[Floats, _Point] | None:
    """Maximise over the used terms that are not held; None where no maximum is reached from ``at``.

    A step takes the plain information for the penalised one, which is enough where failures are many. Where a step is
    not well shorter than the last, the penalised score is differenced instead, if that points uphill; either step is
    halved while the penalised likelihood falls.
    """
    at = np.array(at)
    inside = np.flatnonzero(used)
    moving = ~held[inside]
    here = _point(rows, ties, used, at)
    last = np.inf
    if not moving.any():
        return at, here
    for _ in range(200):
        if not np.isfinite(here.penalised):
            return None
        plain = here.information[np.ix_(moving, moving)]
        step = np.linalg.solve(plain, here.score[moving])
        if np.abs(step).max() > 0.1 * last:
            curve = _curve(rows, ties, used, at, here)[np.ix_(moving, moving)]
            if np.isfinite(curve).all() and np.linalg.eigvalsh(curve).min() > 0:
                step = np.linalg.solve(curve, here.score[moving])
        last = np.abs(step).max()
        length, tried, there = 1.0, at, here
        for _ in range(60):
            tried = np.array(at)
            tried[inside[moving]] += length * step
            there = _point(rows, ties, used, tried)
            if there.penalised >= here.penalised - 1e-12 * (1 + abs(here.penalised)):
                break
            length /= 2
        at, here = tried, there
        if (np.abs(step) * np.maximum(1.0, np.sqrt(np.diag(plain)))).max() <= 1e-9:
            return at, here
    return None


def _curve(rows: RiskSets, ties: Ties, used: Bools, at: Floats, here: _Point) -> Floats:
    """Less the slope of the penalised score, by central differences."""
    inside = np.flatnonzero(used)
    width = 1e-5 * np.minimum(1.0, 1 / np.sqrt(np.diag(here.information)))
    curve = np.zeros((inside.size, inside.size))
    for place, term in enumerate(inside):
        shift = np.zeros(at.size)
        shift[term] = width[place]
        ahead, behind = _point(rows, ties, used, at + shift), _point(rows, ties, used, at - shift)
        curve[:, place] = (behind.score - ahead.score) / (2 * width[place])
    return np.asarray((curve + curve.T) / 2)


@dataclass(frozen=True, eq=False, slots=True)
class _Path:
    """The maxima with one term held at one value after another; ``met`` begins with that of all terms."""

    rows: RiskSets
    ties: Ties
    used: Bools
    term: int
    met: list[tuple[Floats, _Point]]

    def held_at(self, _: int, begin: Floats) -> tuple[float, float, Floats]:
        """Maximum with the term held where ``begin`` has it, for :func:`drivekit.life.profile.limits`.

        Far from the maximum of all terms the others must have moved along, or the information vanishes and no climb
        starts. So each climb starts from the nearest maximum met, along the tangent there, and where it fails a nearer
        value is climbed to first.
        """
        term, goal = self.term, float(begin[self.term])
        held = np.zeros(begin.size, bool)
        held[term] = True
        inside = np.flatnonzero(self.used)
        place = int(np.flatnonzero(inside == term)[0])
        at, point = min(self.met, key=lambda one: abs(one[0][term] - goal))
        part = 1.0
        while part > 1e-4:
            along = np.linalg.inv(point.information)[place]
            start = np.array(at)
            start[inside] += along / along[place] * part * (goal - at[term])
            if part == 1.0:
                start[term] = goal
            found = _climb(self.rows, self.ties, self.used, start, held)
            if found is None:
                part /= 2
                continue
            at, point = found
            self.met.append(found)
            if part == 1.0:
                return point.penalised, float(point.score[place]), at
            part = min(1.0, 2 * part)
        return -np.inf, np.nan, begin


def firth(rows: RiskSets, ties: Ties = "efron", confidence: float = 0.95) -> FirthFit:
    """Fit all terms under Jeffreys' penalty.

    Parameters
    ----------
    rows : RiskSets
    ties : {"efron", "breslow"}
        Likelihood and information alike.
    confidence : float
        Of the profile limits.

    Returns
    -------
    FirthFit
    """
    p = rows.n_terms
    nan = np.full(p, np.nan)
    if not rows.n_sets:
        empty = frozen(nan)
        return FirthFit(empty, empty, empty, empty, empty, 0.0, 0.0, (NO_FAILURE,) * p)
    alone, reasons = untold(rows)
    used = ~alone
    inside = np.flatnonzero(used)
    coef, se, lower, upper, ratio = (nan.copy() for _ in range(5))
    found = _climb(rows, ties, used, np.zeros(p), np.zeros(p, bool))
    if found is None:
        none = frozen(nan)
        reasons = [reason or UNREACHED for reason in reasons]
        return FirthFit(none, none, none, none, none, np.nan, np.nan, tuple(reasons))
    at, best = found
    coef[used] = at[used]
    se[used] = np.sqrt(np.diag(np.linalg.inv(best.information)))
    for term in inside:
        held_at = _Path(rows, ties, used, int(term), [found]).held_at
        between = limits(held_at, int(term), at, float(se[term]), best.penalised, confidence)
        lower[term], upper[term], ratio[term] = between.lower, between.upper, between.p
    return FirthFit(
        frozen(coef),
        frozen(se),
        frozen(lower),
        frozen(upper),
        frozen(ratio),
        best.loglik,
        best.penalised,
        tuple(reasons),
    )
