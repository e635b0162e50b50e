"""What becomes of an invented belt on one run: whether it fails, how, how it looks after, and what the crew does.

Retirement as a precaution answers to how worn the belt looks, and the look answers to the hazard of the run, the belt's
hidden quality included: so the belts taken off early are those that would have failed sooner (informative censoring).
"""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, log
from statistics import NormalDist

import numpy as np

from drivekit.log.demo_truth import Truth

__all__ = ["Cell", "Dice", "after_run"]

Cell = str | int | float | None

_STANDARD = NormalDist()
_WAYS = ("tooth-jump", "tooth-loss", "edge-split", "cord-pull")
_BREAKS = {"tooth-jump": "straight-across", "tooth-loss": "ragged", "edge-split": "lengthwise", "cord-pull": "ragged"}
_LUBE_SPLITS = {"none": 1.6, "install": 1.0, "every-run": 0.5}
_PRECAUTION = (0.002, 0.05, 0.18, 0.4)  # by how many of teeth, cord and edges look worn


class Dice:
    """Random draws, all made from uniform numbers in (0, 1) so that no version of numpy changes them.

    Parameters
    ----------
    seed : int
        Seed of the generator (PCG64).
    """

    def __init__(self, seed: int) -> None:
        self._generator = np.random.Generator(np.random.PCG64(seed))
        self._pool: list[float] = []

    def uniform(self) -> float:
        """Draw a number above 0 and below 1."""
        if not self._pool:
            self._pool = self._generator.random(4096).tolist()
        return self._pool.pop() or 0.5**54

    def chance(self, share: float) -> bool:
        """Say yes with probability `share`."""
        return self.uniform() < share

    def whole(self, low: int, high: int) -> int:
        """Draw a whole number from `low` to `high`, both included."""
        return low + int(self.uniform() * (high - low + 1))

    def normal(self, mean: float, sd: float) -> float:
        """Draw from a normal law."""
        return mean + sd * _STANDARD.inv_cdf(self.uniform())

    def one_of(self, words: Sequence[str], weights: Sequence[float]) -> str:
        """Draw one word, each with its weight."""
        left = self.uniform() * sum(weights)
        for word, weight in zip(words, weights, strict=True):
            left -= weight
            if left < 0:
                return word
        return words[-1]

    def shuffled(self, words: Sequence[str]) -> list[str]:
        """Put the words in random order."""
        return [word for _, word in sorted((self.uniform(), word) for word in words)]


def after_run(
    dice: Dice, truth: Truth, *, hazard: float, tension_n: float, lube: str, off_c: float, off_side: int, trouble: str
) -> dict[str, Cell]:
    """Draw the belt's fate on a run and what is found after it.

    Parameters
    ----------
    dice : Dice
        Where chance comes from.
    truth : Truth
        For the tension below which the drive goes slack.
    hazard : float
        Cumulative hazard of the run: it fails with chance 1 - exp(-hazard).
    tension_n : float
        True static tension.
    lube : str
        How often the edges are greased.
    off_c : float
        Edge temperatures, front less rear.
    off_side : int
        For how many runs on end the belt has walked to the front; to the rear below 0.
    trouble : str
        Engine trouble on the run.

    Returns
    -------
    dict
        Cells of the findings after the run, fate and cause.
    """
    failed = dice.chance(1 - exp(-hazard))
    way = dice.one_of(_WAYS, _weights(truth, tension_n, lube, off_c)) if failed else None
    looks = _looks(dice, hazard, tension_n, lube)
    worn = sum(look != "good" for look in looks.values())
    surface = _surface(dice, trouble)
    cells: dict[str, Cell] = {
        "surface": surface,
        "break_look": "none",
        "shade": "front-dark" if off_side >= 2 else "rear-dark" if off_side <= -2 else "even",
    }
    if way is not None:
        broke = way == "tooth-jump" or dice.chance(0.6)
        looks |= {
            "tooth-jump": {"teeth_look": "torn"},
            "tooth-loss": {"teeth_look": "missing"},
            "edge-split": {"edge_look": "split"},
            "cord-pull": {"cord_look": "pulled"},
        }[way]
        cells |= {
            "fate": "broke" if broke else "retired",
            "cause": way,
            "break_look": _BREAKS[way] if broke else "none",
        }
    else:
        cells |= _kept_or_not(dice, looks, worn, surface, trouble)
        if cells["fate"] != "retired" and dice.chance(0.08):
            looks = {}  # nobody looked
    return cells | looks


def _weights(truth: Truth, tension_n: float, lube: str, off_c: float) -> tuple[float, ...]:
    """Shares of the four ways to fail: slack jumps teeth, tight pulls cord and teeth, dry or badly run edges split."""
    tight = (tension_n - truth.best_n) / 1000.0
    jump = 0.4 * exp(-0.9 * tight) * (3.0 if tension_n < truth.slack_below_n else 1.0)
    return jump, 0.6 * exp(0.3 * tight), 0.5 * _LUBE_SPLITS[lube] * (1 + 0.1 * abs(off_c)), 0.35 * exp(0.7 * tight)


def _looks(dice: Dice, hazard: float, tension_n: float, lube: str) -> dict[str, str]:
    share = 1 / (1 + exp(-(1.2 * log(hazard) + 1.0)))
    return {
        "teeth_look": "worn" if dice.chance(share) else "good",
        "cord_look": "hairs" if dice.chance(share * (0.9 if tension_n > 9500.0 else 0.6)) else "good",
        "edge_look": "frayed" if dice.chance(share * 0.6 * _LUBE_SPLITS[lube]) else "good",
    }


def _surface(dice: Dice, trouble: str) -> str:
    if dice.chance(0.8 if trouble == "oil-down" else 0.01):
        return "oiled"
    return "metal" if dice.chance(0.12 if trouble == "cylinder-out" else 0.004) else "clean"


def _kept_or_not(dice: Dice, looks: dict[str, str], worn: int, surface: str, trouble: str) -> dict[str, Cell]:
    """Say what the crew does with a belt that has not failed."""
    if dice.chance({"clean": 0.0, "oiled": 0.35, "metal": 0.7}[surface]):
        return {"fate": "retired", "cause": "contaminated"}
    if dice.chance({"backfire": 0.35, "cylinder-out": 0.08}.get(trouble, 0.0)):
        return {"fate": "retired", "cause": "engine-trouble"}
    if dice.chance(_PRECAUTION[worn]):
        return {"fate": "retired", "cause": "precaution"}
    if worn == 0 and dice.chance(0.006):
        return {"fate": "retired", "cause": "sold"}
    trimmed = looks["cord_look"] == "hairs" and dice.chance(0.6)
    return {"fate": "trimmed" if trimmed else "kept"}
