"""Whether the idler's stack fits its bracket, which spacers cock the idler by how much, which shim tips the manifold.

Clearance c = gap - sum of the parts. Worst case: the tolerances add, t = sum t_i. Statistical: they add in quadrature,
t = sqrt(sum t_i^2), under the usual reading that every part is normal about its drawing size with t_i three standard
deviations (so sigma_c = t / 3), and independent. Common practice in dimensioning; textbook form e.g. Shigley,
*Mechanical Engineering Design*, the section on dimensions and tolerances (named from memory). Measured parts have no
tolerance left: give 0, and both readings agree. A stack that is too long is forced in only by spreading the bracket:
`pried` says with what force where the bracket's stiffness was measured.

Two ends of the idler a distance D apart, standing out by s1 (front) and s2 (rear), cock its axis by
atan((s1 - s2) / D). A rigid base of length B on its far edge and on a shim t at the other end tips by asin(t / B).
Geometry of rigid parts; the spacers on hand are tried pair by pair, so the pair given is the best there is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations

from drivekit.drive.amounts import finite, positive
from drivekit.drive.layout import Bracket, Spacer, StackPart
from drivekit.units import SI, Refusal, Spoken, Units, long

__all__ = [
    "Cocking",
    "ManifoldTilt",
    "StackFit",
    "best_spacers",
    "cocking",
    "difference_m",
    "pried",
    "shim",
    "stack_fit",
    "tilt",
]

_SIGMAS = 3.0
# Lengths nearer than a tenth of a micron are the same: no micrometer tells them apart, only rounding does.
_SAME_M = 1e-7
_STEEPEST_RAD = math.pi / 4
_BIND_ALLOWED = 0.002


@dataclass(frozen=True, slots=True)
class StackFit(Spoken):
    """How a stack stands in its bracket.

    `clearance_m` is gap less stack at the drawing (or measured) sizes, below 0 when the stack is too long; `worst_m`
    and `likely_m` are its least and most with all tolerances at their worst, and in quadrature (three sigma), under
    which `chance_of_bind` is that of a clearance below 0 (0 or 1 when nothing varies). `shim_m` or `cut_m` is what to
    add or to take off for the clearance `wanted_m`; a shim of `refused_m` is not advised, for it would leave the chance
    `refused_bind` to bind. `towards_front_m` is how
    far the idler's middle stands from the bracket's, the clearance shared evenly: half of rear parts less front parts.
    """

    clearance_m: float
    worst_m: tuple[float, float]
    likely_m: tuple[float, float]
    chance_of_bind: float
    wanted_m: float
    shim_m: float
    cut_m: float
    refused_m: float
    refused_bind: float
    towards_front_m: float

    @property
    def verdict(self) -> str:
        """``binds``, ``has play`` or ``may bind`` over the whole worst case."""
        least, most = self.worst_m
        if most < -_SAME_M:
            return "binds"
        return "may bind" if least < -_SAME_M else "has play"

    def _said(self, units: Units) -> str:
        size = abs(self.clearance_m)
        if size <= _SAME_M:
            said = "The stack fills the gap exactly"
        else:
            said = f"The stack is {units.length(size)} {'shorter' if self.clearance_m > 0 else 'longer'} than the gap"
        worst, likely = (
            units.range(low * 1e3, high * 1e3, "mm", 3, "+") for low, high in (self.worst_m, self.likely_m)
        )
        lines = [f"{said}; over the tolerances it {self.verdict} (worst case {worst})."]
        if self.worst_m[0] < self.worst_m[1]:
            lines.append(
                f"Statistically {likely}, {_chance_words(self.chance_of_bind)} to bind, if every part is "
                "normal about its size with its tolerance three sigma."
            )
        if self.shim_m:
            lines.append(f"Shim {units.length(self.shim_m)} for the {units.length(self.wanted_m)} wanted.")
        elif self.cut_m:
            lines.append(f"Cut {units.length(self.cut_m)} for the {units.length(self.wanted_m)} wanted.")
        elif self.refused_m:
            lines.append(
                f"A shim of {units.length(self.refused_m)} for the {units.length(self.wanted_m)} wanted would leave "
                f"{_chance_words(self.refused_bind)} to bind in place of {_chance_words(self.chance_of_bind)}: leave "
                "it, or measure the parts."
            )
        if abs(self.towards_front_m) > _SAME_M:
            side = "front" if self.towards_front_m > 0 else "rear"
            lines.append(f"The idler stands {units.length(abs(self.towards_front_m))} to the {side} of the middle.")
        else:
            lines.append("The idler stands in the middle.")
        return " ".join(lines)


def _chance_words(chance: float) -> str:
    if chance < 5e-4:
        return "a chance below 0.1 %"
    return "a chance above 99.9 %" if chance > 0.9995 else f"a chance of {100 * chance:.1f} %"


def stack_fit(bracket: Bracket, parts: Sequence[StackPart]) -> StackFit:
    """Compare the bracket's gap with everything on the idler's pin between its two cheeks.

    The clearance wanted is the bracket's own, or else the sum of all tolerances, with which no stack within them binds.
    A shim that would leave the stack more likely to bind than before is not advised.

    Raises
    ------
    ValueError
        If the gap or a length is not positive, a tolerance is negative, or there are no parts.
    """
    gap = positive(bracket.gap_m, "the gap of the bracket")
    if not parts:
        raise ValueError("The stack has no parts: list at least the idler.")
    for part in parts:
        positive(part.length_m, f"the length of {part.name}")
    tolerances = [bracket.gap_tolerance_m, *(part.tolerance_m for part in parts)]
    if not min(tolerances) >= 0:
        raise ValueError("A tolerance is less than 0: give how far a size may be off either way.")
    clearance = gap - math.fsum(part.length_m for part in parts)
    worst = math.fsum(tolerances)
    likely = math.hypot(*tolerances)
    bind = _binds(clearance, likely)
    length = {place: math.fsum(part.length_m for part in parts if part.place == place) for place in ("front", "rear")}
    wanted = worst if bracket.clearance_m is None else bracket.clearance_m
    missing, after = clearance - wanted, _binds(wanted, likely)
    roomy, refused = missing > _SAME_M, after > max(bind, _BIND_ALLOWED)
    return StackFit(
        clearance_m=clearance,
        worst_m=(clearance - worst, clearance + worst),
        likely_m=(clearance - likely, clearance + likely),
        chance_of_bind=bind,
        wanted_m=wanted,
        shim_m=missing if roomy and not refused else 0.0,
        cut_m=-missing if missing < -_SAME_M else 0.0,
        refused_m=missing if roomy and refused else 0.0,
        refused_bind=after,
        towards_front_m=(length["rear"] - length["front"]) / 2,
    )


def _binds(clearance_m: float, likely_m: float) -> float:
    """Chance of a clearance below 0."""
    if likely_m <= 0:
        return float(clearance_m < -_SAME_M)
    return math.erfc(_SIGMAS * clearance_m / likely_m / math.sqrt(2)) / 2


def pried(over_m: float, stiffness_n_per_m: float, units: Units = SI) -> str:
    """Say with what force an over-long stack pries a bracket of known stiffness across its gap: their product (Hooke).

    Raises
    ------
    ValueError
        If the stack is not too long, or the stiffness is not positive.
    """
    force = positive(stiffness_n_per_m, "the stiffness of the bracket") * positive(over_m, "the excess of the stack")
    return f"A stack {units.length(over_m)} too long pries the bracket with {units.force(force)}."


@dataclass(frozen=True, slots=True)
class Cocking(Spoken):
    """How far the idler's axis is cocked by a difference between its two ends (front further out is positive).

    ``front`` and ``rear`` name the spacers when the difference comes from a pair on hand.
    """

    difference_m: float
    angle_rad: float
    front: str = ""
    rear: str = ""

    def _said(self, units: Units) -> str:
        pair = f"Spacer {self.front} at the front and {self.rear} at the rear: " if self.front else ""
        if not self.difference_m:
            return f"{pair}the idler stands square."
        end = "front" if self.difference_m > 0 else "rear"
        return (
            f"{pair}the {end} stands {units.length(abs(self.difference_m))} further out, "
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
    difference = finite(front_m, "the front end") - finite(rear_m, "the rear end")
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
        if not spacer.length_m >= 0:
            raise Refusal("Spacer {} is {} thick; none is less than 0.", spacer.number, long(spacer.length_m, 2))
    wanted = difference_m(angle_rad, apart_m)

    def miss(pair: tuple[Spacer, Spacer]) -> tuple[float, float]:
        front, rear = (one.length_m for one in pair)
        # Rounded to a nanometre: pairs that are equally near on paper must not be told apart by the last bit.
        return round(abs(front - rear - wanted), 9), round(front + rear, 9)

    front, rear = min(permutations(on_hand, 2), key=miss)
    given = cocking(front.length_m, rear.length_m, apart_m)
    return Cocking(given.difference_m, given.angle_rad, str(front.number), str(rear.number))


@dataclass(frozen=True, slots=True)
class ManifoldTilt(Spoken):
    """A shim under one end of the manifold's base, and the tilt it gives."""

    shim_m: float
    base_m: float
    tilt_rad: float

    def _said(self, units: Units) -> str:
        return (
            f"A shim of {units.length(self.shim_m)} under the rear end of a manifold's base of "
            f"{units.both(self.base_m * 1e3, 'mm', 1)} tips it {math.degrees(self.tilt_rad):.3f} degrees: the front "
            "ends up that much higher if its top is machined level on the shim and the shim taken out, that much lower "
            "if the shim stays."
        )


def tilt(shim_m: float, base_m: float) -> ManifoldTilt:
    """Tilt of a rigid base that stands on its far edge and on a shim at the other end: asin(shim / base).

    Raises
    ------
    ValueError
        If the base is not positive, or the shim is not thinner than the base is long.
    """
    base = positive(base_m, "the length of the base")
    if not 0 <= shim_m < base:
        raise Refusal("A shim of {} does not fit under a base of {}.", long(shim_m, 2), long(base))
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
