import csv
import io
import math

import pytest

from drivekit.log import BELTS, CAUSES, FAILURES, RUNS, check_season
from drivekit.log.columns import EXAMPLE
from drivekit.units import INCH_POUND

ALL = [*BELTS, *RUNS]
FOR_THE_RECORD = (
    *("note", "play_mm", "spacers_mm", "clamp_torque_n_m", "marked_side", "second_fitter"),
    *("idle_lean", "wind_down_lean"),
)
"""Checked and kept; no answer is promised from them."""


def test_the_columns_that_must_be_there_are_those_few() -> None:
    assert [column.name for column in BELTS if column.required] == ["belt"]
    assert [column.name for column in RUNS if column.required] == ["run", "day", "car", "belt", "idler", "fate"]


@pytest.mark.parametrize("columns", [BELTS, RUNS], ids=["belts", "runs"])
def test_no_two_columns_of_a_table_share_a_heading_in_either_unit(columns) -> None:
    headings = [column.name for column in columns] + [column.twin for column in columns if column.twin]
    assert len(headings) == len(set(headings))


@pytest.mark.parametrize("column", ALL, ids=lambda column: column.name)
def test_a_column_is_described_so_that_it_can_be_filled_checked_and_missed(column) -> None:
    assert column.name == column.name.strip().lower()
    assert column.label
    assert column.meaning.endswith(".")
    assert bool(column.levels) == (column.kind == "word")
    assert all(level == level.strip().lower() and "," not in level for level in column.levels)
    assert len(",".join(column.levels)) < 255  # what a spreadsheet's drop-down holds
    if column.is_number:
        assert -math.inf < column.low < column.high < math.inf
    else:
        assert (column.low, column.high, column.unit) == (-math.inf, math.inf, "")
    # A column may be missed in three ways only: it must be there, another is computed from it, or it adds something.
    promises = sum([column.required, bool(column.gives), bool(column.adds)])
    assert promises == (0 if column.name in FOR_THE_RECORD else 1)


@pytest.mark.parametrize("column", [column for column in ALL if column.unit], ids=lambda column: column.name)
def test_the_unit_stands_at_the_end_of_the_heading(column) -> None:
    endings = {unit: twin.ending for unit, twin in INCH_POUND.items()} | {"Hz": "_hz", "s": "_s"}
    assert column.name.endswith(endings[column.unit])


def test_every_column_of_a_run_stands_on_the_run_sheet() -> None:
    parts = [column.part for column in RUNS]
    assert all(parts)
    assert list(dict.fromkeys(parts)) == ["The run", "The drive as set", "After warm-up", "After the run"]


def test_what_counts_as_failure_is_among_the_causes() -> None:
    assert set(FAILURES) < set(CAUSES)
    assert next(column for column in RUNS if column.name == "cause").levels == CAUSES


def test_the_examples_are_a_log_without_another_fault(log) -> None:
    def text(columns) -> str:
        made = io.StringIO()
        csv.writer(made).writerows([[column.name for column in columns], [column.example for column in columns]])
        return made.getvalue()

    faults = check_season(log(text(BELTS), text(RUNS)))
    assert [(fault.file, fault.line, fault.column, fault.value) for fault in faults] == [
        ("belts.csv", 2, "belt", EXAMPLE),
        ("runs.csv", 2, "belt", EXAMPLE),
    ]


def test_what_a_cell_holds_is_said_in_words() -> None:
    words = {column.name: column.holds for column in ALL}
    assert words["idler"] == "smooth or toothed"
    assert words["tension_n"] == "a number, 50 to 50000 N"
    assert words["runs_before"] == "a whole number, 0 to 1000, or ?"
    assert words["day"] == "a day, year-month-day"
    assert words["car"] == "a name"
    assert words["note"] == "any text"


@pytest.mark.parametrize(
    ("unit", "inch_pound", "metric"),
    [
        ("N", 1.0, 4.4482216152605),
        ("N", 1800.0, 8006.7989074689),
        ("mm", 1.0, 25.4),
        ("mm", 3.0, 76.2),
        ("°C", 32.0, 0.0),
        ("°C", 212.0, 100.0),
        ("°C", -40.0, -40.0),
        ("°C", 68.0, 20.0),
        ("N m", 1.0, 1.3558179483314),
        ("N m", 44.0, 59.6559897265818),
        ("g/m", 1.0, 1488.16394357),
        ("g/m", 0.35, 520.857380249),
    ],
)
def test_one_inch_pound_value_is_one_metric_value(unit, inch_pound, metric) -> None:
    twin = INCH_POUND[unit]
    assert twin.metric(inch_pound) == pytest.approx(metric, rel=1e-11)
    assert twin.inch_pound(twin.metric(inch_pound)) == pytest.approx(inch_pound, rel=1e-14)


def test_every_inch_pound_heading_follows_from_the_metric_one() -> None:
    twins = {column.name: column.twin for column in ALL if column.twin}
    assert twins == {
        "width_mm": "width_in",
        "pitch_mm": "pitch_in",
        "mass_g_per_m": "mass_lb_per_ft",
        "stiffness_n": "stiffness_lbf",
        "play_mm": "play_in",
        "spacers_mm": "spacers_in",
        "clamp_torque_n_m": "clamp_torque_lbf_ft",
        "tension_n": "tension_lbf",
        "span_mm": "span_in",
        "push_n": "push_lbf",
        "push_mm": "push_in",
        "edge_front_c": "edge_front_f",
        "edge_rear_c": "edge_rear_f",
        "tension_after_n": "tension_after_lbf",
    }


def test_a_unit_that_all_share_has_no_twin() -> None:
    twins = {column.name: column.twin for column in ALL}
    assert twins["span_hz"] is None
    assert twins["full_load_s"] is None
