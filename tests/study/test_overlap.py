"""How a setting's runs fall over the thirds of the season and over the cars, as plain data."""

from __future__ import annotations

from typing import Any

import numpy as np

from drivekit.log.season import RunTable
from drivekit.study.belt_life import overlap_block
from drivekit.study.comparisons import COMPARISONS
from drivekit.study.study_input import StudyInput

IDLER, TENSION = COMPARISONS[0], COMPARISONS[1]


def asked(idler: list[str | None], car: list[str], **more: Any) -> StudyInput:
    values = {"age": np.ones(len(idler), np.int64), "idler": np.array(idler, object), "car": np.array(car, object)}
    return StudyInput(RunTable(values | more))


def test_runs_are_counted_by_third_of_the_season_and_by_car() -> None:
    idler = ["smooth"] * 4 + ["toothed", None, "toothed", "smooth", "toothed"]
    block = overlap_block(asked(idler, ["red", "blue", "red"] * 3), IDLER)
    assert block["time"]["columns"] == ["first third", "middle third", "last third"]
    assert block["time"]["levels"] == {"smooth": [3, 1, 1], "toothed": [0, 1, 2]}
    assert block["car"]["columns"] == ["blue", "red"]
    assert block["car"]["levels"] == {"smooth": [2, 3], "toothed": [1, 2]}
    # Shares of smooth 3/5 1/5 1/5, of toothed 0 1/3 2/3: in common 1/5 + 1/5; by car 1/3 + 3/5.
    assert abs(block["time"]["share"] - 2 / 5) < 1e-12
    assert abs(block["car"]["share"] - (1 / 3 + 3 / 5)) < 1e-12
    assert (block["time"]["together"], block["car"]["together"]) == (True, False)
    assert "share_reason" not in block["time"]


def test_one_level_has_no_share_and_says_why() -> None:
    block = overlap_block(asked(["smooth"] * 3, ["red"] * 3), IDLER)
    assert block["time"]["share"] is None
    assert block["time"]["share_reason"] == "fewer than two levels have a run"
    assert block["time"]["together"] is False


def test_a_setting_that_nobody_wrote_down_is_its_reason_alone() -> None:
    only = {"reason": "no run has its belt tension filled in"}
    assert overlap_block(asked(["smooth"], ["red"]), TENSION) == only
    assert overlap_block(asked(["smooth"], ["red"], tension_n=np.array([np.nan])), TENSION) == only
