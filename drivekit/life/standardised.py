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
replacement, the hazard fitted anew to each draw. A season of fewer than 500 belts is drawn 999 times; a larger one
until the limits of every difference have settled to a tenth of a run, and at most as often; a draw is then fitted to a
ten-thousandth of a standard error, and belts whose hazards differ by less than a hundredth share an exponential.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial
from itertools import combinations, pairwise
from statistics import NormalDist
from typing import Any

import numpy as np

from drivekit.life.cox import NEAR, fit, fit_many, side_by_side
from drivekit.life.draws import answers
from drivekit.life.folds import ENOUGH_AT_RISK, Bools, Estimate, Floats, Ints, common_horizon, frozen, percentiles
from drivekit.life.riskset import RiskSets
from drivekit.life.shrunken import MANY_BELTS, shrunken, shrunken_draws
from drivekit.life.steps import robust

__all__ = ["REPLICATES", "Standardised", "standardised"]

REPLICATES = 999
FEWEST_REPLICATES = 0.9
# A season of MANY_BELTS is drawn no longer than it takes its limits to settle, in runs, each draw fitted until the last
# step is of so many standard errors.
SETTLED_RUNS = 0.1
MANY_NEAR = 0.01
# Places along the log hazard, a stratum, that belts are gathered at where they are more.
PLACES = 512
# Draws held in memory together; a season of 10,000 belts then needs 10 MiB for their weights.
AT_ONCE = 128
AT_ONCE_OF_MANY = 32

# From how often each unit was drawn, shape (n_draws, n_units), to each draw's coefficients and whether it has any.
Refit = Callable[[Ints], tuple[Floats, Bools]]


@dataclass(frozen=True, slots=True, eq=False)
class Standardised:
    """Survival of the same belts at each level of one setting, or why it cannot be had.

    Parameters
    ----------
    horizon, belts : int
        Runs to which means are taken, and belts that count, each once.
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
    executor: Executor | None = None,
    over: Bools | None = None,
    horizon: int | None = None,
    cars: Ints | None = None,
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
    replicates : int
        Draws, or the most of them where the belts are many.
    threads : int, optional
        Draws taken side by side; the digits do not depend on it. By default one a processor, and one in an executor.
    executor : concurrent.futures.Executor, optional
        Works the draws out, as in `drivekit.life.draws.answers`; nor do the digits depend on it.
    over : ndarray of bool, shape (n_runs,), optional
        Marks the runs whose belts are standardised over, each by its first marked run; all are drawn. By default all.
    horizon : int, optional
        Runs to which means are taken; by default the last age at which every stratum has 5 belts at risk.
    cars : ndarray of int, shape (n_runs,), optional
        Codes from 0 of cars that are shrunk toward each other instead of standing as strata, as
        :mod:`drivekit.life.shrunken` has it; belts are then drawn within the car of their first run.

    Returns
    -------
    tuple of Standardised, one a setting, or str
        The reason, in plain words, where the fit has no estimate for some term or no age has enough belts.

    References
    ----------
    Keiding and Clayton, Statistical Science 2014 (direct standardisation); Efron and Tibshirani, *An Introduction to
    the Bootstrap* (1993), chapter 13 (percentile limits).
    """
    n_cars = 0 if cars is None else int(cars.max()) + 1
    if cars is not None:
        x, stratum = np.hstack([x, cars[:, None] == np.arange(n_cars)]), np.zeros_like(stratum)
    # One shift for all rows changes neither hazard ratios nor survival, and keeps exp(x b) within bounds.
    centre = x.mean(axis=0)
    x = x - centre
    rows = RiskSets.of(age, failed, x, stratum, belt)
    threads = threads or (None if executor is None else 1)
    every = np.unique(belt, return_index=True)[1]
    near = NEAR if every.size < MANY_BELTS else MANY_NEAR
    fitted = _plain(rows, belt, threads, near) if cars is None else _shrunk(rows, n_cars, belt, threads)
    if isinstance(fitted, str):
        return fitted
    coef, refit = fitted
    first = every if over is None else np.flatnonzero(over)[np.unique(belt[over], return_index=True)[1]]
    home = stratum[first]
    strata = np.unique(home)
    here = np.isin(stratum, strata)
    reach = common_horizon(age[here], np.searchsorted(strata, stratum[here]), strata.size)
    if reach is None:
        return f"at no age are {ENOUGH_AT_RISK} belts at risk on every car"
    if horizon is not None and horizon > (oldest := min(int(age[stratum == one].max()) for one in strata) + 1):
        return f"no belt on some car got far enough to count the first {horizon} runs: {oldest} at the most"
    horizon = horizon or reach
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

    # a copy that may be written to, as the draws' may: of another kind, the loop would be compiled once more
    survival = _survival(
        np.array([coef]), np.ones((1, rows.n_units), np.int64), sets, belts, given, horizon, 1, places=len(first)
    )[0]
    of_car = np.zeros(every.size, np.int64) if cars is None else cars[every]
    together = [belt[every[of_car == car]] for car in np.unique(of_car)]

    def draws() -> Iterator[Ints]:
        at_once = AT_ONCE if every.size < MANY_BELTS else AT_ONCE_OF_MANY
        for begin in range(0, replicates, at_once):
            size = min(at_once, replicates - begin)
            weights = np.zeros((size, rows.n_units), np.int64)
            for each in together:
                weights[:, each] = generator.multinomial(each.size, np.full(each.size, 1 / each.size), size=size)
            yield weights

    work = partial(_of_draws, refit=refit, sets=sets, belts=belts, given=given, horizon=horizon, threads=threads)
    edges = np.cumsum([0, *(len(levels) for _, levels in settings)])
    again, made = np.zeros((0, *survival.shape)), 0
    for size, told in answers(work, draws(), executor):
        again, made = np.concatenate((again, told)), made + size
        if every.size >= MANY_BELTS and all(_settled(again[:, a:b], confidence) for a, b in pairwise(edges)):
            break
    return tuple(
        _standardised(int(first.size), survival[a:b], again[:, a:b], made, confidence) for a, b in pairwise(edges)
    )


