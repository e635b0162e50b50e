"""How long belts last: curves, and the levels of a setting held against each other."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from drivekit.study.as_json import Block, entry, estimate, number, numbers
from drivekit.study.comparisons import Comparison
from drivekit.study.study_input import StudyInput

if TYPE_CHECKING:
    from drivekit.life.curve import Curve
    from drivekit.life.folds import Ints

__all__ = [
    "NO_HORIZON",
    "adjust",
    "comparison_block",
    "group_curve",
    "left_unfailed",
    "overall_block",
    "overlap_block",
]

NO_HORIZON = "at no age does every idler in the log still have 5 runs, so mean lives would rest on too few belts"
NO_RUNS = "no belt of known age has made a run"


def overall_block(asked: StudyInput) -> Block:
    """Give the curve of all belts of known age together, or the reason why there is none."""
    if not len(asked.table):
        return {"reason": NO_RUNS}
    every = np.ones(len(asked.table), bool)
    return _curve_block(asked, every, group_curve(asked, every))


def comparison_block(asked: StudyInput, comparison: Comparison) -> Block:
    """Hold the levels of one setting against each other, or say why that cannot be done.

    The GROUPS block: a curve for each level, the log-rank test (Holm's adjustment belongs to the whole study) and the
    difference in mean life of each pair.
    """
    found = asked.groups(comparison)
    if found is None:
        return {"reason": f"the log has no {comparison.column} column"}
    levels, code = found
    if not levels:
        return {"reason": f"no run of a belt of known age has its {comparison.said} filled in"}
    rows = {level: code == place for place, level in enumerate(levels)}
    curves = {level: group_curve(asked, of_level) for level, of_level in rows.items()}
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
        "mean_difference": _mean_differences(asked, curves),
    }


def adjust(planned: Iterable[Block]) -> None:
    """Enter Holm's adjustment over those planned comparisons that have a test."""
    from drivekit.life.logrank import holm

    tests = [block["logrank"] for block in planned if "p" in block.get("logrank", {})]
    for test, adjusted in zip(tests, holm([test["p"] for test in tests]), strict=True):
        test["p_holm"] = adjusted


def overlap_block(asked: StudyInput, comparison: Comparison) -> Block:
    """How the levels of a setting fall over the season and over the cars."""
    from drivekit.life.confounding import overlap, thirds

    found = asked.groups(comparison)
    if found is None or not found[0]:
        return {"reason": f"no run has its {comparison.said} filled in"}
    levels, code = found
    cars, car = np.unique(asked.table["car"].astype(str), return_inverse=True)

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
        "car": fall(car.astype(np.int64), cars.tolist()),
    }


def group_curve(asked: StudyInput, rows: NDArray[np.bool_]) -> Curve:
    """Fit the survival curve of some of the runs; `rows`, shape (n_runs,), marks them."""
    from drivekit.life.curve import curve

    confidence = asked.settings.confidence
    return curve(asked.table["age"][rows], asked.failed[rows], asked.belt[rows], confidence=confidence)


def _curve_block(asked: StudyInput, rows: NDArray[np.bool_], found: Curve) -> Block:
    block: Block = {
        **{name: getattr(found, name) for name in ("belts", "runs", "failed")},
        **{name: numbers(getattr(found, name)) for name in ("age", "at_risk", "failed_at")},
        "censored_at": numbers(left_unfailed(asked, rows, found.age)),
        **{name: numbers(getattr(found, name)) for name in ("survival", "lower", "upper")},
        "median": estimate(found.median),
        "b10": estimate(found.b10),
        "mean_to_horizon": {"estimate": None, "se": None, "reason": NO_HORIZON},
    }
    if asked.horizon is not None:
        block["mean_to_horizon"] = entry(found.mean_to(asked.horizon), "estimate", "se")
    block["said"] = _said(asked, rows, found)
    if (later := found.from_age) is not None:
        shares = {name: numbers(getattr(later, name)) for name in ("age", "survival", "lower", "upper")}
        block["from_age"] = {"from": later.start, **shares}
    return block


def _said(asked: StudyInput, rows: NDArray[np.bool_], found: Curve) -> Block:
    """Give the curve as it is said and drawn: by beta products, from the first age with enough belts where it must.

    It must where a failure at an age with fewer at risk would weigh on all that follows, or where ages are missing.
    """
    from drivekit.life.beta_product import ages_by, beta_product
    from drivekit.life.curve import whole_curve_confidence
    from drivekit.life.folds import ENOUGH_AT_RISK

    enough = np.flatnonzero(found.at_risk >= ENOUGH_AT_RISK)
    start = int(found.age[enough[0]]) if enough.size else 1
    if found.from_age is not None or found.failed_at[found.age < start].any():
        rows = rows & (asked.table["age"] >= start)
        found = group_curve(asked, rows)
    confidence = asked.settings.confidence
    limits = beta_product(found, confidence)
    band = beta_product(found, whole_curve_confidence(found, confidence))
    half, tenth = ages_by(found, limits)
    return {
        "from": int(found.age[0]),
        **{name: numbers(getattr(found, name)) for name in ("age", "at_risk", "failed_at")},
        "censored_at": numbers(left_unfailed(asked, rows, found.age)),
        "survival": numbers(found.survival),
        "lower": numbers(limits[0]),
        "upper": numbers(limits[1]),
        "band": {side: numbers(end) for side, end in zip(("lower", "upper"), band, strict=True)},
        "median": estimate(half),
        "b10": estimate(tenth),
    }


def left_unfailed(asked: StudyInput, rows: NDArray[np.bool_], ages: Ints) -> Ints:
    """Count at each age the belts that left these runs there without failing: still running, taken off, or changed."""
    belt, age, failed = asked.belt[rows], asked.table["age"][rows], asked.failed[rows]
    # Rows stand in the order of the runs, so that the last one written for a belt is its last.
    last = np.zeros(belt.max() + 1, np.int64)
    last[belt] = np.arange(belt.size)
    leaving = np.unique(last[belt])
    return np.bincount(np.searchsorted(ages, age[leaving][~failed[leaving]]), minlength=ages.size)


def _changed(belt: NDArray[np.int64], code: NDArray[np.int64]) -> int:
    """Count the belts that ran in more than one level."""
    known = code >= 0
    pairs = np.unique(np.stack([belt[known], code[known]]), axis=1)
    return int((np.unique(pairs[0], return_counts=True)[1] > 1).sum())


def _logrank(asked: StudyInput, code: NDArray[np.int64], n_levels: int) -> Block:
    from drivekit.life.logrank import logrank

    known = code >= 0
    test = logrank(asked.table["age"][known], asked.failed[known], code[known], n_levels)
    if test.reason is not None:
        return {"reason": test.reason}
    block: Block = {"chi2": test.chi2, "dof": test.dof, "p": test.p, "p_holm": None, "p_exact": test.p_exact}
    if test.p_exact is None:
        block["p_exact_reason"] = test.p_exact_reason
    return block


def _mean_differences(asked: StudyInput, curves: Mapping[str, Curve]) -> Block:
    from drivekit.life.curve import difference

    horizon = asked.horizon
    if horizon is None:
        return {"reason": NO_HORIZON}
    means = {level: found.mean_to(horizon) for level, found in curves.items()}
    return {
        f"{later} minus {earlier}": entry(
            difference(means[earlier], means[later], asked.settings.confidence), "estimate", "se", "lower", "upper"
        )
        for earlier, later in combinations(means, 2)
    }
