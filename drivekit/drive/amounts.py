"""How the drive's amounts are said, in the two systems a crew reads, and the checks every calculator shares."""

from __future__ import annotations

import math

__all__ = ["INCH_M", "POUND_N", "an_amount", "flats_words", "force_words", "length_words", "positive"]

INCH_M = 0.0254
POUND_N = 4.4482216152605


def length_words(length_m: float) -> str:
    """Say a length: ``0.176 mm (0.0069 in)``."""
    return f"{length_m * 1e3:.3f} mm ({length_m / INCH_M:.4f} in)"


def force_words(force_n: float) -> str:
    """Say a force: ``7,812 N (1,756 lbf)``."""
    return f"{force_n:,.0f} N ({force_n / POUND_N:,.0f} lbf)"


def flats_words(flats: float) -> str:
    """Say flats: ``1 flat``, ``2.5 flats``."""
    return f"{flats:g} flat" if abs(flats) == 1 else f"{round(flats, 2):g} flats"


def an_amount(value: float, what: str) -> float:
    """Give a number back, or say that it is none.

    Raises
    ------
    ValueError
        If ``value`` is not finite.
    """
    if not math.isfinite(value):
        raise ValueError(f"Nothing can be computed without {what}: give a number.")
    return float(value)


def positive(value: float, what: str) -> float:
    """Give a number back, or say that it must be more than 0.

    Raises
    ------
    ValueError
        If ``value`` is not a number above 0.
    """
    if not an_amount(value, what) > 0:
        raise ValueError(f"{what[0].upper()}{what[1:]} must be more than 0, not {value:g}.")
    return float(value)
