"""Whether the idler's stack fits its bracket: play or bind, shim or cut, even or not, and what forcing it does.

Clearance c = gap - sum of the parts. Worst case: the tolerances add, t = sum t_i. Statistical: they add in quadrature,
t = sqrt(sum t_i^2), under the usual reading that every part is normal about its drawing size with t_i three standard
deviations (so sigma_c = t / 3), and independent. Common practice in dimensioning; textbook form e.g. Shigley,
*Mechanical Engineering Design*, the section on dimensions and tolerances (named from memory). Measured parts have no
tolerance left: give 0, and both readings agree.

A stack that is too long is forced in only by spreading the bracket: `pried` says with what force where the bracket's
stiffness was measured, `spread` computes that and the stress from the shape of its cheeks.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from drivekit.drive.amounts import force_words, length_words, positive

__all__ = ["Cheek", "Fit", "Part", "Pried", "Spread", "fit", "pried", "spread"]

Place = Literal["front", "idler", "rear"]
_PLACES = ("front", "idler", "rear")
_SIGMAS = 3.0
# Lengths nearer than a tenth of a micron are the same: no micrometer tells them apart, only rounding does.
_SAME_M = 1e-7


@dataclass(frozen=True, slots=True)
class Part:
    """One part of the stack: its length, its tolerance either way, and where it stands."""

    name: str
    length_m: float
    place: Place
    tolerance_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Fit:
    """How a stack stands in its bracket.

    Parameters
    ----------
    clearance_m : float
        Gap less stack at the drawing (or measured) sizes; negative when the stack is too long.
    worst_m, likely_m : (float, float)
        Least and most clearance: all tolerances at their worst, and in quadrature (three sigma).
    chance_of_bind : float
        Chance that the clearance is below 0 under the statistical reading; 0 or 1 when nothing varies.
    shim_m, cut_m : float
        What to add, or to take off, for the wanted clearance; one of them is 0.
    towards_front_m : float
        How far the idler's middle stands from the bracket's middle, towards the front, with the clearance shared
        evenly: half of rear parts less front parts.
    """

    clearance_m: float
    wanted_m: float
    worst_m: tuple[float, float]
    likely_m: tuple[float, float]
    chance_of_bind: float
    shim_m: float
    cut_m: float
    towards_front_m: float

    @property
    def verdict(self) -> str:
        """``binds``, ``has play`` or ``may bind`` over the whole worst case."""
        least, most = self.worst_m
        if most < -_SAME_M:
            return "binds"
        return "may bind" if least < -_SAME_M else "has play"

    def __str__(self) -> str:
        size = abs(self.clearance_m)
        if size <= _SAME_M:
            said = "The stack fills the gap exactly"
        else:
            said = f"The stack is {length_words(size)} {'shorter' if self.clearance_m > 0 else 'longer'} than the gap"
        low, high = (f"{edge * 1e3:+.3f}" for edge in self.worst_m)
        lines = [f"{said}; over the tolerances it {self.verdict} (worst case {low} to {high} mm)."]
        if self.worst_m[0] < self.worst_m[1]:
            low, high = (f"{edge * 1e3:+.3f}" for edge in self.likely_m)
            lines.append(
                f"Statistically {low} to {high} mm, {_chance_words(self.chance_of_bind)} to bind, if every part is "
                "normal about its size with its tolerance three sigma."
            )
        if self.shim_m:
            lines.append(f"Shim {length_words(self.shim_m)} for the clearance wanted.")
        elif self.cut_m:
            lines.append(f"Cut {length_words(self.cut_m)} for the clearance wanted.")
        if abs(self.towards_front_m) > _SAME_M:
            side = "front" if self.towards_front_m > 0 else "rear"
            lines.append(f"The idler stands {length_words(abs(self.towards_front_m))} to the {side} of the middle.")
        else:
            lines.append("The idler stands in the middle.")
        return " ".join(lines)


def _chance_words(chance: float) -> str:
    if chance < 5e-4:
        return "a chance below 0.1 %"
    return "a chance above 99.9 %" if chance > 0.9995 else f"a chance of {100 * chance:.1f} %"


def fit(gap_m: float, parts: Sequence[Part], *, gap_tolerance_m: float = 0.0, wanted_m: float = 0.0) -> Fit:
    """Compare the bracket's gap with the stack on the idler's pin.

    Parameters
    ----------
    gap_m : float
        Inside width of the bracket.
    parts : sequence of Part
        Everything on the pin between the two cheeks.
    gap_tolerance_m : float
        Tolerance of the gap either way.
    wanted_m : float
        Clearance wanted; 0 for a stack that is to be clamped without bending the bracket.

    Raises
    ------
    ValueError
        If the gap or a length is not positive, a tolerance is negative, a place is none, or there are no parts.
    """
    gap = positive(gap_m, "the gap of the bracket")
    if not parts:
        raise ValueError("The stack has no parts: list at least the idler.")
    for part in parts:
        positive(part.length_m, f"the length of {part.name}")
        if part.place not in _PLACES:
            raise ValueError(f'"{part.place}" is no place of {part.name}; write front, idler or rear.')
    tolerances = [gap_tolerance_m, *(part.tolerance_m for part in parts)]
    if not min(tolerances) >= 0:
        raise ValueError("A tolerance is less than 0: give how far a size may be off either way.")
    clearance = gap - math.fsum(part.length_m for part in parts)
    worst = math.fsum(tolerances)
    likely = math.hypot(*tolerances)
    sure = float(clearance < -_SAME_M)
    bind = math.erfc(_SIGMAS * clearance / likely / math.sqrt(2)) / 2 if likely > 0 else sure
    length = {place: math.fsum(part.length_m for part in parts if part.place == place) for place in ("front", "rear")}
    missing = clearance - wanted_m
    return Fit(
        clearance_m=clearance,
        wanted_m=wanted_m,
        worst_m=(clearance - worst, clearance + worst),
        likely_m=(clearance - likely, clearance + likely),
        chance_of_bind=bind,
        shim_m=missing if missing > _SAME_M else 0.0,
        cut_m=-missing if missing < -_SAME_M else 0.0,
        towards_front_m=(length["rear"] - length["front"]) / 2,
    )


@dataclass(frozen=True, slots=True)
class Pried:
    """The force with which an over-long stack pries a bracket of known stiffness, lost to the clamp."""

    over_m: float
    stiffness_n_per_m: float

    @property
    def force_n(self) -> float:
        """Hooke: stiffness times excess."""
        return self.stiffness_n_per_m * self.over_m

    def __str__(self) -> str:
        return f"A stack {length_words(self.over_m)} too long pries the bracket with {force_words(self.force_n)}."


def pried(over_m: float, stiffness_n_per_m: float) -> Pried:
    """Force of an over-long stack from the measured stiffness of the bracket across its gap; elastic.

    Raises
    ------
    ValueError
        If the stack is not too long, or the stiffness is not positive.
    """
    over = positive(over_m, "the excess of the stack")
    return Pried(over, positive(stiffness_n_per_m, "the stiffness of the bracket"))


@dataclass(frozen=True, slots=True)
class Cheek:
    """One cheek of the bracket as a cantilever plate: free length from its root to the pin, breadth, thickness."""

    free_m: float
    breadth_m: float
    thick_m: float
    modulus_pa: float

    @property
    def stiffness_n_per_m(self) -> float:
        """End stiffness of a cantilever, 3 E I / a^3 with I = b t^3 / 12 (Roark's formulas, cantilever, end load)."""
        return 3 * self.modulus_pa * self.breadth_m * self.thick_m**3 / 12 / self.free_m**3


@dataclass(frozen=True, slots=True)
class Spread:
    """What a stack that is too long (or a gap closed by the bolt) does to the bracket.

    Parameters
    ----------
    over_m : float
        How much too long the stack is.
    force_n : float
        Force that pries the cheeks apart at the pin, and that the bolt must overcome before it clamps anything.
    moved_m : (float, float)
        How far the front and the rear cheek give way.
    out_of_parallel_rad : float
        Angle between the cheeks' faces at the pin: the bearings are cocked by their share of it.
    stress_pa : (float, float)
        Bending stress at the root of either cheek.
    """

    over_m: float
    force_n: float
    moved_m: tuple[float, float]
    out_of_parallel_rad: float
    stress_pa: tuple[float, float]

    def __str__(self) -> str:
        front, rear = (f"{moved * 1e3:.3f}" for moved in self.moved_m)
        return (
            f"A stack {length_words(self.over_m)} too long pries the bracket with {force_words(self.force_n)}: the "
            f"front cheek gives {front} mm and the rear one {rear} mm, the faces stand "
            f"{math.degrees(self.out_of_parallel_rad):.3f} degrees out of parallel, and the roots carry up to "
            f"{max(self.stress_pa) / 1e6:,.0f} MPa."
        )


def spread(over_m: float, front: Cheek, rear: Cheek) -> Spread:
    """Pry a bracket's two cheeks apart by an over-long stack.

    Model: each cheek is a cantilever plate of constant section, rigid at its root, loaded at the pin; the same force F
    acts on both, so over = F / k1 + F / k2. Under it a cheek moves d = F / k, turns by 3 d / (2 a) at the pin, and
    carries F a (t / 2) / I = 3 E t d / (2 a^2) at its root (Roark's formulas, cantilever with an end load). Small
    deflections, elastic, a pin that does not bend: a lower bound for the stress, since holes and corners add to it.
    The same numbers hold for a gap that the bolt must close on a stack that is too short.

    Raises
    ------
    ValueError
        If the stack is not too long, or a size is not positive.
    """
    over = positive(over_m, "the excess of the stack")
    for side, cheek in (("front", front), ("rear", rear)):
        for size, name in (
            (cheek.free_m, "free length"),
            (cheek.breadth_m, "breadth"),
            (cheek.thick_m, "thickness"),
            (cheek.modulus_pa, "modulus"),
        ):
            positive(size, f"the {name} of the {side} cheek")
    cheeks = (front, rear)
    force = over / (1 / front.stiffness_n_per_m + 1 / rear.stiffness_n_per_m)
    moved = (force / front.stiffness_n_per_m, force / rear.stiffness_n_per_m)
    slopes = [3 * d / (2 * cheek.free_m) for d, cheek in zip(moved, cheeks, strict=True)]
    root = [
        3 * cheek.modulus_pa * cheek.thick_m * d / (2 * cheek.free_m**2) for d, cheek in zip(moved, cheeks, strict=True)
    ]
    return Spread(over, force, moved, sum(slopes), (root[0], root[1]))
