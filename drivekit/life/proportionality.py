"""Does a hazard ratio stay the same over a belt's life, or does it drift with age.

For each term alone: add ``theta x_j g(k)`` with g(k) = k, the age in runs itself, to the fitted model and take the
score test of theta = 0 with the model's own information (Grambsch and Therneau, Biometrika 1994; as in R's survival
from version 3, ``cox.zph(terms = FALSE, transform = "identity")``). With U_s, V_s the score and information of set s at
the estimate, u = sum g U_s[j], and the test is

    u^2 / (sum g^2 V_s[j,j] - c' I^-1 c),   c = sum g V_s[., j],   one degree of freedom.

Shifting g changes nothing, since x_j is in the model.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from drivekit.life.cox import CoxFit
from drivekit.life.riskset import Floats, frozen
from drivekit.life.steps import steps

__all__ = ["Drift", "drift"]

ONE_AGE = "its failures tell of one age only"


@dataclass(frozen=True, eq=False, slots=True)
class Drift:
    """Score test of each term against age; nan where there is none, with its reason.

    Attributes
    ----------
    chi2, p : ndarray of float, shape (n_terms,)
    reasons : tuple of str or None
    """

    chi2: Floats
    p: Floats
    reasons: tuple[str | None, ...]


def drift(fitted: CoxFit) -> Drift:
    """Test every term with an estimate.

    Parameters
    ----------
    fitted : CoxFit

    Returns
    -------
    Drift
    """
    from scipy.stats import chi2 as chi2_distribution

    rows = fitted.rows
    n_terms = rows.n_terms
    chi2 = np.full(n_terms, np.nan)
    reasons = list(fitted.reasons)
    parts = steps(fitted)
    failed = rows.member_failed
    weight = fitted.weight[rows.unit][rows.pattern]
    age = rows.age - np.average(rows.age, weights=rows.n_failed) if rows.n_sets else rows.age.astype(np.float64)
    seen = (rows.member_x * weight[:, None])[failed]
    at_step = age[parts.of_set]
    score = age[rows.member_set[failed]] @ seen - (at_step * parts.weight) @ parts.mean
    once = np.einsum("s,sab->ab", at_step * parts.weight, parts.variance)
    twice = np.einsum("s,saa->a", at_step**2 * parts.weight, parts.variance)
    inside = np.flatnonzero(fitted.basis)
    inverse = np.linalg.inv(fitted.information[np.ix_(inside, inside)])
    for term in np.flatnonzero(fitted.free):
        shared = once[inside, term]
        left = twice[term] - shared @ inverse @ shared
        if left <= 1e-9 * twice[term] or twice[term] == 0.0:
            reasons[term] = ONE_AGE
        else:
            chi2[term] = score[term] ** 2 / left
    return Drift(frozen(chi2), frozen(chi2_distribution.sf(chi2, 1)), tuple(reasons))
