"""A straight line through readings of many belts, each belt off the line by a constant of its own.

y = k'beta + u_belt + e, u ~ N(0, r s^2), e ~ N(0, s^2), readings of one belt sharing its u. With n_j readings of belt
j, their means m_j and W the sums of squares about those means, all that follows comes from the one table

    A(r) = W + sum_j n_j / (1 + n_j r) m_j m_j'          of the columns and y

(generalised least squares: beta and the residual sum of squares S are its regression) and sum_j log(1 + n_j r). The
ratio r >= 0 is looked for in one dimension, on a grid and then within its best cell, so that a second hill is seen.

Estimates stand at the r of the restricted likelihood (Patterson and Thompson, Biometrika 58, 1971), s^2 = S / (n - p).
Limits are every value whose profile likelihood ratio, r maximised anew, is at most n log(1 + t^2 / (n - p)): without
belts that is the t test. At one r those values are an interval in closed form (for a crossing by the quadratic of
Fieller, J R Stat Soc B 16, 1954); over all r they are the union of such intervals.

What a belt's next readings will be is the best linear unbiased prediction (Henderson, Biometrics 31, 1975).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from math import expm1, log, log1p, sqrt
from typing import NamedTuple

import numpy as np

from drivekit.life.folds import Estimate, Floats, Ints

__all__ = ["ByBelt", "by_belt"]

# Largest ratio looked at, times the readings of a belt: beyond it the belts' lines lie apart without end.
_MOST = 1e9
_CELLS = 600
# Places at which the ratio is tried, as log(1 + ratio x readings of a belt): even steps near 0, shares beyond.
_GRID = np.linspace(0.0, log(_MOST), _CELLS + 1)
_EXACT, _NEAR = 1e-12, 1e-4
ENDLESS = "settings however far out are not ruled out"


class _Fits(NamedTuple):
    """The fit at each of some ratios, the settings centred on their means."""

    beta: Floats
    inverse: Floats
    rss: Floats
    log_det: Floats
    log_belts: Floats


@dataclass(frozen=True, slots=True, eq=False)
class ByBelt:
    """The line and what it rests on.

    Parameters
    ----------
    coefficients : ndarray of float, shape (p,)
        At the columns' own zero, in their order; the first is the constant.
    belt_sd, noise_sd : float
        Spread from belt to belt, and of a reading about its belt's line.
    offsets : ndarray of float, shape (n_belts,)
        How far each belt's line is expected to lie off the mean line, drawn in by how little was read of it.
    """

    n: int
    coefficients: Floats
    belt_sd: float
    noise_sd: float
    offsets: Floats
    _counts: Ints
    _means: Floats
    _parts: tuple[Ints, Ints, Floats, Floats]
    _centre: Floats
    _ratio: float
    _best: float

    @property
    def dof(self) -> int:
        """Readings less columns."""
        return self.n - self.coefficients.size

    def slope_limits(self, column: int, confidence: float) -> tuple[float, float]:
        """Limits of a column's coefficient, by a t quantile with n - p degrees of freedom."""

        def ends(grid: Floats) -> tuple[Floats, Floats, Floats]:
            fits, spare = self._spare(grid, self._cut(confidence, self.dof))
            half = np.sqrt(np.maximum(spare, 0) * fits.inverse[:, column, column])
            return fits.beta[:, column] - half, fits.beta[:, column] + half, spare

        lower, upper, _ = self._union(ends)
        return lower, upper

    def crossing(self, column: int, at: Floats, confidence: float) -> Estimate:
        """Find where the line crosses zero along a column, the others held at `at`.

        The limits go by a t quantile with one degree of freedom less than there are belts.
        """
        rest = float(at @ self.coefficients - at[column] * self.coefficients[column])
        slope = float(self.coefficients[column])
        if slope == 0.0:
            return Estimate(reason="the line is level, so it crosses zero nowhere")
        held = at - self._centre[:-1]
        held[0], held[column] = 1.0, 0.0

        def ends(grid: Floats) -> tuple[Floats, Floats, Floats]:
            # (a + b v)^2 <= spare k'Ck with k = held + v e: a quadratic in v, without end where square <= 0
            fits, spare = self._spare(grid, self._cut(confidence, self._counts.size - 1))
            size = np.maximum(spare, 0)
            a, b = fits.beta @ held, fits.beta[:, column]
            aa, ab = np.einsum("i,rij,j->r", held, fits.inverse, held), fits.inverse[:, column] @ held
            square = b**2 - size * fits.inverse[:, column, column]
            middle, last = a * b - size * ab, a**2 - size * aa
            with np.errstate(divide="ignore", invalid="ignore"):
                root = np.sqrt(np.maximum(middle**2 - square * last, 0))
                low, high = (-middle - root) / square, (-middle + root) / square
            endless = square <= 0
            return np.where(endless, -np.inf, low), np.where(endless, np.inf, high), spare

        lower, upper, whole = self._union(ends)
        if not np.isfinite([lower, upper]).all():
            return Estimate(-rest / slope, reason=ENDLESS)
        if not whole:
            return Estimate(-rest / slope, reason="the settings not ruled out fall apart into two stretches")
        middle = float(self._centre[column])
        return Estimate(-rest / slope, float(lower + middle), float(upper + middle))

    def expected(self, at: Floats, belt: int) -> tuple[Floats, Floats]:
        """Give mean and covariance, shapes (m,) and (m, m), of one belt's line, a new reading's noise left out.

        Parameters
        ----------
        at : ndarray of float, shape (m, p)
            Settings, the constant's 1 first.
        belt : int
            Code of the belt.
        """
        fits = _fits(*self._parts, np.array([self._ratio]))
        count = self._counts[belt]
        drawn = count * self._ratio / (1 + count * self._ratio)
        own = at - self._centre[:-1]
        own[:, 0] = 1.0
        rows = own - drawn * self._means[belt, :-1]
        spread = rows @ fits.inverse[0] @ rows.T + self._ratio * (1 - drawn)
        return at @ self.coefficients + self.offsets[belt], self.noise_sd**2 * spread

    def _cut(self, confidence: float, dof: int) -> float:
        from scipy.special import stdtrit

        return self.n * log1p(float(stdtrit(dof, (1 + confidence) / 2)) ** 2 / self.dof)

    def _spare(self, grid: Floats, cut: float) -> tuple[_Fits, Floats]:
        """Give the fits on the grid, and how much their sum of squares may grow within the limits."""
        fits = _fits(*self._parts, np.expm1(grid) / self._counts.mean())
        return fits, np.exp((self._best + cut - fits.log_belts) / self.n) - fits.rss

    def _union(self, ends: Callable[[Floats], tuple[Floats, Floats, Floats]]) -> tuple[float, float, bool]:
        """Unite the intervals of all ratios; whether they are one."""
        best = log1p(self._ratio * self._counts.mean())
        grid = np.append(_GRID, best)
        low, high, spare = ends(np.sort(grid))
        inside = spare >= 0
        order = np.argsort(low[inside])
        lows, highs = low[inside][order], high[inside][order]
        whole = bool(np.all(lows[1:] <= np.maximum.accumulate(highs)[:-1]))

        def outer(side: int) -> Callable[[Floats], Floats]:
            def of(at: Floats) -> Floats:
                found = ends(at)
                return np.where(found[2] >= 0, (found[0], -found[1])[side], np.inf)

            return of

        return _least(outer(0), best)[1], -_least(outer(1), best)[1], whole


