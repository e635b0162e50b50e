"""How belts fail: each cause's share, by setting too, what settings and incidents do to it, and how it shows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from drivekit.life.folds import Estimate
from drivekit.study.as_json import Block, entry, estimate, numbers
from drivekit.study.belt_life import NO_RUNS
from drivekit.study.comparisons import Comparison
from drivekit.study.hazard_fit import HazardInput, ratio, ratio_beside
from drivekit.study.study_input import StudyInput

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from drivekit.study.decisions import DecisionInput


__all__ = [
    "FEW",
    "cause_hazards_block",
    "causes_block",
    "causes_by_block",
    "incidents_block",
    "looks_block",
    "signs_block",
]

FEW = 10
"""A cause with fewer failures is pooled with the others that have fewer."""
ENOUGH = 5
"""Failures on each side, that a ratio of hazards asks for."""
SIGNS = ("break_look", "teeth_look", "cord_look", "edge_look", "surface", "shade")
# Looks that may tell of the next run, each against the look it is held against.
MARKS = {
    "teeth_look": (("worn",), ("good",)),
    "cord_look": (("hairs",), ("good",)),
    "edge_look": (("frayed",), ("good",)),
    "shade": (("front-dark", "rear-dark"), ("even",)),
}
UNTOLD_LOOK = estimate(Estimate(reason="too few belts failed on the run after such a look, or without one"))
SOUND = ("good", "none", "clean", "even")


def causes_block(asked: StudyInput) -> Block:
    """Give the share of belts that each cause had ended by each age, causes never seen included."""
    return _incidences(asked, np.ones(len(asked.table), bool)) if len(asked.table) else {"reason": NO_RUNS}


def causes_by_block(asked: StudyInput, comparison: Comparison) -> Block:
    """Give the same for each level of a setting, and hold the levels against each other, cause by cause.

    ``levels``: by level and cause, with limits. ``gray``: Gray's test of each cause's incidence; a reason where a belt
    came used or changed its level, for then its incidence in a level is not that of whole lives. ``cause_specific``:
    the log-rank test of each cause's hazard, every other ending a belt that leaves unfailed; it stands everywhere.
    """
    from drivekit.life.gray import gray, whole_lives
    from drivekit.life.logrank import logrank

    found = asked.groups(comparison)
    if found is None or not found[0]:
        return {"reason": f"no run of a belt of known age has its {comparison.said} filled in"}
    levels, code = found
    block: Block = {"levels": {level: _incidences(asked, code == place) for place, level in enumerate(levels)}}
    if len(levels) == 1:
        only = {"reason": f"every run had the same {comparison.said}, {levels[0]}: nothing to compare it with"}
        return block | {"gray": only, "cause_specific": dict(only)}
    known = code >= 0
    age, cause, group = asked.table["age"][known], asked.cause[known], code[known]
    why = whole_lives(age, asked.belt[known], group)
    block["gray"] = {"reason": why} if why else {}
    block["cause_specific"] = {}
    for place, name in enumerate(asked.settings.failures):
        if not why:
            block["gray"][name] = _test(gray(age, cause, group, len(levels), place), "chi2", "dof", "p")
        test = logrank(age, cause == place, group, len(levels))
        block["cause_specific"][name] = _test(test, "chi2", "dof", "p", "p_exact")
    return block


def _test(test: object, *names: str) -> Block:
    """Give a test, or the reason why it cannot be had."""
    reason = getattr(test, "reason", None)
    return {"reason": reason} if reason else entry(test, *names, otherwise=getattr(test, "p_exact_reason", None))


def _incidences(asked: StudyInput, rows: NDArray[np.bool_]) -> Block:
    from drivekit.life.curve import incidence

    causes = asked.settings.failures
    found = incidence(asked.table["age"][rows], asked.cause[rows], len(causes))
    lower, upper = found.limits(asked.settings.confidence)
    return {
        name: {"age": numbers(found.age)}
        | {
            part: numbers(values[place])
            for part, values in (("incidence", found.incidence), ("se", found.se), ("lower", lower), ("upper", upper))
        }
        for place, name in enumerate(causes)
    }


def cause_hazards_block(fit: HazardInput) -> Block:
    """Fit the hazard of each cause on all settings at once, the other endings as belts that leave unfailed.

    A cause with fewer than 10 failures is pooled with the others that have fewer; where they have fewer than 10 between
    them they get a reason. Terms as in ``hazard``, each with its ratio, profile limits and ratio test.
    """
    from drivekit.life.cox import fit as cox
    from drivekit.life.riskset import RiskSets

    study, causes, sure = fit.study, fit.asked.settings.failures, fit.asked.settings.confidence
    if study.reason is not None:
        return {"reason": study.reason}
    rows, cause = fit.rows, fit.asked.cause[study.used]
    counts = {name: int((cause == place).sum()) for place, name in enumerate(causes)}
    few = [name for name, count in counts.items() if 0 < count < FEW]
    groups = [[name] for name, count in counts.items() if count >= FEW] + ([few] if few else [])
    block: Block = {}
    for group in groups:
        failed = np.isin(cause, [causes.index(name) for name in group])
        part: Block = {"causes": group, "failed": int(failed.sum())}
        if part["failed"] < FEW:
            part["reason"] = f"fewer than {FEW} failures"
        else:
            fitted = cox(RiskSets.of(rows["age"], failed, rows["x"], rows["stratum"]))
            part["terms"] = {name: ratio(fitted, term, sure) for term, name in enumerate(study.names)}
        block[" or ".join(group)] = part
    return block


def signs_block(asked: StudyInput) -> Block:
    """Count, for each thing seen on belts that had just failed, the causes that were behind it.

    By column and word: ``failed`` belts seen so, and of each cause met its count with the share's Wilson limits. What
    every sound belt shows too (good, none, clean, even) is no sign and left out.
    """
    block: Block = {}
    for column in SIGNS:
        if column not in asked.table:
            block[column] = {"reason": f"the log has no {column} column"}
            continue
        seen = asked.table[column][asked.failed]
        cause = asked.cause[asked.failed]
        block[column] = {}
        for word in dict.fromkeys(word for word in sorted(seen[seen != np.array(None)]) if word not in SOUND):
            behind = cause[seen == word]
            block[column][word] = {
                "failed": int(behind.size),
                "causes": {
                    asked.settings.failures[place]: _wilson(int(many), behind.size, asked.settings.confidence)
                    for place, many in zip(*np.unique(behind, return_counts=True), strict=True)
                },
            }
    return block


def _wilson(count: int, of: int, confidence: float) -> Block:
    """Give a count with limits of its share (Wilson, J Am Stat Assoc 1927)."""
    from drivekit.life.folds import two_sided_z

    z2 = two_sided_z(confidence) ** 2
    middle, reach = count + z2 / 2, (z2 * (count * (of - count) / of + z2 / 4)) ** 0.5
    lower, upper = ((middle + side * reach) / (of + z2) for side in (-1, 1))
    return {"count": count, "lower": max(lower, 0.0), "upper": 1.0 if count == of else upper}


def incidents_block(fit: HazardInput) -> Block:
    """Say what an incident of the engine does to the belt's next runs, beside its other runs, settings alike.

    ``after``: for 1, 2 and 3 runs after one, the runs and failures there and the hazard ratio against all other runs;
    ``kinds``: of each kind, within 3 runs after it. A ratio asks for 5 failures among those runs and 5 among others.
    """
    asked, study = fit.asked, fit.study
    if "engine_trouble" not in asked.table:
        return {"reason": "the log has no engine_trouble column"}
    if study.reason is not None:
        return {"reason": study.reason}
    trouble = asked.table["engine_trouble"]
    happened = (trouble != np.array(None)) & (trouble != "none")
    if not happened.any():
        return {"reason": "no run had engine trouble"}
    kinds = sorted(set(trouble[happened]))
    return {
        "incidents": int(happened.sum()),
        "after": {str(runs): _after(fit, happened, runs) for runs in (1, 2, 3)},
        "kinds": {kind: _after(fit, trouble == kind, 3) for kind in kinds},
        "exploratory": True,
    }


def _after(fit: HazardInput, happened: NDArray[np.bool_], runs: int) -> Block:
    """Hold the runs within so many after an incident of their belt against all others."""
    belt, age, failed = fit.asked.belt, fit.asked.table["age"], fit.rows["failed"]
    place = belt * (int(age.max()) + runs + 1) + age
    near = np.isin(place, place[happened][:, None] + np.arange(1, runs + 1))[fit.study.used]
    counts = {"runs": int(near.sum()), "failed": int(failed[near].sum())}
    if min(counts["failed"], int(failed[~near].sum())) < ENOUGH:
        return counts | {"reason": f"fewer than {ENOUGH} belts failed there"}
    return counts | ratio_beside(fit, near)


def looks_block(asked: DecisionInput) -> Block:
    """Ask whether a look after one run tells of the next: the ratio of hazards beside the settings of the fit."""
    fit, table = asked.fit, asked.fit.asked.table
    if fit.study.reason is not None:
        return {"reason": fit.study.reason}
    before, failed = asked.run_before[fit.study.used], fit.rows["failed"]
    block: Block = {}
    for column, (marked, unmarked) in MARKS.items():
        if column not in table:
            block[column] = {"reason": f"the log has no {column} column"}
            continue
        look = table[column][before].astype(str)
        mark = np.isin(look, marked) & (before >= 0)
        told = mark | (np.isin(look, unmarked) & (before >= 0))
        counts: Block = {
            name: {"runs": int((told & of).sum()), "failed": int((told & of & failed).sum())}
            for name, of in (("with", mark), ("without", ~mark))
        }
        few = min(each["failed"] for each in counts.values()) < ENOUGH
        block[column] = counts | {"hr": UNTOLD_LOOK if few else ratio_beside(fit, mark, told, "estimate")}
    return block | {"exploratory": True}
