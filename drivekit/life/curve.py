"""The survival curve of a group of belts: the share still running after each run, what is read off it, and its causes.

The mean to a horizon h is the area under the curve from 0 to h: the runs a belt makes out of its first h, the run it
fails on included. Unlike a median it uses the whole curve, and unlike a mean it asks nothing of ages beyond h. The
incidence of each cause is the share of belts that has failed of it by each age (Aalen and Johansen).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np
from numpy.typing import ArrayLike

from drivekit.life.folds import ENOUGH_AT_RISK, Estimate, Floats, Ints, codes, fold, frozen, renumbered, two_sided_z

__all__ = ["Curve", "FromAge", "Incidence", "curve", "difference", "first_age", "incidence"]

# 24 belts that fail one a run: S is one half after run 12, its floating product a hair more.
TOLERANCE = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class FromAge:
    """Life of a belt that starts run `start`, failures on that run included.

    `start` is the first age with at least 5 at risk, `age` holds the ages at risk from it on; the others are as in
    `Curve`, the share that of belts that start run `start`.
    """

    start: int
    age: Ints
    survival: Floats
    lower: Floats
    upper: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """Kaplan-Meier curve over age in runs.

    It is the life of a belt always kept in this group's setting, if only its age and present setting matter.

    Parameters
    ----------
    belts, runs, failed : int
        Belts that made a run in this group, the runs, and the failures.
    age : ndarray of int, shape (n_ages,)
        Every age at which someone in the group was at risk, and only those.
    at_risk, failed_at : ndarray of int, shape (n_ages,)
        Runs made at that age, and those that ended in a failure.
    survival : ndarray of float, shape (n_ages,)
        Product of 1 - d / n up to and with that age; exactly 0 once all at risk failed.
    greenwood : ndarray of float, shape (n_ages,)
        Sum of d / (n (n - d)), the variance of log S; nan once S is 0.
    lower, upper : ndarray of float, shape (n_ages,)
        Limits, point by point, by the log(-log) transform; 1 and 1 before the first failure, nan once S is 0.
    median, b10 : Estimate
        First ages by which half, and a tenth, has failed: those at which the curve, its lower and its upper limit are
        at or below .5, and .9 (Brookmeyer and Crowley); whole runs, None where that is never reached.
    from_age : FromAge or None
        Where the first ages hold too few belts to begin at run 1: the curve from the first age with 5 at risk.
    """

    belts: int
    runs: int
    failed: int
    age: Ints
    at_risk: Ints
    failed_at: Ints
    survival: Floats
    greenwood: Floats
    lower: Floats
    upper: Floats
    median: Estimate
    b10: Estimate
    from_age: FromAge | None

    @property
    def thin_before(self) -> int:
        """The first age with at least 5 at risk, if what was seen before it must not weigh on all that follows; else 0.

        It must not where a failure there was among fewer, or where an age is missing.
        """
        enough = np.flatnonzero(self.at_risk >= ENOUGH_AT_RISK)
        thin = enough.size and (self.from_age is not None or self.failed_at[: enough[0]].any())
        return int(self.age[enough[0]]) if thin else 0

    def mean_to(self, horizon: int) -> Estimate:
        """Area under the curve from 0 to `horizon`: S(0) + ... + S(horizon - 1), with its standard error.

        S stands still over an age at which nobody was at risk.

        Returns
        -------
        Estimate
            In runs. Its variance is the sum, over the failure ages t below the horizon, of (S(t) + ... +
            S(horizon - 1)) squared times d / (n (n - d)), and 0 where n = d. Null if the curve stops before
            ``horizon - 1`` while above 0.

        Raises
        ------
        ValueError
            If the horizon is no whole number of 1 or more.

        References
        ----------
        Klein and Moeschberger, *Survival Analysis*, 2nd ed. (2003), section 4.5 (without the factor n / (n - 1)).
        """
        if isinstance(horizon, bool) or horizon != int(horizon) or horizon < 1:
            raise ValueError(f"a horizon is a whole number of runs, 1 or more, not {horizon}")
        oldest, last = int(self.age[-1]), self.survival[-1]
        if oldest < horizon - 1 and last > 0:
            reason = (
                f"no belt here got beyond run {oldest} and an estimated {100 * last:.0f} % outlast it, "
                f"so the first {horizon} runs cannot be counted"
            )
            return Estimate(reason=reason)
        below = self.age < horizon
        steps = np.concatenate([[1.0], self.survival[below]])
        areas = steps * np.diff(np.concatenate([[0], self.age[below], [horizon]]))
        beyond = np.cumsum(areas[:0:-1])[::-1]
        at, failed = self.at_risk[below].astype(np.float64), self.failed_at[below].astype(np.float64)
        term = np.divide(failed, at * (at - failed), out=np.zeros(at.size), where=at > failed)
        return Estimate(float(areas.sum()), se=sqrt(float(np.sum(beyond**2 * term))))


def curve(age: ArrayLike, failed: ArrayLike, belt: ArrayLike, *, confidence: float = 0.95) -> Curve:
    """Fit the survival curve of one group on its run table.

    Parameters
    ----------
    age, failed, belt : array_like, shape (n_runs,)
        Age in runs of the belt on that run, 1 for the first; whether the run ended in a failure, every other ending
        being a belt that leaves unfailed; and a code of the belt from 0, to count belts.
    confidence : float
        Of the limits, between 0 and 1.

    Raises
    ------
    ValueError
        If there are no runs, arrays differ in length, an age is below 1 or the confidence not between 0 and 1.

    References
    ----------
    Kaplan and Meier, J Am Stat Assoc 1958; Kalbfleisch and Prentice, *The Statistical Analysis of Failure Time Data*,
    2nd ed. (2002), section 1.4 (log(-log) limits); Brookmeyer and Crowley, Biometrics 1982.
    """
    z = two_sided_z(confidence)
    belts = codes(belt, "belt", 0)
    ages, (at_risk,), (failed_at,) = fold(age, failed, np.zeros(np.size(age), np.int64), 1)
    if belts.size != np.size(age):
        raise ValueError(f"one row is one run: {np.size(age)} ages and {belts.size} belts differ")
    if not ages.size:
        raise ValueError("a curve needs at least one run")
    survival = np.cumprod((at_risk - failed_at) / at_risk)
    greenwood = _greenwood(at_risk, failed_at)
    lower, upper = _limits(survival, greenwood, z)
    return Curve(
        belts=int(renumbered(belts)[0].size),
        runs=int(belts.size),
        failed=int(failed_at.sum()),
        age=ages,
        at_risk=frozen(at_risk),
        failed_at=frozen(failed_at),
        survival=frozen(survival),
        greenwood=frozen(greenwood),
        lower=frozen(lower),
        upper=frozen(upper),
        median=first_age(0.5, ages, survival, lower, upper),
        b10=first_age(0.1, ages, survival, lower, upper),
        from_age=_from_age(ages, at_risk, failed_at, survival, z),
    )


def difference(earlier: Estimate, later: Estimate, confidence: float = 0.95, se: float | None = None) -> Estimate:
    """Say how many more runs the later level makes than the earlier one.

    Parameters
    ----------
    earlier, later : Estimate
        Means of two groups of belts, to the same horizon.
    se : float, optional
        Where the groups share belts, the error by belt; unless given, the root of the summed squares of both errors.

    Returns
    -------
    Estimate
        In runs, with its standard error, limits estimate -/+ z se; where a mean cannot be told, the reasons of both.

    Raises
    ------
    ValueError
        If the confidence does not lie between 0 and 1.
    """
    z = two_sided_z(confidence)
    if earlier.estimate is None or later.estimate is None or earlier.se is None or later.se is None:
        return Estimate(reason="; ".join(dict.fromkeys(mean.reason for mean in (earlier, later) if mean.reason)))
    estimate, se = later.estimate - earlier.estimate, hypot(earlier.se, later.se) if se is None else se
    return Estimate(estimate, estimate - z * se, estimate + z * se, se)


def _greenwood(at_risk: Ints, failed_at: Ints) -> Floats:
    """Sum d / (n (n - d)): Greenwood's variance of log S; nan from the age on at which all at risk failed."""
    left = (at_risk - failed_at).astype(np.float64)
    term = np.divide(failed_at, at_risk * left, out=np.full(left.size, np.nan), where=left > 0)
    return np.asarray(np.cumsum(term))


