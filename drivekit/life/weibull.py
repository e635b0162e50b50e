"""A parametric life for planning: Weibull's law, in whole runs or at exact times, with late entry.

Estimand: shape k and scale of ``S(t) = exp(-(t / scale)^k)``, the share of belts that has not failed after t runs, and
the life b by which 1 in 10 has. Written as ``H(t) = c (t / b)^k``, b is the scale where c = 1, and the life of 1 in 10
where c = -log .9: one likelihood in (log b, log k) gives all three with their own profile limits.

A belt that failed on run a gives S(a - 1) - S(a) (at an exact time: the density), one that left unfailed S(a); each is
divided by S(entry), for what failed before it came was never seen.
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial
from math import exp, log

import numpy as np

from drivekit.life.draws import answers
from drivekit.life.folds import Bools, Estimate, Floats
from drivekit.life.profile import limits
from drivekit.life.whole_runs import top

__all__ = ["Lives", "Weibull", "fits", "given_shape", "weibull"]

ONE_IN_TEN = -log(0.9)
ENDLESS = "the likelihood falls off too slowly on one side for a limit there"
AT_ONE_AGE = "the failures fell too much at one age to tell how the hazard rises"
# Shapes beyond these are none: the likelihood is on its way to failures all at one age, or all at once.
SHAPES = 0.05, 40.0
AT_ONCE = 20
MANY_BELTS = 500


@dataclass(frozen=True, slots=True, eq=False)
class Lives:
    """What was seen of each belt.

    Parameters
    ----------
    entry, stop : ndarray of float, shape (n_belts,)
        Age when it was first seen, and the run it failed on or the last it made; or exact times.
    failed : ndarray of bool, shape (n_belts,)
        Whether it failed then.
    exact : bool
        Whether ages are exact times; else whole runs.
    count : ndarray of float, shape (n_belts,), or None
        How many belts each row stands for; None: one.
    """

    entry: Floats
    stop: Floats
    failed: Bools
    exact: bool = False
    count: Floats | None = None

    @property
    def many(self) -> Floats:
        """How many belts each row stands for."""
        return np.ones(self.stop.size) if self.count is None else self.count

    def grouped(self) -> Lives:
        """Let belts that came and went alike on whole runs share a row: of a large season few rows are left."""
        place = (self.entry * (self.stop.max() + 1) + self.stop) * 2 + self.failed
        _, row, count = np.unique(place, return_index=True, return_counts=True)
        return Lives(self.entry[row], self.stop[row], self.failed[row], count=count.astype(np.float64))

    def likelihood(self, at: Floats, c: float = 1.0) -> tuple[float, Floats, Floats]:
        """Log likelihood, score and observed information at (log b, log k)."""
        lost, shape = self.failed, exp(min(at[1], 20.0))
        kept = self.stop - (lost & (not self.exact))

        def along(t: Floats) -> tuple[Floats, Floats, Floats]:
            """Give log(t / b)^k with its slopes and curvatures along (log b, log k)."""
            w = shape * (np.log(np.maximum(t, 1e-300)) - at[0])
            k = np.full(w.shape, shape)
            return w, np.array([-k, w]), np.array([[0 * k, -k], [-k, w]])

        def hazard(t: Floats) -> tuple[Floats, Floats, Floats]:
            w, slope, curve = along(t)
            h = np.where(t > 0, c * np.exp(np.minimum(w, 600.0)), 0.0)
            return h, h * slope, h * (curve + slope[:, None] * slope)

        with np.errstate(over="ignore", invalid="ignore"):
            many = self.many
            parts = [(many, *(a - b for a, b in zip(hazard(self.entry), hazard(kept), strict=True)))]
            w, slope, curve = along(self.stop[lost])
            if self.exact:
                height = log(c) + at[1] + w - np.log(self.stop[lost])
                parts += [(many[lost], height, slope + np.array([[0.0], [1.0]]), curve)]
            else:
                h, slope, curve = (a - b for a, b in zip(hazard(self.stop[lost]), hazard(kept[lost]), strict=True))
                h = np.maximum(h, 1e-300)
                pull = np.exp(-h) / -np.expm1(-h)
                bent = pull * curve - pull * (1 + pull) * slope[:, None] * slope
                parts += [(many[lost], np.log(-np.expm1(-h)), pull * slope, bent)]
            value, along_it, bending = (sum(part[place] @ part[0] for part in parts) for place in (1, 2, 3))
        return float(value), np.asarray(along_it), -np.asarray(bending)


@dataclass(frozen=True, slots=True, eq=False)
class Weibull:
    """A fitted law, or why there is none.

    Parameters
    ----------
    shape, scale, b10 : Estimate
        With profile limits; scale and b10 in runs (or in the unit of the times), continuous.
    loglik : float or None
    covariance : ndarray of float, shape (2, 2), or None
        Of log scale and log shape, by the observed information.
    """

    shape: Estimate
    scale: Estimate
    b10: Estimate
    loglik: float | None = None
    covariance: Floats | None = None


def weibull(lives: Lives, confidence: float = 0.95) -> Weibull:
    """Fit the law, with profile limits; a side on which the likelihood never falls far enough has none.

    References
    ----------
    Lawless, *Statistical Models and Methods for Lifetime Data*, 2nd ed. (2003), chapters 2 and 5.
    """
    few = int(lives.failed.sum()) < 2
    if lives.stop.size >= MANY_BELTS and lives.count is None and not lives.exact:
        lives = lives.grouped()
    found = None if few else _top(lives)
    if found is None:
        untold = Estimate(reason="fewer than two belts failed" if few else AT_ONE_AGE)
        return Weibull(untold, untold, untold)
    at, loglik, information = found
    life = np.array([at[0] + log(ONE_IN_TEN) / exp(at[1]), at[1]])
    shape, scale = (_limits(lives, at, 1.0, term, confidence) for term in (1, 0))
    b10 = _limits(lives, life, ONE_IN_TEN, 0, confidence)
    return Weibull(shape, scale, b10, loglik, np.asarray(np.linalg.inv(information), np.float64))


def _top(lives: Lives, start: Floats | None = None) -> tuple[Floats, float, Floats] | None:
    """Climb to the maximum from `start`, or from the best of a row of shapes, each with a scale of its own."""
    if start is None:
        shapes = np.geomspace(0.3, 12.0, 12)
        many = lives.many
        run = [many @ (lives.stop**shape - lives.entry**shape) / (many @ lives.failed) for shape in shapes]
        start = max(np.log(np.column_stack([run ** (1 / shapes), shapes])), key=lambda at: lives.likelihood(at)[0])
    found = top(lives.likelihood, start)
    return found if found is not None and SHAPES[0] < exp(found[0][1]) < SHAPES[1] else None


def _limits(lives: Lives, at: Floats, c: float, term: int, confidence: float) -> Estimate:
    """Give exp of one of (log b, log k) with its profile limits."""
    loglik, _, information = lives.likelihood(at, c)
    rest, met = [1 - term], [at]

    def held_at(value: float) -> tuple[float, float]:
        def other(beside: Floats) -> tuple[float, Floats, Floats]:
            height, slope, curve = lives.likelihood(np.insert(beside, term, value), c)
            return height, slope[rest], curve[rest][:, rest]

        found = top(other, min(met, key=lambda one: abs(float(one[term]) - value))[rest])
        if found is None:
            return -np.inf, 0.0
        met.append(np.insert(found[0], term, value))
        return found[1], float(lives.likelihood(met[-1], c)[1][term])

    se = float(np.linalg.inv(information)[term, term]) ** 0.5
    told = limits(held_at, float(at[term]), se, loglik, confidence)
    lower, upper = (exp(value) if np.isfinite(value) else None for value in (told.lower, told.upper))
    return Estimate(exp(at[term]), lower, upper, reason=ENDLESS if None in (lower, upper) else None)


def given_shape(lives: Lives, shape: float, confidence: float = 0.95) -> Estimate:
    """Say when 1 in 10 would have failed if the shape were this one: an assumption, not a finding.

    With the shape given the failures are a Poisson count, its mean the hazard that all belts ran through together (a
    belt that failed: to the middle of that run). Limits are exact for such a count (Garwood, Biometrika 1936); without
    a failure there is a lower one alone, one-sided.
    """
    from scipy.special import chdtri

    failed = int(lives.failed.sum())
    run = float(np.sum((lives.stop - 0.5 * (lives.failed & (not lives.exact))) ** shape - lives.entry**shape))

    def life(failures: float) -> float:
        return float((ONE_IN_TEN * run / failures) ** (1 / shape))

    if not failed:
        return Estimate(lower=life(-log(1 - confidence)), reason="no belt failed, so there is a lower limit alone")
    tail = (1 - confidence) / 2
    return Estimate(life(failed), life(chdtri(2 * failed + 2, tail) / 2), life(chdtri(2 * failed, 1 - tail) / 2))


def fits(
    lives: Lives, found: Weibull, generator: np.random.Generator, draws: int = 499, executor: Executor | None = None
) -> tuple[float, float | None]:
    """Ask by drawing seasons from the law, and fitting it to each, whether it fits whole runs.

    A season of `MANY_BELTS` or more is drawn a fifth as often: chance moves its gap little.

    Belts come when they came. One that left unfailed leaves on the same run; one that failed would have left by the
    product-limit law of leaving from then on, on the oldest run seen at the latest.

    Returns
    -------
    gap : float
        Largest distance along age between failures seen and foreseen so far.
    p : float or None
        Share of seasons, this one among them, with a gap as large; None where the law could be fitted to under half.

    References
    ----------
    Stute, Gonzalez Manteiga and Presedo Quindimil, Metrika 1993.
    """
    assert found.scale.estimate is not None  # only a law that was fitted is asked
    assert found.shape.estimate is not None
    at = np.log([found.scale.estimate, found.shape.estimate])
    age, ages = np.arange(int(lives.stop.max()) + 1), lives.stop.astype(np.int64)
    leaving = np.bincount(ages[~lives.failed], minlength=age.size)
    there = ((lives.entry < age[:, None]) & (lives.stop - lives.failed >= age[:, None])).sum(axis=1)
    stays = np.cumprod(1 - leaving / np.maximum(there, 1))

    draws = draws if lives.stop.size < MANY_BELTS else draws // 5

    def parts() -> Iterator[tuple[Floats, Floats]]:
        for begin in range(0, draws, AT_ONCE):
            shape = min(AT_ONCE, draws - begin), lives.stop.size
            yield generator.exponential(size=shape), generator.random(shape)

    gaps = np.concatenate(list(answers(partial(_gaps_drawn, lives, at, stays), parts(), executor)))
    gap, told = _gap(lives, at), np.isfinite(gaps)
    return gap, float((1 + (gaps >= gap).sum()) / (1 + told.sum())) if told.mean() >= 0.5 else None


def _gap(lives: Lives, at: Floats) -> float:
    """Largest distance along age between failures seen and foreseen so far."""
    age = np.arange(1, int(lives.stop.max()) + 1)
    many = lives.many
    came, left, seen = (
        np.bincount(at_age.astype(np.int64), weight, age.size + 1)
        for at_age, weight in ((lives.entry, many), (lives.stop, many), (lives.stop, many * lives.failed))
    )
    at_risk = np.cumsum(came)[:-1] - np.cumsum(left)[:-1]
    spent = np.diff(np.exp(exp(at[1]) * (np.log(age) - at[0])), prepend=0.0)
    return float(np.abs(np.cumsum(seen[1:] + at_risk * np.expm1(-spent))).max())


def _gaps_drawn(lives: Lives, at: Floats, stays: Floats, part: tuple[Floats, Floats]) -> Floats:
    """Draw seasons from the law and give the gap of each; nan where the law cannot be fitted."""
    (scale, shape), failed_on = np.exp(at), np.where(lives.failed, lives.stop, 1).astype(np.int64)
    gaps = np.full(len(part[0]), np.nan)
    for season, (spent, luck) in enumerate(zip(*part, strict=True)):
        fails = np.ceil(scale * ((lives.entry / scale) ** shape + spent) ** (1 / shape))
        leaves = np.searchsorted(-stays, -luck * stays[failed_on - 1]).clip(failed_on, stays.size - 1)
        leaves = np.where(lives.failed, leaves, lives.stop)
        drawn = Lives(lives.entry, np.minimum(fails, leaves), fails <= leaves).grouped()
        fitted = (_top(drawn, at) or _top(drawn)) if drawn.failed.sum() >= 2 else None
        if fitted is not None:
            gaps[season] = _gap(drawn, fitted[0])
    return gaps
