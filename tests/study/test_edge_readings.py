"""Where each car's belt runs even: against statsmodels on the invented seasons, and against their truth."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.optimize import brentq

from drivekit.decide.tracking import tracking_of
from drivekit.log.demo_truth import TRUTH
from drivekit.log.season import read_season, run_table
from drivekit.study.edge_readings import tracking_block
from drivekit.study.study_input import Settings, StudyInput

DATA = Path(__file__).parents[2] / "data"
SEASONS = ("season-one", "season-two")
CARS = ("amber", "teal", "violet")
FLATS = ("idler_flats_front", "idler_flats_rear")
EDGES = ("edge_front_c", "edge_rear_c")

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


def known(season: str, car: str) -> tuple[np.ndarray, np.ndarray]:
    pairs = np.array([(apart(row, FLATS), apart(row, EDGES)) for row in made(season, car)])
    pairs = pairs[np.isfinite(pairs).all(axis=1)]
    return pairs[:, 0], pairs[:, 1]


@every_car
def test_the_slope_is_that_of_statsmodels_with_its_t_limits(blocks: Any, season: str, car: str) -> None:
    flats, difference = known(season, car)
    other = sm.OLS(difference, sm.add_constant(flats)).fit()
    ours = blocks[season][car]
    assert ours["n"] == flats.size
    slope = ours["slope_c_per_flat"]
    assert slope["estimate"] == pytest.approx(other.params[1], rel=1e-10)
    assert (slope["lower"], slope["upper"]) == pytest.approx(tuple(other.conf_int()[1]), rel=1e-9)


@every_car
def test_the_flats_at_zero_are_those_no_test_refuses(blocks: Any, season: str, car: str) -> None:
    """Fieller by brute force: where statsmodels' own limits of the line's height just leave zero."""
    flats, difference = known(season, car)
    other = sm.OLS(difference, sm.add_constant(flats)).fit()
    zero = blocks[season][car]["zero_flats"]
    assert zero["estimate"] == pytest.approx(-other.params[0] / other.params[1], rel=1e-10)

    def upper_or_lower(at: float, edge: int) -> float:
        return float(other.get_prediction(np.array([[1.0, at]])).conf_int()[0][edge])

    ends = sorted(
        brentq(upper_or_lower, zero["estimate"] - 30, zero["estimate"] + 30, args=(edge,), xtol=1e-12)
        for edge in (0, 1)
    )
    assert (zero["lower"], zero["upper"]) == pytest.approx(tuple(ends), abs=1e-8)


@every_car
def test_the_fit_with_the_last_difference_and_the_belt_is_that_of_statsmodels(
    blocks: Any, season: str, car: str
) -> None:
    runs = made(season, car)
    last = [float("nan"), *(apart(row, EDGES) for row in runs[:-1])]
    told = [(apart(row, FLATS), apart(row, EDGES), before, row["belt"]) for row, before in zip(runs, last, strict=True)]
    told = [one for one in told if np.isfinite(one[:3]).all()]
    belts = sorted({belt for *_, belt in told})
    x = np.array([[flats, before, *(float(belt == one) for one in belts)] for flats, _, before, belt in told])
    other = sm.OLS(np.array([difference for _, difference, *_ in told]), x).fit()
    steered = blocks[season][car]["steered"]
    assert steered["n"] == len(told)
    slope = steered["slope_c_per_flat"]
    assert slope["estimate"] == pytest.approx(other.params[0], rel=1e-8)
    assert (slope["lower"], slope["upper"]) == pytest.approx(tuple(other.conf_int()[0]), rel=1e-7)


@every_car
def test_the_truth_of_the_demo_is_hidden_by_steering_and_mostly_found_again(blocks: Any, season: str, car: str) -> None:
    """The invented crews answer a reading with flats: the plain slope is too small, the other one comes nearer."""
    ours, truth = blocks[season][car], TRUTH.flat_c[car]
    plain, steered = (part["slope_c_per_flat"]["estimate"] for part in (ours, ours["steered"]))
    assert truth < plain < 0
    assert abs(steered - truth) < 0.75 * abs(plain - truth)
    assert steered == pytest.approx(truth, rel=0.25)
    even = -TRUTH.square_c[car] / truth
    assert np.sign(ours["zero_flats"]["estimate"]) == np.sign(even)
    assert ours["zero_flats"]["estimate"] == pytest.approx(even, abs=1.25)


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
    whole, ours = tracking_block(StudyInput(table))["teal"], tracking_block(StudyInput(less))["teal"]
    assert ours["snout_lift"]["slope_c_per_flat"]["reason"] == "the snout's flats are not in the log"
    assert "lift_flats" not in ours["readings"]
    assert ours["zero_flats"] == whole["zero_flats"]


def test_the_order_of_rows_in_the_table_is_the_order_of_runs() -> None:
    table = run_table(read_season(DATA / "season-two"))
    assert np.all(np.diff(table["run"]) > 0)


def test_no_run_of_known_age_is_a_reason() -> None:
    table = run_table(read_season(DATA / "season-one"))
    none = table.where(np.zeros(len(table), bool))
    assert tracking_block(StudyInput(none)) == {"reason": "no run of a belt of known age"}
