"""What the belt's pull does to the idler: how far its pin bends and the idler leans, whether its bearings stand it.

One support: the pin is built into the bracket's face, a cantilever with the belt's pull P at its overhang L:

    deflection P L^3 / 3 EI + P L / k G A,    lean P L^2 / 2 EI    (Roark, *Formulas for Stress and Strain*)

The second part is shear: a short pin, 1.2 to 1.8 diameters long, bends a sixth to a third more by it. 1 / k = 10 / 9
is the form factor of a round section (Roark, the chapter on beams), G = E / 2.6. Shear moves the idler but does not
turn it.

Three supports: the pin runs through the bracket's rear and front wall (`grip` apart) and into an outboard plate
(`outboard` beyond the front wall); none of the three gives way and none holds it against turning: a beam on three
supports with P in the outer span. With g the grip, s the outer span, a = overhang from the front wall, b = s - a, the
moment over the front wall follows from the theorem of three moments (Clapeyron; any text on strength of materials):

    M (g / 3 + s / 3 + EI f / g + EI f / s) = -P b (s^2 - b^2) / 6 s,    f = 1 / k G A

and the outer span bends as a simple beam under P and the end moment M, with P a b f / s of shear. Both models take the
pull as acting in the middle of the belt, the pin as round and solid and everything around it as stiff; a real bracket
gives, so what is computed here is the least the idler moves and leans. I = pi d^4 / 64.

Bearings:

    static safety   s0 = n C0 / P0                        ISO 76
    speed           n_idler = v / (2 pi r) against the maker's limit
    life            L10 = (n C / P)^p million turns        ISO 281, p = 3 (ball), 10/3 (roller)

The belt's pull is purely radial and taken as shared evenly by `n` bearings, so P0 = P = pull / n for the one. ISO 76
asks for s0 of 1 or more for usual running and 2 or more under shocks (ball bearings, 3 for rollers; from memory). Life
is a footnote: in seconds at full load a bearing never sees its millions of turns; shock, heat and speed end it. The
makers' limits decide.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import degrees, inf, pi

from drivekit.drive.amounts import positive
from drivekit.drive.layout import Idler
from drivekit.units import Refusal, Spoken, Units, long

__all__ = [
    "BearingCheck",
    "PinBend",
    "bearing_check",
    "cantilever",
    "pin_bend",
    "rated_life",
    "second_moment",
    "shear_give",
    "three_supports",
]

SHOCK_SAFETY = {"ball": 2.0, "roller": 3.0}


@dataclass(frozen=True, slots=True)
class PinBend(Spoken):
    """How the pin bends where the belt pulls, and what the belt sees of it.

    `slope_rad` is how much the idler leans, above 0 with its front end along the pull; `edge_m` how much further one
    edge's path is pushed than the other's by it; `flats` how many of one adjuster lean it as much, `toward` where the
    belt then walks by normal entry.
    """

    support: str
    force_n: float
    deflection_m: float
    slope_rad: float
    edge_m: float
    flats: float | None = None
    toward: str = "even"

    def _said(self, units: Units) -> str:
        held = "held at one side" if self.support == "single" else "held at three points"
        flats = "" if self.flats is None else f", as {self.flats:.2f} flats of one adjuster would lean it"
        runs = "" if self.toward == "even" else f"; by that the belt runs to the {self.toward}"
        return (
            f"Under {units.force(self.force_n)} a pin {held} bends at least {units.length(self.deflection_m)} at the "
            f"belt and the idler leans at least {abs(degrees(self.slope_rad)):.3f} degrees{flats}, so that one edge of "
            f"the belt runs at least {units.length(self.edge_m)} longer than the other{runs}."
        )


@dataclass(frozen=True, slots=True)
class BearingCheck(Spoken):
    """The idler's bearings under the greatest pull and at the highest speed; None where a rating is not given."""

    force_n: float
    idler_rpm: float
    safety: float | None
    safety_wanted: float
    limit_rpm: float | None
    life_turns: float | None
    life_s: float | None

    @property
    def safe(self) -> bool | None:
        """Whether the static safety is enough for shocks."""
        return None if self.safety is None else self.safety >= self.safety_wanted

    @property
    def slow_enough(self) -> bool | None:
        """Whether the speed stays within the maker's limit."""
        return None if self.limit_rpm is None else self.idler_rpm <= self.limit_rpm

    def _said(self, units: Units) -> str:
        said = [f"The idler turns at {self.idler_rpm:,.0f} rpm under up to {units.force(self.force_n)}"]
        if self.safety is not None:
            word = "enough" if self.safe else "too little"
            said.append(
                f"static safety {self.safety:.1f} is {word} (ISO 76; {self.safety_wanted:g} or more under shocks)"
            )
        if self.limit_rpm is not None:
            word = "within" if self.slow_enough else "beyond"
            said.append(f"that speed is {word} the bearings' limit of {self.limit_rpm:,.0f} rpm")
        sentence = "; ".join(said) + "."
        if self.life_s is not None and self.life_s < inf:
            sentence += f" (Rated life at that speed and pull: {self.life_s / 3600:,.0f} hours, ISO 281.)"
        return sentence


