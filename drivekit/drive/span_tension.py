"""Static tension of a span from the note it gives when plucked, or from a push in its middle, and back.

    string           T = 4 m L^2 f^2
    stiff, hinged    T = 4 m L^2 f^2 - pi^2 EI / L^2
    stiff, clamped   the root of the beam's frequency equation, see `clamped_frequency`

`m` mass per length, `L` free span, `f` lowest frequency, `EI` bending stiffness. Sources: the string is Mersenne's law;
beams under tension after Timoshenko, Young and Weaver, *Vibration Problems in Engineering*, 4th ed. (1974), chapter 5
(cited from memory; a test holds both against a beam cut in elements).
A belt meets its pulleys somewhere between hinged and clamped. All of it holds for a belt at rest, cold, plucked lightly
in the middle of a free span; always at the same tooth at the mark, since pulleys and belt are never quite round.

A force F in the middle of a free span L pushes it down by d; each half then stands at tan(theta) = 2 d / L and carries

    T = F / (2 sin theta) = F L / (4 d) sqrt(1 + (2 d / L)^2),    about F L / (4 d)

by the balance of forces at the middle (statics; no source needed). Pushing also stretches the belt by
2 sqrt((L/2)^2 + d^2) - L; the tension before the push is less by EA times that over the length of the belt, if the
pulleys are free to turn a little, as they are on a drive at rest. The belt's own bending stiffness is left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, exp, hypot, pi, sin, sqrt
from statistics import fmean
from typing import Literal, get_args

from drivekit.drive.amounts import force_words, length_words, positive

__all__ = [
    "PushTension",
    "Readings",
    "SpanTension",
    "clamped_frequency",
    "frequency_of",
    "push_force",
    "reading_error",
    "readings",
    "tension_from_frequency",
    "tension_from_push",
]

SpanEnds = Literal["string", "hinged", "clamped"]
SPREAD_ALLOWED = 0.05


@dataclass(frozen=True, slots=True)
class SpanTension:
    """Static tension read off a span's note, with three ideas of its ends and what small slips in reading make."""

    length_m: float
    frequency_hz: float
    string_n: float
    hinged_n: float | None
    clamped_n: float | None
    per_percent_n: float

    def __str__(self) -> str:
        said = (
            f"A free span of {self.length_m * 1e3:.1f} mm at {self.frequency_hz:.1f} Hz has a tension of "
            f"{force_words(self.string_n)} as a string"
        )
        if self.hinged_n is not None and self.clamped_n is not None:
            said += f"; the belt's stiffness makes that {self.hinged_n:,.0f} N with hinged, {self.clamped_n:,.0f} N "
            said += "with clamped ends"
        return f"{said}. 1 % wrong in length or in frequency makes {self.per_percent_n:,.0f} N."


@dataclass(frozen=True, slots=True)
class PushTension:
    """Static tension read off a push: roughly, exactly, and with the stretch of the push taken off."""

    force_n: float
    deflection_m: float
    span_m: float
    rough_n: float
    pushed_n: float
    rest_n: float | None

    def __str__(self) -> str:
        said = (
            f"{force_words(self.force_n)} that pushes a span of {self.span_m * 1e3:.1f} mm by "
            f"{length_words(self.deflection_m)} means {force_words(self.rough_n)} (force x span / 4 deflection; "
            f"exactly {self.pushed_n:,.0f} N while pushed"
        )
        return f"{said})." if self.rest_n is None else f"{said}, {self.rest_n:,.0f} N at rest)."


@dataclass(frozen=True, slots=True)
class Readings:
    """Readings of one tension: their mean, their spread, and whether they agree."""

    values_n: tuple[float, ...]
    mean_n: float
    spread: float

    @property
    def agree(self) -> bool:
        """Whether largest and smallest lie within 5 % of the mean (common practice, no source)."""
        return self.spread <= SPREAD_ALLOWED

    def __str__(self) -> str:
        verdict = "they agree" if self.agree else "they do not agree: find out why, and read again"
        return (
            f"{len(self.values_n)} readings, mean {force_words(self.mean_n)}, largest less smallest "
            f"{100 * self.spread:.1f} % of it: {verdict}."
        )


def tension_from_frequency(
    frequency_hz: float, length_m: float, mass_kg_per_m: float, bending_n_m2: float | None = None
) -> SpanTension:
    """Read the static tension of a span off its lowest frequency.

    Raises
    ------
    ValueError
        If a number is not above 0, or the belt's stiffness alone would give a higher note.
    """
    from scipy.optimize import brentq

    frequency, length = positive(frequency_hz, "the frequency"), positive(length_m, "the span")
    string = 4 * positive(mass_kg_per_m, "the mass per length") * length**2 * frequency**2
    hinged = clamped = None
    if bending_n_m2:
        hinged = string - pi**2 * bending_n_m2 / length**2
        slack = clamped_frequency(0.0, length, mass_kg_per_m, bending_n_m2)
        if frequency <= slack:
            raise ValueError(
                f"{frequency:.1f} Hz is too low a note: the belt's stiffness alone gives {slack:.1f} Hz on "
                f"{length * 1e3:.1f} mm; check the span, the mass and the bending stiffness."
            )
        beam = (length, mass_kg_per_m, bending_n_m2)
        clamped = brentq(lambda n: clamped_frequency(n, *beam) - frequency, 0.0, string, xtol=1e-9, rtol=1e-12)
    return SpanTension(length, frequency, string, hinged, clamped, string * reading_error(0.01, 0.0))


