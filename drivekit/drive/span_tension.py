"""What is read of a span's tension: off its note, off a push, off several readings. Formulas: `drivekit.span`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, pi
from statistics import fmean
from typing import Literal, get_args

from drivekit import span
from drivekit.drive.amounts import positive
from drivekit.units import Amount, Refusal, Spoken, Units, long

__all__ = [
    "PushTension",
    "Readings",
    "SpanTension",
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
class SpanTension(Spoken):
    """Static tension read off a span's note, with three ideas of its ends and what small slips in reading make."""

    length_m: float
    frequency_hz: float
    string_n: float
    hinged_n: float | None
    clamped_n: float | None
    per_percent_n: float

    def _said(self, units: Units) -> str:
        said = (
            f"A free span of {units.long(self.length_m, 1)} at {self.frequency_hz:.1f} Hz has a tension of "
            f"{units.force(self.string_n)} as a string"
        )
        if self.hinged_n is not None and self.clamped_n is not None:
            said += f"; the belt's stiffness makes that {units.said(self.hinged_n, 'N')} with hinged, "
            said += f"{units.said(self.clamped_n, 'N')} with clamped ends"
        return f"{said}. 1 % wrong in length or in frequency makes {units.said(self.per_percent_n, 'N')}."


@dataclass(frozen=True, slots=True)
class PushTension(Spoken):
    """Static tension read off a push: roughly, exactly, and with the stretch of the push taken off."""

    force_n: float
    deflection_m: float
    span_m: float
    rough_n: float
    pushed_n: float
    rest_n: float | None

    def _said(self, units: Units) -> str:
        said = (
            f"{units.force(self.force_n)} that pushes a span of {units.long(self.span_m, 1)} by "
            f"{units.length(self.deflection_m)} means "
        )
        pushed = f"{units.force(self.rough_n)} by force x span / 4 deflection, exactly "
        pushed += f"{units.said(self.pushed_n, 'N')} while pushed"
        if self.rest_n is None:
            return f"{said}{pushed}; the belt's stretch is not taken off, so at rest it is less."
        return f"{said}{units.force(self.rest_n)} at rest, which is the tension to use ({pushed})."


@dataclass(frozen=True, slots=True)
class Readings(Spoken):
    """Readings of one tension: their mean, their spread, and whether they agree."""

    values_n: tuple[float, ...]
    mean_n: float
    spread: float

    @property
    def agree(self) -> bool:
        """Whether largest and smallest lie within 5 % of the mean (common practice, no source)."""
        return self.spread <= SPREAD_ALLOWED

    def _said(self, units: Units) -> str:
        verdict = "they agree" if self.agree else "they do not agree: find out why, and read again"
        return (
            f"{len(self.values_n)} readings, mean {units.force(self.mean_n)}, largest less smallest "
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
    frequency, length = positive(frequency_hz, "the frequency"), positive(length_m, "the span")
    string = span.string_tension(frequency, length, positive(mass_kg_per_m, "the mass per length"))
    hinged = clamped = None
    if bending_n_m2:
        beam = (length, mass_kg_per_m, bending_n_m2)
        slack = span.clamped_frequency(0.0, *beam)
        if frequency <= slack:
            raise Refusal(
                f"{frequency:.1f} Hz is too low a note: the belt's stiffness alone gives {slack:.1f} Hz on {{}}; check "
                "the span, the mass and the bending stiffness.",
                long(length),
            )
        hinged, clamped = span.hinged_tension(frequency, *beam), span.clamped_tension(frequency, *beam)
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
        return span.clamped_frequency(tension, length, mass, bending_n_m2)
    stiffening = pi**2 * bending_n_m2 / length**2 if ends == "hinged" else 0.0
    return span.string_frequency(tension + stiffening, length, mass)


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
    free = positive(span_m, "the span")
    pushed = span.pushed_tension(force, sag, free)
    rest = None
    if stiffness_n is not None and belt_m is not None:
        ea, length = positive(stiffness_n, "the belt's stiffness"), positive(belt_m, "the belt's length")
        rest = span.at_rest(pushed, sag, free, ea, length)
        if rest <= 0:
            raise Refusal(
                "Pushing by {} stretches the belt by more than the {} it then carries: the belt was slack, or push, "
                "deflection or stiffness is wrong.",
                *(long(sag), Amount(pushed, "N")),
            )
    return PushTension(force, sag, free, span.rough_push_tension(force, sag, free), pushed, rest)


def push_force(
    tension_n: float, deflection_m: float, span_m: float, *, stiffness_n: float = 0.0, belt_m: float = 1.0
) -> float:
    """Push that moves the middle of a span by so much at a static tension: the inverse of `tension_from_push`."""
    tension, sag = positive(tension_n, "the tension"), positive(deflection_m, "the deflection")
    half = hypot(positive(span_m, "the span") / 2, sag)
    pushed = tension + stiffness_n * span.stretch(sag, span_m) / positive(belt_m, "the belt's length")
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
