"""A straight line through readings: its slope, where it crosses zero, and the chance of the next reading.

Ordinary least squares, y = a + b x + error, errors independent and normal with one spread; dof = n - 2.

- Slope: b = S_xy / S_xx, se = s / sqrt(S_xx), limits b -/+ t se.
- Zero x0 = -a / b, limits by Fieller (J R Stat Soc B 16, 1954). If the line is zero at x, then
  T(x) = (m + b d) / (s sqrt(1/n + d^2 / S_xx)), with m the mean of y and d = x less its mean, follows Student's law.
  The limits hold every x that the test |T(x)| <= t does not refuse: with q = t^2 s^2, those d with
  (b^2 - q / S_xx) d^2 + 2 m b d + (m^2 - q / n) <= 0. This is an interval exactly when b^2 > q / S_xx, that is when
  the slope's own limits leave 0 out; else settings however far out are not refused, there are no limits, and the
  crossing is not given either: without limits it would only be taken for more than it is.
- Next reading at x: a + b x + s sqrt(1 + 1/n + d^2 / S_xx) t.

Draper and Smith, *Applied Regression Analysis* (1998), the section on inverse regression, has the same limits.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["LEAST_RUNS", "Estimate", "Line", "adjusted_slope", "line", "t_quantile"]

Floats = NDArray[np.float64]

LEAST_RUNS = 4
"""A line through fewer leaves one degree of freedom or none: its limits say nothing."""

# Below this share of its own size, what is left of a column after the others are taken out is rounding.
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Estimate:
    """An estimate with its limits; what is None is explained by ``reason``."""

    estimate: float | None
    lower: float | None
    upper: float | None
    reason: str = ""

    def block(self) -> dict[str, float | str | None]:
        """Give the plain form of findings: three keys, and ``reason`` when one of them is null."""
        three: dict[str, float | str | None] = {"estimate": self.estimate, "lower": self.lower, "upper": self.upper}
        return three | ({"reason": self.reason} if self.reason else {})

    def words(self, unit: str, digits: int = 1) -> str:
        """Say the estimate with its limits, or why it cannot be told."""
        if self.estimate is None:
            return f"cannot be told: {self.reason}"
        return f"{self.estimate:z.{digits}f} {unit} ({self.lower:z.{digits}f} to {self.upper:z.{digits}f})"


def t_quantile(probability: float, dof: int) -> float:
    """Quantile of Student's law."""
    from scipy.special import stdtrit

    return float(stdtrit(dof, probability))


@dataclass(frozen=True, slots=True)
class Line:
    """A least-squares line: centre, slope, sum of squares about the centre, residual spread."""

    n: int
    x_mean: float
    y_mean: float
    slope: float
    sxx: float
    spread: float
    confidence: float

    @property
    def dof(self) -> int:
        """Degrees of freedom."""
        return self.n - 2

    @property
    def _t(self) -> float:
        return t_quantile((1 + self.confidence) / 2, self.dof)

    def at(self, x: float) -> float:
        """Height of the line at x."""
        return self.y_mean + self.slope * (x - self.x_mean)

    def limits_at(self, x: float) -> tuple[float, float]:
        """Limits of the line's height at x."""
        half = self._t * self.spread * math.sqrt(1 / self.n + (x - self.x_mean) ** 2 / self.sxx)
        return self.at(x) - half, self.at(x) + half

    def slope_estimate(self) -> Estimate:
        """Slope with its t limits."""
        half = self._t * self.spread / math.sqrt(self.sxx)
        return Estimate(self.slope, self.slope - half, self.slope + half)

    def zero(self) -> Estimate:
        """Where the line crosses zero, with Fieller's limits, or nothing of it (see the top of this module)."""
        q = (self._t * self.spread) ** 2
        bend = self.slope**2 - q / self.sxx
        if self.slope == 0.0:
            return Estimate(None, None, None, "the line is level, so it crosses zero nowhere")
        if bend <= 0.0:
            reason = "the slope's limits span 0, so settings however far out are not ruled out"
            return Estimate(None, None, None, reason)
        crossing = self.x_mean - self.y_mean / self.slope
        middle = -self.y_mean * self.slope / bend
        # Never negative where bend > 0; the floor takes off rounding when every point is on the line.
        half = math.sqrt(max(0.0, middle**2 - (self.y_mean**2 - q / self.n) / bend))
        return Estimate(crossing, self.x_mean + middle - half, self.x_mean + middle + half)

    def chance_within(self, x: float, bound: float) -> float:
        """Chance that the next reading at x lies within -/+ ``bound``, under the t law of a new reading."""
        from scipy.special import stdtr

        scale = self.spread * math.sqrt(1 + 1 / self.n + (x - self.x_mean) ** 2 / self.sxx)
        if scale == 0.0:
            return float(abs(self.at(x)) < bound)
        high, low = ((edge - self.at(x)) / scale for edge in (bound, -bound))
        return float(stdtr(self.dof, high) - stdtr(self.dof, low))


