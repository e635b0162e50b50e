"""Which settings came together with the time of the season, or with a car."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from drivekit.study.as_json import Plain, number, numbers
from drivekit.study.comparisons import Comparison, Groups
from drivekit.study.study_input import StudyInput

if TYPE_CHECKING:
    from drivekit.life.folds import Ints

__all__ = ["overlap_block"]


def overlap_block(asked: StudyInput, comparison: Comparison) -> Plain:
    """How the levels of a setting fall over the season and over the cars."""
    from drivekit.life.confounding import thirds

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
    from drivekit.life.confounding import overlap

    fall = overlap(found.code, len(found.levels), part, len(names))
    block: Plain = {
        "columns": names,
        "levels": {level: numbers(runs) for level, runs in zip(found.levels, fall.runs, strict=True)},
        "share": number(fall.common),
        "together": fall.together,
    }
    return block if fall.reason is None else block | {"share_reason": fall.reason}
