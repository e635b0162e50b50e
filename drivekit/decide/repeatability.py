"""The same every time: how far tension differs from fitter to fitter, beside what it differs from run to run anyway.

A tension is what its car is run at, plus what the fitter makes of it, plus the rest: y = X b + Z u + e, cars fixed,
u normal with variance r s2 over fitters, e normal with variance s2. With M the projection that takes the cars out, the
eigenvalues l_i and vectors v_i of Z'MZ turn the data into independent normal w_i = v_i'Z'M y / sqrt(l_i), of variance
s2 (1 + l_i r), i = 1 ... m, and the residual sum of squares E on f degrees of freedom, of mean f s2. All answers are
made from these:

- Ratio r: the values for which F(r) = (sum w_i^2 / (1 + l_i r) / m) / (E / f) lies between the quantiles of
  Fisher's F(m, f): exact whatever the numbers of runs (Wald, Annals of Mathematical Statistics 18, 1947). The
  estimates are those of the restricted likelihood (Patterson and Thompson, Biometrika 1971).
- Spread within a fitter: chi-squared limits of s from E.
- Spread between fitters: generalised limits (Weerahandi, J Am Stat Assoc 1993): s2 and the chi-squared of the w_i are
  drawn, and what variance between fitters goes with both is worked out.

Fewer than 4 fitters tell no spread between fitters; then their differences stand instead, by least squares.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from itertools import combinations

import numpy as np

from drivekit.life.folds import Estimate, Floats, Ints, percentiles

__all__ = ["LEAST_FITTERS", "Repeatability", "repeatability"]

LEAST_FITTERS = 4
DRAWS = 1999
# Singular values below this share of the largest are rounding.
ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Repeatability:
    """How far fitters differ, or why that cannot be told.

    Parameters
    ----------
    between_sd, within_sd : Estimate
        Spread between fitters and from run to run of one fitter, in the unit of the values.
    ratio : Estimate
        Of the two variances.
    above : tuple of Estimate
        What each fitter's values are above those of all runs together, cars held alike.
    differences : mapping of (int, int) to Estimate
        With fewer than 4 fitters: what the second one's values are above the first one's, on the same car.
    """

    between_sd: Estimate
    within_sd: Estimate
    ratio: Estimate
    above: tuple[Estimate, ...]
    differences: Mapping[tuple[int, int], Estimate]


def repeatability(
    value: Floats, fitter: Ints, car: Ints, *, confidence: float = 0.95, generator: np.random.Generator
) -> Repeatability:
    """Tell the spread between fitters from that within.

    Parameters
    ----------
    value : ndarray of float, shape (n_runs,)
        Such as the tension set, every one known.
    fitter, car : ndarray of int, shape (n_runs,)
        Codes from 0.
    confidence : float
        Of the limits.
    generator : numpy.random.Generator
        Draws what the generalised limits stand on.
    """
    from scipy.special import gammaincinv

    of_fitter, of_car = ((code[:, None] == np.unique(code)).astype(float) for code in (fitter, car))
    rest, carless = (values - of_car @ np.linalg.lstsq(of_car, values)[0] for values in (value, of_fitter))
    size, vectors = np.linalg.eigh(carless.T @ carless)
    free = size > ROUNDING * max(1.0, float(size.max(initial=0)))
    eigen = size[free]
    w = vectors[:, free].T @ (carless.T @ rest) / np.sqrt(eigen)
    squared = float(max(rest @ rest - w @ w, 0.0))
    m, f = int(eigen.size), int(value.size - np.linalg.matrix_rank(of_car) - eigen.size)
    one = np.eye(of_fitter.shape[1])
    reason = _why_not(len(one), m, f, squared, value)
    none = Estimate(reason=reason)
    if f < 1 or squared <= 0:
        return Repeatability(none, none, none, (none,) * len(one), {})
    tail = (1 - confidence) / 2
    chi2 = 2 * gammaincinv(f / 2, (1 - tail, tail))
    least, most = map(float, np.sqrt(squared / chi2))
    told = partial(_contrasts, carless, rest, squared / f, f, confidence)
    above = tuple(told(one - of_fitter.mean(axis=0)))
    if reason is not None:
        pairs = list(combinations(range(len(one)), 2)) if m else []
        differences = dict(zip(pairs, told(one[later] - one[earlier] for earlier, later in pairs), strict=True))
        return Repeatability(none, Estimate(float(np.sqrt(squared / f)), least, most), none, above, differences)
    ratio = _restricted(w, eigen, squared, f)
    total = float(np.sum(w**2 / (1 + eigen * ratio)) + squared) / (m + f)
    s2 = squared / generator.chisquare(f, DRAWS)
    between = _between(w, eigen, s2, generator.chisquare(m, DRAWS))
    lowest, highest = map(float, percentiles(np.sqrt(between), confidence))
    return Repeatability(
        Estimate(float(np.sqrt(ratio * total)), lowest, highest),
        Estimate(float(np.sqrt(total)), least, most),
        Estimate(ratio, *_wald(w, eigen, squared, f, tail)),
        above,
        {},
    )


def _why_not(fitters: int, m: int, f: int, squared: float, value: Floats) -> str | None:
    """Say why the spread between fitters cannot be told."""
    if fitters < 2:
        return "one fitter set every tension: there is nobody to compare with"
    if m == 0:
        return "every car had a fitter of its own, so that fitters cannot be told from cars"
    if f < 1 or squared <= ROUNDING * float(np.var(value) + 1) * value.size:
        return "no fitter set a car's tension twice, so that fitters cannot be told from chance"
    if fitters < LEAST_FITTERS or m < LEAST_FITTERS - 1:
        return f"{fitters} fitters are too few for a spread between fitters; their differences are told instead"
    return None


def _restricted(w: Floats, eigen: Floats, squared: float, f: int) -> float:
    """Give the ratio at which the restricted likelihood is greatest, 0 where it only falls."""
    from scipy.optimize import brentq

    grid = np.linspace(0, 1, 201)[:-1]
    grown = 1 + np.outer(grid / (1 - grid), eigen)
    deviance = np.log(grown).sum(axis=1) + (eigen.size + f) * np.log((w**2 / grown).sum(axis=1) + squared)
    best = int(np.argmin(deviance))

    def slope(share: float) -> float:
        """Give that of the deviance: where it is 0 is told to the last digit, its least is not."""
        grown = 1 + eigen * share / (1 - share)
        pull = np.sum(eigen * (w / grown) ** 2) / (np.sum(w**2 / grown) + squared)
        return float(np.sum(eigen / grown) - (eigen.size + f) * pull)

    low, high = grid[max(best - 1, 0)], grid[min(best + 1, grid.size - 1)]
    share = float(brentq(slope, low, high, xtol=1e-15)) if slope(low) < 0 < slope(high) else float(grid[best])
    return share / (1 - share)


def _wald(w: Floats, eigen: Floats, squared: float, f: int, tail: float) -> tuple[float, float]:
    """Give Wald's limits of the ratio; 0 where even no spread between fitters is too much."""
    from scipy.special import fdtri

    sums = np.array([fdtri(eigen.size, f, share) * eigen.size * float(squared / f) for share in (1 - tail, tail)])
    lower, upper = _between(w, eigen, np.ones(2), sums)
    return float(lower), float(upper)