def _limits(survival: Floats, greenwood: Floats, z: float) -> tuple[Floats, Floats]:
    """Limits S ** exp(+/- z sqrt(G) / -log S), which stay within 0 and 1."""
    lower = np.where(survival > 0, 1.0, np.nan)
    upper = lower.copy()
    inside = (survival > 0) & (survival < 1)
    share = survival[inside]
    spread = np.exp(z * np.sqrt(greenwood[inside]) / -np.log(share))
    lower[inside] = share**spread
    upper[inside] = share ** (1 / spread)
    return lower, upper


def first_age(share: float, age: Ints, survival: Floats, lower: Floats, upper: Floats) -> Estimate:
    """Find the first age by which such a share has failed, with those at which the limits say so."""
    # nan compares false: a limit that does not exist once S is 0 never counts as reached.
    reached = (age[values <= 1 - share + TOLERANCE] for values in (survival, lower, upper))
    estimate, least, most = (int(each[0]) if each.size else None for each in reached)
    return Estimate(estimate, least, most, reason=_why_open(share, estimate, least, most, age, survival))


def _why_open(
    share: float, estimate: int | None, lower: int | None, upper: int | None, age: Ints, survival: Floats
) -> str | None:
    """Say in plain words why an estimate or a limit is open."""
    if None not in (estimate, lower, upper):
        return None
    oldest = int(age[-1])
    if survival[-1] == 1:
        return f"no belt failed by run {oldest}, the oldest seen"
    wanted = "half" if share == 0.5 else f"{100 * share:.0f} %"
    if estimate is None:
        failed = f"an estimated {100 * (1 - survival[-1]):.0f} % of belts had failed"
        open_limit = "" if lower is not None else " and neither limit reaches it"
        return f"by run {oldest}, the oldest seen, {failed}, not {wanted}{open_limit}"
    limits = " and ".join(word for word, value in (("lower", lower), ("upper", upper)) if value is None)
    if survival[-1] == 0:
        end = int(age[np.flatnonzero(survival == 0)[0]])
        return f"every belt at risk on run {end} failed, and limits cannot be had from there: the {limits} one is open"
    return f"too few belts got far enough: the {limits} limit is not reached by run {oldest}, the oldest seen"


