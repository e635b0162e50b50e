"""Which thread a screw has, and so how far one turn and one flat move it.

One turn of a single-start screw moves it one pitch P; a flat is a sixth of a turn, so P / 6. The tensile stress area
is that of a circle midway between the pitch diameter and the root: pi / 4 (d - .9743 P)^2 for inch threads
(ASME B1.1), pi / 4 (d - .9382 P)^2 for metric ones (ISO 898-1). What a screw holds is for ``clamp`` to say.

Tables: inch diameters and threads per inch from ASME B1.1 (UNC, UNF); metric diameters and pitches from ISO 261, the
coarse pitch first. Both were read against public tables; the printed standards decide.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction

from drivekit.drive.amounts import INCH_M

__all__ = ["FLATS_IN_A_TURN", "INCH_THREADS", "METRIC_PITCHES_MM", "Thread", "thread"]

FLATS_IN_A_TURN = 6

INCH_THREADS: dict[str, tuple[int, int]] = {
    "1/4": (20, 28),
    "5/16": (18, 24),
    "3/8": (16, 24),
    "7/16": (14, 20),
    "1/2": (13, 20),
    "9/16": (12, 18),
    "5/8": (11, 18),
    "3/4": (10, 16),
}
"""Nominal diameter in inches to threads per inch, coarse (UNC) then fine (UNF): ASME B1.1."""

METRIC_PITCHES_MM: dict[int, tuple[float, ...]] = {
    4: (0.7, 0.5),
    5: (0.8, 0.5),
    6: (1.0, 0.75),
    8: (1.25, 1.0, 0.75),
    10: (1.5, 1.25, 1.0, 0.75),
    12: (1.75, 1.5, 1.25, 1.0),
    14: (2.0, 1.5, 1.25, 1.0),
    16: (2.0, 1.5, 1.0),
    18: (2.5, 2.0, 1.5, 1.0),
    20: (2.5, 2.0, 1.5, 1.0),
    22: (2.5, 2.0, 1.5, 1.0),
    24: (3.0, 2.0, 1.5, 1.0),
}
"""Nominal diameter to pitches, the coarse one first, then the fine ones: ISO 261."""

_INCH = re.compile(r"(\d+/\d+)\s*(?:in)?\s*-\s*(\d+)\s*(?:unc|unf)?", re.IGNORECASE)
_METRIC = re.compile(r"m\s*(\d+)(?:\s*x\s*(\d*\.?\d+))?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Thread:
    """A screw thread: its name, its nominal diameter and how far one turn moves it.

    Parameters
    ----------
    name : str
        As the trade writes it: ``3/8-24 UNF``, ``M10x1.25``.
    diameter_m, pitch_m : float
        Nominal (major) diameter and pitch.
    metric : bool
        Which of the two stress areas holds.
    """

    name: str
    diameter_m: float
    pitch_m: float
    metric: bool

    @property
    def flat_m(self) -> float:
        """Travel of one flat, a sixth of a turn."""
        return self.pitch_m / FLATS_IN_A_TURN

    @property
    def pitch_diameter_m(self) -> float:
        """Basic pitch diameter, d - .649519 P (both systems share the 60 degree profile of ISO 68-1)."""
        return self.diameter_m - 3 * math.sqrt(3) / 8 * self.pitch_m

    @property
    def stress_area_m2(self) -> float:
        """Tensile stress area: ASME B1.1 for inch threads, ISO 898-1 for metric ones."""
        shrink = 0.9382 if self.metric else 0.9743
        return math.pi / 4 * (self.diameter_m - shrink * self.pitch_m) ** 2

    def __str__(self) -> str:
        return (
            f"{self.name}: one turn moves {self.pitch_m * 1e3:.3f} mm ({self.pitch_m / INCH_M:.5f} in), "
            f"one flat {self.flat_m * 1e3:.4f} mm ({self.flat_m / INCH_M:.5f} in)."
        )


def thread(name: str) -> Thread:
    """Read a thread from the way the trade writes it.

    Parameters
    ----------
    name : str
        ``3/8-24``, ``3/8-24 UNF``, ``M10x1.25``; ``M10`` alone means the coarse pitch, as in ISO 261.

    Raises
    ------
    ValueError
        If the name is no thread, or no thread of the tables; the sentence lists what that diameter can have.

    References
    ----------
    ASME B1.1, *Unified Inch Screw Threads*; ISO 261, *ISO general purpose metric screw threads: general plan*.
    """
    text = name.strip()
    if match := _INCH.fullmatch(text):
        return _inch_thread(text, match[1], int(match[2]))
    if match := _METRIC.fullmatch(text):
        return _metric_thread(text, int(match[1]), None if match[2] is None else float(match[2]))
    raise ValueError(f'"{name}" is no thread; write it like 3/8-24 (UNC or UNF) or M10x1.25.')


def _inch_thread(text: str, size: str, threads_per_inch: int) -> Thread:
    if size not in INCH_THREADS:
        raise ValueError(f'"{text}": no {size} in screw is in the table; there are {", ".join(INCH_THREADS)} in.')
    coarse, fine = INCH_THREADS[size]
    series = {coarse: "UNC", fine: "UNF"}.get(threads_per_inch)
    if series is None:
        raise ValueError(f'"{text}": a {size} in screw has {coarse} (UNC) or {fine} (UNF) threads per inch.')
    if text[-3:].upper() in ("UNC", "UNF") and text[-3:].upper() != series:
        raise ValueError(f'"{text}": {threads_per_inch} threads per inch on {size} in is {series}.')
    diameter_m = float(Fraction(size)) * INCH_M
    return Thread(f"{size}-{threads_per_inch} {series}", diameter_m, INCH_M / threads_per_inch, metric=False)


def _metric_thread(text: str, diameter_mm: int, pitch_mm: float | None) -> Thread:
    if diameter_mm not in METRIC_PITCHES_MM:
        sizes = ", ".join(f"M{size}" for size in METRIC_PITCHES_MM)
        raise ValueError(f'"{text}": M{diameter_mm} is not in the table; there are {sizes}.')
    pitches = METRIC_PITCHES_MM[diameter_mm]
    pitch = pitches[0] if pitch_mm is None else pitch_mm
    if pitch not in pitches:
        listed = ", ".join(f"{one:g}" for one in pitches)
        raise ValueError(f'"{text}": an M{diameter_mm} screw has a pitch of {listed} mm (the first is the coarse one).')
    return Thread(f"M{diameter_mm}x{pitch:g}", diameter_mm * 1e-3, pitch * 1e-3, metric=True)
