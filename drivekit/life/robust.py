"""Standard errors that allow for the runs of one belt being alike: the sandwich clustered by belt.

``V S V`` with V the inverse information and S the sum over belts of the outer product of the belt's score residual, the
residuals with Efron's (or Breslow's) weights; no small-sample factor (Lin and Wei, J Am Stat Assoc 1989). ``V`` times a
belt's score residual is also its influence: to first order, the change of the coefficients if that belt were not there
has the opposite sign. With few belts the sandwich is too narrow, so it serves as a check beside the other errors.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from drivekit.life.cox import CoxFit
from drivekit.life.riskset import Floats, Ints, frozen
from drivekit.life.steps import score_residuals, steps

__all__ = ["Robust", "robust"]


@dataclass(frozen=True, eq=False, slots=True)
class Robust:
    """Sandwich errors.

    Attributes
    ----------
    se : ndarray of float, shape (n_terms,)
        nan where a term has no estimate.
    covariance : ndarray of float, shape (n_terms, n_terms)
    influence : ndarray of float, shape (n_belts, n_terms)
        First-order influence of each belt on the coefficients.
    """

    se: Floats
    covariance: Floats
    influence: Floats


def robust(fitted: CoxFit, belt: Ints) -> Robust:
    """Cluster the score residuals of a fit by belt.

    Parameters
    ----------
    fitted : CoxFit
    belt : ndarray of int, shape (n_rows,)
        Code of the belt of every row given to the risk sets, from 0.

    Returns
    -------
    Robust
    """
    rows = fitted.rows
    p = rows.n_terms
    weight = fitted.weight[rows.unit][rows.pattern]
    residual = score_residuals(fitted, steps(fitted)) * weight[:, None]
    code = np.asarray(belt)[rows.row]
    n_belts = int(np.max(belt, initial=-1)) + 1
    score = np.zeros((n_belts, p))
    np.add.at(score, code, residual)
    influence = np.full((n_belts, p), np.nan)
    inside = np.flatnonzero(fitted.basis)
    moved = score[:, inside] @ np.linalg.inv(fitted.information[np.ix_(inside, inside)])
    told = fitted.free[inside]
    influence[:, inside[told]] = moved[:, told]
    covariance = influence.T @ influence
    return Robust(frozen(np.sqrt(np.diag(covariance))), frozen(covariance), frozen(influence))
