"""What the stored calibration says of seasons like this one: how often such an interval held the truth.

The table (``drivekit/life/calibration.csv``) is written by ``make calibration``: seasons drawn from known models, a row
a kind of season. A season is likest the kind that is nearest in belts and in failures, on the log scale.
"""

from __future__ import annotations

import csv
from functools import cache
from math import hypot, log
from typing import Any

from drivekit.study.as_json import Block

__all__ = ["calibration_block"]

NO_TABLE = "no seasons with a known truth have been drawn"
INTERVALS = {"idler": "idler", "edge_lube": "grease"}
"""The settings whose intervals were calibrated, and what their columns begin with."""


@cache
def table() -> tuple[dict[str, Any], ...]:
    """Give the stored rows, shares as numbers, an empty one where nothing could be had; none without a table."""
    from importlib.resources import files

    file = files("drivekit.life").joinpath("calibration.csv")
    if not file.is_file():
        return ()
    words = ("scenario", "drivekit")
    rows = csv.DictReader(file.read_text(encoding="utf-8").splitlines())
    return tuple(
        {name: value if name in words else (float(value) if value else None) for name, value in row.items()}
        for row in rows
    )


def calibration_block(belts: int, failed: int) -> Block:
    """Find the kind of season likest one of so many belts and failures, and what held in it.

    Returns
    -------
    dict
        ``scenario``, ``belts``, ``failed``, ``seasons``, ``seed``, ``any_wrong``, and ``held``: for each setting the
        share of intervals in runs (``runs``) and of ratios (``ratio``) that held the truth; or a reason.
    """
    rows = table()
    if not rows or not belts or not failed:
        return {"reason": NO_TABLE if not rows else "no belt failed, so no season that was drawn is like this one"}
    likest = min(rows, key=lambda row: hypot(log(row["belts"] / belts), log(row["failed"] / failed)))
    told = {name: likest[name] for name in ("scenario", "belts", "failed", "seasons", "seed", "any_wrong")}
    whole = {name: int(likest[name]) for name in ("belts", "seasons", "seed")}
    held = {
        name: {what: likest[f"{column}_{what}"] for what in ("runs", "ratio") if likest[f"{column}_{what}"] is not None}
        for name, column in INTERVALS.items()
    }
    return told | whole | {"held": held}
