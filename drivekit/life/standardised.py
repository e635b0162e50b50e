"""How long the same belts would last, once all at one level of a setting and once all at another.

Estimand: the mean, over the belts of the season, of the survival curve that the hazard fit gives each belt with its own
other settings held for life and its own stratum's baseline, while one setting is put to the same level for all. Belts
that ran side by side with different cars, tensions or grease are thereby compared as if they had been alike in them:
direct standardisation (the g-formula for a point treatment), as far as the fit holds and nothing unrecorded matters.

For belt i at level a, S_i(k) = exp(-H_s(i)(k) exp(x_i(a) b)), with the Efron increments of the baseline H_s that belong
to an Efron fit. The mean to a horizon h is S(0) + ... + S(h - 1). Limits are percentiles over belts drawn with
replacement, the hazard fitted anew to each draw.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from drivekit.life.cox import fit, fit_many
from drivekit.life.riskset import Bools, Floats, Ints, RiskSets, frozen

__all__ = ["REPLICATES", "Standardised", "StandardisedDifference", "common_age", "standardised"]

REPLICATES = 999
ENOUGH_AT_RISK = 5
FEWEST_REPLICATES = 0.9


@dataclass(frozen=True, slots=True)
class StandardisedDifference:
    """The difference between two levels in mean runs to the horizon, of the same belts.

    Parameters
    ----------
    later, earlier : int
        Places of the levels; the estimate is later less earlier.
    estimate, lower, upper : float or None
        In runs; None where `reason` says why.
    reason : str or None
        In plain words.
    """

    later: int
    earlier: int
    estimate: float | None
    lower: float | None
    upper: float | None
    reason: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Standardised:
    """Survival of the same belts at each level of one setting, or why it cannot be had.

    Parameters
    ----------
    horizon : int
        Runs to which means are taken.
    belts : int
        Belts that count, each once.
    age : ndarray of int, shape (horizon,)
        1 to the horizon.
    survival, lower, upper : ndarray of float, shape (n_levels, horizon)
        Mean survival after each age and its limits; nan limits where the replicates give none.
    mean : ndarray of float, shape (n_levels,)
        Runs made out of the first `horizon`.
    differences : tuple of StandardisedDifference
        Every pair, later less earlier.
    replicates, lost : int
        Draws made, and those without an estimate, which the limits leave out.
    reason : str or None
        Why there are no limits, in plain words.
    """

    horizon: int
    belts: int
    age: Ints
    survival: Floats
    lower: Floats
    upper: Floats
    mean: Floats
    differences: tuple[StandardisedDifference, ...]
    replicates: int
    lost: int
    reason: str | None = None


def common_age(age: Ints, stratum: Ints, used: Ints) -> int | None:
    """Find the oldest age with at least 5 at risk in every stratum that is used; None where there is none."""
    oldest = int(age.max(initial=0))
    enough = np.ones(oldest + 1, bool)
    for code in np.unique(used):
        enough &= np.bincount(age[stratum == code], minlength=oldest + 1) >= ENOUGH_AT_RISK
    ages = np.flatnonzero(enough)
    return int(ages[-1]) if ages.size else None


def standardised(
    age: Ints,
    failed: Bools,
    x: Floats,
    stratum: Ints,
    belt: Ints,
    columns: Ints,
    levels: Floats,
    *,
    confidence: float,
    generator: np.random.Generator,
    replicates: int = REPLICATES,
) -> Standardised | str:
    """Standardise over the belts of the season.

    Parameters
    ----------
    age, failed, stratum, belt : ndarray, shape (n_runs,)
        The runs of the hazard fit in the order made: age, whether failed, code of stratum and of belt, both from 0.
    x : ndarray of float, shape (n_runs, n_terms)
        Covariates as on that run.
    columns : ndarray of int, shape (n_columns,)
        The columns of `x` that say the setting.
    levels : ndarray of float, shape (n_levels, n_columns)
        What those columns hold at each level.
    confidence : float
        Of the percentile limits.
    generator : numpy.random.Generator
        Draws belts.
    replicates : int
        Draws.

    Returns
    -------
    Standardised or str
        The reason, in plain words, where the fit has no estimate for some term or no age has enough belts.

    References
    ----------
    Keiding and Clayton, Statistical Science 2014 (direct standardisation); Efron and Tibshirani, *An Introduction to
    the Bootstrap* (1993), chapter 13 (percentile limits).
    """
    # One shift for all rows changes neither hazard ratios nor survival, and keeps exp(x b) within bounds.
    centre = x.mean(axis=0)
    x, levels = x - centre, levels - centre[columns]
    rows = RiskSets.of(age, failed, x, stratum, belt)
    whole = fit(rows)
    if not whole.free.all():
        lacking = next(reason for reason in whole.reasons if reason)
        return f"the hazard fit has no estimate for one of its terms: {lacking}"
    first = np.unique(belt, return_index=True)[1]
    horizon = common_age(age, stratum, stratum[first])
    if horizon is None:
        return f"at no age are {ENOUGH_AT_RISK} belts at risk on every car"
    population = np.repeat(x[first][None], len(levels), axis=0)
    population[:, :, columns] = levels[:, None]
    people = _People(population, stratum[first], belt[first], horizon)
    at_risk = _AtRisk(rows, x[rows.row])
    survival = people.survival(at_risk, whole.coef, np.ones(rows.n_units))
    drawn = generator.multinomial(first.size, np.full(first.size, 1 / first.size), size=replicates)
    weights = np.zeros((replicates, rows.n_units), np.int64)
    weights[:, belt[first]] = drawn
    fits = fit_many(rows, weights)
    settled = np.flatnonzero(fits.status == 0)
    again = np.array([people.survival(at_risk, fits.coef[draw], weights[draw].astype(np.float64)) for draw in settled])
    enough = settled.size >= FEWEST_REPLICATES * replicates
    again = again.reshape(settled.size, len(levels), horizon)
    lower, upper = _limits(again, confidence) if enough else (np.full(survival.shape, np.nan),) * 2
    reason = None if enough else f"{replicates - settled.size} of {replicates} draws of belts gave no estimate"
    means, of_draws = _mean(survival), _mean(again)
    return Standardised(
        horizon=horizon,
        belts=int(first.size),
        age=frozen(np.arange(1, horizon + 1)),
        survival=frozen(survival),
        lower=frozen(lower),
        upper=frozen(upper),
        mean=frozen(means),
        differences=tuple(
            _difference(earlier, later, means, of_draws, confidence, reason)
            for earlier, later in combinations(range(len(levels)), 2)
        ),
        replicates=replicates,
        lost=int(replicates - settled.size),
        reason=reason,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _AtRisk:
    """The risk sets, with the covariates of each member as given."""

    rows: RiskSets
    x: Floats

    def increments(self, coef: Floats, weight: Floats) -> Floats:
        """Efron increments of the baseline cumulative hazard at each risk set, shape (n_sets,)."""
        rows = self.rows
        carried = weight[rows.unit[rows.pattern]]
        risk = carried * np.exp(self.x @ coef)
        falls, begins = rows.member_failed, rows.first[:-1]
        total = np.add.reduceat(risk, begins)
        fallen = np.add.reduceat(risk * falls, begins)
        failures = np.add.reduceat((falls & (carried > 0)).astype(np.int64), begins)
        lost = np.add.reduceat(carried * falls, begins)
        step = np.arange(failures.max(initial=0))
        some = np.maximum(failures, 1)
        counted = step < failures[:, None]
        left = np.where(counted, total[:, None] - step / some[:, None] * fallen[:, None], 1.0)
        return np.asarray(lost / some * (counted / left).sum(axis=1))


@dataclass(frozen=True, slots=True, eq=False)
class _People:
    """The belts that are standardised over: covariates at each level, stratum, unit; and how far they are followed."""

    x: Floats
    stratum: Ints
    unit: Ints
    horizon: int

    def survival(self, at_risk: _AtRisk, coef: Floats, weight: Floats) -> Floats:
        """Mean survival after runs 1 to the horizon at each level, shape (n_levels, horizon)."""
        sets = at_risk.rows
        n_strata = max(int(self.stratum.max()), int(sets.stratum.max())) + 1
        hazard = np.zeros((n_strata, self.horizon + 1))
        near = sets.age <= self.horizon
        hazard[sets.stratum[near], sets.age[near]] = at_risk.increments(coef, weight)[near]
        cumulative = np.cumsum(hazard, axis=1)[:, 1:]
        alive = np.exp(-np.exp(self.x @ coef)[:, :, None] * cumulative[self.stratum])
        share = weight[self.unit] / weight[self.unit].sum()
        return np.asarray(np.einsum("b,lbk->lk", share, alive))


def _mean(survival: Floats) -> Floats:
    """S(0) + ... + S(h - 1) along the last axis, whose entries are S(1) ... S(h)."""
    return np.asarray(1 + survival[..., :-1].sum(axis=-1))


def _limits(draws: Floats, confidence: float) -> tuple[Floats, Floats]:
    """Percentiles over the first axis: with 999 draws and 95 %, the 25th and the 975th in order."""
    tail = (1 - confidence) / 2
    lower, upper = np.quantile(draws, [tail, 1 - tail], axis=0, method="weibull")
    return np.asarray(lower), np.asarray(upper)


def _difference(
    earlier: int, later: int, means: Floats, of_draws: Floats, confidence: float, reason: str | None
) -> StandardisedDifference:
    estimate = float(means[later] - means[earlier])
    if reason is not None:
        return StandardisedDifference(later, earlier, estimate, None, None, reason)
    lower, upper = _limits(of_draws[:, later] - of_draws[:, earlier], confidence)
    return StandardisedDifference(later, earlier, estimate, float(lower), float(upper))
