"""How often the limits of the idler's difference hold the truth, on seasons drawn from a known model.

Run by hand: ``python tests/bench/limits.py [SEASONS [DRAWS]]`` (200 seasons a row, 199 draws of belts each); it prints
one table. A belt keeps its car, idler, grease and tension for life and fails on a run of age k with chance 1 - exp(-h),
h = .0135 k (car factor) .45^toothed (grease factor) exp(.1 (tension - 8.3 kN)), so that the complementary log-log model
is the true one; one belt in nine comes with runs on it, and one run in thirty ends a life early. The idler is fitted by
chance, or mostly on the car that is kindest to belts: there the plain curves answer another question.

The truth is the difference of the means over the season's own belts to the season's own horizon, all toothed less all
smooth, under the true model: what the standardised answer estimates. "No limits" counts seasons without an interval;
they count neither as held nor as missed.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np

from drivekit.life.curve import curve, difference
from drivekit.life.standardised import standardised

CAR = np.array([1.0, 1.3, 0.8])
GREASE = np.array([1.0, 0.85, 0.7])
IDLER, TENSION = 0.45, 0.1
AGE = 0.0135
OLDEST = 25


@dataclass(frozen=True)
class Season:
    """One row a run; `ratio` is what each belt's hazard is multiplied by on the smooth idler."""

    age: np.ndarray
    failed: np.ndarray
    x: np.ndarray
    car: np.ndarray
    belt: np.ndarray
    ratio: np.ndarray


def drawn(generator: np.random.Generator, belts: int, *, by_car: bool) -> Season:
    """Draw a season."""
    car = generator.integers(3, size=belts)
    toothed = generator.random(belts) < (np.array([0.5, 0.2, 0.8])[car] if by_car else 0.5)
    grease = generator.integers(3, size=belts)
    tension_kn = generator.normal(8.3, 1.2, size=belts)
    before = np.where(generator.random(belts) < 1 / 9, generator.integers(1, 5, size=belts), 0)
    ratio = CAR[car] * GREASE[grease] * np.exp(TENSION * (tension_kn - 8.3))
    rows = []
    for belt in range(belts):
        x = (toothed[belt], tension_kn[belt], grease[belt] == 1, grease[belt] == 2)
        for age in range(before[belt] + 1, OLDEST + 1):
            hazard = AGE * age * ratio[belt] * (IDLER if toothed[belt] else 1.0)
            failed = generator.random() < -np.expm1(-hazard)
            rows.append((age, failed, car[belt], belt, *x))
            if failed or generator.random() < 1 / 30:
                break
    age, failed, of_car, of_belt, *x = zip(*rows, strict=True)
    return Season(
        np.array(age), np.array(failed), np.array(x, float).T, np.array(of_car), np.array(of_belt), ratio
    )  # fmt: skip


def truth(season: Season, horizon: int) -> float:
    """Mean runs out of the first `horizon` with every belt toothed, less with every belt smooth."""
    cumulative = np.append(0.0, np.cumsum(AGE * np.arange(1, horizon)))
    smooth, toothed = (np.exp(-ratio * np.outer(season.ratio, cumulative)) for ratio in (1.0, IDLER))
    return float((toothed - smooth).sum(axis=1).mean())


Limits = tuple[float | None, float | None, float | None]


def both(season: Season, draws: int, generator: np.random.Generator) -> tuple[Limits, Limits, float] | None:
    """Give the standardised and the plain difference with their limits, and the truth; None: no horizon, no fit."""
    idler = (np.array([0]), np.array([[0.0], [1.0]]))
    found = standardised(
        season.age, season.failed, season.x, season.car, season.belt, (idler,), confidence=0.95,
        generator=generator, replicates=draws,
    )  # fmt: skip
    if isinstance(found, str):
        return None
    horizon, alike = found[0].horizon, found[0].differences[1, 0]
    means = []
    for level in (0, 1):
        rows = season.x[:, 0] == level
        means.append(curve(season.age[rows], season.failed[rows], season.belt[rows]).mean_to(horizon))
    plain = difference(*means, 0.95)
    return (
        (alike.estimate, alike.lower, alike.upper),
        (plain.estimate, plain.lower, plain.upper),
        truth(season, horizon),
    )


def row(belts: int, seasons: int, draws: int, *, by_car: bool) -> list[str]:
    """Judge both methods on so many seasons."""
    generator = np.random.default_rng(belts)
    answers = [both(drawn(generator, belts, by_car=by_car), draws, generator) for _ in range(seasons)]
    told = [answer for answer in answers if answer is not None]
    lines = []
    for place, method in enumerate(("standardised", "plain curves")):
        kept = [(answer[place], answer[2]) for answer in told if answer[place][1] is not None]
        held = np.mean([lower <= true <= upper for (_, lower, upper), true in kept])
        bias = np.mean([estimate - true for (estimate, *_), true in kept])
        width = np.mean([upper - lower for (_, lower, upper), _ in kept])
        fitted = "mostly on one car" if by_car else "by chance"
        lines.append(
            f"{belts:5d}  {fitted:17s}  {method:12s}  {held:8.1%}  {bias:+6.2f}  {width:6.2f}  {seasons - len(kept):9d}"
        )
    return lines


def main(seasons: int = 200, draws: int = 199) -> None:
    """Print the table."""
    print(f"{seasons} seasons a row, {draws} draws of belts, limits of 95 %; bias and width in runs")
    print("belts  idler fitted       method        coverage    bias   width  no limits")
    for belts in (40, 80):
        for by_car in (False, True):
            print("\n".join(row(belts, seasons, draws, by_car=by_car)), flush=True)


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
