"""Limits and tests of one term from the likelihood itself, the other terms fitted again at every value of it.

With l(b) the log likelihood maximised over the other terms, the limits are the two b with ``2 (max l - l(b))`` equal to
the quantile of chi-square with one degree of freedom, and p is the chance of more than ``2 (max l - l(0))``. Unlike an
estimate plus and minus its standard error they follow the likelihood's own lean, which matters with few failures
(Venzon and Moolgavkar, Appl Stat 1988). The same search serves the plain and the penalised likelihood.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from drivekit.life.cox import NEAR_OF_MANY, CoxFit, maximum
from drivekit.life.riskset import MANY_ROWS, RiskSets

__all__ = ["MANY_FAILURES", "Likelihood", "Profile", "limits", "profile", "ratio_test", "tries"]

MANY_FAILURES = 500
"""With so many failures a test needs no correction for their being few."""

MOST_TRIES = 9_999
"""Chance is tried no more often: a share of tries tells nothing below one in ten thousand."""

NEAR = 1e-11

Likelihood = Callable[[float], tuple[float, float]]
"""Of one term's value, maximised over the other terms with it held there: the likelihood, and its slope along it."""


@dataclass(frozen=True, slots=True)
class Profile:
    """Limits of a coefficient, nan where the likelihood never falls far enough, and its ratio test against 0.

    The test is nan where no maximum is found with the term held at 0.
    """

    lower: float
    upper: float
    chi2: float
    p: float


def limits(held_at: Likelihood, at: float, se: float, loglik: float, confidence: float, near: float = NEAR) -> Profile:
    """Search both limits and test 0.

    Parameters
    ----------
    at : float
        The term's coefficient at the maximum.
    se : float
        Its standard error, the first step's length.
    loglik : float
        The maximum.
    confidence : float
        Between 0 and 1.
    near : float
        The last step of a search is of so much at most.
    """
    from scipy.special import chdtrc, gammaincinv

    drop = float(gammaincinv(0.5, confidence))  # half the chi-squared quantile of one degree of freedom
    at_zero = held_at(0.0)[0]
    ratio = max(0.0, 2 * (loglik - at_zero)) if np.isfinite(at_zero) else np.nan
    lower, upper = (_limit(held_at, at, side * se, loglik - drop, drop, near) for side in (-1.0, 1.0))
    return Profile(lower, upper, ratio, float(chdtrc(1, ratio)))


def _limit(held_at: Likelihood, at: float, stride: float, target: float, drop: float, near: float) -> float:
    """Where the profile falls to ``target`` on the side of ``stride``: Newton steps kept inside a bracket.

    nan where it never does, or where beyond some value no maximum is found and the profile stands above it up to there.
    """
    inside, outside, lost = at, np.nan, False
    here = at + stride * np.sqrt(2 * drop)
    for _ in range(200):
        value, slope = held_at(here)
        above = value - target
        if above > 0:
            inside = here
        else:
            outside = here
        if np.isnan(outside) and abs(here - at) > 1e4 * abs(stride):
            return np.nan
        lost = lost if above > 0 else not np.isfinite(value)
        step = -above / slope if slope * stride < 0 else np.nan
        following = here + step
        if np.isnan(outside):
            # Newton from inside a concave curve overshoots at most once; far jumps are cut to a few strides
            reach = here + 4 * stride
            ahead = np.isfinite(following) and step * stride > 0
            following = min(following, reach, key=lambda b: abs(b - here)) if ahead else reach
        elif not min(inside, outside) < following < max(inside, outside):
            following = (inside + outside) / 2
        if abs(following - here) <= near * max(1.0, abs(following)):
            return np.nan if lost else float(following)
        here = following
    return float(here)


def profile(fitted: CoxFit, term: int, confidence: float = 0.95) -> Profile:
    """Profile partial-likelihood limits of a term's coefficient and its likelihood-ratio test.

    Raises
    ------
    ValueError
        If the term has no estimate, or ``confidence`` does not lie between 0 and 1.
    """
    if not fitted.free[term]:
        raise ValueError(f"term {term} has no estimate: {fitted.reasons[term]}")
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must lie between 0 and 1, not {confidence}")
    held = ~fitted.basis
    held[term] = True

    inside, inverse = fitted.inverse
    along = np.zeros(held.size)  # how the other terms move with it, to first order
    along[inside] = inverse[inside == term][0] / inverse[inside == term, inside == term]
    met = [fitted.at]

    def held_at(value: float) -> tuple[float, float]:
        nearest = min(met, key=lambda at: abs(at[term] - value))
        for start in (nearest + (value - nearest[term]) * along, np.zeros(along.size)):
            start[term] = value
            settled, at, loglik, score = maximum(fitted.rows, fitted.ties, fitted.weight, held, start)
            if settled:
                met.append(at)
                break
        return loglik, float(score[term])

    se, near = float(fitted.se[term]), near_of(fitted.rows)
    return limits(held_at, float(fitted.at[term]), se, fitted.loglik, confidence, near)


def near_of(rows: RiskSets) -> float:
    """Give the last step of a search of limits on these risk sets: as `drivekit.life.cox.NEAR_OF_MANY` has it."""
    return NEAR_OF_MANY if rows.row.size >= MANY_ROWS else NEAR


def ratio_test(chi2: float, dof: int) -> dict[str, float]:
    """Judge twice a gain in log likelihood by its chi-squared law: ``chi2``, its ``dof`` degrees of freedom, ``p``."""
    from scipy.special import chdtrc

    # Two maxima found apart can differ in their last digits the wrong way round.
    return {"chi2": max(chi2, 0.0), "dof": dof, "p": float(chdtrc(dof, max(chi2, 0.0)))}


def tries(confidence: float) -> int:
    """Give how often chance is tried: 199 times at 95 %, so that a tenth of what may be wrong is a share of them."""
    return min(round(10 / (1 - confidence)) - 1, MOST_TRIES)
