"""The stored calibration is consulted by the kind of season that is likest."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from drivekit.study import calibration
from drivekit.study.calibration import calibration_block, calibration_rows
from tests.bench.calibration import ANSWERS, DECISIONS, INTERVALS, season, summary, together
from tests.bench.scenarios import SCENARIOS

ROWS = "scenario,belts,failed,seasons,seed,drivekit,any_wrong," + ",".join(
    f"{name}_{what}" for name in ("idler", "grease") for what in ("runs", "ratio")
)


@pytest.fixture
def stored(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    lines = [
        ROWS,
        '"nothing, small",40,20,100,1,0.1,0.05,0.94,0.95,0.96,0.97',
        "large,150,100,100,1,0.1,0.04,0.95,0.95,,0.9",
    ]
    (tmp_path / "calibration.csv").write_text("\n".join(lines) + "\n")
    monkeypatch.setattr("importlib.resources.files", lambda package: tmp_path)
    calibration.table.cache_clear()
    yield
    calibration.table.cache_clear()


@pytest.mark.usefixtures("stored")
@pytest.mark.parametrize(
    ("belts", "failed", "likest"), [(45, 18, "nothing, small"), (140, 90, "large"), (30, 12, "nothing, small")]
)
def test_the_likest_kind_is_nearest_in_belts_and_failures(belts: int, failed: int, likest: str) -> None:
    assert calibration_block(belts, failed)["scenario"] == likest


@pytest.mark.usefixtures("stored")
def test_shares_are_given_setting_by_setting_and_left_out_where_none_could_be_had() -> None:
    assert calibration_block(40, 20)["held"] == {
        "idler": {"runs": 0.94, "ratio": 0.95},
        "edge_lube": {"runs": 0.96, "ratio": 0.97},
    }
    assert calibration_block(150, 100)["held"]["edge_lube"] == {"ratio": 0.9}


@pytest.mark.usefixtures("stored")
def test_a_season_is_likened_to_none_far_from_it_nor_to_answers_of_another_confidence() -> None:
    assert calibration_block(40, 0)["reason"].startswith("no belt failed")
    assert calibration_block(30, 5)["reason"].startswith("no season that was drawn had about as many belts")
    assert "at 95 %, not at 99.9 %" in calibration_block(40, 20, 0.999)["reason"]


@pytest.mark.usefixtures("stored")
def test_how_often_a_claim_is_wrong_is_that_of_seasons_in_which_nothing_was_to_be_found() -> None:
    assert calibration_block(150, 100)["any_wrong"] == calibration_block(40, 20)["any_wrong"] == 0.05


@pytest.mark.usefixtures("stored")
def test_a_corner_where_no_interval_holds_often_enough_is_known() -> None:
    assert calibration_block(40, 20)["reached"]
    assert calibration_block(150, 100)["reached"]  # one of its three does
    calibration.table()[1].update(idler_runs=0.85, idler_ratio=0.8, grease_ratio=0.88)
    assert not calibration_block(150, 100)["reached"]


@pytest.mark.usefixtures("stored")
def test_the_table_is_set_of_100_with_nothing_where_none_could_be_had() -> None:
    head, (small, large) = calibration_rows()
    assert small[:3] == ["nothing, small", "100", "20 of 40"]
    assert small[head.index("idler, runs")] == "94.0"
    assert large[head.index("grease, runs")] == "none"
    assert large[head.index("anything claimed wrongly")] == "4.0"


def test_a_small_run_gives_the_same_again_and_every_column_of_the_table() -> None:
    one = [season((SCENARIOS[0], number)) for number in range(2)]
    assert one == [season((SCENARIOS[0], number)) for number in range(2)]
    decisions = [DECISIONS.work((SCENARIOS[0], number)) for number in range(2)]
    assert decisions == [DECISIONS.work((SCENARIOS[0], number)) for number in range(2)]
    for kind, lines in ((ANSWERS, one), (DECISIONS, decisions)):
        row = summary(kind, SCENARIOS[0], lines)
        assert (row["seasons"], row["belts"]) == (2, 40)
        shown = calibration.SHOWN[kind.name]
        assert set(shown) <= set(row)
        assert all(0 <= row[name] <= 1 for name in shown if row[name] != "")


def test_seasons_added_to_a_stored_row_give_the_row_of_all_of_them() -> None:
    lines = [
        season((SCENARIOS[0], 0)) | {f"{name}_width": width for name in INTERVALS} | dict.fromkeys(INTERVALS, held)
        for width, held in ((1.0, True), (2.0, False), (None, None), (5.0, True), (8.0, True))
    ]
    lines[4] |= {"any_wrong": True, "failed": 90}
    # as the file gives it
    first = {name: str(value) for name, value in summary(ANSWERS, SCENARIOS[0], lines[:3]).items()}
    found, whole = together(first, summary(ANSWERS, SCENARIOS[0], lines[3:])), summary(ANSWERS, SCENARIOS[0], lines)
    assert found.pop("failed") == pytest.approx(whole.pop("failed"), abs=0.1)
    assert found == pytest.approx(whole, abs=1e-3)
    nothing = summary(ANSWERS, SCENARIOS[0], lines[2:3])
    assert together(nothing, nothing)["b10"] == together(nothing, nothing)["b10_width"] == ""


def test_draws_of_a_handful_of_failures_that_have_no_curve_are_left_out() -> None:
    few = next(one for one in SCENARIOS if one.name == "few failures, 40 belts")
    assert season((few, 26))["idler_runs"] is not None  # one of its draws puts hazards beyond what numbers hold


def test_the_stored_table_answers_for_a_usual_season() -> None:
    found = calibration_block(68, 47)
    assert found["seasons"] > 0
    assert found["decisions"]["seasons"] > 0
    assert set(found["decisions"]) == {"seasons", *calibration.SHOWN[calibration.DECISIONS]}
    assert None not in {value for row in calibration.table(calibration.DECISIONS) for value in row.values()}
    assert 0 <= found["any_wrong"] <= 1
