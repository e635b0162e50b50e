"""How belts fail: each cause's share, by setting too, what settings and incidents do to it, and how it shows.

And a law of life for planning, and what belts that came off as a precaution leave open.
"""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import Executor
from itertools import product

import numpy as np

from drivekit.decide.outlook import LOOKS
from drivekit.life.coming_off import Runs, weighted_means
from drivekit.life.curve import curve, incidence
from drivekit.life.folds import Bools, Estimate, Ints, two_sided_z
from drivekit.life.gray import gray, whole_lives
from drivekit.life.logrank import logrank
from drivekit.life.weibull import Lives, fits, given_shape, weibull
from drivekit.study.as_json import Block, as_block, entry, lone, parts
from drivekit.study.belt_life import NO_HORIZON, NO_RUNS, one_level, unfilled
from drivekit.study.comparisons import Comparison, pairs
from drivekit.study.hazard_fit import HazardInput, ratio, ratio_beside
from drivekit.study.study_input import Groups, StudyInput

__all__ = [
    "cause_hazards_block",
    "causes_block",
    "causes_by_block",
    "incidents_block",
    "lives_of",
    "looks_block",
    "retired_block",
    "signs_block",
    "weibull_block",
]

FEW = 10
"""A cause with fewer failures is pooled with the others that have fewer."""
ENOUGH = 5
"""Failures on each side, that a ratio of hazards asks for."""
SIGNS = ("break_look", "teeth_look", "cord_look", "edge_look", "surface", "shade")
MARKS = {of: [look["word"] for look in LOOKS if look["column"] == of and "mark" in look] for of in SIGNS}
"""Looks that may tell of the next run, by column, each against the sound ones."""
UNTOLD_LOOK = Estimate(reason="too few belts failed on the run after such a look, or without one")
SOUND = ("good", "none", "clean", "even")
ASSUMED = (1.0, 2.0, 3.0)
"""Shapes of a law that are tried where failures are few: no wear at all, wear that grows with age, and faster."""
RAN_ON, CAME_OFF = 10, 5
"""A look with fewer belts that ran on, or that came off, is left to the bounds."""
BODY = ("teeth_look", "cord_look", "edge_look")


@as_block
def causes_block(asked: StudyInput) -> Block | str:
    """Give the share of belts that each cause had ended by each age, causes never seen included."""
    return _incidences(asked, np.ones(len(asked.table), bool)) if len(asked.table) else NO_RUNS


@as_block
def causes_by_block(asked: StudyInput, comparison: Comparison) -> Block | str:
    """Give the same for each level of a setting, and hold the levels against each other, cause by cause.

    ``levels``: by level and cause, with limits. ``gray``: Gray's test of each cause's incidence; a reason where a belt
    came used or changed its level, for then its incidence in a level is not that of whole lives. ``cause_specific``:
    the log-rank test of each cause's hazard, every other ending a belt that leaves unfailed; it stands everywhere.
    """
    found = asked.groups(comparison)
    if found is None or not found[0]:
        return unfilled(comparison)
    levels, code = found
    block: Block = {"levels": {level: _incidences(asked, rows) for level, rows in asked.rows(comparison).items()}}
    if len(levels) == 1:
        return block | dict.fromkeys(("gray", "cause_specific"), one_level(comparison, levels[0]))
    known = code >= 0
    age, cause, group = asked.table["age"][known], asked.cause[known], code[known]
    why, causes = whole_lives(age, asked.belt[known], group), dict(enumerate(asked.settings.failures))
    tests = {name: gray(age, cause, group, len(levels), place) for place, name in causes.items() if not why}
    hazards = {name: logrank(age, cause == place, group, len(levels)) for place, name in causes.items()}
    return block | {
        "gray": {"reason": why} if why else {name: _test(test, "chi2", "dof", "p") for name, test in tests.items()},
        "cause_specific": {name: _test(test, "chi2", "dof", "p", "p_exact") for name, test in hazards.items()},
    }


def _test(test: object, *names: str) -> Block:
    """Give a test, or the reason why it cannot be had."""
    reason = getattr(test, "reason", None)
    return {"reason": reason} if reason else entry(test, *names, otherwise=getattr(test, "p_exact_reason", None))


