"""Next season's test: how many belts until a difference that matters is seen, and what a season can show at all.

The unit is the belt: it stays on its idler for life, and which idler it gets is drawn within its car. The analysis is
planned with the test: the likelihood ratio of the hazard study with Efron ties and cars as strata, told where its p is
at most 1 - confidence. Power is the share of simulated seasons in which it tells a true difference, size the share
where there is none. Each simulated belt starts new, fails by the curve of this season on the reference arm and with the
hazard of each run put to the ratio on the other (S to the power of the ratio), ends otherwise as often as belts did
this season, and comes off at the oldest age that was seen.

Beside it stands what Schoenfeld's formula asks of failures, 4 (z_a/2 + z_b)^2 / (log ratio)^2 in arms of one size
(Biometrika 68, 1981); it knows neither ties nor few belts.

Which belt goes on which idler is drawn within its car and meeting: a plan is a row of blocks a car, each with every arm
once in an order that chance decides (permuted blocks; Pocock, *Clinical Trials* (1983), chapter 5). A car's new belts
take one line after the other and a meeting begins a block, so that no arm is mounted twice more than another at any.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial
from itertools import product
from math import ceil, exp, log, sqrt
from statistics import NormalDist
from string import ascii_lowercase
from typing import NamedTuple

import numpy as np

from drivekit.decide.spares import split_runs
from drivekit.life.draws import answers
from drivekit.life.folds import Estimate, Floats, Ints, percentiles, two_sided_z

__all__ = [
    "NextSeason",
    "PlannedBelt",
    "Power",
    "belts_needed",
    "gain_runs",
    "power",
    "ratio_of_gain",
    "schoenfeld_failures",
    "smallest_effect",
    "trial_plan",
]

AT_ONCE = 2_500
SIZES = (0.5, 0.7, 0.85, 1.0, 1.2, 1.5)
FEWEST_BELTS, MOST_BELTS, MOST_LIVED = 8, 5_000, 2_000
"""Of a test; what more belts show than are simulated is told from those, by the root of their number."""
# A ratio this far from 1 is no failure at all on one arm, or one on every run.
LEAST_RATIO = 0.02
NORMAL = NormalDist()


@dataclass(frozen=True, slots=True, eq=False)
class NextSeason:
    """What a coming season is simulated from.

    Parameters
    ----------
    hazard : ndarray of float, shape (last,)
        Chance to fail on runs 1 to `last` on the reference arm.
    other : ndarray of float, shape (last,)
        Of the belts that outlast that run, the share that ends otherwise after it.
    cars : sequence of int
        How the belts fall on the cars, as belts so far.
    confidence : float
        The analysis tells a difference where its p is at most 1 - confidence.
    seed : int
        Where the simulation starts.
    seasons : int
        How many are simulated for each answer.
    executor : concurrent.futures.Executor, optional
        Works them out, as in `drivekit.life.draws.answers`.
    """

    hazard: Floats
    other: Floats
    cars: Sequence[int]
    confidence: float
    seed: int
    seasons: int = 10_000
    executor: Executor | None = None


class Power(NamedTuple):
    """What came of simulated seasons: their belts, the share that told a difference, failures and runs on average."""

    belts: int
    told: float
    failures: float
    runs: float


def power(season: NextSeason, belts: int, ratio: float) -> Power:
    """Simulate seasons with so many belts, half of them on each arm.

    Parameters
    ----------
    season : NextSeason
    belts : int
        Belts of both arms together; pairs are split over the cars.
    ratio : float
        True ratio of hazards, the other arm against the reference; 1 gives the size of the test.

    Raises
    ------
    ValueError
        If there are fewer than 2 belts or the ratio is not above 0.
    """
    from scipy.special import chdtri

    if belts < 2 or not ratio > 0:
        raise ValueError(f"a test needs 2 belts or more and a ratio above 0, not {belts} and {ratio}")
    pairs = [many for many in split_runs(belts // 2, season.cars) if many]
    work = partial(
        _lived,
        belts=np.repeat(np.array(pairs)[:, None], 2, axis=1),
        hazard=season.hazard,
        other=season.other,
        ratio=float(ratio),
        cut=float(chdtri(1, 1 - season.confidence)),
    )

    def parts() -> Iterator[tuple[np.random.SeedSequence, int]]:
        seeds = np.random.SeedSequence(season.seed)
        for begin in range(0, season.seasons, AT_ONCE):
            yield seeds.spawn(1)[0], min(AT_ONCE, season.seasons - begin)

    told, failures, runs = np.sum(list(answers(work, parts(), season.executor)), axis=0) / season.seasons
    return Power(2 * sum(pairs), float(told), float(failures), float(runs))


def _lived(
    part: tuple[np.random.SeedSequence, int], *, belts: Ints, hazard: Floats, other: Floats, ratio: float, cut: float
) -> Ints:
    """Live some seasons: how many told, and all their failures and runs."""
    from drivekit.decide._trial import trial_seasons

    tally = np.zeros(3, np.int64)
    trial_seasons(np.random.default_rng(part[0]), part[1], belts, hazard, other, ratio, cut, tally)
    return tally


def belts_needed(season: NextSeason, ratio: float, wanted: float = 0.8) -> tuple[int | None, tuple[Power, ...]]:
    """Find how many belts show a difference with the power wanted, from six sizes; None where 5,000 would not do.

    The normal quantile of the power is close to a straight line over the root of the belts; the line through the six
    sizes, which are given too, gives the number, rounded up to pairs.

    Parameters
    ----------
    season : NextSeason
    ratio : float
        The true ratio of hazards.
    wanted : float
        Power, as .8 or .9.
    """
    per_belt = np.mean([_failures(season.hazard, season.other, each) for each in (1.0, ratio)])
    guess = schoenfeld_failures(ratio, wanted, season.confidence) / max(float(per_belt), 1e-9)
    if guess > MOST_BELTS:
        return None, ()
    sizes = sorted({2 * max(FEWEST_BELTS // 2, round(guess * part / 2)) for part in SIZES})
    while len(sizes) < len(SIZES):
        sizes.append(sizes[-1] + 2)
    curve = tuple(power(season, size, ratio) for size in sizes)
    slope, start = _line([sqrt(each.belts) for each in curve], curve, season.seasons)
    root = (NORMAL.inv_cdf(wanted) - start) / slope if slope > 0 else np.inf
    return (2 * ceil(root**2 / 2) if 0 < root < sqrt(MOST_BELTS) else None), curve


def smallest_effect(season: NextSeason, drawn: Floats, belts: int, wanted: float = 0.8) -> Estimate:
    """Find the ratio nearest to 1 that so many belts show with the power wanted.

    Parameters
    ----------
    season : NextSeason
    drawn : ndarray of float, shape (n_draws, at least last)
        Hazards of seasons with other belts drawn: the limits are those of how many failures a season brings, for the
        log of what can be shown falls as their root.
    belts : int
        Belts of both arms together.
    wanted : float
        Power.

    Returns
    -------
    Estimate
        A ratio below 1; null with reason where not even a fiftieth of the failures would be told.
    """
    failures = belts * _failures(season.hazard, season.other, 1.0)
    if failures <= 0:
        return Estimate(reason="no failure was seen, so that none can be foreseen")
    first = (two_sided_z(season.confidence) + NORMAL.inv_cdf(wanted)) * sqrt(4 / failures)
    lived = min(belts, MOST_LIVED)
    scale = sqrt(lived / belts)
    effects = [min(first / scale * part, -log(LEAST_RATIO)) for part in (0.8, 1.0, 1.25)]
    slope, start = _line(effects, [power(season, lived, exp(-each)) for each in effects], season.seasons)
    effect = scale * (NORMAL.inv_cdf(wanted) - start) / slope if slope > 0 else np.inf
    if not 0 < effect <= -log(LEAST_RATIO):
        return Estimate(reason=f"with {belts} belts not even a fiftieth of the failures would be told from all of them")
    again = belts * _failures(drawn[:, : season.hazard.size], season.other, 1.0)
    scaled = np.exp(-effect * np.sqrt(failures / np.maximum(again, 1e-9)))
    lower, upper = percentiles(scaled, season.confidence)
    return Estimate(exp(-effect), float(lower), float(upper))


def schoenfeld_failures(ratio: float, wanted: float = 0.8, confidence: float = 0.95) -> int:
    """Give the failures that Schoenfeld's formula asks for, arms of one size, rounded up."""
    if not ratio > 0 or ratio == 1:
        raise ValueError(f"a ratio to be seen is above 0 and not 1; {ratio} was given")
    return ceil(4 * (two_sided_z(confidence) + NORMAL.inv_cdf(wanted)) ** 2 / log(ratio) ** 2)


