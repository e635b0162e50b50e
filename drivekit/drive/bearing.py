"""Whether the idler's bearings stand the belt: static safety, speed, and life as a footnote.

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
from math import inf, pi

from drivekit.drive.amounts import force_words, positive
from drivekit.drive.layout import Idler

__all__ = ["BearingCheck", "bearing_check", "rated_life"]

SHOCK_SAFETY = {"ball": 2.0, "roller": 3.0}


@dataclass(frozen=True, slots=True)
class BearingCheck:
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

    def __str__(self) -> str:
        said = [f"The idler turns at {self.idler_rpm:,.0f} rpm under up to {force_words(self.force_n)}"]
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
