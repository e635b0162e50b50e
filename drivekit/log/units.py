"""Units: the one place where inch-pound values become metric.

A column's unit stands at the end of its name. Each metric unit below has one inch-pound twin; a heading with the twin's
ending is taken for the same column, and its values are converted here and nowhere else.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["INCH_POUND", "MILLIMETRES_AN_INCH", "NEWTONS_A_POUND", "Twin", "twin_name"]

MILLIMETRES_AN_INCH = 25.4
NEWTONS_A_POUND = 4.4482216152605
# A pound is .45359237 kg and a foot .3048 m, both exactly, since the agreement of 1959.
GRAMS_A_METRE_IN_A_POUND_A_FOOT = 453.59237 / 0.3048


@dataclass(frozen=True, slots=True)
class Twin:
    """An inch-pound unit and the metric unit it stands for: metric = (value - zero) * factor / divisor.

    Parameters
    ----------
    ending : str
        How a heading in the metric unit ends.
    twin_ending : str
        How a heading in the inch-pound unit ends.
    unit : str
        The inch-pound unit as a person writes it.
    factor, divisor : float
        Metric units in one inch-pound unit, as a fraction where that is exact.
    zero : float
        The inch-pound reading at metric zero.
    """

    ending: str
    twin_ending: str
    unit: str
    factor: float
    divisor: float = 1.0
    zero: float = 0.0

    def metric(self, value: float) -> float:
        """Convert an inch-pound value to the metric unit."""
        return (value - self.zero) * self.factor / self.divisor

    def inch_pound(self, value: float) -> float:
        """Convert a metric value back, for a message in the unit that was typed."""
        return value * self.divisor / self.factor + self.zero


INCH_POUND: dict[str, Twin] = {
    "mm": Twin("_mm", "_in", "in", MILLIMETRES_AN_INCH),
    "N": Twin("_n", "_lbf", "lbf", NEWTONS_A_POUND),
    "°C": Twin("_c", "_f", "°F", 5.0, 9.0, 32.0),
    "g/m": Twin("_g_per_m", "_lb_per_ft", "lb/ft", GRAMS_A_METRE_IN_A_POUND_A_FOOT),
}


def twin_name(name: str, unit: str) -> str | None:
    """Give the heading that means the same column in inch-pound units; None where the unit has no twin.

    Examples
    --------
    >>> twin_name("tension_n", "N")
    'tension_lbf'
    """
    twin = INCH_POUND.get(unit)
    return None if twin is None else name.removesuffix(twin.ending) + twin.twin_ending
