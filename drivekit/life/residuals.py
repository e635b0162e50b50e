"""How a fitted hazard sits on its own data: drift with age, belts that surprise, belts that decide, order of risk.

All of it is read off the fit's steps (:mod:`drivekit.life.steps`, which says what ``belt`` is, too). Where a term moves
without end, the rows that left the fit in its limit have a hazard of 0 here.
"""

from __future__ import annotations

import numpy as np

from drivekit.life.cox import CoxFit, maximum
from drivekit.life.folds import Bools, Estimate, Floats, Ints, frozen
from drivekit.life.steps import robust, steps

__all__ = ["by_belt", "by_risk", "concordance", "schoenfeld", "without_each"]

# Units times runs for half a second's work, and the units fitted again where there are more.
MOST_REFITTED = 2e6
MOST_MOVING = 20


def schoenfeld(fitted: CoxFit) -> tuple[Ints, Ints, Floats]:
    """Scaled Schoenfeld residuals of the failures; tied failures share their steps' mean.

    Their smooth trend against age is the coefficient as it changes with age.

    Returns
    -------
    age, row : ndarray of int, shape (n_failed,)
        Age of each failure and its row as given.
    scaled : ndarray of float, shape (n_failed, n_terms)
        Coefficient + failures times inverse information times (x less the mean of those at risk); nan where a term has
        no estimate.

    References
    ----------
    Grambsch and Therneau, Biometrika 1994.
    """
    rows = fitted.rows
    parts = steps(fitted)
    failed = rows.member_failed
    of_set = rows.member_set[failed]
    compared = np.column_stack([parts.by_set(parts.mean[:, j])[of_set] for j in range(rows.n_terms)])
    raw = rows.member_x[failed] - compared / rows.n_failed[of_set][:, None]
    inside, inverse = fitted.inverse
    scaled = np.full(raw.shape, np.nan)
    scaled[:, inside] = raw[:, inside] @ inverse * of_set.size
    return frozen(rows.age[of_set]), frozen(rows.row[failed]), frozen(scaled + fitted.coef)


def by_belt(fitted: CoxFit, belt: Ints) -> dict[str, Floats]:
    """Set the failures of each belt, seen and expected, beside each other.

    Returns
    -------
    dict of ndarray of float, shape (n_belts,)
        ``seen`` and ``expected``: failures, and the sum of fitted hazards over the belt's runs that stood in a risk
        set. ``deviance``: ``sign(M) sqrt(-2 (M + N log(N - M)))``, M = seen less expected, N = seen: large above 0 for
        a belt that failed long before its settings say, far below 0 for one that outlived them.

    References
    ----------
    Therneau, Grambsch and Fleming, Biometrika 1990.
    """
    rows = fitted.rows
    n_belts = int(np.max(belt, initial=-1)) + 1
    code = np.asarray(belt)[rows.row]
    seen = np.bincount(code, weights=rows.member_failed, minlength=n_belts)
    expected = np.bincount(code, weights=steps(fitted).expected(fitted.rows), minlength=n_belts)
    surprise = seen - expected
    with np.errstate(divide="ignore", invalid="ignore"):
        logs = np.where(seen > 0, seen * np.log(expected / np.maximum(seen, 1.0)), 0.0)
    deviance = np.sign(surprise) * np.sqrt(np.maximum(0.0, -2 * (surprise + logs)))
    return {"seen": frozen(seen), "expected": frozen(expected), "deviance": frozen(deviance)}


def by_risk(fitted: CoxFit, groups: int | None = None) -> dict[str, Floats]:
    """Predicted against observed failures by groups of fitted risk.

    Parameters
    ----------
    groups : int, optional
        By default thirds, from 50 failures fifths.

    Returns
    -------
    dict of ndarray, shape (n_groups,)
        ``runs`` in risk sets, failures ``seen`` and ``expected`` of each group, lowest risk first. Runs of equal risk
        stay together, so groups may differ in size; an empty one is left out.
    """
    rows = fitted.rows
    count = groups if groups is not None else (5 if rows.n_failed.sum() >= 50 else 3)
    height = rows.member_x @ fitted.at
    # heights are centred by stratum, so that a group is not a car
    cuts = np.quantile(height, np.arange(1, count) / count)
    group = np.searchsorted(cuts, height, side="left")
    runs = np.bincount(group, minlength=count)
    full = runs > 0
    seen = np.bincount(group, weights=rows.member_failed, minlength=count)
    expected = np.bincount(group, weights=steps(fitted).expected(fitted.rows), minlength=count)
    return {"runs": frozen(runs[full]), "seen": frozen(seen[full]), "expected": frozen(expected[full])}


