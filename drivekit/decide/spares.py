"""How many belts to have for so many more runs.

Each car starts with the belt that is on it, at its age, and makes its share of the runs. A belt is replaced when it
fails, after the N runs of a change-out, or at the oldest age that was seen with at least 5 at risk, for what it would
do beyond is not known; so each new belt gives T runs, with P(T > k) = S(k) while k is below that age. Estimand: the
number of new belts that have to be put on to make the runs; a belt that fails on the very last one needs no other.

A car that makes r runs needs more than n new belts exactly when its present belt and n new ones together give fewer
than r: P(T_0 + T_1 + ... + T_n < r), T_0 the runs the present belt has left, and 0 where there is none. These are
convolutions of whole numbers and therefore exact; cars add up by one more (Feller, *An Introduction to Probability
Theory and Its Applications*, vol. 1, 3rd ed. (1968), chapter XIII, recurrent events). What S owes to few belts is
carried by making the same of seasons with other belts drawn, and mixing their distributions.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from drivekit.life.folds import Floats, frozen

__all__ = ["CarAhead", "Spares", "spares", "split_runs"]

# What lies beyond this in a distribution is rounding.
NEGLIGIBLE = 1e-12


@dataclass(frozen=True, slots=True)
class CarAhead:
    """A car and the runs before it.

    Parameters
    ----------
    runs : int
        Runs it is to make.
    age : int or None
        Runs its present belt has made; None where it has no belt that may go on.
    """

    runs: int
    age: int | None


@dataclass(frozen=True, slots=True, eq=False)
class Spares:
    """The number of new belts that have to be put on.

    Parameters
    ----------
    chance : ndarray of float, shape (most + 1,)
        That exactly 0, 1, 2, ... are needed.
    """

    chance: Floats

    @property
    def mean(self) -> float:
        """New belts on average."""
        return float(self.chance @ np.arange(self.chance.size))

    def quantile(self, share: float) -> int:
        """Give the fewest belts that are enough with at least this chance."""
        return int(np.flatnonzero(np.cumsum(self.chance) >= share - NEGLIGIBLE)[0])

    def chance_short(self) -> Floats:
        """Give the chance that 0, 1, 2, ... new belts are not enough."""
        return np.clip(1 - np.cumsum(self.chance), 0.0, 1.0)


def split_runs(runs: int, made: Sequence[int]) -> list[int]:
    """Split further runs over cars as their runs so far, by largest remainders; earlier cars first where they tie."""
    total = sum(made)
    whole = [runs * each // total for each in made]
    rest = [runs * each % total for each in made]
    for place in sorted(range(len(made)), key=lambda place: -rest[place])[: runs - sum(whole)]:
        whole[place] += 1
    return whole


def spares(drawn: Floats, cars: Sequence[CarAhead], change_after: int | None) -> Spares:
    """Give the number of new belts that a coming season needs.

    Parameters
    ----------
    drawn : ndarray of float, shape (n_draws, last)
        Chance to fail on runs 1 to `last`, the oldest age seen, in each of the seasons that are mixed; one alone for a
        curve taken as certain.
    cars : sequence of CarAhead
        The cars, each with its belt and its runs.
    change_after : int or None
        Runs after which belts are changed; None: used as far as they were seen.

    Raises
    ------
    ValueError
        If no age was seen, or a change age or an age is not a whole number that makes sense.
    """
    last = drawn.shape[1]
    if last < 1:
        raise ValueError("belts needed cannot be counted where no age has enough belts at risk")
    if change_after is not None and change_after < 1:
        raise ValueError(f"belts are changed after 1 run or more, not after {change_after}")
    if any(car.runs < 0 or (car.age is not None and car.age < 0) for car in cars):
        raise ValueError("runs and ages are whole numbers, 0 or more")
    end = min(change_after or last, last)
    most = max((car.runs for car in cars), default=0)
    new = _ends(drawn, 0, end)
    total = np.ones((len(drawn), 1))
    given = [_convolved(_nothing(len(drawn), most), new, most)]
    for car in cars:
        left = _nothing(len(drawn), most)
        if car.age is not None and car.age < end:
            left = _convolved(left, _ends(drawn, car.age, end), most)
        total = _added(total, _of_car(left, new, car.runs, given))
    return Spares(frozen(_trimmed(total.mean(axis=0))))


def _ends(hazard: Floats, age: int, end: int) -> Floats:
    """Chance that a belt of that age gives 0, 1, ..., ``end - age`` runs, shape (n_draws, end - age + 1)."""
    ahead = hazard[:, age:end]
    alive = np.cumprod(1 - ahead, axis=1)
    before = np.concatenate([np.ones((len(hazard), 1)), alive[:, :-1]], axis=1)
    gives = np.concatenate([np.zeros((len(hazard), 1)), before * ahead], axis=1)
    gives[:, -1] += alive[:, -1]
    return gives


def _nothing(draws: int, most: int) -> Floats:
    """No run given, with certainty, shape (n_draws, most + 1)."""
    sums = np.zeros((draws, most + 1))
    sums[:, 0] = 1
    return sums


def _convolved(sums: Floats, gives: Floats, most: int) -> Floats:
    """Add the runs of one more belt, sums of more than `most` runs left out."""
    added = np.zeros_like(sums)
    for runs in range(min(gives.shape[1], most + 1)):
        added[:, runs:] += gives[:, [runs]] * sums[:, : most + 1 - runs]
    return added


def _of_car(left: Floats, new: Floats, runs: int, given: list[Floats]) -> Floats:
    """Chance that a car needs exactly 0, 1, ... new belts; `given` keeps the sums of new belts for the next car."""
    most = left.shape[1] - 1
    short = [left[:, :runs].sum(axis=1)]
    gives = [int(done) for done in np.flatnonzero(left[:, :runs].any(axis=0))]
    while short[-1].max() > NEGLIGIBLE:
        place = len(short) - 1
        if place == len(given):
            given.append(_convolved(given[-1], new, most))
        # fewer than `runs` in all: what the present belt gives, and new belts that give less than the rest
        fewer = np.cumsum(given[place], axis=1)
        short.append(sum((left[:, done] * fewer[:, runs - 1 - done] for done in gives), np.zeros(len(left))))
    more = np.stack(short, axis=1)
    return np.asarray(np.concatenate([np.ones((len(left), 1)), more[:, :-1]], axis=1) - more)


def _added(one: Floats, other: Floats) -> Floats:
    """Distribution of the sum of two independent counts, draw by draw."""
    both = np.zeros((len(one), one.shape[1] + other.shape[1] - 1))
    for count in range(other.shape[1]):
        both[:, count : count + one.shape[1]] += one * other[:, [count]]
    return both


def _trimmed(chance: Floats) -> Floats:
    """Leave out counts whose chance is rounding, and close what is left to 1."""
    kept = chance[: int(np.flatnonzero(np.cumsum(chance[::-1])[::-1] > NEGLIGIBLE)[-1]) + 1]
    return np.asarray(kept / kept.sum())
