"""To which run the same belts are followed in words: that which the idlers reach, whatever the rarest car does."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from drivekit.log import read_season
from drivekit.log.season import RunTable, Season, run_table
from drivekit.study.hazard_fit import HazardInput
from drivekit.study.same_belts import said_lives, standardised_block
from drivekit.study.study_input import Settings, StudyInput
from drivekit.study.two_seasons import Seasons, against_block

SEASON, EARLIER = (Path(__file__).parents[2] / "data" / name for name in ("season-two", "season-one"))
UNASKED = {name: {"reason": "no test was made"} for name in ("idler", "tension", "edge_lube")}
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
    assert said_lives(HazardInput(StudyInput(few)))["reason"]


@pytest.fixture(scope="module")
def earlier() -> Season:
    return read_season(EARLIER)


def together(table: RunTable, earlier: Season, horizon: int | None = None) -> Seasons:
    return Seasons.of(StudyInput(table, Settings(horizon=horizon)), read_season(SEASON), earlier)


def followed(seasons: Seasons) -> Any:
    """Give the lives of this season's belts by both seasons together."""
    return said_lives(seasons.pooled, over=seasons.both.table["season"] == "later")["idler"]


def with_a_guest_of_its_own(earlier: Season) -> Season:
    """Give the first six belts of a season to a car that leaves after the second run."""
    runs = earlier.runs
    lent = runs["belt"].isin(runs["belt"].unique()[:6])
    kept = ~lent | (runs.groupby("belt").cumcount() < 2)
    return replace(earlier, runs=runs.assign(car=runs["car"].where(~lent, "guest"))[kept].reset_index(drop=True))


def all_toothed_and_failed(season: Season) -> Season:
    """Put every belt of a season on the toothed idler, and let each fail on its last run."""
    last = ~season.runs["belt"].duplicated(keep="last")
    runs = season.runs.assign(idler="toothed")
    runs.loc[last, ["fate", "cause"]] = "broke", "tooth-loss"
    return replace(season, runs=runs)


def test_two_seasons_together_follow_this_ones_belts_as_far_as_its_idlers_go_whatever_car_came_as_a_guest(
    table: RunTable, earlier: Season
) -> None:
    guest = with_a_guest(table)
    for runs in (table, guest):
        for head in against_block(together(runs, earlier), UNASKED)["pooled"]["headline"].values():
            assert head["basis"] == "standardised"
            assert head["horizon_runs"] == head["lives"]["horizon_runs"] == reach(runs, "idler")
            assert head["lives"]["belts"] == np.unique(runs["belt"][~np.isnan(runs["tension_n"])]).size
    both, alone = (each["mean_difference"][PAIR] for each in (followed(together(guest, earlier)), lives(guest)[0]))
    assert both["lower"] < alone["estimate"] < both["upper"]
    assert both["upper"] - both["lower"] < alone["upper"] - alone["lower"]


def test_a_guest_of_the_earlier_season_takes_no_car_of_this_one_its_own_hazard(
    table: RunTable, earlier: Season
) -> None:
    told = [followed(together(table, each, horizon=5)) for each in (earlier, with_a_guest_of_its_own(earlier))]
    assert not any("shrunk" in each for each in told)
    first, second = (each["mean_difference"][PAIR]["estimate"] for each in told)
    assert first == pytest.approx(second, abs=0.1)


def test_an_earlier_season_that_had_one_idler_only_and_lost_every_belt_is_not_held_against_that_idler(
    table: RunTable, earlier: Season
) -> None:
    both, alone = followed(together(table, all_toothed_and_failed(earlier))), lives(table)[0]
    assert both["shrunk"]
    first, second = (each["mean_difference"][PAIR]["estimate"] for each in (both, alone))
    assert first == pytest.approx(second, abs=0.2)
