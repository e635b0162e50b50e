"""A fitted hazard taken apart: one step for each failure, with what was still at risk in it.

Under Efron the k-th of a set's d failures (k = 0 ... d - 1) is compared with all at risk less the share k/d of the
failed; under Breslow the share is 0 each time. A step's hazard is the mean weight of the set's failures over its
denominator, its mean and variance those of the covariates under ``weight * exp(x b)``. Two checks beside every fit are
sums over steps: errors that allow for the runs of one belt being alike, and whether a hazard ratio drifts with age.
What a fit says of its own belts is for :mod:`drivekit.life.residuals`.

``belt``, shape (n_rows,), is the code of the belt of every row given to the risk sets, from 0.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from drivekit.life.cox import CoxFit
from drivekit.life.folds import Bools, Floats, Ints, frozen
from drivekit.life.riskset import RiskSets

__all__ = ["Steps", "drift", "failed_anew", "robust", "score_by_belt", "score_residuals", "steps"]

ONE_AGE = "its failures tell of one age only"


@dataclass(frozen=True, eq=False, slots=True)
class Steps:
    """The steps of a fit.

    Attributes
    ----------
    of_set, share : ndarray, shape (n_steps,)
        The risk set of each step, and the share of its failed already taken away.
    weight, hazard : ndarray of float, shape (n_steps,)
        Mean weight of the set's failures, and that over the denominator.
    mean, variance : ndarray of float, shapes (n_steps, n_terms) and (n_steps, n_terms, n_terms)
        Of the covariates of those left.
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

    def over(self, of_set: Ints, failed: Bools, values: Floats) -> Floats:
        """Sum of one number a step over those each member stands in, a failed one with the share that Efron leaves."""
        whole, left = (self.by_set(each)[of_set] for each in (values, values * (1.0 - self.share)))
        return np.where(failed, left, whole)

    def expected(self, rows: RiskSets) -> Floats:
        """Failures expected of each member, shape (n_members,): its hazards over the steps that it stands in."""
        return self.rate * self.over(rows.member_set, rows.member_failed, self.hazard)


