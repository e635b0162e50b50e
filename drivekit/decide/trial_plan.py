"""Which belt goes on which idler in next season's test: drawn, so that nobody's choice decides.

Belts are drawn within their car in blocks as large as there are arms: of the next two belts that a car mounts one goes
on the smooth and one on the toothed idler, in an order that chance decides, so that at any time of the season and on
every car both have been run about as often (permuted blocks; Pocock, *Clinical Trials* (1983), chapter 5). A belt stays
with what it was given for life.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from drivekit.decide.spares import split_runs

__all__ = ["PlannedBelt", "trial_plan"]


@dataclass(frozen=True, slots=True)
class PlannedBelt:
    """A belt of the plan.

    Parameters
    ----------
    belt, car : str
        Its name and the car it goes on.
    place : int
        It is that car's first, second, ... belt of the test.
    block : int
        The block it was drawn in, counted over all cars from 1.
    arm : tuple of str
        What it is given: one level of each setting, in the order of the settings.
    """

    belt: str
    car: str
    place: int
    block: int
    arm: tuple[str, ...]


def trial_plan(
    belts: int, cars: Sequence[str], made: Sequence[int], settings: Sequence[Sequence[str]], seed: int
) -> tuple[PlannedBelt, ...]:
    """Draw a plan.

    Parameters
    ----------
    belts : int
        Belts wanted; rounded up to whole blocks.
    cars : sequence of str
        The cars, in order.
    made : sequence of int
        How belts fell on them so far; they are split alike, in whole blocks.
    settings : sequence of sequence of str
        The levels of each setting; an arm is a level of each, so that two of two make four.
    seed : int
        The same seed draws the same plan.

    Raises
    ------
    ValueError
        If there are no belts, no cars, or fewer than two arms.
    """
    arms = list(product(*settings))
    if belts < 1 or not cars or len(arms) < 2:
        raise ValueError("a plan needs belts, a car and at least two arms")
    generator = np.random.default_rng(seed)
    plan: list[PlannedBelt] = []
    block = 0
    for car, blocks in zip(cars, split_runs(-(-belts // len(arms)), made), strict=True):
        for of_car in range(blocks):
            block += 1
            for within, arm in enumerate(generator.permutation(len(arms))):
                place = of_car * len(arms) + within + 1
                plan.append(PlannedBelt(f"T{len(plan) + 1:02d}", car, place, block, arms[arm]))
    return tuple(plan)
