"""The next move of idler and snout, in whole flats: which brings the next reading on this belt nearer to the aim.

The move is the one whose next reading is expected least far from the aim. It is proposed by the chance that this
reading is nearer to the aim than one with everything left as it is. The two cannot both be made: they share what is not
known of the line and of the belt, and each has a reading's own scatter; both are taken as normal
(`by_belt.ByBelt.expected`). A knob whose slope may as well have the other sign is not turned, and nothing is proposed
beyond those that were tried.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from math import ceil, floor, pi, sqrt
from typing import Any

import numpy as np

from drivekit.decide.by_belt import ByBelt
from drivekit.life.folds import Floats
from drivekit.units import Spoken, Units, flats_words

__all__ = ["NextMove", "in_twenty", "next_move"]

LEAST_CHANCE = 0.55
"""A move that helps hardly more often than it harms is not worth the hands."""
# What a flat must gain, and jack screws, which want the tension read again: in shares of a reading's scatter.
_FLAT, _JACK = 0.02, 0.25
_NODES = np.linspace(-8, 8, 801)
_WEIGHTS = np.exp(-(_NODES**2) / 2) / sqrt(2 * pi) * (_NODES[1] - _NODES[0])


@dataclass(frozen=True, slots=True)
class NextMove(Spoken):
    """Whole flats from the last run's settings, or why none can be proposed.

    Parameters
    ----------
    idler : int or None
        Net flats of the idler, front less rear, to add; None with a reason.
    snout : int
        Flats by which both jack screws under the snout go further in.
    belt : str
        The belt whose next reading it is.
    expected_c, unmoved_c : float
        That reading's mean with the move and without.
    chance : float
        That it is nearer to the aim with the move; of the one that was weighed, where none is proposed.
    """

    idler: int | None
    snout: int = 0
    belt: str = ""
    expected_c: float = 0.0
    unmoved_c: float = 0.0
    chance: float = 0.5
    aim_c: float = 0.0
    reason: str = ""

    def block(self) -> dict[str, Any]:
        """Give the plain form of findings."""
        if self.idler is None:
            return {"reason": self.reason}
        return {
            "idler_flats": self.idler,
            "snout_flats": self.snout,
            "belt": self.belt,
            "expected_c": self.expected_c,
            "unmoved_c": self.unmoved_c,
            "chance_nearer": self.chance,
        }

    def _said(self, units: Units) -> str:
        if self.idler is None:
            return f"No move is proposed: {self.reason}."
        aim = "even" if self.aim_c == 0 else units.warmer(self.aim_c, "+")
        unmoved = units.warmer(self.unmoved_c, "+")
        if not (self.idler or self.snout):
            return (
                f"Leave the screws where they are: of the settings tried so far none brings the next reading on belt "
                f"{self.belt}, expected at {unmoved}, so much nearer to {aim} that it is worth its flats."
            )
        turns = []
        if self.idler:
            turns.append(
                f"the idler {flats_words(abs(self.idler))} more at the {'front' if self.idler > 0 else 'rear'}"
            )
        if self.snout:
            way = "in" if self.snout > 0 else "out"
            turns.append(f"both jack screws under the snout {flats_words(abs(self.snout))} {way}")
        tension = " A jack screw moves the tension too: read it again." if self.snout else ""
        return (
            f"Turn {' and '.join(turns)}: the next reading on belt {self.belt} is expected at "
            f"{units.warmer(self.expected_c, '+')} in place of {unmoved}, and {in_twenty(self.chance)} times it is "
            f"nearer to {aim} than without a move.{tension}"
        )


def next_move(
    fit: ByBelt, now: Floats, belt: int, name: str, tried: Floats, turns: tuple[bool, bool], aim_c: float = 0.0
) -> NextMove:
    """Choose the move, fewer flats and the idler's before the jack screws' where little is lost by it.

    Parameters
    ----------
    fit : ByBelt
        Its columns: the constant, net flats and, where it has three, snout lift.
    now : ndarray of float, shape (p,)
        Settings of the last run, the constant's 1 first.
    belt : int
        Code of the belt on the engine; `name` is what it is called.
    tried : ndarray of float, shape (n, p)
        All settings.
    turns : (bool, bool)
        Whether the sign of what idler and snout do is known.
    aim_c : float
        The difference wanted.
    """
    low, high = tried.min(axis=0), tried.max(axis=0)
    reach = [
        range(min(0, ceil(low[at] - now[at] - 1e-9)), max(0, floor(high[at] - now[at] + 1e-9)) + 1)
        if at < now.size and known
        else range(1)
        for at, known in ((1, turns[0]), (2, turns[1]))
    ]
    moves = sorted(product(*reach), key=lambda move: (move != (0, 0), move))
    flats = np.array(moves, float)
    settings = now + np.column_stack((np.zeros(len(moves)), flats))[:, : now.size]
    mean, spread = fit.expected(settings, belt)
    chance = _nearer(mean - aim_c, spread, fit.noise_sd)
    far = _distance(mean - aim_c, np.sqrt(np.diag(spread) + fit.noise_sd**2))
    price = _FLAT * np.abs(flats).sum(axis=1) + _JACK * (flats[:, 1] != 0)
    place = int(np.argmin(far + fit.noise_sd * price))
    best = float(chance[place])
    if best <= LEAST_CHANCE:
        place = 0
    idler, snout = moves[place]
    return NextMove(idler, snout, name, float(mean[place]), float(mean[0]), best, aim_c)


def _distance(mean: Floats, sd: Floats) -> Floats:
    """Mean distance from 0 of a normal reading."""
    from scipy.special import ndtr

    away: Floats = sd * sqrt(2 / pi) * np.exp(-((mean / sd) ** 2) / 2) + mean * (1 - 2 * ndtr(-mean / sd))
    return away


def _nearer(mean: Floats, spread: Floats, noise: float) -> Floats:
    """Chance that each reading lies nearer to 0 than the first, which is that without a move; of the first, 1/2."""
    from scipy.special import ndtr

    own, other, both = spread[0, 0] + noise**2, np.diag(spread) + noise**2, spread[:, 0]
    left = mean[0] + sqrt(own) * _NODES
    centre = mean[:, None] + (both / own)[:, None] * (left - mean[0])
    wide = np.sqrt(other - both**2 / own)[:, None]
    chance: Floats = (ndtr((np.abs(left) - centre) / wide) - ndtr((-np.abs(left) - centre) / wide)) @ _WEIGHTS
    chance[0] = 0.5
    return chance


def in_twenty(share: float) -> str:
    """Say a chance as a count: ``about 13 in 20``; none is said as never or always."""
    count = round(20 * share)
    return "fewer than 1 in 20" if count == 0 else "more than 19 in 20" if count == 20 else f"about {count} in 20"
