"""What is true of the invented demo seasons, so that every answer can be held against it; and a belt's fate by it.

The chance that a belt fails on a run is 1 - exp(-h), with

    h = BASE * age**AGE_POWER * exp(TENSION_BEND * ((tension - best) / 1000 N)**2) * product of the factors below,

so each factor is a hazard ratio and the complementary log-log model is the true one. Which of the four ways it fails
depends on tension, grease and how far off the belt runs, but the sum of the four is always h.

Retirement as a precaution answers to how worn the belt looks, and the look answers to the hazard of the run, the belt's
hidden quality included: so the belts taken off early are those that would have failed sooner (informative censoring).
Nothing here describes any real belt, car or person.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import exp, log
from pathlib import Path
from statistics import NormalDist
from types import MappingProxyType
from typing import Any, ClassVar

import numpy as np

__all__ = ["SEASON_ONE", "SEASON_TWO", "TRUTH", "Cell", "Dice", "Plan", "Truth", "after_run", "as_read"]

Cell = str | int | float | None

_STANDARD = NormalDist()
# How a belt fails: what it leaves on which part, and how the ends look where it broke.
_WAYS = {
    "tooth-jump": ("teeth_look", "torn", "straight-across"),
    "tooth-loss": ("teeth_look", "missing", "ragged"),
    "edge-split": ("edge_look", "split", "lengthwise"),
    "cord-pull": ("cord_look", "pulled", "ragged"),
}
_MISTAKEN = {
    "teeth_look": {"good": "worn", "worn": "good", "torn": "missing", "missing": "torn"},
    "cord_look": {"good": "hairs", "hairs": "good", "pulled": "hairs"},
    "edge_look": {"good": "frayed", "frayed": "good", "split": "frayed"},
    "shade": {"front-dark": "even", "rear-dark": "even"},
    "break_look": {"straight-across": "ragged", "ragged": "straight-across", "lengthwise": "ragged"},
}
_LUBE_SPLITS = {"none": 1.6, "install": 1.0, "every-run": 0.5}
_PRECAUTION = (0.002, 0.05, 0.18, 0.4)  # by how many of teeth, cord and edges look worn


def _table(**entries: float) -> Any:
    table = MappingProxyType({name.strip("_").replace("_", "-"): value for name, value in entries.items()})
    return field(default_factory=lambda: table)


@dataclass(frozen=True, slots=True)
class Truth:
    """Everything that drives an invented season; ratios multiply the hazard of a run.

    Tensions are in N, temperatures in degrees C, flats are sixths of a turn.
    """

    base: float = 0.027
    age_power: float = 1.0
    idler: Mapping[str, float] = _table(smooth=1.0, toothed=0.45)
    edge_lube: Mapping[str, float] = _table(none=1.0, install=0.85, every_run=0.7)
    car: Mapping[str, float] = _table(amber=1.0, teal=1.3, violet=0.8)
    idler_support: Mapping[str, float] = _table(single=1.0, three_point=0.8)
    compound: Mapping[str, float] = _table(rubber=1.0, urethane=0.9)
    width_mm: Mapping[str, float] = _table(_75=1.0, _85=0.85)
    fitted_by: Mapping[str, float] = _table(ash=1.0, birch=1.3, cedar=1.0, elm=1.0)
    RATIOS: ClassVar = ("car", "idler", "edge_lube", "fitted_by", "idler_support", "compound", "width_mm")
    """The tables above, by the columns of a log that they stand for."""
    quality_sd: float = 0.3
    """Spread of a belt's own hidden quality, on the log of its hazard; it also shows in how worn the belt looks."""
    trouble: Mapping[str, float] = _table(none=1.0, cylinder_out=1.5, oil_down=1.8, backfire=2.5, other=1.0)
    trouble_runs: int = 2
    """How many of the belt's next runs an incident hurts."""

    lowest_n: float = 5000.0
    highest_n: float = 12000.0
    best_n: float = 8300.0
    tension_bend: float = 0.08
    target_sd_n: float = 1100.0
    tension_sd_n: Mapping[str, float] = _table(ash=900.0, birch=900.0, cedar=1800.0, elm=900.0)
    """Spread of the tension a car aims for from meeting to meeting, around the best; of what its fitter then sets."""
    snug_n: float = 900.0
    turn_n: float = 2900.0
    """Tension where the adjuster's turns count from, and gained per turn."""
    settles_n: float = 450.0
    loses_n: float = 60.0
    """Tension lost on a run: ``loses_n + settles_n / 2 ** ((age - 1) / 2)``, readings of it scatter by ``loses_n``."""

    full_load_w: float = 310_000.0
    speed_m_s: float = 78.4
    mass_kg_m: float = 0.745
    tight_share: float = 0.447
    growth_n: float = 600.0
    stiffness_n_per_mm: float = 28_000.0
    """Blower power and belt speed at full load, the belt's mass, the share of its length on the tight side, tension
    gained as the engine grows hot, and the belt's tension over strain for each mm of its width: those of the drive
    ``data/drives/toothed-inside.toml``."""

    flat_c: Mapping[str, float] = _table(amber=-1.8, teal=-1.4, violet=-2.2)
    square_c: Mapping[str, float] = _table(amber=3.6, teal=-2.8, violet=2.2)
    snout_c: float = -0.9
    snout_middle: float = 4.0
    belt_c_sd: float = 1.5
    reading_c_sd: float = 1.2
    walks_c: float = 2.5
    """Edges' temperature difference, front less rear: ``square_c + flat_c * (front - rear idler flats)
    + snout_c * (mean snout flats - snout_middle) + the belt's own + reading``; beyond ``walks_c`` the belt walked.
    More flats at the front send the belt to the rear, so the rear edge runs hotter: ``flat_c`` is below 0."""

    misread: float = 0.04
    misread_break: float = 0.1
    """Chance that a look is written down as another it is easily taken for; that of the ends of a broken belt."""

    @property
    def slack_below_n(self) -> float:
        """Static tension below which the slack span goes slack at full load.

        Set + growth - share Te - m v^2 = 0 with the effective tension Te = power / speed (fixed centres: the mean over
        the belt's length stays what was set plus growth).
        """
        pull = self.tight_share * self.full_load_w / self.speed_m_s
        return pull + self.mass_kg_m * self.speed_m_s**2 - self.growth_n


