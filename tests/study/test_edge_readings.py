"""Where each car's belts run even: against statsmodels on the invented seasons, and against their truth."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import statsmodels.api as sm

from drivekit.decide.tracking import tracking_of
from drivekit.log.demo_truth import TRUTH
from drivekit.log.season import read_season, run_table
from drivekit.study.next_season import tracking_block
from drivekit.study.study_input import Settings, StudyInput

DATA = Path(__file__).parents[2] / "data"
SEASONS = ("season-one", "season-two")
CARS = ("amber", "teal", "violet")
FLATS = ("idler_flats_front", "idler_flats_rear")
EDGES = ("edge_front_c", "edge_rear_c")
LIFT = ("snout_flats_left", "snout_flats_right")

every_car = pytest.mark.parametrize(("season", "car"), [(season, car) for season in SEASONS for car in CARS])


@pytest.fixture(scope="module")
def blocks() -> dict[str, Any]:
    return {season: tracking_block(StudyInput(run_table(read_season(DATA / season)))) for season in SEASONS}


def rows(season: str, name: str) -> list[dict[str, str]]:
    with (DATA / season / f"{name}.csv").open(newline="") as file:
        return list(csv.DictReader(file))


def made(season: str, car: str) -> list[dict[str, str]]:
    """Runs of a car in order, read straight from the files, without belts of unknown age."""
    unknown = {row["belt"] for row in rows(season, "belts") if row["runs_before"] == "?"}
    of_car = [row for row in rows(season, "runs") if row["car"] == car and row["belt"] not in unknown]
    return sorted(of_car, key=lambda row: int(row["run"]))


def apart(row: dict[str, str], names: tuple[str, str]) -> float:
    front, rear = (float(row[name] or "nan") for name in names)
    return front - rear


@every_car
def test_the_fit_is_that_of_statsmodels(blocks: Any, season: str, car: str) -> None:
    told = [
        (apart(row, EDGES), 1.0, apart(row, FLATS), sum(float(row[name]) for name in LIFT) / 2, row["belt"])
        for row in made(season, car)
    ]
    told = [row for row in told if np.isfinite(row[:4]).all()]
    y, *x = np.array([row[:4] for row in told]).T
    other = sm.MixedLM(y, np.column_stack(x), [row[4] for row in told]).fit(reml=True, method=["bfgs"], gtol=1e-7)
    ours = blocks[season][car]
    assert ours["n"] == len(told)
    assert ours["belts"] == len({row[4] for row in told})
    a, b, c = other.fe_params
    assert ours["slope_c_per_flat"]["estimate"] == pytest.approx(b, rel=1e-4)
    assert ours["lift_slope_c_per_flat"]["estimate"] == pytest.approx(c, rel=1e-4)
    assert ours["noise_sd_c"] ** 2 == pytest.approx(other.scale, rel=1e-4)
    assert ours["belt_sd_c"] ** 2 == pytest.approx(float(other.cov_re[0, 0]), rel=1e-3)
    assert ours["lift_now"] == told[-1][3]
    assert ours["zero_flats"]["estimate"] == pytest.approx(-(a + c * told[-1][3]) / b, abs=1e-3)


def test_the_truth_of_the_demo_lies_within_the_limits_of_nearly_every_car_and_season(blocks: Any) -> None:
    """Which a plain line misses: the invented crews answer a reading with flats, and belts walk by themselves."""
    slopes, evens = 0, 0
    for season in SEASONS:
        for car in CARS:
            ours, slope = blocks[season][car], TRUTH.flat_c[car]
            even = -(TRUTH.square_c[car] + TRUTH.snout_c * (ours["lift_now"] - TRUTH.snout_middle)) / slope
            slopes += ours["slope_c_per_flat"]["lower"] <= slope <= ours["slope_c_per_flat"]["upper"]
            evens += ours["zero_flats"]["lower"] <= even <= ours["zero_flats"]["upper"]
    assert slopes >= 5
    assert evens >= 5


@every_car
def test_the_readings_in_the_block_give_the_block_again(blocks: Any, season: str, car: str) -> None:
    ours = dict(blocks[season][car])
    readings = ours.pop("readings")
    assert readings["run"] == [int(row["run"]) for row in made(season, car)]
    assert tracking_of(readings).block() == ours


def test_the_confidence_widens_the_limits() -> None:
    table = run_table(read_season(DATA / "season-one"))
    wide, usual = (tracking_block(StudyInput(table, Settings(confidence=c)))["amber"] for c in (0.99, 0.95))
    for name in ("slope_c_per_flat", "zero_flats"):
        assert wide[name]["estimate"] == usual[name]["estimate"]
        assert wide[name]["lower"] < usual[name]["lower"]
        assert wide[name]["upper"] > usual[name]["upper"]


@pytest.mark.parametrize("absent", [*EDGES, *FLATS])
def test_a_log_without_a_needed_column_says_which(absent: str) -> None:
    from drivekit.log.season import RunTable

    table = run_table(read_season(DATA / "season-one"))
    less = RunTable({name: table[name] for name in table.columns if name != absent})
    assert tracking_block(StudyInput(less)) == {"reason": f"the log has no {absent} column"}


def test_a_log_without_the_snout_s_flats_keeps_the_rest() -> None:
    from drivekit.log.season import RunTable

    table = run_table(read_season(DATA / "season-one"))
    less = RunTable({name: table[name] for name in table.columns if not name.startswith("snout")})
    ours = tracking_block(StudyInput(less))["teal"]
    assert ours["lift_slope_c_per_flat"]["reason"] == ours["lift_now_reason"] == "the snout's flats are not in the log"
    assert "lift_flats" not in ours["readings"]
    assert ours["zero_flats"]["lower"] is not None


def test_the_order_of_rows_in_the_table_is_the_order_of_runs() -> None:
    table = run_table(read_season(DATA / "season-two"))
    assert np.all(np.diff(table["run"]) > 0)


def test_no_run_of_known_age_is_a_reason() -> None:
    table = run_table(read_season(DATA / "season-one"))
    none = table.where(np.zeros(len(table), bool))
    assert tracking_block(StudyInput(none)) == {"reason": "no run of a belt of known age"}
