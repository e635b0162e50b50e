"""How many belts to have for so many more runs.

Each car starts with the belt that is on it, at its age, and makes its share of the runs. A belt is replaced when it
fails, after the N runs of a change-out, or at the oldest age that was seen with at least 5 at risk, for what it would
do beyond is not known; so each new belt gives T runs, with P(T > k) = S(k) while k is below that age. Estimand: the
number of new belts that have to be put on to make the runs; a belt that fails on the very last one needs no other.

Let a(r) be the mean of y^(new belts) over a car's next r runs, its place empty. Its first belt gives k runs with the
chance g(k), k at most L, so that

    a(r) = y (g(1) a(r - 1) + ... + g(L) a(r - L)),    a(r) = 1 for r <= 0

(Feller, *An Introduction to Probability Theory and Its Applications*, vol. 1, 3rd ed. (1968), chapter XIII, recurrent
events). It is followed by doubling: a(r) weighs a(0), a(-1), ..., a(1 - L) by the coefficients of x^(r + L - 1) modulo
x^L - y (g(1) x^(L - 1) + ... + g(L)) (Fiduccia, SIAM Journal on Computing 14, 1985). Cars multiply. With y at the roots
of unity an inverse Fourier transform gives the chance of every number of belts: the exact convolution, for any number
of runs. In a long season only numbers within eight of the spreads that the renewal theorem gives are told apart. What S
owes to few belts is carried by making the same of seasons with other belts drawn, and mixing their distributions.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drivekit.life.folds import Floats, Ints, frozen

__all__ = ["Spares", "spares", "split_runs"]

Complexes = NDArray[np.complex128]
Car = tuple[int, int | None]

# What lies beyond this in a distribution is rounding.
NEGLIGIBLE = 1e-12
# Numbers of belts are told apart so many spreads about their mean, and so many more, for a few belts have longer tails.
SPREADS, MORE = 8, 8
AT_ONCE = 30_000


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


def spares(drawn: Floats, cars: Sequence[Car], change_after: int | None) -> Spares:
    """Give the number of new belts that a coming season needs.

    Parameters
    ----------
    drawn : ndarray of float, shape (n_draws, last)
        Chance to fail on runs 1 to `last`, the oldest age seen, in each of the seasons that are mixed; one alone for a
        curve taken as certain.
    cars : sequence of (int, int or None)
        The runs that each car is to make, and those that its present belt has made; None where it has no belt that may
        go on.
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
    if any(runs < 0 or (age is not None and age < 0) for runs, age in cars):
        raise ValueError("runs and ages are whole numbers, 0 or more")
    end = min(change_after or last, last)
    cars = [(runs, age) for runs, age in cars if runs]
    least, places = _window(_ends(drawn, 0, end), cars)
    total = np.zeros(int(least.max()) + places)
    # some draws at a time, whose polynomials then stay near the processor
    together = max(1, AT_ONCE // (end * places))
    for begin in range(0, len(drawn), together):
        wrapped = np.fft.irfft(_means(drawn[begin : begin + together], cars, end, places), places)
        for first, chance in zip(least[begin:], wrapped, strict=False):
            total[first : first + places] += np.roll(chance, -first)
    chance = np.maximum(total, 0) / len(drawn)
    kept = chance[: int(np.flatnonzero(np.cumsum(chance[::-1])[::-1] > NEGLIGIBLE)[-1]) + 1]
    return Spares(frozen(np.asarray(kept / kept.sum())))


def _means(drawn: Floats, cars: Sequence[Car], end: int, places: int) -> Complexes:
    """Give the mean of y^(new belts of all cars) at half of the roots of unity, shape (n_draws, places // 2 + 1)."""
    roots = np.exp(-2j * np.pi * np.arange(places // 2 + 1) / places)
    # the first axis is the power of x; the last is y
    back = _ends(drawn, 0, end).T[:0:-1, :, None] * roots
    of_cars, steps = [], []
    for runs, age in cars:
        left = _ends(drawn, end if age is None else min(age, end), end)
        gives = min(left.shape[1] - 1, runs)
        left = np.column_stack([left[:, gives:].sum(axis=1), np.flip(left[:, :gives], axis=1)])
        of_cars.append(_reduced(left.T[:, :, None] * np.ones_like(back[:1]), back))
        steps.append(runs - gives + end - 1)
    square = _reduced(np.stack([np.zeros_like(back[0]), np.ones_like(back[0])]), back)
    for bit in range(max(steps, default=0).bit_length()):
        of_cars = [
            _times(one, square, back) if step >> bit & 1 else one for one, step in zip(of_cars, steps, strict=True)
        ]
        square = _times(square, square, back)
    return np.asarray(np.prod([one.sum(axis=0) for one in of_cars], axis=0) * np.ones_like(back[0]))


def _window(new: Floats, cars: Sequence[Car]) -> tuple[Ints, int]:
    """Give where the numbers of belts that can be met begin in each draw, and how many there are."""
    given = np.arange(new.shape[1])
    mean = new @ given
    runs = sum(of_car for of_car, _ in cars)
    middle = runs / mean
    # in the long run the number has the variance runs x variance / mean^3; the present belts count for less than these
    spread = np.sqrt(runs * np.maximum(new @ given**2 - mean**2, 0) / mean**3)
    half = SPREADS * spread + MORE + len(cars) * given[-1] / mean
    least = np.clip(middle - half, 0, None).astype(np.int64)
    return least, int(min(np.max(middle + half - least) + 2, runs + 1))


def _times(one: Complexes, other: Complexes, back: Complexes) -> Complexes:
    """Multiply two polynomials and take the remainder."""
    product = np.zeros((one.shape[0] + other.shape[0] - 1, *back.shape[1:]), complex)
    for power, weight in enumerate(one):
        product[power : power + other.shape[0]] += weight * other
    return _reduced(product, back)


def _reduced(polynomial: Complexes, back: Complexes) -> Complexes:
    """Take the remainder of a polynomial modulo ``x^L - back``, in place."""
    size = back.shape[0]
    for power in range(polynomial.shape[0] - 1, size - 1, -1):
        polynomial[power - size : power] += polynomial[power] * back
    return polynomial[:size]


def _ends(hazard: Floats, age: int, end: int) -> Floats:
    """Chance that a belt of that age gives 0, 1, ..., ``end - age`` runs, shape (n_draws, end - age + 1)."""
    ahead = hazard[:, age:end]
    alive = np.cumprod(np.insert(1 - ahead, 0, 1.0, axis=1), axis=1)
    gives = np.insert(alive[:, :-1] * ahead, 0, 0.0, axis=1)
    gives[:, -1] += alive[:, -1]
    return gives
