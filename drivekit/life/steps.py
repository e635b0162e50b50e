"""A fitted hazard taken apart: one step for each failure, with what was still at risk in it.

Under Efron the k-th of a set's d failures (k = 0 ... d - 1) is compared with all at risk less the share k/d of the
failed; under Breslow the share is 0 each time. A step's hazard is the mean weight of the set's failures over its
denominator, its mean and variance those of the covariates under ``weight * exp(x b)``. Residuals, the robust variance
and the test of proportional hazards are sums over steps.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from drivekit.life.cox import CoxFit
from drivekit.life.riskset import Floats, Ints, frozen

__all__ = ["Steps", "score_residuals", "steps"]


@dataclass(frozen=True, eq=False, slots=True)
class Steps:
    """The steps of a fit.

    Attributes
    ----------
    of_set : ndarray of int, shape (n_steps,)
        The risk set of each step.
    share : ndarray of float, shape (n_steps,)
        Share of the failed already taken away.
    weight, hazard : ndarray of float, shape (n_steps,)
        Mean weight of the set's failures, and that over the denominator.
    mean : ndarray of float, shape (n_steps, n_terms)
        Mean covariates of those left.
    variance : ndarray of float, shape (n_steps, n_terms, n_terms)
    rate : ndarray of float, shape (n_members,)
        exp(x b) of each member of the sets.
    """

    of_set: Ints
    share: Floats
    weight: Floats
    hazard: Floats
    mean: Floats
    variance: Floats
    rate: Floats

    def by_set(self, values: Floats) -> Floats:
        """Sum of one number a step over each set, shape (n_sets,)."""
        return np.asarray(np.bincount(self.of_set, weights=values), np.float64)


def steps(fitted: CoxFit) -> Steps:
    """Take a fit apart.

    Parameters
    ----------
    fitted : CoxFit

    Returns
    -------
    Steps
    """
    rows = fitted.rows
    p = rows.n_terms
    weight = fitted.weight[rows.unit][rows.pattern]
    rate = np.exp(rows.x @ fitted.at)[rows.pattern]
    lines = rows.moments[rows.pattern] * (weight * rate)[:, None]
    failed = rows.member_failed
    total = np.add.reduceat(lines, rows.first[:-1], axis=0) if rows.n_sets else lines
    fallen = np.add.reduceat(np.where(failed[:, None], lines, 0.0), rows.first[:-1], axis=0) if rows.n_sets else lines
    of_set = np.repeat(np.arange(rows.n_sets), rows.n_failed)
    place = np.arange(of_set.size) - np.repeat(np.cumsum(rows.n_failed) - rows.n_failed, rows.n_failed)
    share = place / rows.n_failed[of_set] if fitted.ties == "efron" else np.zeros(of_set.size)
    left = total[of_set] - share[:, None] * fallen[of_set]
    failed_weight = np.bincount(rows.member_set[failed], weights=weight[failed], minlength=rows.n_sets)
    mean_weight = (failed_weight / rows.n_failed)[of_set]
    mean = left[:, 1 : 1 + p] / left[:, :1]
    variance = np.empty((of_set.size, p, p))
    below = np.tril_indices(p)
    variance[:, below[0], below[1]] = left[:, 1 + p :] / left[:, :1] - mean[:, below[0]] * mean[:, below[1]]
    variance[:, below[1], below[0]] = variance[:, below[0], below[1]]
    return Steps(
        frozen(of_set),
        frozen(share),
        frozen(mean_weight),
        frozen(mean_weight / left[:, 0]),
        frozen(mean),
        frozen(variance),
        frozen(rate),
    )


def score_residuals(fitted: CoxFit, parts: Steps) -> Floats:
    """Split the score over the members of the sets: what failed is compared, what was at risk is expected to fail.

    A failed row stands in the k-th step with the share 1 - k/d that Efron leaves it (Therneau and Grambsch, 2000,
    section 4.2 and R's survival).

    Parameters
    ----------
    fitted : CoxFit
    parts : Steps
        Of the same fit.

    Returns
    -------
    ndarray of float, shape (n_members, n_terms)
        Before case weights.
    """
    rows = fitted.rows
    p = rows.n_terms
    x, failed, of_set = rows.member_x, rows.member_failed, rows.member_set
    stays = 1.0 - parts.share
    residual = np.empty((rows.row.size, p))
    exposed = np.where(failed, parts.by_set(parts.hazard * stays)[of_set], parts.by_set(parts.hazard)[of_set])
    for term in range(p):
        pull = parts.hazard * parts.mean[:, term]
        expected = np.where(failed, parts.by_set(pull * stays)[of_set], parts.by_set(pull)[of_set])
        compared = parts.by_set(parts.mean[:, term])[of_set] / rows.n_failed[of_set]
        seen = np.where(failed, x[:, term] - compared, 0.0)
        residual[:, term] = seen - parts.rate * (x[:, term] * exposed - expected)
    return residual
