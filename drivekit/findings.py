"""The whole study as one pure call: a season's log in, findings out, as plain data.

The log is folded into a run table (one run is one row); every number is a fold over it. This module decides what is
asked of the table and in which order, and leaves how each answer is computed to `drivekit.life` and how it is said and
drawn to `drivekit.show`. What cannot be had is there all the same, as a reason.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from drivekit import __version__
from drivekit.asked import Asked, Settings
from drivekit.comparisons import COMPARISONS, Comparison, Groups
from drivekit.log.columns import CAUSES, FAILURES
from drivekit.log.histories import run_table
from drivekit.plain import Plain, entry, estimate, number, numbers

if TYPE_CHECKING:
    from drivekit.life.curve import Curve
    from drivekit.life.folds import Ints
    from drivekit.log.season import Season

__all__ = ["SCHEMA", "comparison_block", "one_comparison", "schema", "study"]

SCHEMA = "drivekit-findings/1"
PACKAGES = ("numpy", "scipy", "pandas", "lifelines", "matplotlib", "numba")

NO_HORIZON = "at no age does every idler in the log still have 5 runs, so mean lives would rest on too few belts"
NO_RUNS = "no belt of known age has made a run"


def study(
    season: Season,
    *,
    failures: Sequence[str] = FAILURES,
    horizon: int | None = None,
    tension_cuts: tuple[float, float] | None = None,
    confidence: float = 0.95,
    seed: int = 1,
    started: str = "",
) -> Plain:
    """Study a season's log.

    Parameters
    ----------
    season : Season
        The log, read and without faults.
    failures, horizon, tension_cuts, confidence, seed
        As in `drivekit.asked.Settings`.
    started : str
        When the study was started, for the record; the study itself knows no clock.

    Returns
    -------
    dict
        The findings: plain numbers, words, lists and dicts, valid under `schema`. Same log, same settings and same seed
        give the same findings, to the last digit.

    Raises
    ------
    ValueError
        When a setting cannot be used.
    """
    asked = Asked(run_table(season), Settings(tuple(failures), horizon, tension_cuts, confidence, seed))
    planned = {comparison.name: comparison_block(asked, comparison) for comparison in COMPARISONS if comparison.planned}
    _adjust(planned.values())
    further = {
        comparison.name: comparison_block(asked, comparison) | {"exploratory": True}
        for comparison in COMPARISONS
        if not comparison.planned
    }
    overlap = {comparison.name: _overlap(asked, comparison) for comparison in COMPARISONS if comparison.planned}
    return {
        "schema": SCHEMA,
        "log": _log(season, asked),
        "settings": _settings(asked),
        "headline": {
            comparison.name: _headline(asked, comparison, planned[comparison.name], overlap[comparison.name])
            for comparison in COMPARISONS
            if comparison.planned
        },
        "life": {"overall": _overall(asked), **planned, "more": further},
        "causes": _causes(asked),
        "overlap": overlap,
        "second_opinion": _second_opinion(asked),
        "provenance": _provenance(started),
    }


def one_comparison(season: Season, asked: Asked, comparison: Comparison) -> Plain:
    """Study one setting alone: the part of the findings that its picture and its sentence are made from.

    Parameters
    ----------
    season : Season
        The log.
    asked : Asked
        Some or all of its runs, and what is asked of them.
    comparison : Comparison
        The setting.

    Returns
    -------
    dict
        ``log``, ``settings``, ``headline``, ``life`` and ``overlap`` as in `study`, of this setting only. Holm's
        adjustment is left out, for it belongs to the planned comparisons together.
    """
    block = comparison_block(asked, comparison)
    part: Plain = {"log": _log(season, asked), "settings": _settings(asked)}
    if not comparison.planned:
        return part | {"headline": {}, "life": {"more": {comparison.name: block}}, "overlap": {}}
    overlap = _overlap(asked, comparison)
    head = _headline(asked, comparison, block, overlap)
    return part | {
        "headline": {comparison.name: head},
        "life": {comparison.name: block},
        "overlap": {comparison.name: overlap},
    }


def schema() -> Plain:
    """Give the JSON Schema of the findings."""
    import json
    from importlib.resources import files

    loaded: Plain = json.loads(files("drivekit").joinpath("findings.schema.json").read_text(encoding="utf-8"))
    return loaded


def _log(season: Season, asked: Asked) -> Plain:
    belts = int(np.unique(asked.belt).size)
    failed = int(asked.failed.sum())
    ended = asked.table["cause"]
    return {
        "name": season.name,
        "invented": season.invented,
        "belts": len(season.belts),
        "runs": len(season.runs),
        "unused": len(set(season.belts["belt"]) - set(season.runs["belt"])),
        "unknown_age": _unknown_age(season),
        "failed": failed,
        "censored": belts - failed,
        "causes": {cause: int((ended == cause).sum()) for cause in CAUSES if (ended == cause).any()},
        "sha256": season.sha256,
        "warnings": [str(warning) for warning in season.warnings],
        "absent": [{"column": column.name, "adds": column.adds} for column in season.absent],
    }


def _unknown_age(season: Season) -> int:
    return int(season.belts["runs_before"].isna().sum()) if "runs_before" in season.belts else 0


def _settings(asked: Asked) -> Plain:
    settings = asked.settings
    block: Plain = {
        "failures": list(settings.failures),
        "confidence": settings.confidence,
        "horizon_runs": asked.horizon,
        "tension_cuts_n": None if asked.tension_cuts is None else list(asked.tension_cuts),
        "seed": settings.seed,
    }
    if asked.horizon is None:
        block["horizon_runs_reason"] = NO_HORIZON
    if asked.tension_cuts is None:
        block["tension_cuts_n_reason"] = "no run of a belt of known age has a known tension"
    return block


def comparison_block(asked: Asked, comparison: Comparison) -> Plain:
    """Hold the levels of one setting against each other.

    Parameters
    ----------
    asked : Asked
        The runs, and what is asked of them.
    comparison : Comparison
        The setting.

    Returns
    -------
    dict
        The GROUPS block: a curve for each level, the log-rank test (Holm's adjustment belongs to the whole study) and
        the difference in mean life of each pair; or the reason why it cannot be had.
    """
    found = asked.groups(comparison)
    if found is None:
        return {"reason": f"the log has no {comparison.column} column"}
    if not found.levels:
        return {"reason": f"no run of a belt of known age has its {comparison.said} filled in"}
    known = found.code >= 0
    rows = {level: found.code == place for place, level in enumerate(found.levels)}
    curves = {level: _curve(asked, of_level) for level, of_level in rows.items()}
    block: Plain = {
        "levels": {level: _curve_block(asked, rows[level], curves[level]) for level in found.levels},
        "blank_runs": found.blank_runs,
        "changed_belts": _changed(asked.belt[known], found.code[known]),
    }
    if len(found.levels) == 1:
        only = {"reason": f"every run had the same {comparison.said}, {found.levels[0]}: nothing to compare it with"}
        return block | {"logrank": only, "mean_difference": dict(only)}
    return block | {"logrank": _logrank(asked, found), "mean_difference": _mean_differences(asked, curves)}


def _changed(belt: NDArray[np.int64], code: NDArray[np.int64]) -> int:
    """Count the belts that ran in more than one level."""
    pairs = np.unique(np.stack([belt, code]), axis=1)
    return int(pairs.shape[1] - np.unique(belt).size)


def _curve(asked: Asked, rows: NDArray[np.bool_]) -> Curve:
    from drivekit.life.curve import curve

    confidence = asked.settings.confidence
    return curve(asked.table["age"][rows], asked.failed[rows], asked.belt[rows], confidence=confidence)


def _left_unfailed(asked: Asked, rows: NDArray[np.bool_], ages: Ints) -> Ints:
    """Count at each age the belts that left these runs there without failing: still running, taken off, or changed."""
    belt, age, failed = asked.belt[rows], asked.table["age"][rows], asked.failed[rows]
    # Rows stand in the order of the runs, so that the last one written for a belt is its last.
    last = np.zeros(belt.max() + 1, np.int64)
    last[belt] = np.arange(belt.size)
    leaving = np.unique(last[belt])
    return np.bincount(np.searchsorted(ages, age[leaving][~failed[leaving]]), minlength=ages.size)


def _curve_block(asked: Asked, rows: NDArray[np.bool_], found: Curve) -> Plain:
    block: Plain = {
        "belts": found.belts,
        "runs": found.runs,
        "failed": found.failed,
        "age": numbers(found.age),
        "at_risk": numbers(found.at_risk),
        "failed_at": numbers(found.failed_at),
        "censored_at": numbers(_left_unfailed(asked, rows, found.age)),
        "survival": numbers(found.survival),
        "lower": numbers(found.lower),
        "upper": numbers(found.upper),
        "median": estimate(found.median),
        "b10": estimate(found.b10),
        "mean_to_horizon": {"estimate": None, "se": None, "reason": NO_HORIZON},
    }
    if asked.horizon is not None:
        block["mean_to_horizon"] = entry(found.mean_to(asked.horizon), "estimate", "se")
    if found.from_age is not None:
        later = found.from_age
        block["from_age"] = {"from": later.start, "age": numbers(later.age), "survival": numbers(later.survival)}
    return block


def _overall(asked: Asked) -> Plain:
    if not len(asked.table):
        return {"reason": NO_RUNS}
    every = np.ones(len(asked.table), bool)
    return _curve_block(asked, every, _curve(asked, every))


def _logrank(asked: Asked, found: Groups) -> Plain:
    from drivekit.life.logrank import logrank

    known = found.code >= 0
    test = logrank(asked.table["age"][known], asked.failed[known], found.code[known], len(found.levels))
    if test.reason is not None:
        return {"reason": test.reason}
    block: Plain = {"chi2": test.chi2, "dof": test.dof, "p": test.p, "p_holm": None, "p_exact": test.p_exact}
    if test.p_exact is None:
        block["p_exact_reason"] = test.p_exact_reason
    return block


def _adjust(planned: Iterable[Plain]) -> None:
    """Enter Holm's adjustment over those planned comparisons that have a test."""
    from drivekit.life.logrank import holm

    tests = [block["logrank"] for block in planned if "p" in block.get("logrank", {})]
    for test, adjusted in zip(tests, holm([test["p"] for test in tests]), strict=True):
        test["p_holm"] = adjusted


def _mean_differences(asked: Asked, curves: Mapping[str, Curve]) -> Plain:
    from drivekit.life.means import difference

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


def _headline(asked: Asked, comparison: Comparison, block: Plain, overlap: Plain) -> Plain:
    """Choose the one contrast of a setting that is put in words, its last level against its first.

    Tension has a middle that may be better than both ends, so that it is the middle that is held against the low end.
    """
    differences = block.get("mean_difference", block)
    if "reason" in differences:
        return {"reason": differences["reason"]}
    levels = list(block["levels"])
    later = "middle" if "middle" in levels[1:] else levels[-1]
    contrast = f"{later} minus {levels[0]}"
    found = differences[contrast]
    head: Plain = {
        "comparison": comparison.name,
        "contrast": contrast,
        "horizon_runs": asked.horizon,
        "confidence": asked.settings.confidence,
        **{name: found[name] for name in ("estimate", "lower", "upper")},
        "method": "difference of the areas under the two survival curves, with Greenwood's variance",
        "levels": {
            level: {name: block["levels"][level][name] for name in ("belts", "failed", "runs")}
            | {"mean": block["levels"][level]["mean_to_horizon"]["estimate"]}
            for level in levels
        },
        "together": {part: overlap[part]["together"] for part in ("time", "car")},
    }
    return head if "reason" not in found else head | {"reason": found["reason"]}


def _causes(asked: Asked) -> Plain:
    from drivekit.life.incidence import incidence

    if not len(asked.table):
        return {"reason": NO_RUNS}
    failures = asked.settings.failures
    cause = asked.table["cause"]
    code = np.full(len(asked.table), -1, np.int64)
    for place, name in enumerate(failures):
        code[asked.failed & (cause == name)] = place
    found = incidence(asked.table["age"], code, len(failures))
    return {
        name: {"age": numbers(found.age), "incidence": numbers(share), "se": numbers(se)}
        for name, share, se in zip(failures, found.incidence, found.se, strict=True)
    }


def _overlap(asked: Asked, comparison: Comparison) -> Plain:
    """How the levels of a setting fall over the season and over the cars."""
    from drivekit.life.overlap import thirds

    found = asked.groups(comparison)
    if found is None or not found.levels:
        return {"reason": f"no run has its {comparison.said} filled in"}
    cars, car = np.unique(asked.table["car"].astype(str), return_inverse=True)
    third = thirds(len(asked.table))
    return {
        "time": _fall(found, third, ["first third", "middle third", "last third"]),
        "car": _fall(found, car.astype(np.int64), cars.tolist()),
    }


def _fall(found: Groups, part: Ints, names: list[str]) -> Plain:
    from drivekit.life.overlap import overlap

    fall = overlap(found.code, len(found.levels), part, len(names))
    block: Plain = {
        "columns": names,
        "levels": {level: numbers(runs) for level, runs in zip(found.levels, fall.runs, strict=True)},
        "share": number(fall.common),
        "together": fall.together,
    }
    return block if fall.reason is None else block | {"share_reason": fall.reason}


def _second_opinion(asked: Asked) -> Plain:
    """Repeat the survival curves with lifelines on the same runs."""
    from drivekit.life.second_opinion import compare_curve, second_opinion

    age, failed = asked.table["age"], asked.failed
    every = {"survival curve, all belts": np.ones(len(asked.table), bool)} if len(asked.table) else {}
    for comparison in COMPARISONS:
        found = asked.groups(comparison)
        if comparison.planned and found is not None:
            named = {f"survival curve, {comparison.said} {level}": level for level in found.levels}
            every |= {what: found.code == found.levels.index(level) for what, level in named.items()}
    opinion = second_opinion(
        compare_curve(what, age[rows], failed[rows], _curve(asked, rows)) for what, rows in every.items()
    )
    if opinion.reason is not None:
        return {"reason": opinion.reason}
    return {
        "library": opinion.library,
        "version": opinion.version,
        "compared": list(opinion.compared),
        "largest_difference": opinion.largest_difference,
        "left_out": list(opinion.left_out),
    }


def _provenance(started: str) -> Plain:
    from importlib.metadata import version
    from platform import python_version

    return {
        "drivekit": __version__,
        "python": python_version(),
        "packages": {package: version(package) for package in PACKAGES},
        "started": started,
        "files": {},
    }
