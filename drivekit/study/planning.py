"""A law of life for planning, and what belts that came off as a precaution leave open."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import Executor
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from drivekit.study.as_json import Block, entry, estimate, number
from drivekit.study.belt_life import NO_HORIZON, NO_RUNS
from drivekit.study.failing import FEW
from drivekit.study.study_input import StudyInput

if TYPE_CHECKING:
    from drivekit.life.folds import Bools, Ints
    from drivekit.life.weibull import Lives

__all__ = ["ASSUMED", "RAN_ON", "retired_block", "weibull_block"]

ASSUMED = (1.0, 2.0, 3.0)
"""Shapes that are tried where failures are few: no wear at all, wear that grows with age, and faster than age."""
RAN_ON, CAME_OFF = 10, 5
"""A look with fewer belts that ran on, or that came off, is left to the bounds."""
LOOKS = ("teeth_look", "cord_look", "edge_look")


def weibull_block(asked: StudyInput, executor: Executor | None = None) -> Block:
    """Fit Weibull's law to the whole runs of all belts, and ask whether it fits.

    ``fit`` is the test by belts drawn from it. With fewer than 10 failures ``assumed`` says, for each of a few shapes,
    when 1 in 10 would have failed if that were the shape: assumptions all of them.
    """
    from drivekit.life.weibull import fits, given_shape, weibull

    if not len(asked.table):
        return {"reason": NO_RUNS}
    lives, confidence = _lives(asked), asked.settings.confidence
    found = weibull(lives, confidence)
    block: Block = {name: estimate(getattr(found, name)) for name in ("shape", "scale", "b10")}
    block |= {"loglik": number(found.loglik), "belts": lives.stop.size, "failed": int(lives.failed.sum())}
    if found.loglik is None:
        block |= {"loglik_reason": found.shape.reason, "fit": {"reason": found.shape.reason}}
    else:
        gap, p = fits(lives, found, np.random.default_rng(asked.settings.seed), executor=executor)
        block["fit"] = {"gap": gap, "p": p} if p is not None else {"reason": "too few drawn seasons had a law"}
    if block["failed"] < FEW:
        block["assumed"] = {f"{shape:g}": estimate(given_shape(lives, shape, confidence)) for shape in ASSUMED}
    return block


def _lives(asked: StudyInput) -> Lives:
    """Give when each belt was first and last seen."""
    from drivekit.life.weibull import Lives

    belt, age = asked.belt, asked.table["age"]
    entry, stop = np.full(belt.max() + 1, age.max()), np.zeros(belt.max() + 1)
    np.minimum.at(entry, belt, age)
    np.maximum.at(stop, belt, age)
    return Lives(entry - 1.0, stop, np.bincount(belt, asked.failed) > 0)


def retired_block(asked: StudyInput, executor: Executor | None = None) -> Block:
    """Say how far belts that came off as a precaution could move the means to the horizon, by planned setting.

    ``worst``: each had failed on its very next run; ``best``: none within the horizon. A difference is bounded by the
    four corners. ``weighted``: belts of a like look and age that ran on stand for them, where there are enough.
    """
    off = asked.table["cause"] == "precaution"
    if not off.any():
        return {"reason": "no belt came off as a precaution"}
    if asked.horizon is None:
        return {"reason": NO_HORIZON}
    block: Block = {"belts": int(off.sum()), "horizon_runs": asked.horizon, "looks": {}}
    look = _looks(asked, off, block["looks"])
    planned = {one.name: asked.groups(one) for one in asked.comparisons if one.planned}
    parted = {name: found for name, found in planned.items() if found is not None and len(found[0]) > 1}
    weighted = _weighted(asked, off, look, parted, executor)
    for name, found in parted.items():
        block[name] = _bounds(asked, off, *found) | {"weighted": weighted[name]}
    return block


def _looks(asked: StudyInput, off: Bools, said: Block) -> Ints:
    """Code each run's look by how many of teeth, cord and edges were not good, -1 where the model may not use it."""
    if not all(name in asked.table for name in LOOKS):
        return np.full(off.size, -1)
    seen = np.stack([asked.table[name] for name in LOOKS])
    worn = np.where((seen == None).any(axis=0), -1, (seen != "good").sum(axis=0))  # noqa: E711 (by element)
    went_on = np.isin(asked.table["fate"].astype(str), ("kept", "trimmed"))
    for many in range(len(LOOKS) + 1):
        ran, came = (int(np.unique(asked.belt[(worn == many) & rows]).size) for rows in (went_on, off))
        used = ran >= RAN_ON and came >= CAME_OFF
        said[str(many)] = {"ran_on": ran, "came_off": came, "used": used}
        if not used:
            worn = np.where(worn == many, -1, worn)
    return np.where(went_on | off, worn, -1)