def _from_age(age: Ints, at_risk: Ints, failed_at: Ints, survival: Floats, z: float) -> FromAge | None:
    places = np.flatnonzero(at_risk >= ENOUGH_AT_RISK)
    if not places.size:
        return None
    first = int(places[0])
    start = int(age[first])
    # `first` ages stand before it in the list; there should be one for each of 1 .. start - 1.
    if first == start - 1 and not np.any(survival[:first] == 0):
        return None
    later = slice(first, None)
    share: Floats = np.cumprod((at_risk[later] - failed_at[later]) / at_risk[later], dtype=np.float64)
    lower, upper = _limits(share, _greenwood(at_risk[later], failed_at[later]), z)
    return FromAge(start, frozen(age[later].copy()), frozen(share), frozen(lower), frozen(upper))


@dataclass(frozen=True, slots=True, eq=False)
class Incidence:
    """Share of belts that has failed of each cause by each age.

    Parameters
    ----------
    age : ndarray of int, shape (n_ages,)
        Every age at which someone was at risk.
    incidence, se : ndarray of float, shape (n_causes, n_ages)
        The share and its standard error; with `survival` the shares add to 1 at every age.
    survival : ndarray of float, shape (n_ages,)
        Share that has not failed.
    """

    age: Ints
    incidence: Floats
    se: Floats
    survival: Floats

    def limits(self, confidence: float = 0.95) -> tuple[Floats, Floats]:
        """Put limits about the shares, on the log(-log) scale, where they stay within 0 and 1.

        Returns
        -------
        lower, upper : ndarray of float, shape (n_causes, n_ages)
            nan where a share is 0 or 1, or has no standard error.

        References
        ----------
        Kalbfleisch and Prentice, *The Statistical Analysis of Failure Time Data*, 2nd ed. (2002), section 1.4, here
        with the incidence's own standard error.
        """
        inside = (self.incidence > 0) & (self.incidence < 1) & (self.se > 0)
        share = np.where(inside, self.incidence, np.nan)
        reach = two_sided_z(confidence) * self.se / -(share * np.log(share))
        return frozen(share ** np.exp(reach)), frozen(share ** np.exp(-reach))


