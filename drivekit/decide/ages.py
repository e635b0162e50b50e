"""How belts fail age by age as far as that was seen, and the same of seasons with other belts drawn.

Every decision in whole runs stands on the chance h(k) = d / n to fail on run k: d of the n belts that made their k-th
run in a group failed on it. It reaches to the oldest age with at least 5 at risk, and nothing here goes beyond it. What
a number owes to the belts that happened to be there is told by drawing belts with replacement, each with all its runs,
and for all groups from the same draw, so that two answers can be held against each other draw by draw (a paired
bootstrap; Efron and Tibshirani, *An Introduction to the Bootstrap*, 1993).

Where nothing has failed yet no draw would see a failure. So half of the draws let one more come at one of the ages
before a group's first, each as likely: with n at risk there, its hazard is a standard exponential variable over n. Of n
belts watched throughout, limits that leave half of 1 - c on each side then have the exact upper one, (1 - p)^n = 1 - c
(Clopper and Pearson, Biometrika 26, 1934).
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Mapping
from concurrent.futures import Executor
from functools import partial
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from drivekit.life.draws import answers
from drivekit.life.folds import ENOUGH_AT_RISK, Bools, Estimate, Floats, Ints, frozen, percentiles

if TYPE_CHECKING:
    from drivekit.life.curve import Curve

__all__ = ["hazards", "mean_over_belts", "reach", "redrawn", "shares"]

Name = TypeVar("Name", bound=Hashable)

# Draws, and how many are worked out together: their weights are 10 MiB for 40,000 belts.
DRAWS, DRAWS_OF_MANY = (999, 128), (199, 32)
# A season of more belts than this has limits that far fewer draws tell to the digits that are said.
MANY_BELTS = 500


def reach(curve: Curve) -> int | None:
    """Give the oldest age with at least 5 belts at risk, or None where no age has that many."""
    enough = curve.age[curve.at_risk >= ENOUGH_AT_RISK]
    return int(enough[-1]) if enough.size else None


def shares(curve: Curve, values: Floats, last: int) -> Floats:
    """Spread a curve over whole ages.

    Parameters
    ----------
    curve : Curve
        Its ages; over one at which nobody was at risk it stands still.
    values : ndarray of float, shape (n_ages,)
        Its ``survival``, or one of its limits.
    last : int
        The oldest age wanted.

    Returns
    -------
    ndarray of float, shape (last + 1,)
        The value after runs 0, 1, ..., `last`; 1 after none.
    """
    place = np.searchsorted(curve.age, np.arange(last + 1), side="right")
    return frozen(np.concatenate([[1.0], values])[place])


def hazards(curve: Curve, last: int) -> Floats:
    """Give the share of those at risk that failed on runs 1 to `last`, 0 where nobody was, shape (last,)."""
    share = np.zeros(last)
    within = curve.age <= last
    share[curve.age[within] - 1] = curve.failed_at[within] / curve.at_risk[within]
    return frozen(share)


def redrawn(
    age: Ints,
    failed: Bools,
    belt: Ints,
    group: Ints,
    n_groups: int,
    *,
    generator: np.random.Generator,
    executor: Executor | None = None,
) -> Floats:
    """Draw the belts of a season with replacement, again and again, and give the hazards of each drawn season.

    Parameters
    ----------
    age, failed, belt : ndarray, shape (n_runs,)
        Age in runs, whether the run ended in a failure, and a code of the belt from 0.
    group : ndarray of int, shape (n_runs,)
        Code of the run's group from 0, or -1 for a run that counts among all belts only.
    n_groups : int
        How many groups there are.
    generator : numpy.random.Generator
        Draws belts.
    executor : concurrent.futures.Executor, optional
        Works them out, as in `drivekit.life.draws.answers`.

    Returns
    -------
    ndarray of float, shape (replicates, 1 + n_groups, oldest age)
        The share that failed on each run of all belts, then of each group; 0 where a draw has nobody at risk.
    """
    from scipy.sparse import csr_array

    n_belts, shape = int(belt.max()) + 1, (1 + n_groups, int(age.max()))
    cell = (group + 1) * shape[1] + age - 1
    counts = [
        csr_array((np.ones(belt[rows].size), (cell[rows], belt[rows])), shape=(shape[0] * shape[1], n_belts))
        for rows in (slice(None), failed)
    ]
    work = partial(_of_draws, at_risk=counts[0], failed_at=counts[1], shape=shape)
    drawn = np.concatenate(list(answers(work, _draws(n_belts, generator), executor)))
    seen = (_folded(of, np.ones((1, n_belts)), shape)[0] for of in counts)
    for place, (n, d) in enumerate(zip(*seen, strict=True)):
        if (before := np.flatnonzero((np.cumsum(d) == 0) & (n > 0))).size:
            at, more = generator.choice(before, len(drawn)), generator.standard_exponential(len(drawn))
            more *= generator.integers(2, size=len(drawn)) / n[at]
            drawn[np.arange(len(drawn)), place, at] = -np.expm1(-more)
    return frozen(drawn)


def _draws(n_belts: int, generator: np.random.Generator) -> Iterator[Ints]:
    """Say, some draws of belts at a time, how often each belt was drawn, shape (n_draws, n_belts)."""
    replicates, at_once = DRAWS if n_belts <= MANY_BELTS else DRAWS_OF_MANY
    for begin in range(0, replicates, at_once):
        yield generator.multinomial(n_belts, np.full(n_belts, 1 / n_belts), size=min(at_once, replicates - begin))


def _of_draws(weights: Ints, *, at_risk: Any, failed_at: Any, shape: tuple[int, int]) -> Floats:
    n, d = (_folded(of, weights, shape) for of in (at_risk, failed_at))
    return np.asarray(np.divide(d, n, out=np.zeros_like(d), where=n > 0))


def _folded(counts: Any, weights: NDArray[Any], shape: tuple[int, int]) -> Floats:
    """Fold some drawn seasons; the first place, of runs in no group, becomes that of all belts."""
    folded = np.ascontiguousarray((counts @ weights.T).T).reshape(-1, *shape)
    folded[:, 0] = folded.sum(axis=1)
    return np.asarray(folded)


def mean_over_belts(
    value: Floats, belt: Ints, rows: Mapping[Name, Bools], *, confidence: float, generator: np.random.Generator
) -> dict[Name, Estimate]:
    """Give the mean of a value over some of the runs, with limits by drawing belts with replacement.

    Parameters
    ----------
    value : ndarray of float, shape (n_runs,)
        Every one known.
    belt : ndarray of int, shape (n_runs,)
        Codes from 0.
    rows : mapping to ndarray of bool, shape (n_runs,)
        The runs of each mean; all means are taken on the same draws.
    confidence : float
        Of the limits; null with reason where fewer than 3 belts made the runs.
    generator : numpy.random.Generator
        Draws belts.
    """
    n_belts, ones = int(belt.max()) + 1, np.ones(belt.size)
    by_belt = [[np.bincount(belt[mask], each[mask], n_belts) for each in (ones, value)] for mask in rows.values()]
    # as floats, which hold these counts exactly: their products with whole numbers are as fast as with others
    weights = (part.astype(float) for part in _draws(n_belts, generator))
    drawn = np.concatenate([[[part @ each for each in pair] for pair in by_belt] for part in weights], axis=2)
    found = {}
    for name, (counts, sums), (n, total) in zip(rows, by_belt, drawn, strict=True):
        mean = float(sums.sum() / counts.sum()) if counts.any() else None
        if np.count_nonzero(counts) < 3:
            found[name] = Estimate(mean, reason="fewer than 3 belts made these runs")
            continue
        lower, upper = percentiles(total[n > 0] / n[n > 0], confidence)
        found[name] = Estimate(mean, float(lower), float(upper))
    return found
