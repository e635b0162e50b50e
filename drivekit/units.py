"""Units: what a log and a drive file may be written in, how those convert, and amounts said in the reader's own.

Everything is computed in SI. Each metric unit that a person writes has one inch-pound twin; `Units` says amounts in
the one or the other, and in both where a sentence or a table has room. Who was handed amounts in inches or pounds is
answered in them.
"""

from __future__ import annotations

from abc import abstractmethod
from dataclasses import dataclass
from typing import NamedTuple

__all__ = [
    "INCH_M",
    "INCH_POUND",
    "POUND_N",
    "SI",
    "Amount",
    "Refusal",
    "Spoken",
    "Twin",
    "Units",
    "flats_words",
    "long",
    "refused_in",
]

# A pound is .45359237 kg, a foot .3048 m and standard gravity 9.80665 m/s^2, all exactly, since the agreement of 1959.
INCH_M = 0.0254
POUND_N = 4.4482216152605
FOOT_M = 12 * INCH_M


@dataclass(frozen=True, slots=True)
class Twin:
    """An inch-pound unit and the metric unit it stands for: metric = (value - zero) * factor / divisor.

    Parameters
    ----------
    ending, twin_ending : str
        How a heading or a key in the metric unit ends, and one in the inch-pound unit.
    unit : str
        The inch-pound unit as a person writes it.
    factor, divisor : float
        Metric units in one inch-pound unit, as a fraction where that is exact.
    zero : float
        The inch-pound reading at metric zero.
    more : int
        How many decimals more than the metric number an inch-pound one takes to be as fine.
    """

    ending: str
    twin_ending: str
    unit: str
    factor: float
    divisor: float = 1.0
    zero: float = 0.0
    more: int = 0

    def metric(self, value: float) -> float:
        """Convert an inch-pound value to the metric unit."""
        return (value - self.zero) * self.factor / self.divisor

    def inch_pound(self, value: float) -> float:
        """Convert a metric value back, for a message in the unit that was typed."""
        return value * self.divisor / self.factor + self.zero


INCH_POUND: dict[str, Twin] = {
    "mm": Twin("_mm", "_in", "in", 25.4, more=1),
    "N": Twin("_n", "_lbf", "lbf", POUND_N),
    "°C": Twin("_c", "_f", "°F", 5.0, 9.0, 32.0),
    "N m": Twin("_n_m", "_lbf_ft", "lbf ft", POUND_N * FOOT_M),
    "g/m": Twin("_g_per_m", "_lb_per_ft", "lb/ft", 453.59237 / FOOT_M, more=3),
    "g": Twin("_g", "_lb", "lb", 453.59237, more=3),
    "L": Twin("_l", "_in3", "in³", 25.4**3 / 1e6),
    "kPa": Twin("_kpa", "_psi", "psi", POUND_N / 25.4**2 * 1e3, more=1),
    "N/mm": Twin("_n_per_mm", "_lbf_per_in", "lbf/in", POUND_N / 25.4),
    "kW": Twin("_kw", "_hp", "hp", 550 * POUND_N * FOOT_M / 1e3),
    "MPa": Twin("_mpa", "_ksi", "ksi", POUND_N / 25.4**2 * 1e3, more=1),
    "m/s": Twin("_m_per_s", "_ft_per_s", "ft/s", FOOT_M),
}
"""By the metric unit as a person writes it."""


