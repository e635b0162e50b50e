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

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np

from drivekit.life.cox import fit, fit_many, side_by_side
from drivekit.life.folds import ENOUGH_AT_RISK, Bools, Estimate, Floats, Ints, common_horizon, frozen
from drivekit.life.riskset import RiskSets
from drivekit.life.steps import robust

__all__ = ["REPLICATES", "Standardised", "standardised"]

REPLICATES = 999
FEWEST_REPLICATES = 0.9
# Draws held in memory together; a season of 10,000 belts then needs 10 MiB for their weights.
AT_ONCE = 128


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
    differences : mapping of (int, int) to Estimate
        Of mean runs to the horizon, for every pair of levels by their places: the first less the second, an earlier.
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
    differences: Mapping[tuple[int, int], Estimate]
    replicates: int
    lost: int
    reason: str | None = None


def standardised(
    age: Ints,
    failed: Bools,
    x: Floats,
    stratum: Ints,
    belt: Ints,
    settings: Sequence[tuple[Ints, Floats]],
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
    settings : sequence of (ndarray of int, ndarray of float)
        For each setting the columns of the covariates that say it, shape (n_columns,), and what these hold at each
        level, shape (n_levels, n_columns). Each is put to its levels in turn, the others held.
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
    from drivekit.life import _loops

    # One shift for all rows changes neither hazard ratios nor survival, and keeps exp(x b) within bounds.
    centre = x.mean(axis=0)
    x = x - centre
    rows = RiskSets.of(age, failed, x, stratum, belt)
    whole = fit(rows)
    if not whole.free.all():
        lacking = next(reason for reason in whole.reasons if reason)
        return f"the hazard fit has no estimate for one of its terms: {lacking}"
    first = np.unique(belt, return_index=True)[1]
    home = stratum[first]
    strata = np.unique(home)
    here = np.isin(stratum, strata)
    horizon = common_horizon(age[here], np.searchsorted(strata, stratum[here]), strata.size)
    if horizon is None:
        return f"at no age are {ENOUGH_AT_RISK} belts at risk on every car"
    population: list[Floats] = []
    for columns, levels in settings:
        put = np.repeat(x[first][None], len(levels), axis=0)
        put[:, :, columns] = (levels - centre[columns])[:, None]
        population.append(put)
    people = np.concatenate(population)
    given = np.empty(rows.x.shape)
    given[rows.pattern] = x[rows.row]
    sets = rows.unit, rows.pattern, rows.first, rows.n_failed, rows.age, rows.stratum
    belts = people, belt[first], home, max(int(home.max()), int(rows.stratum.max())) + 1

    def survival_of(coef: Floats, weights: Ints) -> Floats:
        """Mean survival after runs 1 to the horizon for each draw and level, shape (n_draws, n_levels, horizon)."""
        alive = np.zeros((len(coef), len(people), horizon))

        def fill(part: slice) -> None:
            _loops.mean_survival(alive[part], coef[part], weights[part], given, *sets, *belts)

        side_by_side(fill, len(coef), threads)
        return alive

    survival = survival_of(whole.coef[None], np.ones((1, rows.n_units), np.int64))[0]
    # To first order a draw moves the estimate by the influence of each belt, as often as it was drawn less once.
    influence = robust(whole, belt)[1]
    settled = []
    for begin in range(0, replicates, AT_ONCE):
        size = min(AT_ONCE, replicates - begin)
        weights = np.zeros((size, rows.n_units), np.int64)
        weights[:, belt[first]] = generator.multinomial(first.size, np.full(first.size, 1 / first.size), size=size)
        coef, _, status = fit_many(rows, weights, threads=threads, begin=whole.coef + (weights - 1) @ influence)
        told = status == 0
        settled.append(survival_of(coef[told], weights[told]))
    again = np.concatenate(settled) if settled else np.zeros((0, *survival.shape))
    edges = np.cumsum([0, *(len(levels) for _, levels in settings)])
    return tuple(
        _standardised(int(first.size), survival[a:b], again[:, a:b], replicates, confidence) for a, b in pairwise(edges)
    )


def _standardised(belts: int, survival: Floats, again: Floats, replicates: int, confidence: float) -> Standardised:
    """Put one setting's curves together with those of the draws, shape (n_draws, n_levels, horizon)."""
    enough = len(again) >= FEWEST_REPLICATES * replicates
    lower, upper = _limits(again, confidence) if enough else np.full((2, *survival.shape), np.nan)
    reason = None if enough else f"{replicates - len(again)} of {replicates} draws of belts gave no estimate"
    # S(0) + ... + S(h - 1), where the curves hold S(1) ... S(h)
    means, of_draws = (np.asarray(1 + curves[..., :-1].sum(axis=-1)) for curves in (survival, again))
    differences = {}
    for earlier, later in combinations(range(len(survival)), 2):
        estimate = float(means[later] - means[earlier])
        differences[later, earlier] = Estimate(estimate, reason=reason)
        if enough:
            low, high = _limits(of_draws[:, later] - of_draws[:, earlier], confidence)
            differences[later, earlier] = Estimate(estimate, float(low), float(high))
    return Standardised(
        horizon=survival.shape[1],
        belts=belts,
        age=frozen(np.arange(1, survival.shape[1] + 1)),
        survival=frozen(survival),
        lower=frozen(lower),
        upper=frozen(upper),
        mean=frozen(means),
        differences=differences,
        replicates=replicates,
        lost=replicates - len(again),
        reason=reason,
    )


def _limits(draws: Floats, confidence: float) -> tuple[Floats, Floats]:
    """Percentiles over the first axis: with 999 draws and 95 %, the 25th and the 975th in order."""
    tail = (1 - confidence) / 2
    lower, upper = np.quantile(draws, [tail, 1 - tail], axis=0, method="weibull")
    return np.asarray(lower), np.asarray(upper)