def gain_runs(hazard: Floats, ratio: float) -> float:
    """Give how many more runs a belt makes out of its first `last` where every hazard is put to that ratio."""
    return float(_mean_runs(hazard, ratio) - _mean_runs(hazard, 1.0))


def ratio_of_gain(hazard: Floats, gain: float) -> float | None:
    """Give the ratio of hazards that brings a gain in runs, None where none does."""
    from scipy.optimize import brentq

    if not gain_runs(hazard, 1 / LEAST_RATIO) < gain < gain_runs(hazard, LEAST_RATIO) or gain == 0:
        return None
    return exp(brentq(lambda effect: gain_runs(hazard, exp(effect)) - gain, log(LEAST_RATIO), -log(LEAST_RATIO)))


def _mean_runs(hazard: Floats, ratio: float) -> float:
    alive = np.cumprod((1 - hazard) ** ratio)
    return float(1 + alive[:-1].sum())


def _failures(hazard: Floats, other: Floats, ratio: float) -> Floats:
    """Give failures of one belt on average; `hazard` may have any leading shape."""
    fails = 1 - (1 - hazard) ** ratio
    stays = np.cumprod((1 - fails) * (1 - other), axis=-1)
    made = np.concatenate([np.ones((*hazard.shape[:-1], 1)), stays[..., :-1]], axis=-1)
    return np.asarray((made * fails).sum(axis=-1))


