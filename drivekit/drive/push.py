"""Static tension of a span from a push in its middle, and the tension a turn of the adjusters gives.

A force F in the middle of a free span L pushes it down by d; each half then stands at tan(theta) = 2 d / L and carries

    T = F / (2 sin theta) = F L / (4 d) sqrt(1 + (2 d / L)^2),    about F L / (4 d)

by the balance of forces at the middle (statics; no source needed). Pushing also stretches the belt by
2 sqrt((L/2)^2 + d^2) - L; the tension before the push is less by EA times that over the length of the belt, if the
pulleys are free to turn a little, as they are on a drive at rest. The belt's own bending stiffness is left out.

The belt gains EA dL / L as its path grows by dL (Hooke's law; EA from the belt's maker or from a pull test).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

from drivekit.drive.amounts import force_words, length_words, positive
from drivekit.drive.layout import Layout
from drivekit.drive.path import belt_path
from drivekit.drive.threads import FLATS_IN_A_TURN, thread

__all__ = ["AdjusterGain", "PushTension", "adjuster_gain", "push_force", "tension_from_push"]


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
class AdjusterGain:
    """What a turn and a flat of the adjusters do to the static tension."""

    travel_per_turn_m: float
    path_per_travel: float
    per_turn_n: float

    @property
    def per_flat_n(self) -> float:
        """Tension gained a flat, all adjusters moved alike."""
        return self.per_turn_n / FLATS_IN_A_TURN

    def __str__(self) -> str:
        return (
            f"A turn of every adjuster moves the idler {self.travel_per_turn_m * 1e3:.3f} mm and gains "
            f"{force_words(self.per_turn_n)}; a flat gains {force_words(self.per_flat_n)}."
        )


def tension_from_push(
    force_n: float,
    deflection_m: float,
    span_m: float,
    *,
    stiffness_n: float | None = None,
    belt_m: float | None = None,
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


def adjuster_gain(layout: Layout) -> AdjusterGain:
    """Tension gained per turn of the adjusters, with the idler where the layout has it.

    The travel of one turn is the thread's pitch, twice that with a left and a right hand end; the path grows by
    (u_in - u_out) . e per travel (`path.length_per_move`), the tension by EA over the belt's length times that.

    Raises
    ------
    ValueError
        If the layout has no slide or no adjusters.
    """
    sliding, slide, screws = layout.sliding, layout.slide, layout.adjusters
    if sliding is None or slide is None or screws is None:
        raise ValueError(
            f"{layout.name} has no adjusters on a slide, so a turn of them gains nothing that can be told."
        )
    travel = thread(screws.thread).pitch_m * (2 if screws.ends == "left-right" else 1)
    growth = belt_path(layout).length_per_move(sliding, slide.direction_rad)
    return AdjusterGain(travel, growth, layout.belt.stiffness_n * growth * travel / layout.belt.length_m)