def _incidences(asked: StudyInput, rows: Bools) -> Block:
    causes = asked.settings.failures
    found = incidence(asked.table["age"][rows], asked.cause[rows], len(causes))
    lower, upper = found.limits(asked.settings.confidence)
    shares = {"incidence": found.incidence, "se": found.se, "lower": lower, "upper": upper}
    return {
        name: {"age": found.age} | {part: values[place] for part, values in shares.items()}
        for place, name in enumerate(causes)
    }


@as_block
def cause_hazards_block(fit: HazardInput) -> Block | str:
    """Fit the hazard of each cause on all settings at once, the other endings as belts that leave unfailed.

    A cause with fewer than 10 failures is pooled with the others that have fewer; where they have fewer than 10 between
    them they get a reason. Terms as in ``hazard``, each with its ratio, profile limits and ratio test.
    """
    study, causes, sure = fit.study, fit.asked.settings.failures, fit.asked.settings.confidence
    if study.reason is not None:
        return study.reason
    cause = fit.asked.cause[study.used]
    counts = {name: int((cause == place).sum()) for place, name in enumerate(causes)}
    few = [name for name, count in counts.items() if 0 < count < FEW]
    block: Block = {}
    for group in [[name] for name, count in counts.items() if count >= FEW] + ([few] if few else []):
        failed = np.isin(cause, [causes.index(name) for name in group])
        part: Block = {"causes": group, "failed": failed.sum()}
        if part["failed"] < FEW:
            part["reason"] = f"fewer than {FEW} failures"
        else:
            fitted = fit.refitted(failed=failed)
            part["terms"] = {name: ratio(fitted, term, sure) for term, name in enumerate(study.names)}
        block[" or ".join(group)] = part
    return block


@as_block
def signs_block(asked: StudyInput) -> Block:
    """Count, for each thing seen on belts that had just failed, the causes that were behind it.

    By column and word: ``failed`` belts seen so, and of each cause met its count with the share's Wilson limits. What
    every sound belt shows too (good, none, clean, even) is no sign and left out.
    """
    cause, causes, sure = asked.cause[asked.failed], asked.settings.failures, asked.settings.confidence

    def behind(of: Ints) -> Block:
        met = zip(*np.unique(of, return_counts=True), strict=True)
        return {"failed": of.size, "causes": {causes[place]: _wilson(int(many), of.size, sure) for place, many in met}}

    block: Block = {}
    for column in SIGNS:
        if absent := asked.lacks(column):
            block[column] = {"reason": absent}
            continue
        seen = asked.table[column][asked.failed]
        words = sorted(set(seen) - {None, *SOUND})
        block[column] = {word: behind(cause[seen == word]) for word in words}
    return block


def _wilson(count: int, of: int, confidence: float) -> Block:
    """Give a count with limits of its share (Wilson, J Am Stat Assoc 1927)."""
    z2 = two_sided_z(confidence) ** 2
    middle, reach = count + z2 / 2, (z2 * (count * (of - count) / of + z2 / 4)) ** 0.5
    lower, upper = ((middle + side * reach) / (of + z2) for side in (-1, 1))
    return {"count": count, "lower": max(lower, 0.0), "upper": 1.0 if count == of else upper}


@as_block
def incidents_block(fit: HazardInput) -> Block | str:
    """Say what an incident of the engine does to the belt's next runs, beside its other runs, settings alike.

    ``after``: for 1, 2 and 3 runs after one, the runs and failures there and the hazard ratio against all other runs;
    ``kinds``: of each kind, within 3 runs after it. A ratio asks for 5 failures among those runs and 5 among others.
    """
    asked = fit.asked
    if why := asked.lacks("engine_trouble") or fit.study.reason:
        return why
    trouble = asked.table["engine_trouble"]
    happened = (trouble != np.array(None)) & (trouble != "none")
    if not happened.any():
        return "no run had engine trouble"
    return {
        "incidents": happened.sum(),
        "after": {str(runs): _after(fit, happened, runs) for runs in (1, 2, 3)},
        "kinds": {kind: _after(fit, trouble == kind, 3) for kind in sorted(set(trouble[happened]))},
        "exploratory": True,
    }