def by_belt(columns: Floats, y: Floats, belt: Ints) -> ByBelt | str:
    """Fit the line, or say why it cannot be had.

    Parameters
    ----------
    columns : ndarray of float, shape (n, p)
        The constant first, then the settings; not one determined by the others.
    y : ndarray of float, shape (n,)
        Readings.
    belt : ndarray of int, shape (n,)
        Code of each reading's belt, from 0, none left out.
    """
    from scipy.optimize import brentq

    n, p = columns.shape
    counts = np.bincount(belt)
    both = np.column_stack((columns, y)).astype(float)
    centre = both.mean(axis=0)
    centre[[0, -1]] = 0.0
    both -= centre
    means = np.column_stack([np.bincount(belt, weights=column) for column in both.T]) / counts[:, None]
    own = both - means[belt]
    parts = *_by_size(counts, means), own.T @ own
    mean = counts.mean()

    def deviance(grid: Floats, lost: int) -> Floats:
        fits = _fits(*parts, np.expm1(grid) / mean)
        full: Floats = (n - lost) * np.log(fits.rss) + fits.log_belts
        return full + fits.log_det if lost else full

    def slope(at: float) -> float:
        """Give that of the restricted deviance: where it is 0 is told to the last digit, its least is not."""
        size, of_size, products, _ = parts
        each = size / (1 + expm1(at) / mean * size)
        fits, less = _fits(*parts, np.array([expm1(at) / mean])), np.einsum("s,sab->ab", each**2, products)
        off = np.append(fits.beta[0], -1.0)
        lost = (n - p) * (off @ less @ off) / fits.rss[0] + np.sum(fits.inverse[0] * less[:-1, :-1])
        return float(each @ of_size - lost)

    place = _least(partial(deviance, lost=p))[0]
    if slope(place - _NEAR) < 0 < slope(place + _NEAR):
        place = brentq(slope, place - _NEAR, place + _NEAR, xtol=1e-15)
    ratio = expm1(place) / float(mean)
    fits = _fits(*parts, np.array([ratio]))
    if place > log(_MOST) - 1 or fits.rss[0] <= max(_EXACT * float(y @ y), 1e-300):
        return "the readings of each belt lie on its line to the last digit, so their scatter cannot be told"
    coefficients = fits.beta[0].copy()
    offsets = counts * ratio / (1 + counts * ratio) * (means[:, -1] - means[:, :-1] @ coefficients)
    coefficients[0] -= coefficients[1:] @ centre[1:-1]
    noise = sqrt(float(fits.rss[0]) / (n - p))
    best = _least(partial(deviance, lost=0))[1]
    return ByBelt(n, coefficients, noise * sqrt(ratio), noise, offsets, counts, means, parts, centre, ratio, best)