def line(x: Floats, y: Floats, *, confidence: float = 0.95) -> Line | str:
    """Fit a line, or say why it cannot be had.

    Parameters
    ----------
    x, y : ndarray of float, shape (n,)
        Settings and readings, all known.
    confidence : float
        Level of every interval.

    Returns
    -------
    Line or str
        The reason when there are fewer than four readings, or one setting only.

    Raises
    ------
    ValueError
        If the shapes differ, or a value is not finite, or the confidence is not between 0 and 1.
    """
    if x.ndim != 1 or x.shape != y.shape or not (np.isfinite(x).all() and np.isfinite(y).all()):
        raise ValueError("A line needs as many settings as readings, all of them numbers.")
    if not 0 < confidence < 1:
        raise ValueError(f"A confidence of {confidence:g} is none; give one between 0 and 1, such as 0.95.")
    if x.size < LEAST_RUNS:
        return f"{x.size} runs with both known, and it takes {LEAST_RUNS}"
    if np.ptp(x) == 0:
        return f"all {x.size} runs were made at one setting ({x[0]:g})"
    x_mean, y_mean = float(x.mean()), float(y.mean())
    dx, dy = x - x_mean, y - y_mean
    sxx = float(dx @ dx)
    slope = float(dx @ dy) / sxx
    left = dy - slope * dx
    spread = math.sqrt(float(left @ left) / (x.size - 2))
    # Points on a line to the last bit leave a spread that is rounding alone.
    exact = spread <= 1e-14 * (abs(y_mean) + float(np.abs(dy).max()))
    return Line(x.size, x_mean, y_mean, slope, sxx, 0.0 if exact else spread, confidence)


def adjusted_slope(
    x: Floats, y: Floats, others: Floats, *, group: NDArray[np.int64] | None = None, confidence: float = 0.95
) -> Estimate:
    """Slope of y on x with other terms held, and its t limits.

    The part of x that the other terms do not explain, r, carries the slope: b = r.y / r.r (Frisch and Waugh,
    Econometrica 1933); s^2 is that of the whole fit, with n less its rank degrees of freedom.

    Parameters
    ----------
    x, y : ndarray of float, shape (n,)
        The term asked for, and the readings.
    others : ndarray of float, shape (n, k)
        The other terms, the constant among them unless there are groups.
    group : ndarray of int, shape (n,), optional
        A code from 0, each value with a constant of its own: taken off as means, which is the same fit.
    confidence : float
        Level of the interval.
    """
    groups = 0
    if group is not None:
        runs = np.bincount(group)
        groups = int((runs > 0).sum())
        size_before = np.linalg.norm(others, axis=0)
        x, y = (v - (np.bincount(group, weights=v) / np.maximum(runs, 1))[group] for v in (x, y))
        means = [np.bincount(group, weights=column) / np.maximum(runs, 1) for column in others.T]
        others = others - np.column_stack([mean[group] for mean in means])
        others = others[:, np.linalg.norm(others, axis=0) > _ROUNDING * size_before]
    held = groups + (int(np.linalg.matrix_rank(others)) if others.size else 0)
    rest = x - others @ np.linalg.lstsq(others, x, rcond=None)[0]
    size = float(rest @ rest)
    if size <= (_ROUNDING * max(1.0, float(np.abs(x).max(initial=0.0)))) ** 2 * x.size:
        return Estimate(None, None, None, "the other terms determine the setting")
    dof = int(x.size - held - 1)
    if dof < LEAST_RUNS - 2:
        reason = f"{x.size} runs leave {max(dof, 0)} degrees of freedom beside {held + 1} terms, and it takes 2"
        return Estimate(None, None, None, reason)
    slope = float(rest @ y) / size
    left = y - others @ np.linalg.lstsq(others, y, rcond=None)[0] - slope * rest
    half = t_quantile((1 + confidence) / 2, dof) * math.sqrt(float(left @ left) / dof / size)
    return Estimate(slope, slope - half, slope + half)