def _after(fit: HazardInput, happened: Bools, runs: int) -> Block:
    """Hold the runs within so many after an incident of their belt against all others."""
    belt, age, failed = fit.asked.belt, fit.asked.table["age"], fit.rows["failed"]
    place = belt * (int(age.max()) + runs + 1) + age
    near = np.isin(place, place[happened][:, None] + np.arange(1, runs + 1))[fit.study.used]
    counts = {"runs": near.sum(), "failed": failed[near].sum()}
    if min(counts["failed"], failed[~near].sum()) < ENOUGH:
        return counts | {"reason": f"fewer than {ENOUGH} belts failed there"}
    return counts | ratio_beside(fit, near)


@as_block
def looks_block(fit: HazardInput) -> Block | str:
    """Ask whether a look after one run tells of the next: the ratio of hazards beside the settings of the fit."""
    asked, table = fit.asked, fit.asked.table
    if fit.study.reason is not None:
        return fit.study.reason
    before, failed = asked.run_before[fit.study.used], fit.rows["failed"]
    block: Block = {}
    for column in filter(MARKS.get, MARKS):
        if absent := asked.lacks(column):
            block[column] = {"reason": absent}
            continue
        look = table[column][before].astype(str)
        mark = np.isin(look, MARKS[column]) & (before >= 0)
        told = mark | (np.isin(look, SOUND) & (before >= 0))
        counts: Block = {
            name: {"runs": (told & of).sum(), "failed": (told & of & failed).sum()}
            for name, of in (("with", mark), ("without", ~mark))
        }
        few = min(each["failed"] for each in counts.values()) < ENOUGH
        block[column] = counts | {"hr": UNTOLD_LOOK if few else ratio_beside(fit, mark, told, "estimate")}
    return block | {"exploratory": True}


@as_block
def weibull_block(asked: StudyInput, executor: Executor | None = None) -> Block | str:
    """Fit Weibull's law to the whole runs of all belts, and ask whether it fits.

    ``fit`` is the test by belts drawn from it. With fewer than 10 failures ``assumed`` says, for each of a few shapes,
    when 1 in 10 would have failed if that were the shape: assumptions all of them.
    """
    if not len(asked.table):
        return NO_RUNS
    lives, confidence = lives_of(asked), asked.settings.confidence
    found, failed = weibull(lives, confidence), lives.failed.sum()
    block = parts(found, "shape", "scale", "b10") | lone("loglik", found.loglik, found.shape.reason)
    block |= {"belts": lives.stop.size, "failed": failed}
    if found.loglik is None:
        block["fit"] = {"reason": found.shape.reason}
    else:
        gap, p = fits(lives, found, np.random.default_rng(asked.settings.seed), executor=executor)
        block["fit"] = {"gap": gap, "p": p} if p is not None else {"reason": "too few drawn seasons had a law"}
    if failed < FEW:
        block["assumed"] = {f"{shape:g}": given_shape(lives, shape, confidence) for shape in ASSUMED}
    return block


def lives_of(asked: StudyInput) -> Lives:
    """Give each belt's whole life in the log, one belt after the other in the order first run."""
    belt, age = asked.belt, asked.table["age"]
    first = np.unique(belt, return_index=True)[1]
    last = np.zeros(first.size)
    last[belt] = age  # of a belt's rows the last is the one that stays
    return Lives(age[first] - 1.0, last, np.bincount(belt, asked.failed) > 0)


@as_block
def retired_block(asked: StudyInput, executor: Executor | None = None) -> Block | str:
    """Say how far belts that came off as a precaution could move the means to the horizon, by planned setting.

    ``worst``: each had failed on its very next run; ``best``: none within the horizon. A difference is bounded by the
    four corners. ``weighted``: belts of a like look and age that ran on stand for them, where there are enough.
    """
    off = asked.table["cause"] == "precaution"
    if not off.any():
        return "no belt came off as a precaution"
    if asked.horizon is None:
        return NO_HORIZON
    looks, look = _looks(asked, off)
    planned = {name: asked.groups(one) for name, one in asked.planned.items()}
    parted = {name: found for name, found in planned.items() if found is not None and len(found[0]) > 1}
    weighted = _weighted(asked, off, look, parted, asked.horizon, executor)
    bounds = {name: _bounds(asked, off, *found, asked.horizon) for name, found in parted.items()}
    block = {"belts": off.sum(), "horizon_runs": asked.horizon, "looks": looks}
    return block | {name: bounds[name] | {"weighted": weighted[name]} for name in parted}