def _bounds(asked: StudyInput, off: Bools, levels: tuple[str, ...], code: Ints) -> Block:
    from drivekit.life.curve import curve

    horizon = asked.horizon
    assert horizon is not None  # the block has said so
    age = asked.table["age"]
    means: Block = {}
    for place, level in enumerate(levels):
        here = code == place
        last, belt = age[here & off], asked.belt[here & off]
        until = {"worst": last + 1, "as_logged": last, "best": np.maximum(last, horizon)}
        ways = {}
        for way, stop in until.items():
            more = [np.arange(a + 1, b + 1) for a, b in zip(last, stop, strict=True)]
            added = np.concatenate([np.empty(0, np.int64), *more])
            ages = np.concatenate([age[here], added])
            failed = np.concatenate([asked.failed[here], np.full(added.size, way == "worst")])
            belts = np.concatenate([asked.belt[here], np.repeat(belt, [each.size for each in more])])
            ways[way] = entry(curve(ages, failed, belts).mean_to(horizon), "estimate")
        means[level] = {"came_off": int(last.size), **ways}
    block: Block = {"levels": means, "mean_difference": {}}
    for earlier, later in combinations(levels, 2):
        corners = {
            f"{one}, {other}": means[later][one]["estimate"] - means[earlier][other]["estimate"]
            for one in ("worst", "best")
            for other in ("worst", "best")
            if None not in (means[later][one]["estimate"], means[earlier][other]["estimate"])
        }
        whole = len(corners) == 4
        block["mean_difference"][f"{later} minus {earlier}"] = (
            {"corners": corners, "lower": min(corners.values()), "upper": max(corners.values())}
            if whole
            else {"reason": "one of the two means cannot be had in some corner"}
        )
    return block


def _weighted(
    asked: StudyInput,
    off: Bools,
    look: Ints,
    parted: Mapping[str, tuple[tuple[str, ...], Ints]],
    executor: Executor | None,
) -> dict[str, Block]:
    """Give the weighted means by each setting, whose levels and their codes by run are given."""
    from drivekit.life.coming_off import Runs, weighted_means

    if not parted or not (look >= 0).any():
        why = f"at no look did {RAN_ON} belts run on and {CAME_OFF} come off, so the bounds have the word"
        return {name: {"reason": why} for name in parted}
    assert asked.horizon is not None  # the block has said so
    runs = Runs(asked.table["age"], asked.belt, asked.failed, off, look)
    every = weighted_means(
        runs,
        [code for _, code in parted.values()],
        asked.horizon,
        asked.settings.confidence,
        np.random.default_rng(asked.settings.seed),
        executor=executor,
    )
    return {
        name: {
            "levels": {
                level: {"mean": number(mean), "effective_belts": number(belts)}
                | ({} if np.isfinite(mean) else {"mean_reason": "no belt got far enough"})
                for level, mean, belts in zip(levels, found.means, found.worth, strict=True)
            },
            "mean_difference": {
                f"{levels[later]} minus {levels[earlier]}": estimate(told)
                for (earlier, later), told in found.differences.items()
            },
        }
        for (name, (levels, _)), found in zip(parted.items(), every, strict=True)
    }
