"""Seasons drawn from a model whose truth is known, to see how often claims are right and intervals hold.

A belt is fitted with a car, an idler, grease and a tension, and fails on a run of age k with chance 1 - exp(-h),
``h = base k (car) (idler) (grease) exp(tension)``, so that the complementary log-log model is the true one and each
factor a ratio of hazards. Some belts come with runs on them, some change their idler in mid-life, and each run ends a
life some other way by a chance that knows nothing of the hazard. Nothing here describes any real belt, car or person.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from drivekit.log.season import RunTable
from drivekit.study.as_json import Block

__all__ = ["CARS", "SCENARIOS", "SEED", "Drawn", "Scenario", "drawn", "generator_of"]

SEED = 20
BASE, OLDEST = 0.0135, 30
MIDDLE_N, SPREAD_N = 8300.0, 1200.0
CAR, CARS = np.array([1.0, 1.3, 0.8]), ["amber", "teal", "violet"]
IDLERS, GREASES = np.array(["smooth", "toothed"], object), np.array(["none", "install", "every-run"], object)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scenario:
    """One kind of season.

    Parameters
    ----------
    name : str
    belts : int
    idler : float
        Ratio of hazards, toothed against smooth.
    grease : float
        Ratio for every-run against none; install lies halfway on the log scale.
    line, bend : float
        Of the log hazard per kN and per kN squared, about the middle tension.
    leaves : float
        Chance that a run ends a life without a failure.
    late, swapped : float
        Shares of belts that came with runs on them, and that change their idler in mid-life.
    toothed : float
        Share of belts fitted on the toothed idler.
    rare_car : float
        Share of belts on the third car; the others share the rest.
    tied : float
        How far the idler goes with the car, 0 not at all, 1 altogether.
    base : float
        Hazard of the first run.
    """

    name: str
    belts: int = 80
    idler: float = 1.0
    grease: float = 1.0
    line: float = 0.0
    bend: float = 0.0
    leaves: float = 0.05
    late: float = 0.1
    swapped: float = 0.0
    toothed: float = 0.5
    rare_car: float = 1 / 3
    tied: float = 0.0
    base: float = BASE

    def on_toothed(self) -> np.ndarray:
        """Give the share of each car's belts that is fitted on the toothed idler, shape (3,)."""
        return np.asarray(np.clip(self.toothed + self.tied * np.array([0.0, -0.5, 0.5]), 0, 1))

    def factors(self, car: Any, grease: np.ndarray, off: np.ndarray) -> tuple[Any, np.ndarray, np.ndarray]:
        """Give what a hazard is multiplied by for car, grease and tension, `off` the kN off the middle one."""
        return CAR[car], self.grease ** (grease / 2), np.exp(self.line * off + self.bend * off**2)


SCENARIOS = tuple(
    Scenario(**given)
    for given in (
        {"name": "nothing, 40 belts", "belts": 40},
        {"name": "nothing, 80 belts"},
        {"name": "nothing, 150 belts", "belts": 150},
        {"name": "ratio .6, 40 belts", "belts": 40, "idler": 0.6},
        {"name": "ratio .6, 80 belts", "idler": 0.6},
        {"name": "ratio .6, 150 belts", "belts": 150, "idler": 0.6},
        {"name": "ratio .45, 40 belts", "belts": 40, "idler": 0.45},
        {"name": "ratio .45, 80 belts", "idler": 0.45},
        {"name": "ratio .45, 150 belts", "belts": 150, "idler": 0.45},
        {"name": "most belts end otherwise, 40", "belts": 40, "idler": 0.6, "leaves": 0.2},
        {"name": "most belts end otherwise, 80", "idler": 0.6, "leaves": 0.2},
        {"name": "most belts end otherwise, 150", "belts": 150, "idler": 0.6, "leaves": 0.2},
        {"name": "few end otherwise, 80 belts", "idler": 0.6, "leaves": 0.02},
        {"name": "half came with runs on", "idler": 0.6, "late": 0.5},
        {"name": "idlers swapped in mid-life", "idler": 0.6, "swapped": 0.4},
        {"name": "swapped, nothing", "swapped": 0.4},
        {"name": "a rare level", "idler": 0.6, "toothed": 0.15},
        {"name": "a rare level, nothing", "toothed": 0.15},
        {"name": "a rare car", "idler": 0.6, "rare_car": 0.06},
        {"name": "a rare car, 40 belts", "belts": 40, "idler": 0.6, "rare_car": 0.06},
        {"name": "idler mostly by car", "idler": 0.6, "tied": 0.6},
        {"name": "idler mostly by car, nothing", "tied": 0.6},
        {"name": "tension along a line", "line": 0.25},
        {"name": "tension along a curve", "bend": 0.15},
        {"name": "all three", "idler": 0.45, "grease": 0.5, "bend": 0.15},
        {"name": "grease alone", "grease": 0.5},
        {"name": "few failures, 60 belts", "belts": 60, "idler": 0.6, "base": 0.003, "leaves": 0.1},
        {"name": "few failures, 40 belts", "belts": 40, "base": 0.005, "leaves": 0.1},
    )
)


