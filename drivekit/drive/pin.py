"""How far the idler's pin bends, how much the idler leans, and how much longer one edge of the belt then runs.

One support: the pin is built into the bracket's face, a cantilever with the belt's pull P at its overhang L:

    deflection P L^3 / 3 EI,    slope P L^2 / 2 EI                 (Roark, *Formulas for Stress and Strain*)

Three supports: the pin runs through the bracket's rear and front wall (`grip` apart) and into an outboard plate
(`outboard` beyond the front wall); none of the three gives way and none holds it against turning: a beam on three
supports with P in the outer span. With g the grip, s the outer span, a = overhang from the front wall, b = s - a, the
moment over the front wall follows from the theorem of three moments (Clapeyron; any text on strength of materials):

    2 M (g + s) = -P b (s^2 - b^2) / s

and the outer span bends as a simple beam under P and the end moment M. Both models take the pull as acting in the
middle of the belt, the pin as round, solid, slender (no shear) and everything around it as stiff; a real bracket gives,
so what is computed here is the least the idler leans. I = pi d^4 / 64.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import degrees, pi

from drivekit.drive.amounts import force_words, length_words, positive
from drivekit.drive.layout import Idler

__all__ = ["Bend", "cantilever", "pin_bend", "second_moment", "three_supports"]


@dataclass(frozen=True, slots=True)
class Bend:
    """How the pin bends where the belt pulls, and what the belt sees of it.

    `slope_rad` is how much the idler leans; `edge_m` how much further one edge's path is pushed than the other's by it.
    """

    support: str
    force_n: float
    deflection_m: float
    slope_rad: float
    edge_m: float

    def __str__(self) -> str:
        held = "held at one side" if self.support == "single" else "held at three points"
        return (
            f"Under {force_words(self.force_n)} a pin {held} bends {length_words(self.deflection_m)} at the belt and "
            f"the idler leans {abs(degrees(self.slope_rad)):.3f} degrees, so that one edge of the belt runs "
            f"{length_words(self.edge_m)} longer than the other."
        )


def second_moment(diameter_m: float) -> float:
    """Second moment of area of a round solid pin, pi d^4 / 64."""
    return pi * positive(diameter_m, "the pin's diameter") ** 4 / 64


def cantilever(force_n: float, length_m: float, stiff_n_m2: float) -> tuple[float, float]:
    """Deflection and slope at the end of a cantilever: P L^3 / 3 EI and P L^2 / 2 EI."""
    return force_n * length_m**3 / (3 * stiff_n_m2), force_n * length_m**2 / (2 * stiff_n_m2)


def three_supports(
    force_n: float, overhang_m: float, grip_m: float, outboard_m: float, stiff_n_m2: float
) -> tuple[float, float]:
    """Deflection and slope under a load in the outer span of a beam on three supports; see the module's formula.

    Raises
    ------
    ValueError
        If the load does not lie between front wall and outboard plate.
    """
    g, s, a = grip_m, outboard_m, overhang_m
    if not 0 < a < s:
        raise ValueError(
            f"The belt must run between the bracket's front wall and the outboard plate: {a * 1e3:g} mm of overhang "
            f"does not lie within {s * 1e3:g} mm."
        )
    b = s - a
    moment = -force_n * b * (s**2 - b**2) / (2 * s * (g + s))
    simple = force_n * a**2 * b**2 / (3 * stiff_n_m2 * s)
    simple_slope = force_n * a * b * (b - a) / (3 * stiff_n_m2 * s)
    # an end moment M at the near end of a simple span: M (2 s^2 x - 3 s x^2 + x^3) / 6 EI s
    held = moment * (2 * s**2 * a - 3 * s * a**2 + a**3) / (6 * stiff_n_m2 * s)
    held_slope = moment * (2 * s**2 - 6 * s * a + 3 * a**2) / (6 * stiff_n_m2 * s)
    return simple + held, simple_slope + held_slope


def pin_bend(idler: Idler, force_n: float, width_m: float, path_per_travel: float) -> Bend:
    """Bend of the idler's pin under the belt's pull.

    An idler that leans by phi pushes one edge width x phi further than the other, against the pull; each length of push
    changes that edge's path by `path_per_travel` (d path / d travel against the pull): the edges differ by the product.

    Parameters
    ----------
    idler : Idler
        Pin and support.
    force_n : float
        The belt's pull.
    width_m : float
        Width of the belt.
    path_per_travel : float
        Path length per length the idler's centre moves against the belt's pull.

    Raises
    ------
    ValueError
        If a three-point idler lacks grip or outboard, or the belt does not run between its walls.
    """
    stiff = positive(idler.pin_modulus_pa, "the pin's modulus") * second_moment(idler.pin_diameter_m)
    if idler.support == "single":
        deflection, slope = cantilever(force_n, idler.overhang_m, stiff)
    elif idler.grip_m is None or idler.outboard_m is None:
        raise ValueError("A pin held at three points needs its grip and how far out the outboard plate is.")
    else:
        deflection, slope = three_supports(force_n, idler.overhang_m, idler.grip_m, idler.outboard_m, stiff)
    return Bend(idler.support, force_n, deflection, slope, abs(slope) * width_m * path_per_travel)
