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

import numpy as np

from drivekit.life.firth import Penalised
from drivekit.life.folds import Bools, Floats, Ints
from drivekit.life.riskset import RiskSets

__all__ = ["shrunken", "shrunken_draws"]

VARIANCES = np.geomspace(0.01, 2.0, 12)
NEAR = 1e-2
"""A draw is settled enough at a step of so many standard errors: its limits are read to a hundredth of a run."""


def shrunken(rows: RiskSets, cars: int) -> tuple[Floats, Floats] | None:
    """Fit all terms, the last of which are the cars', one column each.

    Parameters
    ----------
    rows : RiskSets
        In one stratum.
    cars : int
        How many of the last terms are shrunk toward each other.

    Returns
    -------
    coef, ridge : ndarray of float, shape (n_terms,)
        The estimates, and what half the square of each term costs, 0 but for the cars; None where there is no maximum.
    """
    own = np.arange(rows.n_terms) >= rows.n_terms - cars
    best: tuple[float, Floats, Floats] | None = None
    at = np.zeros(rows.n_terms)
    for variance in VARIANCES:
        ridge = np.where(own, 1 / variance, 0.0)
        found = Penalised(rows, "efron", np.ones(own.size, bool), ridge).climb(at, np.zeros(own.size, bool))
        if found is None:
            continue
        at, here = found
        # less Jeffreys' part, which knows nothing of the variance
        both, cars_alone = (
            np.linalg.slogdet(part)[1] for part in (here.information, here.information[np.ix_(own, own)])
        )
        marginal = here.loglik - both / 2 - cars_alone / 2 - cars * np.log(variance) / 2
        if best is None or marginal > best[0]:
            best = marginal, at, ridge
    return None if best is None else best[1:]


def shrunken_draws(
    weights: Ints, *, rows: RiskSets, begin: Floats, ridge: Floats, threads: int | None = None
) -> tuple[Floats, Bools]:
    """Fit draws of units, a unit drawn twice standing in its sets twice.

    Parameters
    ----------
    weights : ndarray of int, shape (n_draws, n_units)
        How often each unit was drawn.
    rows : RiskSets
    begin, ridge : ndarray of float, shape (n_terms,)
        From `shrunken`.
    threads : int, optional
        Draws fitted side by side; the digits do not depend on it. By default one a processor.

    Returns
    -------
    coef : ndarray of float, shape (n_draws, n_terms)
    settled : ndarray of bool, shape (n_draws,)
        A draw that has not is left where its search ended.
    """
    likelihood = Penalised(rows, "efron", np.ones(begin.size, bool), ridge)
    return likelihood.climb_each(np.tile(begin, (len(weights), 1)), weights, NEAR, threads)
