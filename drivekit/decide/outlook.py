"""Does this belt make one more run: its chance to outlast the next few, from the hazard study.

Estimand: for a belt of age a on car s with the settings x of its last run held, the share of such belts that outlast r
more runs,

    exp(-(H_s(a + r) - H_s(a)) exp(x b)),

b the ratios of the hazard study (Efron ties, or Firth's where those lead) and H_s the Efron baseline of the belt's own
car, as everywhere in :mod:`drivekit.life`. It is given no further than belts were seen: while someone on the car was at
risk at every age asked for, and as far as the caller says.

Limits hold what b and H_s owe to few belts together. b is drawn from its normal law, and at each draw the increments
of H_s are sums of weighted counts, whose limits are those of Fay and Feuer (Statistics in Medicine 16, 1997): every
failure counts as a standard exponential times its weight, and the upper limit has one failure more of the greatest
weight. So an age at which a car has not yet lost a belt is no promise.

A belt whose last look says off is given no odds at all; that is for whoever asks, by `off_looks`.

How good odds were is scored on runs of another season, against saying the same of every belt. The Brier score is the
mean square of the chance to fail that was foretold less what came (1 failed, 0 did not); less is better (Brier, Monthly
Weather Review 78, 1950). It is held against the base rate, the share of the earlier season's runs that ended in a
failure, foretold for every run alike; the difference has limits by drawing belts of the scored season. Calibration:
runs in thirds of what was foretold, and in each the share foretold and the share seen.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from drivekit.decide.ages import mean_over_belts
from drivekit.life.folds import Bools, Estimate, Floats, Ints, frozen, percentiles

__all__ = ["AHEAD", "LOOKS", "Odds", "Score", "off_looks", "outlook", "scored"]

AHEAD = (1, 2, 3, 5)
"""Runs ahead for which chances are given."""

LOOKS: Sequence[Mapping[str, str]] = tomllib.loads(Path(__file__).with_name("looks.toml").read_text("utf-8"))["look"]
"""What becomes of a belt by its look, in the order of the inspection card (common practice, no source)."""

# Numbers drawn together, and draws: 999 for a season, fewer where millions of runs leave the limits no room.
MOST_CELLS = 20_000_000
REPLICATES, FEWEST = 999, 99
AT_ONCE = 2_000_000


class Odds(NamedTuple):
    """Chances to outlast the next runs, shape (n_belts, n_ahead); nan where a car had nobody at risk on the way."""

    survive: Floats
    lower: Floats
    upper: Floats


def off_looks(looks: Mapping[str, str | None]) -> dict[str, str]:
    """Give those of a belt's last looks, by column, that take it off."""
    return {
        look["column"]: look["word"] for look in LOOKS if "off" in look and looks.get(look["column"]) == look["word"]
    }


