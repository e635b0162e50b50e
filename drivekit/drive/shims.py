"""Which spacers cock the idler by how much, and which shim tips the manifold.

Two ends of the idler a distance D apart, standing out by s1 (front) and s2 (rear), cock its axis by
atan((s1 - s2) / D). A rigid base of length B on its far edge and on a shim t at the other end tips by asin(t / B).
Geometry of rigid parts; the spacers on hand are tried pair by pair, so the pair given is the best there is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from drivekit.drive.amounts import INCH_M, an_amount, length_words, positive

__all__ = ["Cocking", "ManifoldTilt", "Spacer", "best_spacers", "cocking", "difference_m", "shim", "tilt"]

_STEEPEST_RAD = math.pi / 4


@dataclass(frozen=True, slots=True)
class Cocking:
    """How far the idler's axis is cocked by a difference between its two ends (front further out is positive).

    ``front`` and ``rear`` name the spacers when the difference comes from a pair on hand.
    """

    difference_m: float
    angle_rad: float
    front: str = ""
    rear: str = ""

    def __str__(self) -> str:
        pair = f"Spacer {self.front} at the front and {self.rear} at the rear: " if self.front else ""
        if not self.difference_m:
            return f"{pair}the idler stands square."
        end = "front" if self.difference_m > 0 else "rear"
        return (
            f"{pair}the {end} stands {length_words(abs(self.difference_m))} further out, "
            f"which cocks the idler {abs(math.degrees(self.angle_rad)):.3f} degrees."
        )


def cocking(front_m: float, rear_m: float, apart_m: float) -> Cocking:
    """Cocking angle from how far the two ends of the idler stand out: atan((front - rear) / apart).

    Parameters
    ----------
    front_m, rear_m : float
        Spacer thickness, or adjuster height, at either end.
    apart_m : float
        Distance between the two ends.

    Raises
    ------
    ValueError
        If the distance is not positive.
    """
    difference = an_amount(front_m, "the front end") - an_amount(rear_m, "the rear end")
    return Cocking(difference, math.atan2(difference, positive(apart_m, "the distance between the idler's ends")))


def difference_m(angle_rad: float, apart_m: float) -> float:
    """Difference front less rear that cocks the idler by an angle: the inverse of `cocking`.

    Raises
    ------
    ValueError
        If the angle is 45 degrees or more.
    """
    if not abs(angle_rad) < _STEEPEST_RAD:
        raise ValueError(f"No idler is cocked by {math.degrees(angle_rad):g} degrees; give an angle below 45.")
    return positive(apart_m, "the distance between the idler's ends") * math.tan(angle_rad)


@dataclass(frozen=True, slots=True)
class Spacer:
    """A numbered spacer on the shelf; list it twice when there are two of it."""

    number: str
    thickness_m: float


def best_spacers(on_hand: Sequence[Spacer], angle_rad: float, apart_m: float) -> Cocking:
    """Choose the pair of spacers on hand that comes nearest to a cocking angle.

    Every ordered pair is tried; of pairs equally near, the thinner one is taken, then the one listed first.

    Raises
    ------
    ValueError
        If fewer than two spacers are on hand, or a thickness is negative.
    """
    if len(on_hand) < 2:
        raise ValueError(f"A pair needs two spacers, and there is {len(on_hand) or 'none'} on hand.")
    for spacer in on_hand:
        if not spacer.thickness_m >= 0:
            raise ValueError(f"Spacer {spacer.number} is {spacer.thickness_m * 1e3:g} mm thick; none is less than 0.")
    wanted = difference_m(angle_rad, apart_m)

    def miss(pair: tuple[int, int]) -> tuple[float, float, tuple[int, int]]:
        front, rear = (on_hand[one].thickness_m for one in pair)
        # Rounded to a nanometre: pairs that are equally near on paper must not be told apart by the last bit.
        return round(abs(front - rear - wanted), 9), round(front + rear, 9), pair

    places = range(len(on_hand))
    chosen = min(((i, j) for i in places for j in places if i != j), key=miss)
    front, rear = (on_hand[one] for one in chosen)
    given = cocking(front.thickness_m, rear.thickness_m, apart_m)
    return Cocking(given.difference_m, given.angle_rad, front.number, rear.number)


@dataclass(frozen=True, slots=True)
class ManifoldTilt:
    """A shim under one end of the manifold's base, and the tilt it gives."""

    shim_m: float
    base_m: float
    tilt_rad: float

    def __str__(self) -> str:
        return (
            f"A shim of {length_words(self.shim_m)} under one end of a base of {self.base_m * 1e3:.1f} mm "
            f"({self.base_m / INCH_M:.2f} in) tips it {math.degrees(self.tilt_rad):.3f} degrees."
        )


def tilt(shim_m: float, base_m: float) -> ManifoldTilt:
    """Tilt of a rigid base that stands on its far edge and on a shim at the other end: asin(shim / base).

    Practice knows .4 degree from .085 to .089 in, which is a base of 12.2 to 12.7 in (common practice, no source).

    Raises
    ------
    ValueError
        If the base is not positive, or the shim is not thinner than the base is long.
    """
    base = positive(base_m, "the length of the base")
    if not 0 <= shim_m < base:
        raise ValueError(f"A shim of {shim_m * 1e3:g} mm does not fit under a base of {base * 1e3:g} mm.")
    return ManifoldTilt(shim_m, base, math.asin(shim_m / base))


def shim(tilt_rad: float, base_m: float) -> ManifoldTilt:
    """Shim for a tilt: the inverse of `tilt`.

    Raises
    ------
    ValueError
        If the tilt is below 0, or 45 degrees or more.
    """
    if not 0 <= tilt_rad < _STEEPEST_RAD:
        raise ValueError(f"No shim tips a manifold by {math.degrees(tilt_rad):g} degrees; give 0 to less than 45.")
    return tilt(positive(base_m, "the length of the base") * math.sin(tilt_rad), base_m)
