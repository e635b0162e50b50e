"""The watch: whether this season's belts fail more, or less, than an earlier season leads to expect.

It may be looked at after every run. Under the earlier season's hazard a run at age a ends in a failure with chance
p = 1 - exp(-v), v the rate of that age; if every rate were r times that, with 1 - exp(-r v). The likelihood of the runs
made so far at r, over that at 1, starts at 1 and never grows on average while the earlier hazard holds (a martingale);
so does its mean over several r. By Ville's inequality it ever reaches 1 / e with chance e at most, however often one
looks (Ville, *Etude critique de la notion de collectif*, 1939; Robbins, Ann Math Stat 41, 1970).

The earlier hazard is itself uncertain. Ages are joined to at most `MOST_GROUPS` groups of one rate each, and the
evidence is the least over all rates that the earlier season does not refuse on two counts: the rates jointly, by their
likelihood ratio to the best (Wilks), and the failures they lead to expect over the earlier season's own runs, by
Garwood's limit for a Poisson mean (Biometrika 28, 1936), which a sum of chances varies less than. The error is spent
on the three: `OF_THE_RATES` of it on the first, `OF_THE_SUM` for each side on the second, the rest on the bets.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from drivekit.life.folds import Bools, Floats, Ints, codes, fold, frozen

__all__ = ["LEAST_FAILURES", "Rates", "Watch", "earlier_rates", "watch"]

WORSE = (1.25, 1.5, 2.0, 3.0)
"""Ratios of the hazard that "worse" is the mean over; "better" takes one over each."""

MOST_GROUPS = 3
LEAST_FAILURES = 5
"""A rate that would rest on fewer failures than this is joined with its neighbour."""

OF_THE_RATES = 0.1
OF_THE_SUM = 0.2
"""Shares of the error spent on not knowing the earlier rates: on all jointly, and on their sum, for each side."""

_DIRECTIONS = 400
_AT_ONCE = 4096
_MOST_RATE = 40.0


@dataclass(frozen=True, slots=True, eq=False)
class Rates:
    """An earlier season's rate of failure a run, even within each of a few groups of ages.

    Parameters
    ----------
    last : ndarray of int, shape (n_groups,)
        Last age of each group, in runs; nothing is known beyond the last.
    runs, failed : ndarray of int, shape (n_groups,)
        Runs made at those ages, and those that ended in a failure.
    age : ndarray of int, shape (n_ages,)
        Ages at which the earlier season had runs.
    hazard : ndarray of float, shape (n_ages,)
        Share of the runs made at each that ended in a failure: what is expected.
    """

    last: Ints
    runs: Ints
    failed: Ints
    age: Ints
    hazard: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Watch:
    """A season held against the earlier one, run by run in the order made.

    Parameters
    ----------
    counted : ndarray of bool, shape (n_runs,)
        Whether the run was made at an age that the earlier season knows; the others tell nothing.
    expected, observed : ndarray of float and of int, shape (n_runs,)
        Failures that the earlier season leads to expect up to and with each run, and those seen.
    worse, better : ndarray of float, shape (n_runs,)
        Evidence for a higher and for a lower hazard after each run: a bet's gain on 1.
    alarm : float
        Evidence that the earlier hazard lets be reached, on either side, with chance 1 / alarm at most.
    """

    counted: Bools
    expected: Floats
    observed: Ints
    worse: Floats
    better: Floats
    alarm: float


def earlier_rates(age: ArrayLike, failed: ArrayLike) -> Rates | str:
    """Fold an earlier season to its rates.

    Parameters
    ----------
    age : array_like of int, shape (n_runs,)
        Age in runs of the belt on each run, 1 for the first.
    failed : array_like of bool, shape (n_runs,)
        Whether it ended in a failure.

    Returns
    -------
    Rates or str
        The groups hold failures as alike as their ages let them; or the reason why there are none.
    """
    ages, (at_risk,), (failed_at,) = fold(age, failed, np.zeros(np.size(age), np.int64), 1)
    total = int(failed_at.sum())
    if total < LEAST_FAILURES:
        return f"the earlier season saw {total} failures, and its rates take {LEAST_FAILURES} at least"
    n_groups = min(MOST_GROUPS, total // LEAST_FAILURES)
    sums = np.cumsum(failed_at)
    ends: list[int] = []
    for part in range(1, n_groups):
        end, before = int(np.searchsorted(sums, total * part / n_groups)), sums[ends[-1]] if ends else 0
        if sums[end] - before >= LEAST_FAILURES and total - sums[end] >= LEAST_FAILURES:
            ends.append(end)
    ends.append(ages.size - 1)
    first = [0, *(end + 1 for end in ends[:-1])]
    runs, fell = np.add.reduceat(at_risk, first), np.add.reduceat(failed_at, first)
    return Rates(*map(frozen, (ages[ends], runs, fell, ages, failed_at / at_risk)))


def watch(rates: Rates, age: ArrayLike, failed: ArrayLike, *, confidence: float = 0.95) -> Watch:
    """Hold a season's runs, in the order made, against an earlier season's rates.

    Parameters
    ----------
    rates : Rates
        The earlier season.
    age, failed : array_like of int and of bool, shape (n_runs,)
        Age in runs of the belt on each run of this season, and whether it ended in a failure.
    confidence : float
        Chance, at least, that no alarm is given in a season whose hazard is the earlier one's.

    Returns
    -------
    Watch
        With one entry a run; a run at an age the earlier season does not know leaves all as it was.
    """
    ages, marked = codes(age, "age", 1), np.asarray(failed, np.bool_)
    counted = np.isin(ages, rates.age)
    error = 1 - confidence
    alarm = 2 / (error * (1 - OF_THE_RATES - 2 * OF_THE_SUM))
    group = np.searchsorted(rates.last, ages)
    here = (group[:, None] == np.arange(rates.last.size)) & counted[:, None]
    fell, stood = (np.cumsum(here & of[:, None], axis=0) for of in (marked, ~marked))
    place = np.searchsorted(rates.age, ages).clip(max=rates.age.size - 1)
    expected = np.cumsum(np.where(counted, rates.hazard[place], 0.0))
    ratios = np.array(WORSE)
    worse = _evidence(fell, stood, _edge(rates, error, above=True), ratios)
    better = _evidence(fell, stood, _edge(rates, error, above=False), 1 / ratios)
    seen = np.cumsum((marked & counted).astype(np.int64))
    for series in (counted, expected, seen, worse, better):
        frozen(series)
    return Watch(counted, expected, seen, worse, better, alarm)


def _evidence(fell: Ints, stood: Ints, edge: Floats, ratios: Floats) -> Floats:
    """Give the least, over the rates of the set's edge, of the mean likelihood ratio after each run.

    The ratio falls steadily with every rate for "worse", and rises for "better", so that its least lies on the edge.
    """
    times = ratios[:, None, None] * edge
    of_failing, of_standing = np.log(np.expm1(-times) / np.expm1(-edge)), edge - times
    least = np.empty(len(fell))
    for start in range(0, least.size, _AT_ONCE):
        runs = slice(start, start + _AT_ONCE)
        log = [fell[runs] @ one.T + stood[runs] @ other.T for one, other in zip(of_failing, of_standing, strict=True)]
        most = np.maximum.reduce(log)
        least[runs] = (most + np.log(np.mean([np.exp(one - most) for one in log], axis=0))).min(axis=1)
    return np.asarray(np.exp(np.minimum(least, 700.0)))


def _edge(rates: Rates, error: float, *, above: bool) -> Floats:
    """Walk the edge of the set of rates that are not refused, shape (n_directions, n_groups).

    In every direction from the best rates, measured in signed roots of the likelihood ratio, as far as both limits let.
    """
    from scipy.stats import chi2

    n_groups, total = rates.last.size, float(rates.failed.sum())
    radius = np.sqrt(chi2.ppf(1 - error * OF_THE_RATES, n_groups))
    tail = error * OF_THE_SUM
    most, least = chi2.ppf(1 - tail, 2 * total + 2) / 2, chi2.ppf(tail, 2 * total) / 2
    root = np.linspace(-radius, radius, 201)
    table = np.array([_rates_at(root, int(n), int(d)) for n, d in zip(rates.runs, rates.failed, strict=True)])
    direction = _directions(n_groups)
    low, high = np.zeros(len(direction)), np.full(len(direction), radius)

    def at(length: Floats) -> Floats:
        along = length[:, None] * direction
        return np.stack([np.interp(along[:, one], root, table[one]) for one in range(n_groups)], axis=1)

    for _ in range(40):
        length = (low + high) / 2
        expected = -np.expm1(-at(length)) @ rates.runs
        within = expected <= most if above else expected >= least
        low, high = np.where(within, length, low), np.where(within, high, length)
    return at(high)


def _rates_at(root: Floats, runs: int, failed: int) -> Floats:
    """Find the rates at which the signed root of twice the log likelihood's fall from its best is `root`."""

    def fall(rate: Floats) -> Floats:
        return -failed * np.log(-np.expm1(-rate)) + (runs - failed) * rate

    best = min(-np.log1p(-failed / runs), _MOST_RATE) if failed < runs else _MOST_RATE
    low = np.where(root > 0, best, 1e-9)
    high = np.where(root > 0, _MOST_RATE, best)
    for _ in range(60):
        rate = (low + high) / 2
        beyond = np.sign(root) * (fall(rate) - fall(np.array(best))) > root * np.abs(root) / 2
        low, high = np.where(beyond, low, rate), np.where(beyond, rate, high)
    return np.where(root == 0, best, (low + high) / 2)


def _directions(n_groups: int) -> Floats:
    """Spread directions over the sphere of so many dimensions, 3 at most."""
    if n_groups == 1:
        return np.array([[-1.0], [1.0]])
    turn = np.arange(_DIRECTIONS) + 0.5
    if n_groups == 2:
        angle = 2 * np.pi * turn / _DIRECTIONS
        return np.stack([np.cos(angle), np.sin(angle)], axis=1)
    height, angle = 1 - 2 * turn / _DIRECTIONS, np.pi * (1 + np.sqrt(5)) * turn
    across = np.sqrt(1 - height**2)
    return np.stack([across * np.cos(angle), across * np.sin(angle), height], axis=1)