def second_moment(diameter_m: float) -> float:
    """Second moment of area of a round solid pin, pi d^4 / 64."""
    return pi * positive(diameter_m, "the pin's diameter") ** 4 / 64


def shear_give(diameter_m: float, modulus_pa: float) -> float:
    """Shear of a round solid pin for each length and force, 10 / 9 / (G A) with G = E / 2.6, in 1/N."""
    area = pi * positive(diameter_m, "the pin's diameter") ** 2 / 4
    return 10 / 9 * 2.6 / (positive(modulus_pa, "the pin's modulus") * area)


def cantilever(force_n: float, length_m: float, stiff_n_m2: float, shear_per_n: float = 0.0) -> tuple[float, float]:
    """Deflection and lean at the end of a cantilever: P L^3 / 3 EI + P L f and P L^2 / 2 EI."""
    bent = force_n * length_m**3 / (3 * stiff_n_m2)
    return bent + force_n * length_m * shear_per_n, force_n * length_m**2 / (2 * stiff_n_m2)


def three_supports(
    force_n: float, overhang_m: float, grip_m: float, outboard_m: float, stiff_n_m2: float, shear_per_n: float = 0.0
) -> tuple[float, float]:
    """Deflection and lean under a load in the outer span of a beam on three supports; see the module's formula.

    Raises
    ------
    ValueError
        If the load does not lie between front wall and outboard plate.
    """
    g, s, a = grip_m, outboard_m, overhang_m
    if not 0 < a < s:
        raise Refusal(
            "The belt must run between the bracket's front wall and the outboard plate: {} of overhang does not lie "
            "within {}.",
            *(long(a), long(s)),
        )
    b = s - a
    give = stiff_n_m2 * shear_per_n
    moment = -force_n * b * (s**2 - b**2) / (6 * s) / (g / 3 + s / 3 + give / g + give / s)
    simple = force_n * a**2 * b**2 / (3 * stiff_n_m2 * s)
    simple_slope = force_n * a * b * (b - a) / (3 * stiff_n_m2 * s)
    # an end moment M at the near end of a simple span: M (2 s^2 x - 3 s x^2 + x^3) / 6 EI s
    held = moment * (2 * s**2 * a - 3 * s * a**2 + a**3) / (6 * stiff_n_m2 * s)
    held_slope = moment * (2 * s**2 - 6 * s * a + 3 * a**2) / (6 * stiff_n_m2 * s)
    # the constant shear under an end moment turns the sections by M f / s against the chord
    sheared, turned = force_n * a * b / s * shear_per_n, moment * shear_per_n / s
    return simple + held + sheared, simple_slope + held_slope + turned


def pin_bend(idler: Idler, force_n: float, width_m: float, path_per_travel: float) -> PinBend:
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
    shear = shear_give(idler.pin_diameter_m, idler.pin_modulus_pa)
    if idler.support == "single":
        deflection, slope = cantilever(force_n, idler.overhang_m, stiff, shear)
    elif idler.grip_m is None or idler.outboard_m is None:
        raise ValueError("A pin held at three points needs its grip and how far out the outboard plate is.")
    else:
        deflection, slope = three_supports(force_n, idler.overhang_m, idler.grip_m, idler.outboard_m, stiff, shear)
    return PinBend(idler.support, force_n, deflection, slope, abs(slope) * width_m * path_per_travel)


def rated_life(dynamic_n: float, force_n: float, *, kind: str = "ball") -> float:
    """Rated life in turns, which 9 in 10 bearings reach: (C / P)^p million (ISO 281).

    Raises
    ------
    ValueError
        If a number is not above 0, or `kind` is neither ball nor roller.
    """
    if kind not in SHOCK_SAFETY:
        raise ValueError(f"A bearing is ball or roller, not {kind}.")
    power = 3 if kind == "ball" else 10 / 3
    return float((positive(dynamic_n, "the dynamic rating") / positive(force_n, "the load")) ** power * 1e6)


def bearing_check(idler: Idler, radius_m: float, force_n: float, speed_m_per_s: float) -> BearingCheck:
    """Check the idler's bearings.

    Parameters
    ----------
    idler : Idler
        Its ratings.
    radius_m : float
        Pitch radius of the idler.
    force_n : float
        The greatest pull on it; 0 for a slack belt, which no bearing minds.
    speed_m_per_s : float
        The highest speed of the belt.
    """
    rpm = speed_m_per_s / (2 * pi * positive(radius_m, "the idler's radius")) * 60
    count = idler.bearings or 1
    safety = life = life_s = None
    if idler.bearing_static_n is not None:
        safety = count * idler.bearing_static_n / force_n if force_n > 0 else inf
    if idler.bearing_dynamic_n is not None and force_n > 0:
        life = rated_life(idler.bearing_dynamic_n, force_n / count, kind=idler.bearing_kind)
        life_s = life / rpm * 60 if rpm > 0 else inf
    wanted = SHOCK_SAFETY[idler.bearing_kind]
    return BearingCheck(force_n, rpm, safety, wanted, idler.bearing_limit_rpm, life, life_s)