def outlook(
    rows: Mapping[str, NDArray[Any]],
    coef: Floats,
    covariance: Floats,
    age: Ints,
    stratum: Ints,
    x: Floats,
    *,
    ahead: Sequence[int] = AHEAD,
    confidence: float = 0.95,
    generator: np.random.Generator,
) -> Odds:
    """Give the chances of some belts to outlast the next runs.

    Parameters
    ----------
    rows : mapping of str to ndarray
        The runs of the hazard study: ``age``, ``stratum`` (the car's code) and ``failed``, each of shape (n_rows,), and
        their settings ``x``, shape (n_rows, n_terms).
    coef : ndarray of float, shape (n_terms,)
        Its log hazard ratios.
    covariance : ndarray of float, shape (n_terms, n_terms)
        Inverse of the observed information.
    age, stratum : ndarray of int, shape (n_belts,)
        Runs each belt has made, and its car, coded as the study's.
    x : ndarray of float, shape (n_belts, n_terms)
        Its settings, coded as the study's.
    ahead : sequence of int
        Numbers of further runs.
    confidence : float
        Of the limits.
    generator : numpy.random.Generator
        Draws what the limits stand on.
    """
    window = int(max(ahead))
    last = int(rows["age"].max())
    # One shift for all rows and belts changes no chance and keeps exp(x b) within bounds.
    centre = rows["x"].mean(axis=0)
    own = (x - centre).T
    # Only ages that some belt has before it; in order of car and age, and within these the failed first.
    near = np.zeros((int(max(rows["stratum"].max(), stratum.max(initial=0))) + 1, last + 1), bool)
    for home, years in zip(stratum, age, strict=True):
        near[home, years + 1 : years + window + 1] = True
    order = np.lexsort((~rows["failed"], rows["age"], rows["stratum"]))
    order = order[near[rows["stratum"][order], rows["age"][order]]]
    if not order.size:
        empty = np.full((age.size, len(ahead)), np.nan)
        return Odds(empty, empty, empty)
    failed, key = rows["failed"][order], rows["stratum"][order] * (last + 1) + rows["age"][order]
    settings = (rows["x"][order] - centre).T
    sets, first = np.unique(key, return_index=True)
    deaths = np.add.reduceat(failed.astype(np.int64), first)
    step_set = np.repeat(np.arange(sets.size), deaths)
    place = np.arange(step_set.size) - np.repeat(np.cumsum(deaths) - deaths, deaths)
    share = place / deaths[step_set]
    # for each belt and each run ahead the set it will stand in, -1 where its car had nobody
    ahead_key = stratum[:, None] * (last + 1) + age[:, None] + np.arange(1, window + 1)
    met = np.minimum(np.searchsorted(sets, ahead_key), sets.size - 1)
    met[(sets[met] != ahead_key) | (age[:, None] + np.arange(1, window + 1) > last)] = -1
    run = np.asarray(ahead) - 1

    def weights(coef: Floats) -> tuple[Floats, Floats]:
        """Give the weight of each failure, and that of one more in each set; both shape (n_draws, ...)."""
        rate = np.exp(coef @ settings)
        total = np.add.reduceat(rate, first, axis=1)
        fallen = np.add.reduceat(np.where(failed, rate, 0.0), first, axis=1)
        return 1 / (total[:, step_set] - share * fallen[:, step_set]), 1 / total

    def along(values: Floats, gather: np.ufunc) -> Floats:
        """Gather values of the sets over each belt's runs ahead."""
        padded = np.concatenate([values, np.full((len(values), 1), np.nan)], axis=1)
        return np.asarray(gather.accumulate(padded[:, met], axis=2)[:, :, run])

    def by_set(steps: Floats) -> Floats:
        totals = np.zeros((len(steps), sets.size))
        begins = np.flatnonzero(np.diff(step_set, prepend=-1))
        totals[:, deaths > 0] = np.add.reduceat(steps, begins, axis=1) if begins.size else 0
        return totals

    one = coef[None]
    survive = np.exp(-along(by_set(weights(one)[0]), np.add) * np.exp(one @ own)[:, :, None])[0]
    replicates = int(np.clip(MOST_CELLS // order.size, FEWEST, REPLICATES))
    drawn = np.zeros((replicates, coef.size))
    if coef.size:  # no setting may have differed
        drawn = generator.multivariate_normal(coef, covariance, size=replicates, method="cholesky")
    counts = generator.standard_exponential((replicates, step_set.size))
    extra = generator.standard_exponential(replicates)
    less, more = [], []
    for begin in range(0, replicates, size := max(1, AT_ONCE // order.size)):
        part = slice(begin, begin + size)
        of_failures, of_one_more = weights(drawn[part])
        rate = np.exp(drawn[part] @ own)[:, :, None]
        less.append(along(by_set(of_failures * counts[part]), np.add) * rate)
        more.append(less[-1] + along(of_one_more, np.maximum) * extra[part, None, None] * rate)
    most = np.exp(-percentiles(np.concatenate(less), confidence)[0])
    fewest = np.exp(-percentiles(np.concatenate(more), confidence)[1])
    return Odds(frozen(survive), frozen(fewest), frozen(most))


class Score(NamedTuple):
    """The Brier scores of the odds and of the base rate, and this less that: above 0 where the odds are better.

    Of each third, the least risk first: runs, mean chance foretold, share that failed.
    """

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
    missed, base_missed = (foretold - came) ** 2, (base_rate - came) ** 2
    every = {"": np.ones(came.size, bool)}
    gain = mean_over_belts(base_missed - missed, belt, every, confidence=confidence, generator=generator)[""]
    thirds = np.array_split(np.argsort(foretold, kind="stable"), 3)
    return Score(
        float(missed.mean()),
        float(base_missed.mean()),
        gain,
        tuple((part.size, float(foretold[part].mean()), float(came[part].mean())) for part in thirds),
    )
