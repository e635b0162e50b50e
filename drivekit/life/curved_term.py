"""Whether a measured setting acts along a line or along a curve, and where on it belts last best.

Estimand: the log hazard ratio g(v) of a setting at v, all other terms kept, as a line b v, as a parabola b v + c v^2,
and as a natural cubic spline with knots at the .1, .5 and .9 quantiles of the failures' values (one column beside the
line). Each is an Efron fit on the same rows; likelihood-ratio tests compare them. The best value is where the parabola
is lowest, -b / 2c, with limits by Fieller: all values u at which the slope b + 2 c u is not told from 0.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import sqrt

import numpy as np

from drivekit.life.cox import CoxFit, fit
from drivekit.life.folds import Bools, Estimate, Floats, Ints, frozen, two_sided_z
from drivekit.life.profile import ratio_test
from drivekit.life.riskset import RiskSets
from drivekit.life.separation import DETERMINED

__all__ = ["CurvedTerm", "Form", "curved_term", "lowest", "natural_spline", "stretch"]

FEW_VALUES = "the values met are too few, or too bound to the other settings, to tell a curve from a line"
GRID = 101
KNOTS = (0.1, 0.5, 0.9)
OFTEN_RUN = (0.05, 0.95)


@dataclass(frozen=True, slots=True, eq=False)
class Form:
    """One form of the effect along a grid of values.

    ``log_hr``, ``lower`` and ``upper``, shape (101,), are the log hazard ratio against the reference value and its
    limits, point by point; ``test`` holds ``chi2``, ``dof`` and ``p`` against the form it grew from: a line against
    nothing, the others against the line.
    """

    loglik: float
    log_hr: Floats
    lower: Floats
    upper: Floats
    test: Mapping[str, float]


@dataclass(frozen=True, slots=True, eq=False)
class CurvedTerm:
    """A measured setting as a line, a parabola and a spline.

    Parameters
    ----------
    value, reference : ndarray of float, shape (101,), and float
        From the smallest to the largest value met; and that against which hazards stand, the median of the rows.
    loglik_none : float
        Without the setting.
    forms : mapping of str to Form
        ``linear``, ``quadratic``, and ``spline`` unless too few failures tell its knots apart.
    best : Estimate
        Where the parabola is lowest, in the setting's own unit.
    run : Estimate
        Where it is lowest among the values of the middle nine tenths of the runs, and the stretch of those values
        around it that is not told from it.
    often : tuple of two floats
        Ends of that middle.
    """

    value: Floats
    reference: float
    loglik_none: float
    forms: Mapping[str, Form]
    best: Estimate
    run: Estimate
    often: tuple[float, float]


def natural_spline(value: Floats, knots: Floats) -> Floats:
    """Give the one column that a natural cubic spline with three knots adds to a line, shape (n,).

    It is a cubic between the knots and straight beyond the outer two, scaled by the square of their distance.

    References
    ----------
    Harrell, *Regression Modeling Strategies*, 2nd ed. (2015), section 2.4.5.
    """
    low, middle, high = knots

    def cube(knot: float) -> Floats:
        return np.asarray(np.maximum(value - knot, 0.0) ** 3)

    bent = cube(low) - cube(middle) * (high - low) / (high - middle) + cube(high) * (middle - low) / (high - middle)
    return np.asarray(bent / (high - low) ** 2)


def lowest(slope: float, curvature: float, covariance: Floats, confidence: float, origin: float = 0.0) -> Estimate:
    """Find where ``slope * u + curvature * u^2`` is lowest, with Fieller's limits.

    Parameters
    ----------
    covariance : ndarray of float, shape (2, 2)
        Of the two coefficients.
    origin : float
        The value from which u counts.

    Returns
    -------
    Estimate
        Null where the parabola has no lowest point, or where the limits are not two ends of one stretch.

    References
    ----------
    Fieller, J R Stat Soc B 1954: the u at which (slope + 2 u curvature)^2 <= z^2 var(slope + 2 u curvature).
    """
    if curvature <= 0:
        return Estimate(reason="the curve has no lowest point: it bends the other way")
    z2 = two_sided_z(confidence) ** 2
    square = 4 * (curvature**2 - z2 * covariance[1, 1])
    middle = 2 * (slope * curvature - z2 * covariance[0, 1])
    constant = slope**2 - z2 * covariance[0, 0]
    if square <= 0:
        return Estimate(reason="the curve bends too little for these belts to say where it is lowest")
    root = sqrt(max((middle / square) ** 2 - constant / square, 0.0))
    centre = origin - middle / square
    return Estimate(origin - slope / (2 * curvature), float(centre - root), float(centre + root))


def stretch(
    slope: float, curvature: float, covariance: Floats, z: float, ends: tuple[float, float]
) -> tuple[float, float, float]:
    """Find where ``slope * u + curvature * u^2`` is lowest between two ends, and what beside it is not told from it.

    Parameters
    ----------
    covariance : ndarray of float, shape (2, 2)
        Of the two coefficients.
    z : float
        A point is told from the lowest where it stands more than so many standard errors of the difference above it.
    ends : tuple of two floats
        Smallest and largest u that count.

    Returns
    -------
    tuple of three floats
        The lowest point, and the ends of the stretch around it, to a hundredth of the way between the two ends.
    """
    grid = np.linspace(*ends, GRID)
    at = int(np.argmin(slope * grid + curvature * grid**2))
    apart = np.column_stack([grid - grid[at], grid**2 - grid[at] ** 2])
    error = np.sqrt(np.einsum("ij,jk,ik->i", apart, covariance, apart))
    told = np.flatnonzero(apart @ (slope, curvature) > z * error)
    before, after = told[told < at], told[told > at]
    return (
        float(grid[at]),
        float(grid[before[-1] + 1] if before.size else grid[0]),
        float(grid[after[0] - 1] if after.size else grid[-1]),
    )


def curved_term(
    age: Ints, failed: Bools, others: Floats, value: Floats, stratum: Ints, *, confidence: float
) -> CurvedTerm | str:
    """Fit the three forms of one measured setting.

    Parameters
    ----------
    age, failed, stratum : ndarray, shape (n_runs,)
        The rows of the hazard fit.
    others : ndarray of float, shape (n_runs, n_others)
        The other terms, kept as they are.
    value : ndarray of float, shape (n_runs,)
        The setting as on that run.

    Returns
    -------
    CurvedTerm or str
        The reason, in plain words, where a line or a parabola cannot be fitted.
    """
    reference = float(np.median(value))
    u = value - reference
    grid = np.linspace(value.min(), value.max(), GRID)
    at = grid - reference

    def fitted(*columns: Floats) -> CoxFit:
        return fit(RiskSets.alike(age, failed, np.column_stack([*columns, others]), stratum))

    none, linear, quadratic = fitted(), fitted(u), fitted(u, u**2)
    for found, terms in ((linear, 1), (quadratic, 2)):
        if not found.free[:terms].all():
            reason = next(reason for reason in found.reasons[:terms] if reason)
            return FEW_VALUES if terms == 2 and reason == DETERMINED else reason
    z = two_sided_z(confidence)
    forms = {
        "linear": _form(linear, at[:, None], none, z),
        "quadratic": _form(quadratic, np.column_stack([at, at**2]), linear, z),
    }
    knots = np.quantile(value[failed], KNOTS)
    if knots[0] < knots[1] < knots[2]:
        here = float(natural_spline(np.array([reference]), knots)[0])
        spline = fitted(u, natural_spline(value, knots) - here)
        if spline.free[:2].all():
            forms["spline"] = _form(spline, np.column_stack([at, natural_spline(grid, knots) - here]), linear, z)
    slope, curvature = quadratic.coef[:2]
    best = lowest(float(slope), float(curvature), quadratic.covariance[:2, :2], confidence, reference)
    if best.estimate is not None and not value.min() <= best.estimate <= value.max():
        best = Estimate(reason="the curve is lowest outside the values met")
    low, high = (float(end) for end in np.quantile(u, OFTEN_RUN))
    around = stretch(float(slope), float(curvature), quadratic.covariance[:2, :2], z, (low, high))
    run = Estimate(reference + around[0], reference + around[1], reference + around[2])
    often = reference + low, reference + high
    return CurvedTerm(frozen(grid), reference, none.loglik, forms, best, run, often)


def _form(found: CoxFit, columns: Floats, simpler: CoxFit, z: float) -> Form:
    n = columns.shape[1]
    log_hr = columns @ found.coef[:n]
    spread = z * np.sqrt(np.einsum("ij,jk,ik->i", columns, found.covariance[:n, :n], columns))
    test = ratio_test(2 * (found.loglik - simpler.loglik), found.coef.size - simpler.coef.size)
    return Form(found.loglik, frozen(log_hr), frozen(log_hr - spread), frozen(log_hr + spread), test)