@dataclass(frozen=True, slots=True)
class Plan:
    """How one invented season goes: an entry of ``demo_seasons.toml``, whose head explains each field."""

    name: str
    title: str
    year: int
    prefix: str
    months: Sequence[int]
    runs_a_day: int
    toothed_share: Sequence[float]
    three_point_share: Sequence[float]


TRUTH = Truth()

_SEASONS = Path(__file__).with_name("demo_seasons.toml").read_text(encoding="utf-8")
SEASON_ONE, SEASON_TWO = (Plan(**plan) for plan in tomllib.loads(_SEASONS)["seasons"])


class Dice:
    """Random draws, all made from uniform numbers in (0, 1) so that no version of numpy changes them.

    Parameters
    ----------
    seed : int or sequence of int
        Seed of the generator (PCG64).
    """

    def __init__(self, seed: int | Sequence[int]) -> None:
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
    way = dice.one_of(tuple(_WAYS), _weights(truth, tension_n, lube, off_c)) if failed else None
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
        part, looks_now, ends = _WAYS[way]
        looks[part] = looks_now
        cells |= {"fate": "broke" if broke else "retired", "cause": way, "break_look": ends if broke else "none"}
    else:
        cells |= _kept_or_not(dice, looks, worn, surface, trouble)
        if cells["fate"] != "retired" and dice.chance(0.08):
            looks = {}  # nobody looked
    return cells | looks


def as_read(dice: Dice, truth: Truth, found: Mapping[str, Cell]) -> dict[str, Cell]:
    """Write down what is found after a run: what it is, but now and then one look taken for another."""
    chance = dict.fromkeys(_MISTAKEN, truth.misread) | {"break_look": truth.misread_break}
    slips = {look: taken_for for look, taken_for in _MISTAKEN.items() if dice.chance(chance[look])}
    return {name: slips.get(name, {}).get(str(cell), cell) for name, cell in found.items()}


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
    ends = {
        "contaminated": {"clean": 0.0, "oiled": 0.35, "metal": 0.7}[surface],
        "engine-trouble": {"backfire": 0.35, "cylinder-out": 0.08}.get(trouble, 0.0),
        "precaution": _PRECAUTION[worn],
    }
    for cause, chance in (ends if worn else ends | {"sold": 0.006}).items():
        if dice.chance(chance):
            return {"fate": "retired", "cause": cause}
    trimmed = looks["cord_look"] == "hairs" and dice.chance(0.6)
    return {"fate": "trimmed" if trimmed else "kept"}
