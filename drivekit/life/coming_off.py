"""What lives would look like had no belt come off as a precaution: weights for the belts that ran on in their place.

A belt that came off after a run is stood for by belts that looked the same at a like age and ran on: each run counts
1 / (the chance that its belt had run on after every earlier run), by a logistic model of coming off on the look and
age. This holds where looks and age are all that both coming off and failing answer to, and among looks where some ran
on and some came off; elsewhere a chance of 1 is taken and the bounds have the word.
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np

from drivekit.life.draws import answers
from drivekit.life.folds import Bools, Estimate, Floats, Ints
from drivekit.life.whole_runs import top

__all__ = ["Runs", "weighted_means"]

AT_ONCE = 50


@dataclass(frozen=True, eq=False)
class Runs:
    """One row a run, the runs of a belt in the order made.

    Parameters
    ----------
    age, belt, group : ndarray of int, shape (n_runs,)
        The belt's age on that run, its code from 0, and the code of the level it ran in, -1 for none.
    failed, off : ndarray of bool, shape (n_runs,)
        Whether the run ended in a failure, and whether the belt came off after it as a precaution.
    look : ndarray of int, shape (n_runs,)
        Code of the look after the run, from 0, among looks that the model may use; -1 elsewhere.
    """

    age: Ints
    belt: Ints
    group: Ints
    failed: Bools
    off: Bools
    look: Ints

    @cached_property
    def cells(self) -> tuple[Bools, Ints, Floats]:
        """The runs that the model asks, the cell of look and age of each, and the columns of every cell."""
        asked = self.look >= 0
        (looks, ages), cell = np.unique(np.stack((self.look[asked], self.age[asked])), axis=1, return_inverse=True)
        columns = (looks[:, None] == np.unique(looks)).astype(float)
        known = np.column_stack((columns, ages - self.age[asked].mean()))
        return asked, cell.ravel(), known[:, : columns.shape[1] + bool(np.ptp(ages))]

    @cached_property
    def order(self) -> tuple[Ints, Ints]:
        """The runs belt by belt, and the place of each belt's first among them."""
        order = np.lexsort((self.age, self.belt))
        first = np.concatenate(([True], np.diff(self.belt[order]) > 0))
        return order, np.flatnonzero(first)[np.cumsum(first) - 1]

    def weights(self, copies: Floats) -> Floats:
        """Give each run 1 / (the chance of having run on so far); `copies`, by run, says how often it is there."""
        asked, cell, known = self.cells
        n_looks = np.unique(self.look[asked]).size
        # half a belt each way at each look keeps a look whose belts a draw left out from running off (Haldane)
        x = np.vstack((known, np.eye(n_looks, known.shape[1])))
        many = np.concatenate((np.bincount(cell, copies[asked], len(known)), np.ones(n_looks)))
        off = np.bincount(cell, (copies * self.off)[asked], len(known))
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
        stays = np.zeros(self.age.size)  # on the log
        stays[asked] = -np.logaddexp(0, known @ found[0])[cell]
        order, first = self.order
        so_far = np.cumsum(stays[order]) - stays[order]
        weight = np.empty(self.age.size)
        weight[order] = np.exp(so_far[first] - so_far)
        return weight

    def means(self, horizon: int, weight: Floats) -> Floats:
        """Count runs made out of the first `horizon` by group, each with its weight; nan past the oldest belt."""
        n_groups, size = int(self.group.max()) + 1, horizon + 1
        inside = (self.age < horizon) & (self.group >= 0)
        cell = self.group[inside] * size + self.age[inside]
        n = np.bincount(cell, weight[inside], n_groups * size).reshape(n_groups, size)
        d = np.bincount(cell, (weight * self.failed)[inside], n_groups * size).reshape(n_groups, size)
        share = np.cumprod(1 - np.divide(d, n, out=np.zeros_like(d), where=n > 0), axis=1)[:, :horizon]
        told = (n[:, horizon - 1] > 0) | (share[:, -1] == 0) | (horizon == 1)
        return np.where(told, share.sum(axis=1), np.nan)


def weighted_means(
    runs: Runs,
    horizon: int,
    pairs: list[tuple[int, int]],
    confidence: float,
    generator: np.random.Generator,
    draws: int = 299,
    executor: Executor | None = None,
) -> tuple[Floats, list[Estimate], Floats]:
    """Give the weighted means to a horizon, the difference of each pair of groups, and the belts they are worth.

    Limits are percentiles over belts drawn with replacement, the model of coming off fitted anew to each draw.

    Returns
    -------
    means : ndarray of float, shape (n_groups,)
    differences : list of Estimate
        The later (second) of each pair less the first.
    worth : ndarray of float, shape (n_groups,)
        Effective sample size by group (Kish): belts, each with the weight of its last run there.

    References
    ----------
    Robins and Finkelstein, Biometrics 2000.
    """
    weight = runs.weights(np.ones(runs.age.size))
    means = runs.means(horizon, weight)
    belts = int(runs.belt.max()) + 1

    def parts() -> Iterator[Ints]:
        for begin in range(0, draws, AT_ONCE):
            yield generator.multinomial(belts, np.full(belts, 1 / belts), min(AT_ONCE, draws - begin))

    drawn = np.concatenate(list(answers(partial(_drawn, runs, horizon), parts(), executor)))
    tails = 100 * (1 - confidence) / 2, 100 * (1 + confidence) / 2
    found = []
    for earlier, later in pairs:
        spread = drawn[:, later] - drawn[:, earlier]
        spread = spread[np.isfinite(spread)]
        estimate = float(means[later] - means[earlier])
        if not np.isfinite(estimate) or spread.size < 0.9 * draws:
            found.append(Estimate(reason="too few belts got far enough in one of the two"))
        else:
            lower, upper = (float(value) for value in np.percentile(spread, tails))
            found.append(Estimate(estimate, lower, upper))
    worth = np.zeros(means.size)
    for group in range(means.size):
        here = np.flatnonzero(runs.group == group)
        last = weight[here[np.unique(runs.belt[here][::-1], return_index=True)[1] * -1 - 1]]
        worth[group] = last.sum() ** 2 / (last**2).sum()
    return means, found, worth


def _drawn(runs: Runs, horizon: int, part: Ints) -> Floats:
    return np.array([runs.means(horizon, runs.weights(n[runs.belt]) * n[runs.belt]) for n in part.astype(float)])
