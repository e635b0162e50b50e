"""What flats on the screws do to height and tilt, and which move to make next.

A screw turned by f flats (sixths of a turn) from its first touch moves f P / 6; a link with a right-hand and a
left-hand end moves twice that. Two screws a distance D apart, at heights h1 and h2, lift what stands on them by
(h1 + h2) / 2 midway between and tilt it by atan((h1 - h2) / D). All of it is plain geometry of rigid parts: what the
parts give under load comes on top. A screw that stands short of its first touch is loose, and no move may end there.
Spacers and shims are in ``shims``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from drivekit.drive.amounts import an_amount, flats_words, length_words, positive
from drivekit.drive.threads import FLATS_IN_A_TURN, Thread

__all__ = [
    "Height",
    "LiftAndTilt",
    "Move",
    "Settings",
    "Step",
    "flats_for_height",
    "flats_for_lift_and_tilt",
    "height",
    "lift_and_tilt",
    "next_move",
    "split_move",
]

Ends = Literal["one-hand", "left-right"]
Names = tuple[str, str]

_SETS = "it sets the height"
_TOUCHES = "stop at touch, then count"
_CLEARS = "clear of the part, for this move only"


@dataclass(frozen=True, slots=True)
class Height:
    """How far a screw has moved from its first touch."""

    flats: float
    height_m: float

    @property
    def turns(self) -> float:
        """The same in turns."""
        return self.flats / FLATS_IN_A_TURN

    def __str__(self) -> str:
        return f"{flats_words(self.flats)} ({self.turns:.2f} turns) from first touch: {length_words(self.height_m)}."


def height(screw: Thread, flats: float, *, ends: Ends = "one-hand") -> Height:
    """Height from flats: f P / 6, twice that for a link threaded right and left at its two ends.

    Raises
    ------
    ValueError
        If ``flats`` is no number.
    """
    return Height(an_amount(flats, "the flats"), flats * _flat_m(screw, ends))


def flats_for_height(screw: Thread, height_m: float, *, ends: Ends = "one-hand") -> Height:
    """Flats (not rounded) that give a height: the inverse of `height`.

    Raises
    ------
    ValueError
        If ``height_m`` is no number.
    """
    return Height(an_amount(height_m, "the height") / _flat_m(screw, ends), height_m)


@dataclass(frozen=True, slots=True)
class LiftAndTilt:
    """What two screws do together: lift midway between them, and tilt (first screw higher is positive)."""

    names: Names
    flats: tuple[float, float]
    lift_m: float
    tilt_rad: float

    def __str__(self) -> str:
        first, second = self.names
        if self.tilt_rad:
            lean = f"{abs(math.degrees(self.tilt_rad)):.3f} degrees higher at the {self._higher}"
        else:
            lean = "level"
        return (
            f"{first} {flats_words(self.flats[0])}, {second} {flats_words(self.flats[1])}: "
            f"lifted {length_words(self.lift_m)} midway, {lean}."
        )

    @property
    def _higher(self) -> str:
        return self.names[0] if self.tilt_rad > 0 else self.names[1]


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
    first, second = (an_amount(one, "the flats") * screw.flat_m for one in flats)
    tilt_rad = math.atan2(first - second, positive(apart_m, "the distance between the screws"))
    return LiftAndTilt(names, flats, (first + second) / 2, tilt_rad)


@dataclass(frozen=True, slots=True)
class Settings:
    """Flats for a wanted lift and tilt: exact, in whole flats, and what the whole flats really give."""

    exact: tuple[float, float]
    whole: tuple[int, int]
    given: LiftAndTilt

    def __str__(self) -> str:
        return f"In whole flats: {self.given}"


def flats_for_lift_and_tilt(
    screw: Thread, lift_m: float, tilt_rad: float, apart_m: float, *, names: Names = ("left", "right")
) -> Settings:
    """Flats of two jack screws for a lift and a tilt: the inverse of `lift_and_tilt`.

    Raises
    ------
    ValueError
        If the distance is not positive, or a screw would have to stand short of first touch, that is loose.
    """
    half_m = positive(apart_m, "the distance between the screws") * math.tan(tilt_rad) / 2
    exact = ((lift_m + half_m) / screw.flat_m, (lift_m - half_m) / screw.flat_m)
    whole = (round(exact[0]), round(exact[1]))
    _refuse_loose(names, whole)
    return Settings(exact, whole, lift_and_tilt(screw, whole, apart_m, names=names))


@dataclass(frozen=True, slots=True)
class Step:
    """One turn of one screw: how many flats (in is positive), where it then stands, and when to stop."""

    screw: str
    flats: int
    stands: int
    stop: str

    def __str__(self) -> str:
        if not self.flats:
            return f"{self.screw} screw stays at {self.stands}, unless it must follow: {self.stop}"
        way = "in" if self.flats > 0 else "out"
        return f"{self.screw} screw {flats_words(abs(self.flats))} {way}, to {self.stands}: {self.stop}"


@dataclass(frozen=True, slots=True)
class Move:
    """The next move from the last record, in the order of the hands."""

    last: tuple[int, int]
    wanted: tuple[int, int]
    steps: tuple[Step, ...]

    def __str__(self) -> str:
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
        return Move(last, wanted, (back, lead_step, Step(names[other], wanted[other] - clear, wanted[other], _TOUCHES)))
    follow = Step(names[other], turn[other], wanted[other], _TOUCHES)
    if turn[first]:
        return Move(last, wanted, (lead_step, follow))
    return Move(last, wanted, (follow,) if turn[other] else ())


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


def _flat_m(screw: Thread, ends: Ends) -> float:
    if ends not in ("one-hand", "left-right"):
        raise ValueError(f'"{ends}" says nothing of the ends of a screw; write one-hand or left-right.')
    return screw.flat_m * (2 if ends == "left-right" else 1)


def _refuse_loose(names: Names, flats: tuple[float, float]) -> None:
    for name, stands in zip(names, flats, strict=True):
        if stands < 0:
            raise ValueError(
                f"The {name} screw would stand {flats_words(-stands)} short of first touch, that is loose; "
                "raise both screws, or ask for less tilt."
            )
