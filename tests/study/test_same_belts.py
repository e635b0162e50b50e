"""To which run the same belts are followed in words: that which the idlers reach, whatever the rarest car does."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from drivekit.log import read_season
from drivekit.log.season import RunTable, run_table
from drivekit.study.hazard_fit import HazardInput
from drivekit.study.same_belts import said_lives, standardised_block
from drivekit.study.study_input import Settings, StudyInput

SEASON = Path(__file__).parents[2] / "data" / "season-two"
PAIR = "toothed minus smooth"


@pytest.fixture(scope="module")
def table() -> RunTable:
    return run_table(read_season(SEASON))


def reach(table: RunTable, column: str) -> int:
    """Count the belts at each age, and give the last at which every word of a column still has five."""
    counts = [np.bincount(table["age"][table[column] == word]) for word in set(table[column])]
    return min(int(np.flatnonzero(each >= 5)[-1]) for each in counts)


def with_a_guest(table: RunTable) -> RunTable:
    """Give seven smooth belts of three runs or more to a car of their own that leaves after the third."""
    ends = {belt: int(table["age"][table["belt"] == belt].max()) for belt in dict.fromkeys(table["belt"])}
    smooth = {belt for belt in ends if (table["idler"][table["belt"] == belt] == "smooth").all()}
    lent = np.isin(table["belt"], sorted(belt for belt in smooth if ends[belt] >= 3)[:7])
    kept = ~lent | (table["age"] <= 3)
    changed: dict[str, Any] = dict(table.values) | {"car": np.where(lent, "guest", table["car"]).astype(object)}
    return RunTable({name: values[kept] for name, values in changed.items()})


def lives(table: RunTable, horizon: int | None = None) -> tuple[Any, Any]:
    fit = HazardInput(StudyInput(table, Settings(horizon=horizon)))
    return said_lives(fit)["idler"], standardised_block(fit)["idler"]


def test_they_are_followed_as_far_as_every_idler_goes_though_no_car_alone_reaches_it(table: RunTable) -> None:
    said, by_car = lives(table)
    assert said["horizon_runs"] == reach(table, "idler") > by_car["horizon_runs"] == reach(table, "car")
    assert said["shrunk"]
    assert "shrunk" not in by_car
    assert said["mean_difference"][PAIR]["lower"] is not None


def test_a_guest_car_of_few_runs_cuts_nothing_short(table: RunTable) -> None:
    guest = with_a_guest(table)
    said, by_car = lives(guest)
    assert by_car["horizon_runs"] == 3
    assert said["horizon_runs"] == reach(guest, "idler") > 8
    without, _ = lives(table)
    difference, before = (each["mean_difference"][PAIR]["estimate"] for each in (said, without))
    assert difference == pytest.approx(before, abs=0.8)


def test_to_a_run_that_every_car_reaches_each_car_keeps_a_hazard_of_its_own(table: RunTable) -> None:
    said, by_car = lives(table, horizon=5)
    assert "shrunk" not in said
    assert said == by_car


def test_a_horizon_beyond_all_belts_is_refused_and_one_without_idlers_too(table: RunTable) -> None:
    said, _ = lives(table, horizon=99)
    assert "to count the first 99 runs" in said["reason"]
    few = RunTable({name: values[:12] for name, values in table.values.items()})
    said, _ = lives(few)
    assert said["reason"]
