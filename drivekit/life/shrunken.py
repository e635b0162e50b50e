"""A hazard fit where strata are thin: cars shrunk toward each other, and the other terms under Jeffreys' penalty.

A stratum with few belts says little and keeps all of it to itself. Here all cars share one baseline hazard and each has
an effect u of its own, penalised by ``u^2 / 2v`` as if drawn from a normal law of variance v; the more alike cars fail,
the smaller v and the nearer they come. v is the one of a grid that maximises the likelihood with the effects integrated
out by Laplace's approximation. The other terms stand under Jeffreys' penalty (:mod:`drivekit.life.firth`), so that an
estimate is there whatever failed.

References
----------
Therneau, Grambsch and Pankratz, J Comput Graph Stat 2003 (penalised partial likelihood of a normal frailty); Ripatti
and Palmgren, Biometrics 2000 (Laplace's approximation); Firth, Biometrika 1993.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from drivekit.life.cox import standing
from drivekit.life.firth import Penalised
from drivekit.life.folds import Bools, Floats, Ints
from drivekit.life.riskset import RiskSets
from drivekit.life.steps import score_by_belt

__all__ = ["MANY_BELTS", "Shrunken", "shrunken", "shrunken_draws"]

VARIANCES = np.geomspace(0.01, 2.0, 12)
NEAR, NEAR_OF_MANY = 1e-2, 1e-1
"""A draw is settled enough at a last step of so many standard errors, what remains being a small share of that step."""

MANY_BELTS = 500
"""From so many belts on a draw is settled sooner: a standard error is then a tenth of a run or less."""


class Shrunken(NamedTuple):
    """A fit with its cars shrunk toward each other.

    ``coef`` and ``ridge``, shape (n_terms,), are the estimates and what half the square of each term costs, 0 but for
    the cars; ``influence``, shape (n_belts, n_terms), is how far each belt, drawn once more, moves the estimates.
    """

    coef: Floats
    ridge: Floats
    influence: Floats


def shrunken(rows: RiskSets, cars: int, belt: Ints) -> Shrunken | None:
    """Fit all terms, the last of which are the cars', one column each; None where there is no maximum.

    The rows stand in one stratum; ``belt`` is as :mod:`drivekit.life.steps` has it.
    """
    own = np.arange(rows.n_terms) >= rows.n_terms - cars
    free = np.zeros(own.size, bool)
    best: tuple[float, Penalised, Floats] | None = None
    at = np.zeros(own.size)
    for variance in VARIANCES:
        likelihood = Penalised(rows, "efron", ~free, np.where(own, 1 / variance, 0.0))
        found = likelihood.climb(at, free, 1e-4)
        if found is None:
            continue
        at = found.at
        # less Jeffreys' part, which knows nothing of the variance
        whole, of_cars = found.information, found.information[np.ix_(own, own)]
        both, cars_alone = (np.linalg.slogdet(part)[1] for part in (whole, of_cars))
        marginal = found.loglik - both / 2 - cars_alone / 2 - cars * np.log(variance) / 2
        if best is None or marginal > best[0]:
            best = marginal, likelihood, at
    if best is None or (found := best[1].climb(best[2], free)) is None:
        return None
    influence = np.linalg.solve(found.information, score_by_belt(standing(rows, found.at), belt).T).T
    return Shrunken(found.at, best[1].ridge, np.asarray(influence, np.float64))


def shrunken_draws(
    weights: Ints, *, rows: RiskSets, whole: Shrunken, threads: int | None = None
) -> tuple[Floats, Bools]:
    """Fit draws of belts, a belt drawn twice standing in its sets twice.

    Each begins where the influence of its belts puts it, and from the whole fit where it does not settle from there.

    Parameters
    ----------
    weights : ndarray of int, shape (n_draws, n_belts)
        How often each belt was drawn.
    rows, whole : RiskSets, Shrunken
        Sets whose units are the belts, and their fit.
    threads : int, optional
        Draws fitted side by side; the digits do not depend on it. By default one a processor.

    Returns
    -------
    coef : ndarray of float, shape (n_draws, n_terms)
    settled : ndarray of bool, shape (n_draws,)
        A draw that has not is left where its search ended.
    """
    likelihood = Penalised(rows, "efron", np.ones(whole.coef.size, bool), whole.ridge)
    guess = whole.coef + (weights - 1) @ whole.influence
    near = NEAR if weights.shape[1] < MANY_BELTS else NEAR_OF_MANY
    return likelihood.climb_each(guess, whole.coef, weights, near, threads)