def steps(fitted: CoxFit) -> Steps:
    """Take a fit apart."""
    rows = fitted.rows
    p = rows.n_terms
    weight = fitted.member_weight
    rate = np.exp(rows.x @ fitted.at)[rows.pattern]
    lines = rows.moments[rows.pattern]
    lines *= (weight * rate)[:, None]
    failed = rows.member_failed
    total = np.add.reduceat(lines, rows.first[:-1], axis=0) if rows.n_sets else lines
    lines[~failed] = 0.0
    fallen = np.add.reduceat(lines, rows.first[:-1], axis=0) if rows.n_sets else lines
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
    section 4.2 and R's survival). ``parts`` are those of the fit; shape (n_members, n_terms), before case weights.
    """
    rows = fitted.rows
    x, failed, of_set = rows.member_x, rows.member_failed, rows.member_set
    residual = np.empty(x.shape)
    exposed = parts.over(of_set, failed, parts.hazard)
    for term, mean in enumerate(parts.mean.T):
        compared = parts.by_set(mean)[of_set] / rows.n_failed[of_set]
        seen = np.where(failed, x[:, term] - compared, 0.0)
        expected = parts.over(of_set, failed, parts.hazard * mean)
        residual[:, term] = seen - parts.rate * (x[:, term] * exposed - expected)
    return residual


def score_by_belt(fitted: CoxFit, belt: Ints) -> Floats:
    """Split the score over belts, shape (n_belts, n_terms)."""
    residual = score_residuals(fitted, steps(fitted)) * fitted.member_weight[:, None]
    code, n_belts = np.asarray(belt)[fitted.rows.row], int(np.max(belt, initial=-1)) + 1
    return np.column_stack([np.bincount(code, column, n_belts) for column in residual.T])


def robust(fitted: CoxFit, belt: Ints) -> tuple[Floats, Floats]:
    """Cluster the errors of a fit by belt: the sandwich ``V S V``.

    V is the inverse information and S the sum over belts of the outer product of the belt's score residual, with
    Efron's (or Breslow's) weights; no small-sample factor. With few belts it is too narrow, so it serves as a check
    beside the other errors.

    Returns
    -------
    se : ndarray of float, shape (n_terms,)
        nan where a term has no estimate.
    influence : ndarray of float, shape (n_belts, n_terms)
        V times each belt's score residual: to first order, less the change of the coefficients if it were not there.

    References
    ----------
    Lin and Wei, J Am Stat Assoc 1989.
    """
    score = score_by_belt(fitted, belt)
    influence = np.full(score.shape, np.nan)
    inside, inverse = fitted.inverse
    moved = score[:, inside] @ inverse
    told = fitted.free[inside]
    influence[:, inside[told]] = moved[:, told]
    return frozen(np.sqrt(np.diag(influence.T @ influence))), frozen(influence)


def drift(fitted: CoxFit) -> tuple[Floats, Floats, tuple[str | None, ...]]:
    """Test for each term with an estimate whether its hazard ratio drifts with a belt's age.

    For each term alone: add ``theta x_j g(k)`` with g(k) = k, the age in runs itself, to the fitted model and take the
    score test of theta = 0 with the model's own information. With U_s, V_s the score and information of set s at the
    estimate, u = sum g U_s[j], and the test is ::

        u^2 / (sum g^2 V_s[j,j] - c' I^-1 c),   c = sum g V_s[., j],   one degree of freedom.

    Shifting g changes nothing, since x_j is in the model.

    Returns
    -------
    chi2, p : ndarray of float, shape (n_terms,)
        nan where there is no test.
    reasons : tuple of str or None
        Why there is none.

    References
    ----------
    Grambsch and Therneau, Biometrika 1994; as in R's survival from version 3, ``cox.zph(terms = FALSE, transform =
    "identity")``.
    """
    from scipy.special import chdtrc

    rows = fitted.rows
    chi2 = np.full(rows.n_terms, np.nan)
    reasons = list(fitted.reasons)
    parts = steps(fitted)
    failed = rows.member_failed
    age = rows.age - np.average(rows.age, weights=rows.n_failed) if rows.n_sets else rows.age.astype(np.float64)
    seen = (rows.member_x * fitted.member_weight[:, None])[failed]
    at_step = age[parts.of_set]
    score = age[rows.member_set[failed]] @ seen - (at_step * parts.weight) @ parts.mean
    once = np.einsum("s,sab->ab", at_step * parts.weight, parts.variance)
    twice = np.einsum("s,saa->a", at_step**2 * parts.weight, parts.variance)
    inside, inverse = fitted.inverse
    for term in np.flatnonzero(fitted.free):
        shared = once[inside, term]
        left = twice[term] - shared @ inverse @ shared
        if left <= 1e-9 * twice[term] or twice[term] == 0.0:
            reasons[term] = ONE_AGE
        else:
            chi2[term] = score[term] ** 2 / left
    return frozen(chi2), frozen(chdtrc(1, chi2)), tuple(reasons)


def failed_anew(fitted: CoxFit, generator: np.random.Generator) -> Bools:
    """Draw which rows fail, shape (n_rows,), if the hazard is as fitted: in each set as many as failed there.

    One after the other fails, each of those left as likely as ``exp(x b)`` says: the shortest of waits at such rates.
    """
    rows = fitted.rows
    waits = generator.exponential(size=rows.row.size) * np.exp(-rows.member_x @ fitted.at)
    order = np.lexsort((waits, rows.member_set))
    rank = np.arange(order.size) - np.searchsorted(rows.member_set[order], rows.member_set[order])
    failed = np.zeros(rows.rows, bool)
    failed[rows.row[order[rank < rows.n_failed[rows.member_set[order]]]]] = True
    return failed