def _plain(rows: RiskSets, belt: Ints, threads: int | None, near: float) -> tuple[Floats, Refit] | str:
    """Fit the season with its strata left free, and give what fits a draw of it; or why there is no fit."""
    whole = fit(rows)
    if not whole.free.all():
        lacking = next(reason for reason in whole.reasons if reason)
        return f"the hazard fit has no estimate for one of its terms: {lacking}"
    # To first order a draw moves the estimate by the influence of each belt, as often as it was drawn less once.
    influence = robust(whole, belt)[1]
    return whole.coef, partial(_plainly, rows=rows, whole=whole.coef, influence=influence, threads=threads, near=near)


def _plainly(
    weights: Ints, *, rows: RiskSets, whole: Floats, influence: Floats, threads: int | None, near: float
) -> tuple[Floats, Bools]:
    coef, _, status = fit_many(rows, weights, threads=threads, begin=whole + (weights - 1) @ influence, near=near)
    return coef, status == 0


def _shrunk(rows: RiskSets, n_cars: int, belt: Ints, threads: int | None) -> tuple[Floats, Refit] | str:
    """Fit the season with its cars shrunk toward each other, and give what fits a draw of it."""
    found = shrunken(rows, n_cars, belt)
    if found is None:
        return "the penalised fit has no maximum that could be reached"
    return found.coef, partial(shrunken_draws, rows=rows, whole=found, threads=threads)


def _of_draws(weights: Ints, *, refit: Refit, threads: int | None, **lives: Any) -> tuple[int, Floats]:
    """Fit draws of belts: how many there were, and the curves of those with an estimate."""
    coef, told = refit(weights)
    alive = _survival(coef[told], weights[told], **lives, threads=threads)
    # a draw of a handful of failures can put hazards beyond what numbers hold: it has no curve
    return len(weights), alive[np.isfinite(alive).all(axis=(1, 2))]


def _survival(
    coef: Floats,
    weights: Ints,
    sets: tuple[Any, ...],
    belts: tuple[Any, ...],
    given: Floats,
    horizon: int,
    threads: int | None,
    places: int = PLACES,
) -> Floats:
    """Mean survival after runs 1 to the horizon for each draw and level, shape (n_draws, n_levels, horizon).

    Belts of a stratum are gathered at so many places of their log hazard where they are more than those.
    """
    from drivekit.life import _loops

    alive = np.zeros((len(coef), len(belts[0]), horizon))

    def fill(part: slice) -> None:
        _loops.mean_survival(alive[part], coef[part], weights[part], given, *sets, *belts, places)

    side_by_side(fill, len(coef), threads)
    return alive


def _settled(again: Floats, confidence: float) -> bool:
    """Tell whether more draws, shape (n_draws, n_levels, horizon), would move no limit of a difference by a tenth.

    A percentile of n draws lies within two standard errors of that of endless draws about 19 times in 20; for so many
    belts a difference is drawn from a law close to the normal one, whose density the standard error takes.
    """
    n, tail = len(again), (1 - confidence) / 2
    if tail * (n + 1) < 1:  # no draw stands for the limit
        return False
    means = 1 + again[..., :-1].sum(axis=-1)
    spread = max(np.std(one - other) for one, other in combinations(means.T, 2))
    normal = NormalDist()
    return bool(2 * np.sqrt(tail * (1 - tail) / n) / normal.pdf(normal.inv_cdf(tail)) * spread <= SETTLED_RUNS)


def _standardised(belts: int, survival: Floats, again: Floats, replicates: int, confidence: float) -> Standardised:
    """Put one setting's curves together with those of the draws, shape (n_draws, n_levels, horizon)."""
    enough = len(again) >= FEWEST_REPLICATES * replicates
    lower, upper = percentiles(again, confidence) if enough else np.full((2, *survival.shape), np.nan)
    reason = None if enough else f"{replicates - len(again)} of {replicates} draws of belts gave no estimate"
    # S(0) + ... + S(h - 1), where the curves hold S(1) ... S(h)
    means, of_draws = (np.asarray(1 + curves[..., :-1].sum(axis=-1)) for curves in (survival, again))
    differences = {}
    for earlier, later in combinations(range(len(survival)), 2):
        estimate = float(means[later] - means[earlier])
        differences[later, earlier] = Estimate(estimate, reason=reason)
        if enough:
            low, high = percentiles(of_draws[:, later] - of_draws[:, earlier], confidence)
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