@dataclass(frozen=True, eq=False)
class Drawn:
    """A season and what is true of it.

    Parameters
    ----------
    table : RunTable
        Its runs.
    scenario : Scenario
    other : ndarray of float, shape (n_belts, 3)
        What each belt's hazard is multiplied by, by its car, its grease and its tension, in the order first run.
    toothed : ndarray of bool, shape (n_belts,)
        The idler it was first fitted on.
    """

    table: RunTable
    scenario: Scenario
    other: np.ndarray
    toothed: np.ndarray

    def survival(self, ratio: np.ndarray, horizon: int) -> np.ndarray:
        """Give the true mean survival after runs 1 to the horizon of belts with these hazards."""
        ages = np.arange(1, horizon + 1)
        return np.asarray(np.exp(-self.scenario.base * np.outer(ratio, np.cumsum(ages))).mean(axis=0))

    def mean(self, ratio: np.ndarray, horizon: int) -> float:
        """Give the true mean of runs made out of the first so many."""
        return float(1 + self.survival(ratio, horizon)[:-1].sum())

    def gained(self, setting: str, level: str, horizon: int) -> float:
        """Give the true mean to a horizon of these very belts, all at one level of the idler or of grease."""
        car, grease, tension = self.other.T
        if setting == "idler":
            factor = self.scenario.idler if level == "toothed" else 1.0
            return self.mean(car * grease * tension * factor, horizon)
        own = np.where(self.toothed, self.scenario.idler, 1.0)
        return self.mean(car * own * tension * self.ratio(f"edge_lube[{level}]"), horizon)

    def ratio(self, term: str) -> float:
        """Give the true ratio of hazards of a term with levels; 1 for a reference."""
        step: dict[str, float] = {
            "idler[toothed]": self.scenario.idler,
            "edge_lube[install]": self.scenario.grease**0.5,
        }
        return step.get(term, self.scenario.grease if term == "edge_lube[every-run]" else 1.0)

    def survival_of(self, toothed: bool, ages: np.ndarray) -> np.ndarray:
        """Give the true share unfailed after these ages of the belts first fitted on one idler, always kept there."""
        ratio = self.other[self.toothed == toothed].prod(axis=1) * (self.scenario.idler if toothed else 1.0)
        return self.survival(ratio, int(ages[-1]))[ages - 1]

    @property
    def truths(self) -> Block:
        """Say of each question whether anything is there to be found."""
        one = self.scenario
        return {"idler": one.idler != 1, "tension": bool(one.line or one.bend), "edge_lube": one.grease != 1}


def generator_of(part: tuple[Scenario, int], *purpose: int) -> np.random.Generator:
    """Make the generator of a scenario's season by its number, or of another purpose there."""
    scenario, number = part
    return np.random.default_rng([SEED, SCENARIOS.index(scenario), number, *purpose])


def drawn(scenario: Scenario, generator: np.random.Generator) -> Drawn:
    """Draw a season; the same generator in the same state gives the same."""
    one, belts = scenario, scenario.belts
    rest = (1 - one.rare_car) / 2
    car = generator.choice(3, size=belts, p=[rest, rest, one.rare_car])
    toothed = generator.random(belts) < one.on_toothed()[car]
    grease = generator.integers(3, size=belts)
    tension_n = np.round(generator.normal(MIDDLE_N, SPREAD_N, size=belts), -1)
    off = (tension_n - MIDDLE_N) / 1000
    other = np.column_stack(one.factors(car, grease, off))
    before = np.where(generator.random(belts) < one.late, generator.integers(1, 5, size=belts), 0)
    change = np.where(generator.random(belts) < one.swapped, before + generator.integers(2, 7, size=belts), OLDEST + 1)
    age = np.arange(1, OLDEST + 1)
    on_toothed = toothed[:, None] ^ (age > change[:, None])
    hazard = one.base * age * other.prod(axis=1)[:, None] * np.where(on_toothed, one.idler, 1.0)
    failed = generator.random(hazard.shape) < -np.expm1(-hazard)
    ends = failed | (generator.random(hazard.shape) < one.leaves)
    made = age > before[:, None]
    over = np.cumsum(ends & made, axis=1)
    # the run that ends a life is still made
    made &= (over == 0) | ((over == 1) & ends)
    belt, place = np.nonzero(made)
    fell = failed[belt, place]
    last = fell | ends[belt, place]
    values = {
        "belt": belt.astype(object),
        "car": np.array(CARS, object)[car[belt]],
        "age": age[place],
        "idler": IDLERS[on_toothed[belt, place].astype(int)],
        "tension_n": tension_n[belt],
        "edge_lube": GREASES[grease[belt]],
        "fate": np.where(fell, "broke", np.where(last, "retired", "kept")).astype(object),
        "cause": np.array([None, "sold", "tooth-loss"], object)[last.astype(int) + fell],
    }
    return Drawn(RunTable(values), scenario, other, toothed)
