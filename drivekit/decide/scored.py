"""How good odds were: scored on runs of another season, against saying the same of every belt.

The Brier score is the mean square of the chance to fail that was foretold less what came (1 failed, 0 did not); less is
better. It is held against the base rate, the share of the earlier season's runs that ended in a failure, foretold for
every run alike; the difference has limits by drawing belts of the scored season. Calibration: runs in thirds of what
was foretold, and in each the share foretold and the share seen. Brier, Monthly Weather Review 78 (1950).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from drivekit.decide.ages import percentiles
from drivekit.life.folds import Bools, Estimate, Floats, Ints

__all__ = ["Score", "scored"]


@dataclass(frozen=True, slots=True)
class Score:
    """How good odds were.

    Parameters
    ----------
    runs, failed : int
        Runs scored, and failures among them.
    brier, base_brier : float
        Scores of the odds and of the base rate.
    gain : Estimate
        The base rate's score less that of the odds: above 0 where the odds are better.
    thirds : tuple of (int, float, float)
        Of each third, the least risk first: runs, mean chance foretold, share that failed.
    """

    runs: int
    failed: int
    brier: float
    base_brier: float
    gain: Estimate
    thirds: tuple[tuple[int, float, float], ...]


def scored(
    foretold: Floats, failed: Bools, belt: Ints, base_rate: float, *, confidence: float, generator: np.random.Generator
) -> Score:
    """Score the chances to fail that were foretold for runs.

    Parameters
    ----------
    foretold : ndarray of float, shape (n_runs,)
        Chance to fail on that run.
    failed : ndarray of bool, shape (n_runs,)
        Whether it did.
    belt : ndarray of int, shape (n_runs,)
        Code of the belt from 0, which is what is drawn.
    base_rate : float
        The chance that is said of every run.
    confidence : float
        Of the limits.
    generator : numpy.random.Generator
        Draws belts.

    Raises
    ------
    ValueError
        If there are fewer than 3 runs.
    """
    if foretold.size < 3:
        raise ValueError("odds are scored on 3 runs or more")
    came = failed.astype(np.float64)
    better = (base_rate - came) ** 2 - (foretold - came) ** 2
    n_belts = int(belt.max()) + 1
    weights = generator.multinomial(n_belts, np.full(n_belts, 1 / n_belts), size=999)
    runs = weights @ np.bincount(belt, minlength=n_belts)
    lower, upper = percentiles(weights @ np.bincount(belt, better, n_belts) / np.maximum(runs, 1), confidence)
    order = np.argsort(foretold, kind="stable")
    return Score(
        runs=foretold.size,
        failed=int(failed.sum()),
        brier=float(np.mean((foretold - came) ** 2)),
        base_brier=float(np.mean((base_rate - came) ** 2)),
        gain=Estimate(float(better.mean()), float(lower), float(upper)),
        thirds=tuple(
            (part.size, float(foretold[part].mean()), float(came[part].mean())) for part in np.array_split(order, 3)
        ),
    )
