"""Tension of a free span from the note it gives when plucked, or from a push in its middle, and back.

    string           T = 4 m L^2 f^2
    stiff, hinged    T = 4 m L^2 f^2 - pi^2 EI / L^2
    stiff, clamped   the root of the beam's frequency equation, see `clamped_frequency`

`m` mass per length, `L` free span, `f` lowest frequency, `EI` bending stiffness. Sources: the string is Mersenne's law
(Rayleigh, *The Theory of Sound*, chapter 6); beams under tension after Timoshenko, Young and Weaver, *Vibration
Problems in Engineering*, 4th ed. (1974), chapter 5 (cited from memory; a test holds both against a beam cut in
elements). A belt meets its pulleys somewhere between hinged and clamped. All of it holds for a belt at rest, cold,
plucked lightly in the middle of a free span; always at the same tooth at the mark, since pulleys and belt are never
quite round.

A force F in the middle of a free span L pushes it down by d; each half then stands at tan(theta) = 2 d / L and carries

    T = F / (2 sin theta) = F L / (4 d) sqrt(1 + (2 d / L)^2),    about F L / (4 d)

by the balance of forces at the middle (statics; no source needed). Pushing also stretches the belt by
2 sqrt((L/2)^2 + d^2) - L; the tension before the push is less by EA times that over the length of the belt, if the
pulleys are free to turn a little, as they are on a drive at rest. The belt's own bending stiffness is left out there.

Plain numbers or arrays of them, in SI; who asks says what cannot be.
"""

from __future__ import annotations

from math import cos, exp, pi, sin, sqrt
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "at_rest",
    "clamped_frequency",
    "clamped_tension",
    "hinged_tension",
    "pushed_tension",
    "rough_push_tension",
    "stretch",
    "string_frequency",
    "string_tension",
]

Amount = TypeVar("Amount", float, NDArray[np.float64])


def string_tension(frequency_hz: Amount, length_m: Amount, mass_kg_per_m: Amount) -> Amount:
    """Tension in N of a span that rings as a string.

    Examples
    --------
    >>> round(string_tension(100.0, 0.3, 0.2), 9)
    720.0
    """
    return 4.0 * mass_kg_per_m * length_m**2 * frequency_hz**2


def string_frequency(tension_n: float, length_m: float, mass_kg_per_m: float) -> float:
    """Note in Hz of a span that rings as a string."""
    return sqrt(tension_n / mass_kg_per_m) / (2 * length_m)


def hinged_tension(frequency_hz: float, length_m: float, mass_kg_per_m: float, bending_n_m2: float) -> float:
    """Tension in N of a stiff span whose ends turn freely."""
    return string_tension(frequency_hz, length_m, mass_kg_per_m) - pi**2 * bending_n_m2 / length_m**2


def clamped_tension(frequency_hz: float, length_m: float, mass_kg_per_m: float, bending_n_m2: float) -> float:
    """Tension in N of a stiff span whose ends are held; its note is above that of the slack span."""
    from scipy.optimize import brentq

    def off(tension_n: float) -> float:
        return clamped_frequency(tension_n, length_m, mass_kg_per_m, bending_n_m2) - frequency_hz

    most = string_tension(frequency_hz, length_m, mass_kg_per_m)
    return float(brentq(off, 0.0, most, xtol=1e-9, rtol=1e-12))


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


def rough_push_tension(force_n: Amount, sag_m: Amount, span_m: Amount) -> Amount:
    """Tension in N of a span that gives way by `sag_m` in its middle, for a small sag: force x span / 4 sag."""
    return force_n * span_m / (4.0 * sag_m)


def pushed_tension(force_n: Amount, sag_m: Amount, span_m: Amount) -> Amount:
    """Tension in N that a span carries while it is pushed."""
    pushed: Amount = force_n * ((span_m / 2) ** 2 + sag_m**2) ** 0.5 / (2 * sag_m)
    return pushed


def stretch(sag_m: Amount, span_m: Amount) -> Amount:
    """How much longer in m a push makes the belt's path."""
    longer: Amount = 2 * ((span_m / 2) ** 2 + sag_m**2) ** 0.5 - span_m
    return longer


def at_rest(
    pushed_n: Amount, sag_m: Amount, span_m: Amount, stiffness_n: Amount | float, belt_m: Amount | float
) -> Amount:
    """Tension in N before the push: what its stretch added to the whole belt is taken off."""
    return pushed_n - stiffness_n * stretch(sag_m, span_m) / belt_m
