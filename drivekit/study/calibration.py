"""What the stored calibration says of seasons like this one: how often such an interval held the truth.

The tables (``drivekit/life/calibration.csv`` of the answers, ``calibration_decisions.csv`` of the decisions) are
written by ``make calibration``: seasons drawn from known models, a row a kind of season. A season is likest the kind
that is nearest in belts and in failures, on the log scale.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from math import hypot, log, sqrt
from typing import Any

from drivekit.study.as_json import Block

__all__ = ["calibration_block", "calibration_rows"]

NO_TABLE = "no seasons with a known truth have been drawn"
UNLIKE = "no season that was drawn had about as many belts and failures as this one"
CONFIDENCE, NOTHING = 0.95, "nothing"
"""Of the answers that were held against the truth; and what a kind is called in which no setting makes a difference."""

AS_MANY = log(2)
"""On the log scale, how far a season may be from the one it is likened to: half or twice the belts and failures."""
INTERVALS = {"idler": "idler", "edge_lube": "grease"}
"""The settings whose intervals were calibrated, and what their columns begin with."""

WANTED = 0.935
"""An interval of 95 % should hold the truth at least so often, less two Monte Carlo errors."""

ANSWERS, DECISIONS = "calibration", "calibration_decisions"
SHOWN = {
    ANSWERS: {
        "idler_runs": "idler, runs",
        "grease_runs": "grease, runs",
        "idler_ratio": "idler, ratio",
        "grease_ratio": "grease, ratio",
        "b10": "run by which 1 in 10 failed",
        "median": "run by which half failed",
        "curve": "curve, age by age",
        "band": "curve, all ages at once",
        "slope": "degrees a flat",
        "even_point": "flats at which it runs even",
        "any_wrong": "anything claimed wrongly",
        "idler_no_difference": "idler, no difference said",
    },
    DECISIONS: {
        "change_age": "best change age not told to be worse",
        "at_risk": "runs until 1 in 10 failed",
        "spares": "belts said to be enough 9 times in 10",
        "odds_1": "odds of one more run",
        "odds_3": "odds of three more",
        "weibull_b10": "run by which 1 in 10 failed, by the law",
    },
}
"""The columns of each table that a person reads, and their heads."""


@cache
def table(name: str = ANSWERS) -> tuple[dict[str, Any], ...]:
    """Give the rows of a stored table, shares as numbers, None where nothing could be had; none without a table."""
    from importlib.resources import files

    file = files("drivekit.life").joinpath(f"{name}.csv")
    if not file.is_file():
        return ()
    words = ("scenario", "drivekit")
    rows = csv.DictReader(file.read_text(encoding="utf-8").splitlines())
    return tuple(
        {name: value if name in words else (float(value) if value else None) for name, value in row.items()}
        for row in rows
    )


def calibration_block(belts: int, failed: int, confidence: float = CONFIDENCE) -> Block:
    """Find the kind of season likest one of so many belts and failures, and what held in it; or why there is none.

    ``held`` has for each setting the share of intervals in runs (``runs``) and of ratios (``ratio``) that held the
    truth; ``reached`` is whether any of them came as near its 95 % as `WANTED`; ``any_wrong`` how often something was
    claimed in the likest kind in which nothing was to be found; ``decisions`` how often each was right in the same kind
    of season, and the seasons that were decided on.
    """
    rows = table()
    if not rows or not belts or not failed:
        return {"reason": NO_TABLE if not rows else "no belt failed, so no season that was drawn is like this one"}
    if confidence != CONFIDENCE:
        return {"reason": f"seasons were drawn for answers at {100 * CONFIDENCE:g} %, not at {100 * confidence:g} %"}

    def far(row: Mapping[str, Any]) -> float:
        return hypot(log(row["belts"] / belts), log(row["failed"] / failed))

    likest, null = min(rows, key=far), min((row for row in rows if NOTHING in row["scenario"]), key=far)
    if far(likest) > AS_MANY:
        return {"reason": UNLIKE}
    told = {name: likest[name] for name in ("scenario", "belts", "failed", "seasons", "seed")}
    told["any_wrong"] = null["any_wrong"]
    told |= {name: int(likest[name]) for name in ("belts", "seasons", "seed")}
    held = {
        name: {what: likest[f"{column}_{what}"] for what in ("runs", "ratio") if likest[f"{column}_{what}"] is not None}
        for name, column in INTERVALS.items()
    }
    for row in table(DECISIONS):
        if row["scenario"] == likest["scenario"]:
            told["decisions"] = {"seasons": int(row["seasons"]), **{name: row[name] for name in SHOWN[DECISIONS]}}
    least = WANTED - 2 * sqrt(WANTED * (1 - WANTED) / likest["seasons"])
    return told | {"held": held, "reached": any(share >= least for each in held.values() for share in each.values())}


def calibration_rows(of: str = ANSWERS) -> tuple[list[str], list[list[str]]]:
    """Set a stored table for reading: for each kind of season how many of 100 intervals held, and of 100 claims."""
    head = ["seasons drawn", "how many", "belts failed", *SHOWN[of].values()]
    return head, [
        [row["scenario"], f"{row['seasons']:.0f}", f"{row['failed']:.0f} of {row['belts']:.0f}"]
        + ["none" if (share := row.get(name)) is None else f"{100 * share:.1f}" for name in SHOWN[of]]
        for row in table(of)
    ]
