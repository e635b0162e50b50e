"""How often the decisions are right, on the same drawn seasons as the answers.

The runner is that of `tests.bench.calibration`. What is held against the truth: the change ages not told from the best
one, on the smooth idler; the limits of the runs after which at most a tenth has failed, there too; the number of belts
that is enough 9 times in 10, by coming seasons lived on the same cars, their belts fitted as this season's were; the
limits of odds one and three runs ahead, of belts that have made four; and the limits of Weibull's run by which a tenth
has failed. Belts that come off for other reasons are in no count of belts.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.optimize import brentq

from drivekit.decide.change_out import cost_per_run
from drivekit.life.weibull import weibull
from drivekit.study.decisions import DecisionInput, change_out_block, odds_of, spares_block
from drivekit.study.failing import lives_of
from drivekit.study.hazard_fit import HazardInput
from drivekit.study.study_input import Settings, StudyInput
from tests.bench.scenarios import CAR, CARS, MIDDLE_N, SPREAD_N, Drawn, Scenario, drawn, generator_of

HELD = ("change_age", "at_risk", "spares", "odds_1", "odds_3", "weibull_b10")
COMING, MADE, AHEAD = 40, 4, (1, 3)
"""Coming seasons lived for each that is drawn, and the runs that a belt has made and is to make."""


def decided(part: tuple[Scenario, int]) -> dict[str, Any]:
    """Draw one season, decide on it, and hold the decisions against what is true of it."""
    scenario, number = part
    found = drawn(scenario, generator_of(part))
    asked = DecisionInput(HazardInput(StudyInput(found.table, Settings(seed=number + 1))), len(found.table))
    change = change_out_block(asked)
    line: dict[str, Any] = {"season": number, "failed": int(asked.fit.asked.failed.sum())}
    line |= _changed(found, change["levels"].get("smooth", {"reason": ""}))
    line["spares"] = _enough(scenario, spares_block(asked, change), generator_of(part, 2))
    line |= _odds(scenario, asked)
    b10 = weibull(lives_of(asked.fit.asked)).b10
    known = b10.lower is not None and b10.upper is not None
    return line | {"weibull_b10": bool(b10.lower <= _b10(found) <= b10.upper) if known else None}


def _changed(found: Drawn, block: dict[str, Any]) -> dict[str, Any]:
    if "reason" in block:  # too few began new
        return {"change_age": None, "at_risk": None}
    true = np.insert(found.survival_of(False, np.arange(1, len(block["runs"]) + 1)), 0, 1.0)
    cost = cost_per_run(true, 1.0, 8.0)
    limits = block["runs_at_risk_by_beta"]
    most = int(np.flatnonzero(1 - true <= 0.1)[-1])
    return {
        "change_age": bool(block["not_worse"][int(np.argmin(cost))]),
        "at_risk": bool(limits["lower"] <= most <= (limits["upper"] or most)),  # a limit without end is beyond
    }


def _enough(scenario: Scenario, block: dict[str, Any], generator: np.random.Generator) -> float | None:
    """Give the share of coming seasons for which the number said to be enough 9 times in 10 was."""
    if "reason" in block:
        return None
    used, needed = block["used_to_run"], np.zeros(COMING, np.int64)
    for place, car in enumerate(CARS):
        if not (runs := block["cars"].get(car, {}).get("runs", 0)):
            continue
        shape = COMING, runs
        off = generator.normal(0, SPREAD_N / 1000, size=shape)
        ratio = np.where(generator.random(shape) < scenario.on_toothed()[place], scenario.idler, 1.0)
        for factor in scenario.factors(place, generator.integers(3, size=shape), off):
            ratio *= factor
        met = generator.standard_exponential(shape) / (scenario.base * ratio)  # the sum of ages at which it fails
        lasts = np.minimum(np.ceil((np.sqrt(1 + 8 * met) - 1) / 2), used)
        needed += (np.cumsum(lasts, axis=1) < runs).sum(axis=1) + 1
    return float((needed <= block["quantiles"]["0.9"]).mean())


def _odds(scenario: Scenario, asked: DecisionInput) -> dict[str, Any]:
    """Hold the limits of odds against the truth: of belts at the middle tension without grease, by car and idler."""
    fit, cars = asked.fit, sorted(set(asked.fit.asked.table["car"]))
    line: dict[str, Any] = {f"odds_{runs}": None for runs in AHEAD}
    if fit.study.fitted is None:
        return line
    belts = [(car, ratio) for car in range(len(cars)) for ratio in (0.0, 1.0)]
    value = {
        "idler[toothed]": np.array([ratio for _, ratio in belts]),
        "tension_kn": np.full(len(belts), MIDDLE_N / 1000),
    }
    x = np.column_stack([value.get(name, np.zeros(len(belts))) for name in fit.study.names])
    of = np.array([car for car, _ in belts])
    odds = odds_of(fit, np.full(len(belts), MADE), of, x, asked.generator(1), AHEAD)
    if isinstance(odds, str):
        return line
    factor = np.array([CAR[CARS.index(cars[car])] for car in of])
    factor = factor * np.where(value["idler[toothed]"] > 0, scenario.idler, 1.0)
    for column, runs in enumerate(AHEAD):
        true = np.exp(-scenario.base * factor * sum(range(MADE + 1, MADE + runs + 1)))
        lower, upper = odds.lower[:, column], odds.upper[:, column]
        known = ~np.isnan(lower) & ~np.isnan(upper)
        if known.any():
            line[f"odds_{runs}"] = float(((lower <= true) & (true <= upper))[known].mean())
    return line


def _b10(found: Drawn) -> float:
    """Find the age, in parts of a run too, by which a tenth of these belts as they are fitted has failed."""
    ratio = found.other.prod(axis=1) * np.where(found.toothed, found.scenario.idler, 1.0)
    return float(brentq(lambda age: np.exp(-found.scenario.base * ratio * age * (age + 1) / 2).mean() - 0.9, 0, 1e3))
