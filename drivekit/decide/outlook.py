"""Does this belt make one more run: its chance to outlast the next few, from the hazard study.

Estimand: for a belt of age a on car s with the settings x of its last run held, the share of such belts that outlast r
more runs,

    exp(-(H_s(a + r) - H_s(a)) exp(x b)),

b the ratios of the hazard study (Efron ties) and H_s the Efron baseline of the belt's own car, as everywhere in
:mod:`drivekit.life`. It is given no further than belts were seen: while someone on the car was at risk at every age
asked for, and as far as the caller says.

Limits hold what b and H_s owe to few belts together. b is drawn from its normal law, and at each draw the increments
of H_s are sums of weighted counts, whose limits are those of Fay and Feuer (Statistics in Medicine 16, 1997): every
failure counts as a standard exponential times its weight, and the upper limit has one failure more of the greatest
weight. So an age at which a car has not yet lost a belt is no promise.

A belt whose last look says off is given no odds at all; that is for whoever asks, by `off_looks`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from drivekit.decide.ages import percentiles
from drivekit.life.folds import Bools, Floats, Ints, frozen

__all__ = ["AHEAD", "OFF", "Baseline", "Odds", "off_looks", "outlook", "plain_odds"]

AHEAD = (1, 2, 3, 5)
"""Runs ahead for which chances are given."""

OFF: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "teeth_look": ("torn", "missing"),
        "cord_look": ("pulled",),
        "edge_look": ("split",),
        "surface": ("oiled", "metal"),
    }
)
"""Looks that take a belt off (common practice, no source); a worn tooth, hairs or a frayed edge do not."""

# Numbers drawn together, and draws: 999 for a season, fewer where millions of runs leave the limits no room.
MOST_CELLS = 20_000_000
REPLICATES, FEWEST = 999, 99
AT_ONCE = 2_000_000


@dataclass(frozen=True, slots=True, eq=False)
class Baseline:
    """The hazard study as an outlook needs it: the runs it was fitted to and what it made of them.

    Parameters
    ----------
    age, stratum : ndarray of int, shape (n_rows,)
        Age and car of each run of the fit.
    failed : ndarray of bool, shape (n_rows,)
        Whether it ended in a failure.
    x : ndarray of float, shape (n_rows, n_terms)
        Its settings.
    coef : ndarray of float, shape (n_terms,)
    covariance : ndarray of float, shape (n_terms, n_terms)
        Inverse of the observed information.
    """

    age: Ints
    stratum: Ints
    failed: Bools
    x: Floats
    coef: Floats
    covariance: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Odds:
    """Chances to outlast the next runs; nan where a car had nobody at risk at an age on the way.

    Parameters
    ----------
    survive, lower, upper : ndarray of float, shape (n_belts, n_ahead)
    """

    survive: Floats
    lower: Floats
    upper: Floats


def off_looks(looks: Mapping[str, str | None]) -> dict[str, str]:
    """Give those of a belt's last looks, by column, that take it off."""
    return {name: look for name, bad in OFF.items() if (look := looks.get(name)) is not None and look in bad}


def outlook(
    study: Baseline,
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
    study : Baseline
        The hazard study.
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
    last = int(study.age.max())
    # One shift for all rows and belts changes no chance and keeps exp(x b) within bounds.
    centre = study.x.mean(axis=0)
    # Only ages that some belt has before it; in order of car and age, and within these the failed first.
    near = np.zeros((int(max(study.stratum.max(), stratum.max(initial=0))) + 1, last + 1), bool)
    for home, years in zip(stratum, age, strict=True):
        near[home, years + 1 : years + window + 1] = True
    order = np.lexsort((~study.failed, study.age, study.stratum))
    order = order[near[study.stratum[order], study.age[order]]]
    if not order.size:
        empty = np.full((age.size, len(ahead)), np.nan)
        return Odds(empty, empty, empty)
    rows, failed = study.x[order] - centre, study.failed[order]
    key = study.stratum[order] * (last + 1) + study.age[order]
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
        rate = np.exp(coef @ rows.T)
        total = np.add.reduceat(rate, first, axis=1)
        fallen = np.add.reduceat(np.where(failed, rate, 0.0), first, axis=1)
        return 1 / (total[:, step_set] - share * fallen[:, step_set]), 1 / total

    def summed(coef: Floats, increments: Floats) -> Floats:
        """Sum increments of the sets over each belt's runs ahead, at its own settings."""
        rate = np.exp(coef @ (x - centre).T)
        padded = np.concatenate([increments, np.full((len(increments), 1), np.nan)], axis=1)
        return np.asarray(np.cumsum(padded[:, met], axis=2)[:, :, run] * rate[:, :, None])

    def by_set(steps: Floats) -> Floats:
        totals = np.zeros((len(steps), sets.size))
        begins = np.flatnonzero(np.diff(step_set, prepend=-1))
        totals[:, deaths > 0] = np.add.reduceat(steps, begins, axis=1) if begins.size else 0
        return totals

    one = study.coef[None]
    survive = np.exp(-summed(one, by_set(weights(one)[0])))[0]
    replicates = int(np.clip(MOST_CELLS // order.size, FEWEST, REPLICATES))
    drawn = np.zeros((replicates, study.coef.size))
    if study.coef.size:  # no setting may have differed
        drawn = generator.multivariate_normal(study.coef, study.covariance, size=replicates, method="cholesky")
    counts = generator.standard_exponential((replicates, step_set.size))
    extra = generator.standard_exponential(replicates)
    less, more = [], []
    for begin in range(0, replicates, size := max(1, AT_ONCE // order.size)):
        part = slice(begin, begin + size)
        of_failures, of_one_more = weights(drawn[part])
        least = summed(drawn[part], by_set(of_failures * counts[part]))
        padded = np.concatenate([of_one_more, np.full((len(of_one_more), 1), np.nan)], axis=1)
        greatest = np.maximum.accumulate(padded[:, met], axis=2)[:, :, run] * extra[part, None, None]
        less.append(least)
        more.append(least + greatest * np.exp(drawn[part] @ (x - centre).T)[:, :, None])
    most = np.exp(-percentiles(np.concatenate(less), confidence)[0])
    fewest = np.exp(-percentiles(np.concatenate(more), confidence)[1])
    return Odds(frozen(survive), frozen(fewest), frozen(most))


def plain_odds(survival: Floats, age: int, ahead: Sequence[int] = AHEAD) -> list[float | None]:
    """Give the share of a curve's belts of that age that outlast each number of further runs, S(age + r) / S(age).

    Parameters
    ----------
    survival : ndarray of float, shape (last + 1,)
        Share still running after 0, 1, ..., `last` runs.
    age : int
        Runs made.
    ahead : sequence of int
        Numbers of further runs; None beyond `last`, or where the curve has no belt of that age left.
    """
    seen = [run for run in ahead if age + run < survival.size and survival[age] > 0]
    return [float(survival[age + run] / survival[age]) if run in seen else None for run in ahead]
