"""How long the same belts would last, once all at one level of a setting and once all at another.

Estimand: the mean, over the belts of the season, of the survival curve that the hazard fit gives each belt with its own
other settings held for life and its own stratum's baseline, while one setting is put to the same level for all. Belts
that ran side by side with different cars, tensions or grease are thereby compared as if they had been alike in them:
direct standardisation (the g-formula for a point treatment), as far as the fit holds and nothing unrecorded matters.

Each belt counts once, with the settings and the car of its first run in the fit, also where it was moved to another car
later. A draw takes a belt with all its runs, on whatever cars they were made; every stratum is then estimated from the
runs drawn into it, and the belts drawn are standardised over in the proportions drawn.

For belt i at level a, S_i(k) = exp(-H_s(i)(k) exp(x_i(a) b)), with the Efron increments of the baseline H_s that belong
to an Efron fit. The mean to a horizon h is S(0) + ... + S(h - 1). Limits are percentiles over belts drawn with
replacement, the hazard fitted anew to each draw.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np

from drivekit.life.cox import fit, fit_many
from drivekit.life.riskset import Bools, Floats, Ints, RiskSets, frozen
from drivekit.life.robust import robust

__all__ = ["REPLICATES", "Setting", "Standardised", "StandardisedDifference", "common_age", "standardised"]

REPLICATES = 999
ENOUGH_AT_RISK = 5
FEWEST_REPLICATES = 0.9
# Draws held in memory together; a season of 10,000 belts then needs 10 MiB for their weights.
AT_ONCE = 128


@dataclass(frozen=True, slots=True, eq=False)
class Setting:
    """A setting to standardise for.

    Parameters
    ----------
    columns : ndarray of int, shape (n_columns,)
        The columns of the covariates that say the setting.
    levels : ndarray of float, shape (n_levels, n_columns)
        What those columns hold at each level.
    """

    columns: Ints
    levels: Floats


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
    settings: Sequence[Setting],
    *,
    confidence: float,
    generator: np.random.Generator,
    replicates: int = REPLICATES,
    threads: int | None = None,
) -> tuple[Standardised, ...] | str:
    """Standardise over the belts of the season, one setting at a time, all from the same fits to the same draws.

    Parameters
    ----------
    age, failed, stratum, belt : ndarray, shape (n_runs,)
        The runs of the hazard fit in the order made: age, whether failed, code of stratum and of belt, both from 0.
    x : ndarray of float, shape (n_runs, n_terms)
        Covariates as on that run.
    settings : sequence of Setting
        Each is put to its levels in turn, the others held.
    confidence : float
        Of the percentile limits.
    generator : numpy.random.Generator
        Draws belts.
    replicates : int
        Draws.
    threads : int, optional
        Draws taken side by side; the digits do not depend on it. By default one a processor.

    Returns
    -------
    tuple of Standardised, one a setting, or str
        The reason, in plain words, where the fit has no estimate for some term or no age has enough belts.

    References
    ----------
    Keiding and Clayton, Statistical Science 2014 (direct standardisation); Efron and Tibshirani, *An Introduction to
    the Bootstrap* (1993), chapter 13 (percentile limits).
    """
    # One shift for all rows changes neither hazard ratios nor survival, and keeps exp(x b) within bounds.
    centre = x.mean(axis=0)
    x = x - centre
    rows = RiskSets.of(age, failed, x, stratum, belt)
    whole = fit(rows)
    if not whole.free.all():
        lacking = next(reason for reason in whole.reasons if reason)
        return f"the hazard fit has no estimate for one of its terms: {lacking}"
    first = np.unique(belt, return_index=True)[1]
    horizon = common_age(age, stratum, stratum[first])
    if horizon is None:
        return f"at no age are {ENOUGH_AT_RISK} belts at risk on every car"
    population: list[Floats] = []
    for setting in settings:
        put = np.repeat(x[first][None], len(setting.levels), axis=0)
        put[:, :, setting.columns] = (setting.levels - centre[setting.columns])[:, None]
        population.append(put)
    people = _People(rows, x, np.concatenate(population), stratum[first], belt[first], horizon)
    survival = people.survival(whole.coef[None], np.ones((1, rows.n_units), np.int64), 1)[0]
    # To first order a draw moves the estimate by the influence of each belt, as often as it was drawn less once.
    influence = robust(whole, belt).influence
    workers = max(1, threads or os.cpu_count() or 1)
    settled = []
    for begin in range(0, replicates, AT_ONCE):
        size = min(AT_ONCE, replicates - begin)
        weights = np.zeros((size, rows.n_units), np.int64)
        weights[:, belt[first]] = generator.multinomial(first.size, np.full(first.size, 1 / first.size), size=size)
        fits = fit_many(rows, weights, threads=workers, begin=whole.coef + (weights - 1) @ influence)
        told = fits.status == 0
        settled.append(people.survival(fits.coef[told], weights[told], workers))
    again = np.concatenate(settled) if settled else np.zeros((0, *survival.shape))
    edges = np.cumsum([0, *(len(setting.levels) for setting in settings)])
    return tuple(
        _standardised(int(first.size), survival[a:b], again[:, a:b], replicates, confidence) for a, b in pairwise(edges)
    )


def _standardised(belts: int, survival: Floats, again: Floats, replicates: int, confidence: float) -> Standardised:
    """Put one setting's curves together with those of the draws, shape (n_draws, n_levels, horizon)."""
    enough = len(again) >= FEWEST_REPLICATES * replicates
    lower, upper = _limits(again, confidence) if enough else (np.full(survival.shape, np.nan),) * 2
    reason = None if enough else f"{replicates - len(again)} of {replicates} draws of belts gave no estimate"
    means, of_draws = _mean(survival), _mean(again)
    return Standardised(
        horizon=survival.shape[1],
        belts=belts,
        age=frozen(np.arange(1, survival.shape[1] + 1)),
        survival=frozen(survival),
        lower=frozen(lower),
        upper=frozen(upper),
        mean=frozen(means),
        differences=tuple(
            _difference(earlier, later, means, of_draws, confidence, reason)
            for earlier, later in combinations(range(len(survival)), 2)
        ),
        replicates=replicates,
        lost=replicates - len(again),
        reason=reason,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _People:
    """The belts that are standardised over, and the runs whose failures give their baselines.

    ``rows`` are the risk sets of the runs ``x``; ``put`` holds the covariates of each belt at each level, shape
    (n_levels, n_belts, n_terms), ``stratum`` and ``unit`` its stratum and the unit of its case weight.
    """

    rows: RiskSets
    x: Floats
    put: Floats
    stratum: Ints
    unit: Ints
    horizon: int

    def survival(self, coef: Floats, weights: Ints, threads: int) -> Floats:
        """Mean survival after runs 1 to the horizon for each draw and level, shape (n_draws, n_levels, horizon)."""
        from concurrent.futures import ThreadPoolExecutor

        from drivekit.life import _standardised

        rows = self.rows
        x = np.empty(rows.x.shape)
        x[rows.pattern] = self.x[rows.row]
        n_strata = max(int(self.stratum.max()), int(rows.stratum.max())) + 1
        alive = np.zeros((len(coef), len(self.put), self.horizon))

        def fill(part: slice) -> None:
            _standardised.curves(
                alive[part], coef[part], weights[part], x, rows.unit, rows.pattern, rows.first, rows.n_failed, rows.age,
                rows.stratum, self.put, self.unit, self.stratum, n_strata,
            )  # fmt: skip

        workers = max(1, min(threads, len(coef)))
        with ThreadPoolExecutor(workers) as pool:
            list(pool.map(fill, (slice(a, b) for a, b in pairwise(np.linspace(0, len(coef), workers + 1).astype(int)))))
        return alive


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