def _looks(asked: StudyInput, off: Bools) -> tuple[Block, Ints]:
    """Count the belts by how many of teeth, cord and edges were not good; and code each run's look so.

    The code is -1 where the model may not use it.
    """
    said: Block = {}
    if not all(name in asked.table for name in BODY):
        return said, np.full(off.size, -1)
    seen = np.stack([asked.table[name] for name in BODY])
    worn = np.where((seen == None).any(axis=0), -1, (seen != "good").sum(axis=0))  # noqa: E711 (by element)
    went_on = np.isin(asked.table["fate"].astype(str), ("kept", "trimmed"))
    for many in range(len(BODY) + 1):
        ran, came = (np.unique(asked.belt[(worn == many) & rows]).size for rows in (went_on, off))
        used = ran >= RAN_ON and came >= CAME_OFF
        said[str(many)] = {"ran_on": ran, "came_off": came, "used": used}
        if not used:
            worn = np.where(worn == many, -1, worn)
    return said, np.where(went_on | off, worn, -1)


def _bounds(asked: StudyInput, off: Bools, levels: tuple[str, ...], code: Ints, horizon: int) -> Block:
    age, means, differences = asked.table["age"], Block(), Block()
    for place, level in enumerate(levels):
        here = code == place
        last, belt = age[here & off], asked.belt[here & off]
        until = {"worst": last + 1, "as_logged": last, "best": np.maximum(last, horizon)}
        means[level] = {"came_off": last.size}
        for way, stop in until.items():
            more = [np.arange(a + 1, b + 1) for a, b in zip(last, stop, strict=True)]
            added = np.concatenate([np.empty(0, np.int64), *more])
            ages = np.concatenate([age[here], added])
            failed = np.concatenate([asked.failed[here], np.full(added.size, way == "worst")])
            belts = np.concatenate([asked.belt[here], np.repeat(belt, [each.size for each in more])])
            means[level][way] = entry(curve(ages, failed, belts).mean_to(horizon), "estimate")
    for pair, (earlier, later) in pairs(levels).items():
        ends = {
            f"{one}, {other}": (means[later][one]["estimate"], means[earlier][other]["estimate"])
            for one, other in product(("worst", "best"), repeat=2)
        }
        differences[pair] = {"reason": "one of the two means cannot be had in some corner"}
        if all(None not in both for both in ends.values()):
            corners = {corner: of_later - of_earlier for corner, (of_later, of_earlier) in ends.items()}
            differences[pair] = {"corners": corners, "lower": min(corners.values()), "upper": max(corners.values())}
    return {"levels": means, "mean_difference": differences}


def _weighted(
    asked: StudyInput, off: Bools, look: Ints, parted: Mapping[str, Groups], horizon: int, executor: Executor | None
) -> dict[str, Block]:
    """Give the weighted means by each setting, whose levels and their codes by run are given."""
    if not parted or not (look >= 0).any():
        why = f"at no look did {RAN_ON} belts run on and {CAME_OFF} come off, so the bounds have the word"
        return {name: {"reason": why} for name in parted}
    every = weighted_means(
        Runs(asked.table["age"], asked.belt, asked.failed, off, look),
        [code for _, code in parted.values()],
        horizon,
        asked.settings.confidence,
        np.random.default_rng(asked.settings.seed),
        executor=executor,
    )

    def level(mean: float, belts: float) -> Block:
        told = lone("mean", mean if np.isfinite(mean) else None, "no belt got far enough")
        return told | {"effective_belts": belts}

    return {
        name: {
            "levels": dict(zip(levels, map(level, found.means, found.worth), strict=True)),
            "mean_difference": dict(zip(pairs(levels), found.differences.values(), strict=True)),
        }
        for (name, (levels, _)), found in zip(parted.items(), every, strict=True)
    }
