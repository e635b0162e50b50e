"""Screws: which thread, how far a turn and a flat move it, what two of them lift and tilt, which move comes next.

One turn of a single-start screw moves it one pitch P; a flat is a sixth of a turn, so P / 6; a link with a right-hand
and a left-hand end moves twice that. The tensile stress area is that of a circle midway between the pitch diameter and
the root: pi / 4 (d - .9743 P)^2 for inch threads (ASME B1.1), pi / 4 (d - .9382 P)^2 for metric ones (ISO 898-1).

Two screws a distance D apart, at heights h1 and h2, lift what stands on them by (h1 + h2) / 2 midway between and tilt
it by atan((h1 - h2) / D). All of it is plain geometry of rigid parts: what the parts give under load comes on top. A
screw that stands short of its first touch is loose, and no move may end there.

Tables: inch diameters and threads per inch from ASME B1.1 (UNC, UNF); metric diameters and pitches from ISO 261, the
coarse pitch first. Both were read against public tables; the printed standards decide.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction

from drivekit.drive.amounts import finite, positive
from drivekit.drive.layout import Ends
from drivekit.units import INCH_M, Spoken, Units, flats_words

__all__ = [
    "FLATS_IN_A_TURN",
    "INCH_THREADS",
    "METRIC_PITCHES_MM",
    "LiftAndTilt",
    "Move",
    "Step",
    "Thread",
    "height",
    "lift_and_tilt",
    "next_move",
    "split_move",
    "thread",
]

Names = tuple[str, str]

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

_SETS = "it sets the height"
_TOUCHES = "stop at touch, then count"
_CLEARS = "clear of the part, for this move only"
_INCH = re.compile(r"(\d+/\d+)\s*(?:in)?\s*-\s*(\d+)\s*(?:unc|unf)?", re.IGNORECASE)
_METRIC = re.compile(r"m\s*(\d+)(?:\s*x\s*(\d*\.?\d+))?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Thread(Spoken):
    """A screw thread: its name as the trade writes it (``3/8-24 UNF``, ``M10x1.25``), nominal diameter and pitch.

    `metric` tells which of the two stress areas holds.
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
    def stress_area_m2(self) -> float:
        """Tensile stress area: ASME B1.1 for inch threads, ISO 898-1 for metric ones."""
        shrink = 0.9382 if self.metric else 0.9743
        return math.pi / 4 * (self.diameter_m - shrink * self.pitch_m) ** 2

    def _said(self, units: Units) -> str:
        return (
            f"{self.name}: one turn moves {units.both(self.pitch_m * 1e3, 'mm', 4)}, "
            f"one flat {units.both(self.flat_m * 1e3, 'mm', 4)}."
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


def height(screw: Thread, flats: float, *, ends: Ends = "one-hand") -> float:
    """Height from flats in m: f P / 6, twice that for a link threaded right and left at its two ends.

    Raises
    ------
    ValueError
        If ``flats`` is no number.
    """
    return finite(flats, "the flats") * screw.flat_m * (2 if ends == "left-right" else 1)


@dataclass(frozen=True, slots=True)
class LiftAndTilt(Spoken):
    """What two screws do together: lift midway between them, and tilt (first screw higher is positive)."""

    names: Names
    flats: tuple[float, float]
    lift_m: float
    tilt_rad: float

    def _said(self, units: Units) -> str:
        first, second = self.names
        higher = first if self.tilt_rad > 0 else second
        lean = f"{abs(math.degrees(self.tilt_rad)):.3f} degrees higher at the {higher}" if self.tilt_rad else "level"
        return (
            f"{first} {flats_words(self.flats[0])}, {second} {flats_words(self.flats[1])}: "
            f"lifted {units.length(self.lift_m)} midway, {lean}."
        )


def lift_and_tilt(
    screw: Thread, flats: tuple[float, float], apart_m: float, *, names: Names = ("left", "right")
) -> LiftAndTilt:
    """Lift and tilt from the flats of two jack screws, both zero at first touch.

    Parameters
    ----------
    screw : Thread
        The thread of both screws.
    flats : (float, float)
        Flats of the first and the second screw from first touch.
    apart_m : float
        Distance between the two screws.
    names : (str, str)
        What the two are called.

    Raises
    ------
    ValueError
        If the distance is not positive.
    """
    first, second = (finite(one, "the flats") * screw.flat_m for one in flats)
    tilt_rad = math.atan2(first - second, positive(apart_m, "the distance between the screws"))
    return LiftAndTilt(names, flats, (first + second) / 2, tilt_rad)


@dataclass(frozen=True, slots=True)
class Step(Spoken):
    """One turn of one screw: how many flats (in is positive), where it then stands, and when to stop."""

    screw: str
    flats: int
    stands: int
    stop: str

    def _said(self, units: Units) -> str:
        if not self.flats:
            return f"{self.screw} screw stays at {self.stands}, unless it must follow: {self.stop}"
        way = "in" if self.flats > 0 else "out"
        return f"{self.screw} screw {flats_words(abs(self.flats))} {way}, to {self.stands}: {self.stop}"


@dataclass(frozen=True, slots=True)
class Move(Spoken):
    """The next move from the last record, in the order of the hands."""

    steps: tuple[Step, ...]

    def _said(self, units: Units) -> str:
        if not self.steps:
            return "Nothing to turn: both screws stand where they are wanted."
        said = "; then ".join(map(str, self.steps))
        return f"{said[0].upper()}{said[1:]}."


def next_move(
    last: tuple[int, int], wanted: tuple[int, int], *, names: Names = ("left", "right"), straight: str | None = None
) -> Move:
    """Order the turns that lead from the last record to the wanted flats, so that no screw is left loose.

    The screw that stands straight under the load sets the height, so it goes first, and the other is run up behind it
    to touch. Going down, the straight screw would drop away from the part while the other holds it up: so the other is
    backed off first, the straight one comes down with the part on it, and the other is brought to touch. Straight one
    first is common practice, no source; the way down follows from a rigid part on two screws.

    Parameters
    ----------
    last, wanted : (int, int)
        Whole flats from first touch of the two screws, as recorded and as wanted.
    names : (str, str)
        What the two are called.
    straight : str, optional
        Which of the two stands straight under the load; the first one when not said.

    Raises
    ------
    ValueError
        If a screw stands, or would stand, short of first touch; or ``straight`` names neither screw.
    """
    lead = names[0] if straight is None else straight
    if lead not in names:
        raise ValueError(f'"{lead}" is neither screw; the straight one is {names[0]} or {names[1]}.')
    _refuse_loose(names, last)
    _refuse_loose(names, wanted)
    first = names.index(lead)
    other = 1 - first
    turn = (wanted[0] - last[0], wanted[1] - last[1])
    lead_step = Step(lead, turn[first], wanted[first], _SETS)
    if turn[first] < 0:
        clear = min(last[other], wanted[other]) - 1
        back = Step(names[other], clear - last[other], clear, _CLEARS)
        return Move((back, lead_step, Step(names[other], wanted[other] - clear, wanted[other], _TOUCHES)))
    follow = Step(names[other], turn[other], wanted[other], _TOUCHES)
    if turn[first]:
        return Move((lead_step, follow))
    return Move((follow,) if turn[other] else ())


def split_move(last: tuple[int, int], net_change: int, *, names: Names = ("front", "rear")) -> tuple[int, int]:
    """Share a change of net flats (first minus second) between two screws so that the mean, and the tension, stay.

    Half goes in at one end and half comes out at the other; an odd flat goes in, not out. Where half would leave a
    screw loose, that screw stops at first touch and the other takes the rest (and the belt gains tension).

    Parameters
    ----------
    last : (int, int)
        Whole flats from first touch of the two screws, as recorded.
    net_change : int
        How much larger the first less the second is to become.
    names : (str, str)
        What the two are called.

    Returns
    -------
    (int, int)
        The wanted flats of the two.

    Raises
    ------
    ValueError
        If a screw already stands short of first touch.
    """
    _refuse_loose(names, last)
    into, out = (0, 1) if net_change >= 0 else (1, 0)
    backed = min(abs(net_change) // 2, last[out])
    flats = list(last)
    flats[into] += abs(net_change) - backed
    flats[out] -= backed
    return flats[0], flats[1]


def _refuse_loose(names: Names, flats: tuple[float, float]) -> None:
    for name, stands in zip(names, flats, strict=True):
        if stands < 0:
            raise ValueError(
                f"The {name} screw would stand {flats_words(-stands)} short of first touch, that is loose; "
                "raise both screws, or ask for less tilt."
            )