def incidence(age: ArrayLike, cause: ArrayLike, n_causes: int) -> Incidence:
    """Estimate the incidence of each cause; causes compete, and every other ending is a belt that leaves unfailed.

    Parameters
    ----------
    age, cause : array_like of int, shape (n_runs,)
        Age in runs of the belt on that run; and code of the failure that ended it, 0 to ``n_causes - 1``, or -1.
    n_causes : int
        How many causes there are, seen or not.

    Raises
    ------
    ValueError
        If there are no runs, arrays differ in length, an age is below 1 or a code out of range.

    Notes
    -----
    At each age the failures by cause are multinomial among those at risk, and the delta method gives the variance of
    the incidence F of one cause. With B = F(t) - F(s), S(s-) and S(s) the shares unfailed before and after age s, and d
    of n failed at s, c of them of this cause, it is Gaynor's ::

        sum over s <= t of  B^2 d / (n (n - d))  +  S(s-)^2 c (n - c) / n^3  -  2 B S(s-) c / n^2

    written here as a sum of squares, since rounding would else leave something where the variance is 0 ::

        sum over s <= t of  (c (S(s) - B)^2 + (d - c) B^2) / (n (n - d))  +  S(s-)^2 c (d - c) / n^3

    Where all at risk failed (n = d) nothing can rise any more and the last term alone is left. Forms that take each
    cause's failures as a count of its own give more: .125 in place of .1169 where one in eight failed.

    References
    ----------
    Gaynor et al., J Am Stat Assoc 1993.
    """
    causes = codes(cause, "cause", -1, n_causes)
    ages, (at_risk,), (failed_at,) = fold(age, causes >= 0, np.zeros(causes.size, np.int64), 1)
    if not causes.size:
        raise ValueError("an incidence needs at least one run")
    at_risk, failed_at = at_risk.astype(np.float64), failed_at.astype(np.float64)
    place = np.searchsorted(ages, np.asarray(age))[causes >= 0]
    cell = causes[causes >= 0] * ages.size + place
    by_cause = np.bincount(cell, minlength=n_causes * ages.size).reshape(n_causes, ages.size)
    survival = np.cumprod((at_risk - failed_at) / at_risk)
    before = np.concatenate([[1.0], survival[:-1]])
    # all causes together may come to 1 and a rounding error
    share = np.minimum(np.cumsum(before * by_cause / at_risk, axis=1), 1)
    left = at_risk - failed_at
    weight = np.divide(1, at_risk * left, out=np.zeros(left.size), where=left > 0)
    se = np.zeros(share.shape)
    for code, (up_to, of_cause) in enumerate(zip(share, by_cause, strict=True)):
        # one row an age t, one column an age s <= t
        other, rise = failed_at - of_cause, up_to[:, None] - up_to
        spread = (of_cause * (survival - rise) ** 2 + other * rise**2) * weight
        spread += before**2 * of_cause * other / at_risk**3
        se[code] = np.sqrt(np.tril(spread).sum(axis=1))
    return Incidence(ages, frozen(share), frozen(se), frozen(survival))