def _by_size(counts: Ints, means: Floats) -> tuple[Ints, Ints, Floats]:
    """Gather belts by how many readings they have, on which alone their weight depends: belts, and their products."""
    size, group, of_size = np.unique(counts, return_inverse=True, return_counts=True)
    products = np.zeros((size.size, means.shape[1], means.shape[1]))
    np.add.at(products, group, means[:, :, None] * means[:, None, :])
    return size, of_size, products


def _fits(size: Ints, of_size: Ints, products: Floats, within: Floats, ratio: Floats) -> _Fits:
    table = within + np.einsum("rs,sab->rab", size / (1 + np.outer(ratio, size)), products)
    log_belts = np.log1p(np.outer(ratio, size)) @ of_size
    inverse = np.linalg.inv(table[:, :-1, :-1])
    beta = np.einsum("rab,rb->ra", inverse, table[:, :-1, -1])
    rss = table[:, -1, -1] - np.einsum("ra,ra->r", beta, table[:, :-1, -1])
    log_det = np.linalg.slogdet(table[:, :-1, :-1])[1]
    return _Fits(beta, inverse, np.maximum(rss, np.finfo(float).tiny), log_det, log_belts)


def _least(value: Callable[[Floats], Floats], best: float = 0.0) -> tuple[float, float]:
    """Find where a function of the ratio's place is least, and how little: on the grid, then in the cells beside.

    Of very many belts all that is not ruled out may lie between two places of the grid: then on one about the `best`.
    """
    from scipy.optimize import minimize_scalar

    grid = _GRID
    tried = value(grid)
    if not np.isfinite(tried).any():
        grid = np.linspace(max(best - grid[1], 0.0), best + grid[1], _CELLS + 1)
        tried = value(grid)
    place = int(np.argmin(tried))
    cell = (grid[max(place - 1, 0)], grid[min(place + 1, _CELLS)])
    with np.errstate(invalid="ignore"):  # what is ruled out is infinite, and one infinity less another no number
        found = minimize_scalar(
            lambda at: float(value(np.array([at]))[0]), bounds=cell, method="bounded", options={"xatol": 1e-10}
        )
    return (float(found.x), float(found.fun)) if found.fun < tried[place] else (float(grid[place]), float(tried[place]))