@dataclass(frozen=True, slots=True)
class Units:
    """How amounts are said: in metric units, or in their inch-pound twins; numbers are handed in metric."""

    inch_pound: bool = False

    def value(self, metric: float, unit: str) -> float:
        """Convert a metric number of a unit to the one that is said."""
        return INCH_POUND[unit].inch_pound(metric) if self.inch_pound else metric

    def metric(self, said: float, unit: str) -> float:
        """Convert a number as it is said back to the metric one."""
        return INCH_POUND[unit].metric(said) if self.inch_pound else said

    def apart(self, metric: float, unit: str) -> float:
        """Convert how far two metric numbers are apart: 10 °C more are 18 °F more."""
        return self.value(metric, unit) - self.value(0.0, unit)

    def warmer(self, difference_c: float, sign: str = "") -> str:
        """Say how much warmer one thing is than another: ``+1.5 °C``, ``+2.7 °F``."""
        return f"{self.apart(difference_c, '°C'):{sign}.1f} {self.name('°C')}"

    def name(self, unit: str) -> str:
        """Name the unit that is said for a metric one."""
        return INCH_POUND[unit].unit if self.inch_pound else unit

    def digits(self, unit: str, metric: int) -> int:
        """Count the decimals that are as fine as so many of the metric number."""
        return metric + (INCH_POUND[unit].more if self.inch_pound else 0)

    def number(self, metric: float, unit: str, digits: int = 0, sign: str = "") -> str:
        """Write a metric number as it is said, without its unit; `digits` are the decimals of the metric one."""
        parted = "" if digits else ","
        return f"{self.value(metric, unit):{sign}{parted}.{self.digits(unit, digits)}f}"

    def said(self, metric: float, unit: str, digits: int = 0, sign: str = "") -> str:
        """Say an amount: ``9.1 mm``, ``0.36 in``."""
        return f"{self.number(metric, unit, digits, sign)} {self.name(unit)}"

    def both(self, metric: float, unit: str, digits: int = 0, sep: str = " ({})") -> str:
        """Say an amount, and the same in the other units beside it."""
        other = Units(not self.inch_pound)
        return self.said(metric, unit, digits) + sep.format(other.said(metric, unit, digits))

    def force(self, force_n: float) -> str:
        """Say a force: ``7,812 N (1,756 lbf)``."""
        return self.both(force_n, "N")

    def length(self, length_m: float) -> str:
        """Say a length to a micron: ``0.176 mm (0.0069 in)``."""
        return self.both(length_m * 1e3, "mm", 3)

    def long(self, length_m: float, digits: int = 1) -> str:
        """Say a length, to so many decimals of a millimetre: ``9.1 mm``, ``0.36 in``."""
        return self.said(length_m * 1e3, "mm", digits)

    def range(self, low: float, high: float, unit: str, digits: int = 0, sign: str = "") -> str:
        """Say a range: ``830 to 1,020 N``."""
        return f"{self.number(low, unit, digits, sign)} to {self.said(high, unit, digits, sign)}"


SI = Units()


class Spoken:
    """What says itself in sentences: `str` in metric units first, `said` in any."""

    __slots__ = ()

    def said(self, units: Units) -> str:
        """Say it in these units."""
        return self._said(units)

    def __str__(self) -> str:
        return self._said(SI)

    @abstractmethod
    def _said(self, units: Units) -> str: ...


class Amount(NamedTuple):
    """A metric number, its unit and the decimals it is said to."""

    metric: float
    unit: str
    digits: int = 0


def long(length_m: float, digits: int = 1) -> Amount:
    """Give a length as an amount, to so many decimals of a millimetre."""
    return Amount(length_m * 1e3, "mm", digits)


class Refusal(ValueError):
    """Why something cannot be computed: a sentence with a ``{}`` for each of its parts, amounts and names."""

    def __init__(self, sentence: str, *parts: object) -> None:
        self._sentence, self._parts = sentence, parts
        super().__init__(self.said(SI))

    def said(self, units: Units) -> str:
        """Say it in these units."""
        parts = [units.said(*part) if isinstance(part, Amount) else part for part in self._parts]
        return self._sentence.format(*parts) if parts else self._sentence


def refused_in(units: Units, refusal: ValueError) -> str:
    """Say why something was refused, the amounts in these units; without its full stop."""
    return (refusal.said(units) if isinstance(refusal, Refusal) else str(refusal)).rstrip(".")


def flats_words(flats: float) -> str:
    """Say flats: ``1 flat``, ``2.5 flats``."""
    return f"{flats:g} flat" if abs(flats) == 1 else f"{round(flats, 2):g} flats"
