"""A screw thread from its usual text: what one turn and one flat move.

One turn moves one pitch; a nut's flat is a sixth of a turn. Inch threads are named diameter-threads per inch
("3/8-24", ASME B1.1), metric ones diameter x pitch in mm ("M10x1.25", ISO 261).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

__all__ = ["FLATS_IN_A_TURN", "Thread", "thread"]

FLATS_IN_A_TURN = 6
INCH_M = 0.0254

_INCH = re.compile(r"(?:(?P<whole>\d+)[ -])?(?P<part>\d+/\d+|\d+)-(?P<per_inch>\d+(?:\.\d+)?)")
_METRIC = re.compile(r"[Mm](?P<diameter>\d+(?:\.\d+)?)\s*[xX]\s*(?P<pitch>\d+(?:\.\d+)?)")


@dataclass(frozen=True, slots=True)
class Thread:
    """A thread: how it is written, its nominal diameter and its pitch."""

    text: str
    diameter_m: float
    pitch_m: float

    @property
    def flat_m(self) -> float:
        """What one flat (60 degrees) of the nut moves."""
        return self.pitch_m / FLATS_IN_A_TURN

    def __str__(self) -> str:
        return (
            f"{self.text}: one turn moves {self.pitch_m * 1e3:.3f} mm ({self.pitch_m / INCH_M:.5f} in), "
            f"one flat {self.flat_m * 1e3:.4f} mm ({self.flat_m / INCH_M:.5f} in)."
        )


def thread(text: str) -> Thread:
    """Read a thread such as ``3/8-24`` or ``M10x1.25``.

    Raises
    ------
    ValueError
        If the text is neither form, or gives a pitch as large as the diameter.
    """
    if inch := _INCH.fullmatch(text.strip()):
        if inch["part"].endswith("/0") or float(inch["per_inch"]) == 0:
            raise ValueError(f'"{text}" is no thread; write it as 3/8-24 or M10x1.25')
        diameter = float(Fraction(inch["part"]) + int(inch["whole"] or 0)) * INCH_M
        pitch = INCH_M / float(inch["per_inch"])
    elif metric := _METRIC.fullmatch(text.strip()):
        diameter, pitch = float(metric["diameter"]) * 1e-3, float(metric["pitch"]) * 1e-3
    else:
        raise ValueError(f'"{text}" is no thread; write it as 3/8-24 or M10x1.25')
    if not 0 < pitch < diameter:
        raise ValueError(f'"{text}" has a pitch that is not smaller than its diameter; write it as 3/8-24 or M10x1.25')
    return Thread(text.strip(), diameter, pitch)