def without_each(fitted: CoxFit) -> tuple[Floats, Bools]:
    """Coefficients without each unit in turn: "without this belt the answer would be ...".

    Each is fitted again where that is quick, up to 2 million units times runs. Beyond it all are taken to first order,
    coefficient less influence (:func:`drivekit.life.steps.robust`), and the 20 units that move some term most, measured
    by its standard error, are fitted again. The unit of the risk sets is the belt.

    Returns
    -------
    coef : ndarray of float, shape (n_units, n_terms)
        nan where a term has no estimate, or without that unit none has.
    exact : ndarray of bool, shape (n_units,)
        Fitted again (True), or to first order (False).
    """
    rows = fitted.rows
    coef = np.tile(fitted.coef, (rows.n_units, 1))
    met = np.unique(rows.unit)
    exact = np.ones(rows.n_units, bool)
    if met.size * rows.row.size > MOST_REFITTED:
        unit_of_row = np.zeros(rows.rows, np.int64)
        unit_of_row[rows.row] = rows.unit[rows.pattern]
        influence = robust(fitted, unit_of_row)[1]
        coef[: len(influence)] -= influence
        reach = np.nanmax(np.abs(influence) / fitted.se, axis=1, initial=0.0)
        met = np.argsort(-reach, kind="stable")[:MOST_MOVING]
        exact = np.isin(np.arange(rows.n_units), met)
    for unit in met:
        weight = np.array(fitted.weight)
        weight[unit] = 0.0
        settled, at, *_ = maximum(rows, fitted.ties, weight, ~fitted.basis, fitted.at)
        coef[unit] = np.where(fitted.free, at, np.nan) if settled else np.nan
    return frozen(coef), frozen(exact)


def concordance(fitted: CoxFit, belt: Ints, confidence: float = 0.95) -> tuple[Estimate, int]:
    """Count how often the fit orders the belts of a risk set rightly.

    Of the pairs of a failed belt and one kept beside it: the share in which the failed one had the higher risk, equal
    risks counted half, with an interval from the infinitesimal jackknife over belts.
    The change of the ratio of concordant to all pairs with the weight of each belt, squared and summed, is its variance
    (Therneau and Atkinson, concordance in R's survival, with ``cluster``); limits on the log odds, so within 0 and 1.

    Returns
    -------
    concordance : Estimate
        Null, with its reason, where there is no pair.
    pairs : int
    """
    from scipy.special import ndtri

    rows = fitted.sets
    # Rows that left in the limit stand below every failed one of their set; equal settings are equal up to rounding.
    height_of_row = np.full(rows.rows, -np.inf)
    height_of_row[fitted.rows.row] = np.round(fitted.rows.member_x @ fitted.at, 10)
    height = height_of_row[rows.row]
    won, pairs = np.zeros(rows.row.size), np.zeros(rows.row.size)
    for lost, kept in rows.sides:
        failed, stood = height[lost], height[kept]
        won[lost], pairs[lost] = _above(failed, stood), stood.size
        won[kept], pairs[kept] = failed.size - _above(stood, failed), failed.size
    failed = rows.member_failed
    total = float(pairs[failed].sum())
    if total == 0:
        return Estimate(reason="no failed belt had another beside it at its age on its car"), 0
    share = float(won[failed].sum()) / total
    code = np.asarray(belt)[rows.row]
    pull = np.bincount(code, weights=won - share * pairs) / total
    se = float(np.sqrt((pull**2).sum()))
    if not 0 < share < 1:
        return Estimate(share, se=se, reason="every pair agrees, so no limits can be given"), int(total)
    z = float(ndtri(0.5 + confidence / 2))
    odds, reach = np.log(share / (1 - share)), z * se / (share * (1 - share))
    lower, upper = (float(1 / (1 + np.exp(-(odds + side * reach)))) for side in (-1, 1))
    return Estimate(share, lower, upper, se), int(total)


def _above(these: Floats, those: Floats) -> Floats:
    """Count how many of those each of these stands above, equal ones half."""
    in_order = np.sort(those)
    return (np.searchsorted(in_order, these, "left") + np.searchsorted(in_order, these, "right")) / 2
