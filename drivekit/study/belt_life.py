"""How long belts last: curves, and the levels of a setting held against each other."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import combinations

import numpy as np

from drivekit.life.belts_shared import influence
from drivekit.life.beta_product import ages_by, beta_product
from drivekit.life.confounding import overlap, thirds
from drivekit.life.curve import Curve, difference
from drivekit.life.folds import ENOUGH_AT_RISK, Bools, Estimate, Floats, Ints
from drivekit.life.logrank import holm, logrank
from drivekit.life.whole_curve import whole_curve_confidence
from drivekit.study.as_json import Block, entry, estimate, number, numbers
from drivekit.study.comparisons import Comparison
from drivekit.study.study_input import StudyInput

__all__ = [
    "NO_HORIZON", "NO_RUNS", "adjust", "comparison_block", "differences_by_belt", "left_unfailed", "overall_block",
    "overlap_block",
]  # fmt: skip

NO_HORIZON = "at no age does every idler in the log still have 5 runs, so mean lives would rest on too few belts"
NO_RUNS = "no belt of known age has made a run"


def overall_block(asked: StudyInput) -> Block:
    """Give the curve of all belts of known age together, or the reason why there is none."""
    if not len(asked.table):
        return {"reason": NO_RUNS}
    return _curve_block(asked, np.ones(len(asked.table), bool), asked.curve())


def comparison_block(asked: StudyInput, comparison: Comparison) -> Block:
    """Hold the levels of one setting against each other, or say why that cannot be done.

    The GROUPS block: a curve for each level, the log-rank test (Holm's adjustment belongs to the whole study) and the
    difference in mean life of each pair.
    """
    found = asked.groups(comparison)
    if found is None:
        return {"reason": f"the log has no {comparison.column} column"}
    (levels, code), rows = found, asked.rows(comparison)
    if not levels:
        return {"reason": f"no run of a belt of known age has its {comparison.said} filled in"}
    curves = {level: asked.curve(rows[level]) for level in levels}
    block: Block = {
        "levels": {level: _curve_block(asked, rows[level], curves[level]) for level in levels},
        "blank_runs": int((code < 0).sum()),
        "changed_belts": _changed(asked.belt, code),
    }
    if len(levels) == 1:
        only = {"reason": f"every run had the same {comparison.said}, {levels[0]}: nothing to compare it with"}
        return block | {"logrank": only, "mean_difference": dict(only)}
    return block | {
        "logrank": _logrank(asked, code, len(levels)),
        "mean_difference": _mean_differences(asked, comparison, curves),
    }


def adjust(planned: Iterable[Block]) -> None:
    """Enter Holm's adjustment over those planned comparisons that have a test."""
    tests = [block["logrank"] for block in planned if "p" in block.get("logrank", {})]
    for test, adjusted in zip(tests, holm([test["p"] for test in tests]), strict=True):
        test["p_holm"] = adjusted


def overlap_block(asked: StudyInput, comparison: Comparison) -> Block:
    """How the levels of a setting fall over the season and over the cars."""
    found = asked.groups(comparison)
    if found is None or not found[0]:
        return {"reason": f"no run has its {comparison.said} filled in"}
    levels, code = found
    cars, car = asked.table.coded("car")

    def fall(part: Ints, names: list[str]) -> Block:
        fallen = overlap(code, len(levels), part, len(names))
        block: Block = {
            "columns": names,
            "levels": {level: numbers(runs) for level, runs in zip(levels, fallen.runs, strict=True)},
            "share": number(fallen.common),
            "together": fallen.together,
        }
        return block if fallen.reason is None else block | {"share_reason": fallen.reason}

    return {
        "time": fall(thirds(len(asked.table)), ["first third", "middle third", "last third"]),
        "car": fall(car, cars),
    }


def _curve_block(asked: StudyInput, rows: Bools, found: Curve) -> Block:
    mean: Block = {"estimate": None, "se": None, "reason": NO_HORIZON}
    if asked.horizon is not None:
        mean = entry(found.mean_to(asked.horizon), "estimate", "se")
    block: Block = {
        **{name: getattr(found, name) for name in ("belts", "runs", "failed")},
        **_shares(asked, rows, found, (found.lower, found.upper)),
        "median": estimate(found.median),
        "b10": estimate(found.b10),
        "mean_to_horizon": mean,
        "said": _said(asked, rows, found),
    }
    if (later := found.from_age) is not None:
        shares = {name: numbers(getattr(later, name)) for name in ("age", "survival", "lower", "upper")}
        block["from_age"] = {"from": later.start, **shares}
    return block


def _shares(asked: StudyInput, rows: Bools, found: Curve, limits: tuple[Floats, Floats]) -> Block:
    """Give a curve of some of the runs, age by age."""
    return {
        **{name: numbers(getattr(found, name)) for name in ("age", "at_risk", "failed_at")},
        "censored_at": numbers(left_unfailed(asked, rows, found.age)),
        "survival": numbers(found.survival),
        "lower": numbers(limits[0]),
        "upper": numbers(limits[1]),
    }


def _said(asked: StudyInput, rows: Bools, found: Curve) -> Block:
    """Give the curve as it is said and drawn: by beta products, from the first age with enough belts where it must.

    It must where a failure at an age with fewer at risk would weigh on all that follows, or where ages are missing.
    """
    enough = np.flatnonzero(found.at_risk >= ENOUGH_AT_RISK)
    start = int(found.age[enough[0]]) if enough.size else 1
    if found.from_age is not None or found.failed_at[found.age < start].any():
        rows = rows & (asked.table["age"] >= start)
        found = asked.curve(rows)
    confidence = asked.settings.confidence
    limits = beta_product(found, confidence)
    band = beta_product(found, whole_curve_confidence(found, confidence))
    half, tenth = ages_by(found, limits)
    return {
        "from": int(found.age[0]),
        **_shares(asked, rows, found, limits),
        "band": {side: numbers(end) for side, end in zip(("lower", "upper"), band, strict=True)},
        "median": estimate(half),
        "b10": estimate(tenth),
    }


def left_unfailed(asked: StudyInput, rows: Bools, ages: Ints) -> Ints:
    """Count at each age the belts that left these runs there without failing: still running, taken off, or changed."""
    belt, age, failed = asked.belt[rows], asked.table["age"][rows], asked.failed[rows]
    # Rows stand in the order of the runs, so that the last one written for a belt is its last.
    last = np.full(belt.max() + 1, -1)
    last[belt] = np.arange(belt.size)
    leaving = last[last >= 0]
    return np.bincount(np.searchsorted(ages, age[leaving][~failed[leaving]]), minlength=ages.size)


def _changed(belt: Ints, code: Ints) -> int:
    """Count the belts that ran in more than one level."""
    known = code >= 0
    met = [np.bincount(belt[code == level], minlength=belt.max() + 1) > 0 for level in np.unique(code[known])]
    return int((np.sum(met, axis=0) > 1).sum())


def _logrank(asked: StudyInput, code: Ints, n_levels: int) -> Block:
    known = code >= 0
    test = logrank(asked.table["age"][known], asked.failed[known], code[known], n_levels)
    if test.reason is not None:
        return {"reason": test.reason}
    block: Block = {"chi2": test.chi2, "dof": test.dof, "p": test.p, "p_holm": None, "p_exact": test.p_exact}
    if test.p_exact is None:
        block["p_exact_reason"] = test.p_exact_reason
    return block


def _mean_differences(asked: StudyInput, comparison: Comparison, curves: Mapping[str, Curve]) -> Block:
    horizon = asked.horizon
    if horizon is None:
        return {"reason": NO_HORIZON}
    means = {level: found.mean_to(horizon) for level, found in curves.items()}
    by_belt = differences_by_belt(asked, comparison, curves, horizon)
    block: Block = {}
    for earlier, later in combinations(means, 2):
        pair, told = f"{later} minus {earlier}", difference(means[earlier], means[later], asked.settings.confidence)
        block[pair] = entry(told, "estimate", "se", "lower", "upper")
        if pair in by_belt:
            block[pair]["by_belt"] = entry(by_belt[pair], "se", "lower", "upper")
    return block


def differences_by_belt(
    asked: StudyInput, comparison: Comparison, curves: Mapping[str, Curve], horizon: int
) -> dict[str, Estimate]:
    """Give each pair's difference in mean runs with its error by belt, where some belt ran in more than one level.

    Given are the curves of the levels.
    """
    rows, age, belt = asked.rows(comparison), asked.table["age"], asked.belt
    met = [np.unique(belt[of]) for of in rows.values()]
    if sum(map(len, met)) == np.unique(np.concatenate(met)).size:
        return {}
    moved = {
        level: influence(curves[level], horizon, age[of], asked.failed[of], belt[of], int(belt.max()) + 1)
        for level, of in rows.items()
    }
    return {
        f"{later} minus {earlier}": difference(
            curves[earlier].mean_to(horizon),
            curves[later].mean_to(horizon),
            asked.settings.confidence,
            float(np.linalg.norm(moved[later] - moved[earlier])),
        )
        for earlier, later in combinations(rows, 2)
    }
