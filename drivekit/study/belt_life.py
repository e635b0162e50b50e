"""How long belts last: curves, and the levels of a setting held against each other."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from drivekit.life.belts_shared import influence
from drivekit.life.beta_product import ages_by, beta_product
from drivekit.life.confounding import overlap, thirds
from drivekit.life.curve import Curve, difference
from drivekit.life.folds import Bools, Estimate, Floats, Ints
from drivekit.life.logrank import holm, logrank
from drivekit.life.whole_curve import whole_curve_confidence
from drivekit.study.as_json import Block, as_block, entry, lone, parts
from drivekit.study.comparisons import Comparison, pairs
from drivekit.study.study_input import StudyInput

__all__ = [
    "NO_HORIZON", "NO_RUNS", "adjust", "comparison_block", "left_unfailed", "mean_differences", "one_level",
    "overall_block", "overlap_block", "unfilled",
]  # fmt: skip

NO_HORIZON = "at no age does every idler in the log still have 5 runs, so mean lives would rest on too few belts"
NO_RUNS = "no belt of known age has made a run"


def unfilled(comparison: Comparison) -> str:
    """Say that no run can be compared by a setting."""
    return f"no run of a belt of known age has its {comparison.said} filled in"


def one_level(comparison: Comparison, level: str) -> Block:
    """Say that a setting had one level only."""
    return {"reason": f"every run had the same {comparison.said}, {level}: nothing to compare it with"}


@as_block
def overall_block(asked: StudyInput) -> Block | str:
    """Give the curve of all belts of known age together, or the reason why there is none."""
    return _curve_block(asked, np.ones(len(asked.table), bool), asked.curve()) if len(asked.table) else NO_RUNS


@as_block
def comparison_block(asked: StudyInput, comparison: Comparison) -> Block | str:
    """Hold the levels of one setting against each other, or say why that cannot be done.

    The GROUPS block: a curve for each level, the log-rank test (Holm's adjustment belongs to the whole study) and the
    difference in mean life of each pair.
    """
    found, rows = asked.groups(comparison), asked.rows(comparison)
    if found is None:
        return asked.lacks(comparison.column)
    levels, code = found
    if not levels:
        return unfilled(comparison)
    curves, known = asked.curves(comparison), code >= 0
    met = np.unique(asked.belt[known] * len(levels) + code[known]) // len(levels)
    block: Block = {
        "levels": {level: _curve_block(asked, rows[level], curves[level]) for level in levels},
        "blank_runs": (~known).sum(),
        "changed_belts": (np.bincount(met) > 1).sum(),
    }
    if len(levels) == 1:
        return block | dict.fromkeys(("logrank", "mean_difference"), one_level(comparison, levels[0]))
    return block | {
        "logrank": _logrank(asked, code, len(levels)),
        "mean_difference": _mean_difference(asked, comparison, curves),
    }


def adjust(planned: Iterable[Block]) -> None:
    """Enter Holm's adjustment over those planned comparisons that have a test."""
    tests = [block["logrank"] for block in planned if "p" in block.get("logrank", {})]
    for test, adjusted in zip(tests, holm([test["p"] for test in tests]), strict=True):
        test["p_holm"] = adjusted


@as_block
def overlap_block(asked: StudyInput, comparison: Comparison) -> Block | str:
    """How the levels of a setting fall over the season and over the cars."""
    found = asked.groups(comparison)
    if found is None or not found[0]:
        return f"no run has its {comparison.said} filled in"
    levels, code = found
    cars, car = asked.table.coded("car")

    def fall(part: Ints, names: list[str]) -> Block:
        fallen = overlap(code, len(levels), part, len(names))
        block = {"columns": names, "levels": dict(zip(levels, fallen.runs, strict=True))}
        return block | lone("share", fallen.common, fallen.reason) | {"together": fallen.together}

    return {
        "time": fall(thirds(len(asked.table)), ["first third", "middle third", "last third"]),
        "car": fall(car, cars),
    }


def _curve_block(asked: StudyInput, rows: Bools, found: Curve) -> Block:
    mean: Block = {"estimate": None, "se": None, "reason": NO_HORIZON}
    if asked.horizon is not None:
        mean = entry(found.mean_to(asked.horizon), "estimate", "se")
    block = parts(found, "belts", "runs", "failed") | _shares(asked, rows, found, (found.lower, found.upper))
    block |= parts(found, "median", "b10") | {"mean_to_horizon": mean, "said": _said(asked, rows, found)}
    if (later := found.from_age) is not None:
        block["from_age"] = {"from": later.start, **parts(later, "age", "survival", "lower", "upper")}
    return block


def _shares(asked: StudyInput, rows: Bools, found: Curve, limits: tuple[Floats, Floats]) -> Block:
    """Give a curve of some of the runs, age by age."""
    left = left_unfailed(asked, rows, found.age)
    shares = {"censored_at": left, "survival": found.survival, "lower": limits[0], "upper": limits[1]}
    return parts(found, "age", "at_risk", "failed_at") | shares


def _said(asked: StudyInput, rows: Bools, found: Curve) -> Block:
    """Give the curve as it is said and drawn: by beta products, from the first age with enough belts where it must.

    It must where a failure at an age with fewer at risk would weigh on all that follows, or where ages are missing.
    """
    if start := found.thin_before:
        rows = rows & (asked.table["age"] >= start)
        found = asked.curve(rows)
    confidence = asked.settings.confidence
    limits = beta_product(found, confidence)
    band = beta_product(found, whole_curve_confidence(found, confidence))
    block = {"from": found.age[0], **_shares(asked, rows, found, limits)}
    block["band"] = dict(zip(("lower", "upper"), band, strict=True))
    return block | dict(zip(("median", "b10"), ages_by(found, limits), strict=True))


def left_unfailed(asked: StudyInput, rows: Bools, ages: Ints) -> Ints:
    """Count at each age the belts that left these runs there without failing: still running, taken off, or changed."""
    belt, age, failed = asked.belt[rows], asked.table["age"][rows], asked.failed[rows]
    # Rows stand in the order of the runs, so that the last one written for a belt is its last.
    last = np.full(belt.max() + 1, -1)
    last[belt] = np.arange(belt.size)
    leaving = last[last >= 0]
    return np.bincount(np.searchsorted(ages, age[leaving][~failed[leaving]]), minlength=ages.size)


def _logrank(asked: StudyInput, code: Ints, n_levels: int) -> Block:
    known = code >= 0
    test = logrank(asked.table["age"][known], asked.failed[known], code[known], n_levels)
    if test.reason is not None:
        return {"reason": test.reason}
    return parts(test, "chi2", "dof", "p") | {"p_holm": None} | lone("p_exact", test.p_exact, test.p_exact_reason)


def _mean_difference(asked: StudyInput, comparison: Comparison, curves: Mapping[str, Curve]) -> Block:
    if asked.horizon is None:
        return {"reason": NO_HORIZON}
    return {
        pair: entry(told, "estimate", "se", "lower", "upper")
        | ({} if by_belt is None else {"by_belt": entry(by_belt, "se", "lower", "upper")})
        for pair, (told, by_belt) in mean_differences(asked, comparison, curves, asked.horizon).items()
    }


def mean_differences(
    asked: StudyInput, comparison: Comparison, curves: Mapping[str, Curve], horizon: int
) -> dict[str, tuple[Estimate, Estimate | None]]:
    """Give each pair's difference in mean runs to a horizon, and the same with its error by belt.

    The latter only where some belt ran in more than one level. Given are the curves of the levels.
    """
    rows, age, belt, sure = asked.rows(comparison), asked.table["age"], asked.belt, asked.settings.confidence
    means = {level: found.mean_to(horizon) for level, found in curves.items()}
    told = {pair: difference(means[one], means[other], sure) for pair, (one, other) in pairs(means).items()}
    met = [np.unique(belt[of]) for of in rows.values()]
    if sum(map(len, met)) == np.unique(np.concatenate(met)).size:
        return {pair: (found, None) for pair, found in told.items()}
    moved = {
        level: influence(curves[level], horizon, age[of], asked.failed[of], belt[of], int(belt.max()) + 1)
        for level, of in rows.items()
    }
    return {
        pair: (told[pair], difference(means[a], means[b], sure, float(np.linalg.norm(moved[b] - moved[a]))))
        for pair, (a, b) in pairs(means).items()
    }