def _line(at: Sequence[float], seen: Sequence[Power], seasons: int) -> tuple[float, float]:
    """Fit the normal quantile of the power as a line; a share of 0 or 1 counts half a season less or more."""
    quantiles = [NORMAL.inv_cdf(min(max(each.told, 0.5 / seasons), 1 - 0.5 / seasons)) for each in seen]
    # where power is near 0 or 1 its quantile is known least
    weights = [sqrt(max(each.told * (1 - each.told), 1e-4)) for each in seen]
    if len({*at}) < 2:
        return 0.0, 0.0
    slope, start = np.polyfit(at, quantiles, 1, w=weights)
    return float(slope), float(start)


class PlannedBelt(NamedTuple):
    """A belt of the plan: its name, its car, and its line there: the car's block, from 1, and a letter within it.

    Blocks count over all cars from 1; the arm is what it is given, a level of each setting in the settings' order.
    """

    belt: str
    car: str
    line: str
    block: int
    arm: tuple[str, ...]


def trial_plan(blocks: Mapping[str, int], settings: Sequence[Sequence[str]], seed: int) -> tuple[PlannedBelt, ...]:
    """Draw a plan.

    Parameters
    ----------
    blocks : mapping of str to int
        How many blocks each car gets, in the order of the cars.
    settings : sequence of sequence of str
        The levels of each setting; an arm is a level of each, so that two of two make four.
    seed : int
        The same seed draws the same plan.

    Raises
    ------
    ValueError
        If there is no block, or there are fewer than two arms or more than 26.
    """
    arms = list(product(*settings))
    if not any(blocks.values()) or not 2 <= len(arms) <= len(ascii_lowercase):
        raise ValueError("a plan needs a block of belts, and 2 to 26 arms")
    generator = np.random.default_rng(seed)
    plan: list[PlannedBelt] = []
    for block, (car, of_car) in enumerate(
        ((car, n) for car, wanted in blocks.items() for n in range(1, wanted + 1)), 1
    ):
        for letter, arm in zip(ascii_lowercase, generator.permutation(len(arms)), strict=False):
            plan.append(PlannedBelt(f"T{len(plan) + 1:02d}", car, f"{of_car}{letter}", block, arms[arm]))
    return tuple(plan)
