"""What lives would look like had no belt come off as a precaution: weights for the belts that ran on in their place.

A belt that came off after a run is stood for by belts that looked the same at a like age and ran on: each run counts
1 / (the chance that its belt had run on after every earlier run), by a logistic model of coming off on the look and
age. This holds where looks and age are all that both coming off and failing answer to, and among looks where some ran
on and some came off; elsewhere a chance of 1 is taken and the bounds have the word.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import cached_property, partial
from itertools import combinations

import numpy as np

from drivekit.life.draws import answers
from drivekit.life.folds import Bools, Estimate, Floats, Ints, renumbered
from drivekit.life.whole_runs import top

__all__ = ["Runs", "WeightedMeans", "weighted_means"]

AT_ONCE = 50
DRAWS = 299
# A season of more belts has limits that fewer draws tell to a hundredth of a run.
MANY_BELTS = 500
DRAWS_OF_MANY = 99


@dataclass(frozen=True, eq=False)
class Runs:
    """One row a run, the runs of a belt in the order made.

    Parameters
    ----------
    age, belt, look : ndarray of int, shape (n_runs,)
        The belt's age on that run, its code from 0, and code of the look after it, from 0, among looks that the model
        may use; -1 elsewhere.
    failed, off : ndarray of bool, shape (n_runs,)
        Whether the run ended in a failure, and whether the belt came off after it as a precaution.
    """

    age: Ints
    belt: Ints
    failed: Bools
    off: Bools
    look: Ints

    @cached_property
    def cells(self) -> tuple[Bools, Ints, Floats, int]:
        """The runs that the model asks, the cell of look and age of each, the columns of every cell, and the looks."""
        asked, size = self.look >= 0, int(self.age.max()) + 1
        met, cell = renumbered(self.look[asked] * size + self.age[asked])
        looks, ages = np.divmod(met, size)
        columns = (looks[:, None] == np.unique(looks)).astype(float)
        known = np.column_stack((columns, ages - self.age[asked].mean()))
        return asked, cell, known[:, : columns.shape[1] + bool(np.ptp(ages))], columns.shape[1]

    @cached_property
    def order(self) -> tuple[Ints, Ints, Ints]:
        """The runs belt by belt, the place of each belt's first among them, and each run's cell, -1 for none."""
        order = np.lexsort((self.age, self.belt))
        first = np.concatenate(([True], np.diff(self.belt[order]) > 0))
        cell = np.full(self.age.size, -1)
        cell[self.cells[0]] = self.cells[1]
        return order, np.flatnonzero(first)[np.cumsum(first) - 1], cell[order]

    def weights(self, copies: Floats) -> Floats:
        """Give each run 1 / (the chance of having run on so far); `copies`, by run, says how often it is there."""
        asked, cell, known, n_looks = self.cells
        # half a belt each way at each look keeps a look whose belts a draw left out from running off (Haldane)
        x = np.vstack((known, np.eye(n_looks, known.shape[1])))
        many = np.concatenate((np.bincount(cell, copies[asked], len(known)), np.ones(n_looks)))
        came = self.off[asked]
        off = np.bincount(cell[came], copies[asked & self.off], len(known))
        off = np.concatenate((off, np.full(n_looks, 0.5)))

        def likelihood(at: Floats) -> tuple[float, Floats, Floats]:
            height = x @ at
            chance = 1 / (1 + np.exp(-height))
            value = float(off @ height - many @ np.logaddexp(0, height))
            bend = np.asarray(many * chance * (1 - chance), np.float64)
            return value, x.T @ (off - many * chance), (x * bend[:, None]).T @ x

        found = top(likelihood, np.zeros(x.shape[1]))
        if found is None:
            return np.full(self.age.size, np.nan)
        order, first, of_cell = self.order
        stays = np.append(-np.logaddexp(0, known @ found[0]), 0.0)[of_cell]  # on the log
        so_far = np.cumsum(stays) - stays
        weight = np.empty(self.age.size)
        weight[order] = np.exp(so_far[first] - so_far)
        return weight

    def means(self, group: Ints, horizon: int) -> Callable[[Floats], Floats]:
        """Count runs made out of the first `horizon` by group, each with the weight given; nan past the oldest belt.

        `group`, by run, is the code of the level it was made in, -1 for none.
        """
        shape = int(group.max()) + 1, horizon + 1
        inside = np.flatnonzero((self.age < horizon) & (group >= 0))
        cell = group[inside] * shape[1] + self.age[inside]
        fallen = self.failed[inside]
        rows = (inside, cell), (inside[fallen], cell[fallen])

        def means(weight: Floats) -> Floats:
            n, d = (np.bincount(at, weight[of], shape[0] * shape[1]).reshape(shape) for of, at in rows)
            share = np.cumprod(1 - np.divide(d, n, out=np.zeros(shape), where=n > 0), axis=1)[:, :horizon]
            told = (n[:, horizon - 1] > 0) | (share[:, -1] == 0) | (horizon == 1)
            return np.where(told, share.sum(axis=1), np.nan)

        return means


@dataclass(frozen=True, slots=True, eq=False)
class WeightedMeans:
    """The weighted means of one setting.

    Parameters
    ----------
    means : ndarray of float, shape (n_groups,)
    differences : mapping of (int, int) to Estimate
        By the places of the two: the later (second) less the first.
    worth : ndarray of float, shape (n_groups,)
        Effective sample size by group (Kish): belts, each with the weight of its last run there.
    """

    means: Floats
    differences: Mapping[tuple[int, int], Estimate]
    worth: Floats


def weighted_means(
    runs: Runs,
    groups: Sequence[Ints],
    horizon: int,
    confidence: float,
    generator: np.random.Generator,
    draws: int | None = None,
    executor: Executor | None = None,
) -> list[WeightedMeans]:
    """Give the weighted means to a horizon by each of several settings, from the same draws.

    Limits are percentiles over belts drawn with replacement, the model of coming off fitted anew to each draw.

    Parameters
    ----------
    groups : sequence of ndarray of int, shape (n_runs,)
        For each setting the level of every run, as in `Runs.means`.
    draws : int, optional
        By default 299, and 99 beyond 500 belts.

    References
    ----------
    Robins and Finkelstein, Biometrics 2000.
    """
    weight = runs.weights(np.ones(runs.age.size))
    belts = int(runs.belt.max()) + 1
    draws = draws or (DRAWS if belts <= MANY_BELTS else DRAWS_OF_MANY)

    def parts() -> Iterator[Ints]:
        for begin in range(0, draws, AT_ONCE):
            yield generator.multinomial(belts, np.full(belts, 1 / belts), min(AT_ONCE, draws - begin))

    drawn = [by for part in answers(partial(_drawn, runs, groups, horizon), parts(), executor) for by in part]
    found = []
    for place, group in enumerate(groups):
        means = runs.means(group, horizon)(weight)
        again = np.array([by[place] for by in drawn])
        pairs = combinations(range(means.size), 2)
        differences = {pair: _difference(means, again, *pair, confidence) for pair in pairs}
        found.append(WeightedMeans(means, differences, _worth(runs, group, weight)))
    return found


def _difference(means: Floats, again: Floats, earlier: int, later: int, confidence: float) -> Estimate:
    spread = again[:, later] - again[:, earlier]
    spread = spread[np.isfinite(spread)]
    estimate = float(means[later] - means[earlier])
    if not np.isfinite(estimate) or spread.size < 0.9 * len(again):
        return Estimate(reason="too few belts got far enough in one of the two")
    lower, upper = np.percentile(spread, (100 * (1 - confidence) / 2, 100 * (1 + confidence) / 2))
    return Estimate(estimate, float(lower), float(upper))


def _worth(runs: Runs, group: Ints, weight: Floats) -> Floats:
    worth = np.zeros(int(group.max()) + 1)
    for place in range(worth.size):
        here = np.flatnonzero(group == place)
        last = weight[here[np.unique(runs.belt[here][::-1], return_index=True)[1] * -1 - 1]]
        worth[place] = last.sum() ** 2 / (last**2).sum()
    return worth


def _drawn(runs: Runs, groups: Sequence[Ints], horizon: int, part: Ints) -> list[list[Floats]]:
    """Give the means of each draw by each setting: the weights know no setting and are fitted once a draw."""
    means, found = [runs.means(group, horizon) for group in groups], []
    for n in part.astype(float):
        copies = n[runs.belt]
        weight = runs.weights(copies) * copies
        found.append([of_group(weight) for of_group in means])
    return found