def _between(w: Floats, eigen: Floats, s2: Floats, sums: Floats) -> Floats:
    """Solve ``sum w_i^2 / (s2 + l_i t) = sums`` for t, 0 where the sum is below at t = 0; any shape of s2 and sums."""

    def at(t: Floats) -> Floats:
        return np.asarray((w**2 / (s2[:, None] + eigen * t[:, None])).sum(axis=1))

    # at this t and beyond the sum is below what is asked
    high = (w**2 / eigen).sum() / sums
    low = np.zeros_like(high)
    for _ in range(60):
        middle = (low + high) / 2
        above = at(middle) > sums
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return np.asarray(np.where(at(np.zeros_like(low)) <= sums, 0.0, (low + high) / 2))


def _contrasts(
    carless: Floats, rest: Floats, s2: float, f: int, confidence: float, contrasts: Iterable[Floats]
) -> Iterator[Estimate]:
    """Give sums of the fitters' effects with limits of Student's t, or why one cannot be told from the cars."""
    from scipy.special import stdtrit

    square = carless.T @ carless
    inverse = np.linalg.pinv(square, rcond=ROUNDING, hermitian=True)
    effect = inverse @ carless.T @ rest
    t = float(stdtrit(f, (1 + confidence) / 2))
    for contrast in contrasts:
        if not np.allclose(inverse @ square @ contrast, contrast, atol=1e-6):
            yield Estimate(reason="they never set the tension of the same cars")
            continue
        half = t * float(np.sqrt(s2 * contrast @ inverse @ contrast))
        middle = float(contrast @ effect)
        yield Estimate(middle, middle - half, middle + half)