def frequency_of(
    tension_n: float, length_m: float, mass_kg_per_m: float, bending_n_m2: float = 0.0, *, ends: SpanEnds = "string"
) -> float:
    """Lowest frequency of a span under a static tension, in Hz.

    Raises
    ------
    ValueError
        If a number is not above 0, or `ends` is none of string, hinged, clamped.
    """
    tension, length = positive(tension_n, "the tension"), positive(length_m, "the span")
    mass = positive(mass_kg_per_m, "the mass per length")
    if ends not in get_args(SpanEnds):
        raise ValueError(f"The ends of a span are string, hinged or clamped, not {ends}.")
    if ends == "clamped" and bending_n_m2 > 0:
        return clamped_frequency(tension, length, mass, bending_n_m2)
    stiffening = pi**2 * bending_n_m2 / length**2 if ends == "hinged" else 0.0
    return sqrt((tension + stiffening) / mass) / (2 * length)


def clamped_frequency(tension_n: float, length_m: float, mass_kg_per_m: float, bending_n_m2: float) -> float:
    """Lowest frequency of a stiff span with clamped ends, from the exact frequency equation.

    With w^2 m / EI = a^2 b^2 and b^2 - a^2 = T / EI: 2 a b (1 - cos aL cosh bL) + (b^2 - a^2) sin aL sinh bL = 0.
    The root lies between the hinged beam's first note and Rayleigh's bound with the clamped beam's own shape, which is
    below the hinged beam's second note, so it is the first.
    """
    from scipy.optimize import brentq

    pull, stiff = tension_n / bending_n_m2, bending_n_m2 / mass_kg_per_m
    low = sqrt((pi / length_m) ** 4 * stiff + (pi / length_m) ** 2 * tension_n / mass_kg_per_m)
    high = sqrt(500.57 / length_m**4 * stiff + 12.31 / length_m**2 * tension_n / mass_kg_per_m)

    def off(angular: float) -> float:
        root = sqrt(pull**2 / 4 + angular**2 / stiff)
        b = sqrt(root + pull / 2)
        # root - pull/2 written so that nothing cancels where the tension rules
        a = angular / sqrt(stiff) / b
        decay = exp(-b * length_m)
        cosh, sinh = (1 + decay**2) / 2, (1 - decay**2) / 2
        return 2 * a * b * (decay - cos(a * length_m) * cosh) + (b**2 - a**2) * sin(a * length_m) * sinh

    return float(brentq(off, low, high * 1.001, xtol=1e-12, rtol=1e-14)) / (2 * pi)


def tension_from_push(
    force_n: float, deflection_m: float, span_m: float, *, stiffness_n: float | None = None, belt_m: float | None = None
) -> PushTension:
    """Read the static tension off a push in the middle of a span.

    Parameters
    ----------
    force_n, deflection_m, span_m : float
        The push, how far the middle went, and the free span.
    stiffness_n, belt_m : float, optional
        The belt's EA and its whole length: both, to take the stretch off.

    Raises
    ------
    ValueError
        If a number is not above 0, or the stretch of the push would need more tension than there is.
    """
    force, sag = positive(force_n, "the push"), positive(deflection_m, "the deflection")
    span = positive(span_m, "the span")
    pushed = force * hypot(span / 2, sag) / (2 * sag)
    rest = None
    if stiffness_n is not None and belt_m is not None:
        stretch = 2 * hypot(span / 2, sag) - span
        rest = pushed - positive(stiffness_n, "the belt's stiffness") * stretch / positive(belt_m, "the belt's length")
        if rest <= 0:
            raise ValueError(
                f"Pushing by {sag * 1e3:.1f} mm stretches the belt by more than the {pushed:,.0f} N it then carries: "
                "the belt was slack, or push, deflection or stiffness is wrong."
            )
    return PushTension(force, sag, span, force * span / (4 * sag), pushed, rest)


def push_force(
    tension_n: float, deflection_m: float, span_m: float, *, stiffness_n: float = 0.0, belt_m: float = 1.0
) -> float:
    """Push that moves the middle of a span by so much at a static tension: the inverse of `tension_from_push`."""
    tension, sag = positive(tension_n, "the tension"), positive(deflection_m, "the deflection")
    half = hypot(positive(span_m, "the span") / 2, sag)
    pushed = tension + stiffness_n * (2 * half - span_m) / positive(belt_m, "the belt's length")
    return 2 * sag * pushed / half


def reading_error(length_error: float, frequency_error: float) -> float:
    """Relative error of the tension for relative errors of span and frequency: (1 + a)^2 (1 + b)^2 - 1."""
    return (1 + length_error) ** 2 * (1 + frequency_error) ** 2 - 1


def readings(values_n: Sequence[float]) -> Readings:
    """Put readings of one tension together; three is common practice (no source).

    Raises
    ------
    ValueError
        If there are fewer than two, or one is not above 0.
    """
    if len(values_n) < 2:
        raise ValueError("One reading says nothing of how well it repeats: take three, at the same tooth at the mark.")
    values = tuple(positive(value, "a reading") for value in values_n)
    mean = fmean(values)
    return Readings(values, mean, (max(values) - min(values)) / mean)
