import numpy as np
import pytest

from drivekit.log.cells import cells, figure
from drivekit.log.columns import BELTS, RUNS
from drivekit.log.headings import placed
from drivekit.log.tables import filled_table

COLUMNS = {"belts": BELTS, "runs": RUNS}


def said(name: str, heading: str, *typed: str) -> list[str]:
    """What is said of a column with these cells, quoted as a spreadsheet program would."""
    rows = "\n".join(f'"{cell}",x' for cell in typed)
    table = filled_table(f"{name}.csv", f"{heading},note\n{rows}\n")
    found, _ = placed(name, table)
    place = next(place for place in found.values() if place.heading == heading)
    return [str(fault) for fault in cells(table, place)[1]]


@pytest.mark.parametrize(
    ("name", "heading", "typed", "sentence"),
    [
        ("runs", "tension_n", "8000000", '"8000000" is impossible; 50 to 50000 N is possible'),
        ("runs", "tension_n", "49.9", '"49.9" is impossible; 50 to 50000 N is possible'),
        ("runs", "tension_n", "1e999", '"1e999" is impossible; 50 to 50000 N is possible'),
        ("runs", "tension_lbf", "12000", '"12000" is impossible; 11.24 to 11240 lbf is possible'),
        ("runs", "edge_front_f", "800", '"800" is impossible; -40 to 752 °F is possible'),
        ("runs", "full_load_s", "-1", '"-1" is impossible; 0 to 3600 s is possible'),
        ("runs", "run", "-1", '"-1" is impossible; 0 to 1000000000 is possible'),
        ("runs", "tension_n", "8,000", '"8,000" is no number; write 8000, or 8.000 if the comma is a decimal point'),
        ("runs", "tension_n", "1,800,000", '"1,800,000" is no number; write 1800000'),
        ("runs", "tension_n", "8 000", '"8 000" is no number; write 8000'),
        ("runs", "tension_n", "12,5", '"12,5" is no number; write 12.5'),
        ("runs", "tension_n", "8000 N", '"8000 N" is no number; write 8000 alone: the heading says the unit'),
        ("runs", "tension_n", "8000N/m", '"8000N/m" is no number; write 8000 alone: the heading says the unit'),
        ("runs", "tension_n", "tight", '"tight" is no number; write a number, such as 8000, or leave the cell blank'),
        ("runs", "tension_n", "nan", '"nan" is no number; write a number, such as 8000, or leave the cell blank'),
        ("runs", "tension_n", "inf", '"inf" is no number; write a number, such as 8000, or leave the cell blank'),
        ("runs", "tension_n", "٨٠٠٠", '"٨٠٠٠" is no number; write a number, such as 8000, or leave the cell blank'),
        ("runs", "tension_n", "?", '"?" is no number; write a number, such as 8000, or leave the cell blank'),
        ("runs", "tension_lbf", "tight", '"tight" is no number; write a number, such as 1798, or leave the cell blank'),
        ("belts", "width_in", "wide", '"wide" is no number; write a number, such as 2.953, or leave the cell blank'),
        ("runs", "run", "x", '"x" is no whole number; write a whole number, such as 1'),
        ("runs", "run", "8.5", '"8.5" is no whole number; write a count, such as 12'),
        ("runs", "run", "", "blank; every row needs a whole number"),
        ("runs", "day", "", "blank; every row needs a day, such as 2026-03-07"),
        ("runs", "belt", "", "blank; every row needs a belt"),
        ("runs", "idler", "", "blank; every row needs one of smooth, toothed"),
        ("runs", "idler", "tothed", '"tothed" is no idler; did you mean toothed? (smooth, toothed)'),
        ("runs", "fate", "gone", '"gone" is no fate; one of kept, trimmed, retired, broke'),
        (
            "runs",
            "edge_lube",
            "every run",
            '"every run" is no edge_lube; did you mean every-run? (none, install, every-run)',
        ),
        (
            "runs",
            "day",
            "07.03.2026",
            (
                '"07.03.2026" is no day of one meaning; write year-month-day, such as 2026-03-07, '
                "or say in a map (--columns) whether day or month is first"
            ),
        ),
        ("runs", "car", "blue\u200bish", '"blue\\u200bish" holds a letter that cannot be seen; type the name again'),
        ("runs", "day", "2026-3-7", '"2026-3-7" is no day; write year-month-day, such as 2026-03-07'),
        (
            "runs",
            "day",
            "2026-02-30",
            '"2026-02-30" is no day of the calendar; write year-month-day, such as 2026-03-07',
        ),
        ("runs", "day", "0206-03-07", '"0206-03-07" is an impossible day; 1950-01-01 to 2099-12-31'),
        (
            "runs",
            "day",
            "2026-03-07 14:30",
            '"2026-03-07 14:30" holds a time of day too; write the day alone: 2026-03-07',
        ),
        (
            "belts",
            "runs_before",
            "many",
            '"many" is no whole number; write a whole number, such as 0 or ? for not known, or leave the cell blank',
        ),
        ("belts", "width_in", "300", '"300" is impossible; 0.1969 to 19.69 in is possible'),
    ],
)
def test_a_cell_that_holds_no_value_says_what_would_be_right(name, heading, typed, sentence) -> None:
    assert said(name, heading, typed) == [f"{name}.csv:2:{heading}: fault: {sentence}"]


@pytest.mark.parametrize(
    ("name", "heading", "typed", "value"),
    [
        ("runs", "tension_n", "50", 50.0),
        ("runs", "tension_n", "50000", 50000.0),
        ("runs", "tension_n", " 8e3 ", 8000.0),
        ("runs", "tension_n", "+8000.", 8000.0),
        ("runs", "full_load_s", ".5", 0.5),
        ("runs", "run", "12.0", 12.0),
        ("runs", "tension_lbf", "1800", 8006.7989074689),
        ("runs", "edge_front_f", "68", 20.0),
        ("runs", "idler_flats_front", "-2", -2.0),
        ("belts", "mass_lb_per_ft", ".35", 520.8573802493437),
        ("runs", "idler", " Toothed ", "toothed"),
        ("runs", "belt", " S 01 ", "S 01"),
        ("runs", "day", "2024-02-29", np.datetime64("2024-02-29")),
        ("belts", "runs_before", "4", 4.0),
    ],
)
def test_a_cell_is_read_in_metric_units_and_without_stray_blanks(name, heading, typed, value) -> None:
    table = filled_table("t.csv", f"{heading},note\n{typed},x\n")
    place = next(place for place in placed(name, table)[0].values() if place.heading == heading)
    read, faults = cells(table, place)
    assert faults == []
    assert read.known.tolist() == [True]
    assert read.value[0] == (pytest.approx(value, rel=1e-12) if isinstance(value, float) else value)


def test_a_limit_typed_in_the_other_unit_is_still_possible() -> None:
    limit = 50_000 / 4.4482216152605
    assert said("runs", "tension_lbf", repr(limit), repr(limit * (1 + 1e-9))) == [
        f'runs.csv:3:tension_lbf: fault: "{limit * (1 + 1e-9)!r}" is impossible; 11.24 to 11240 lbf is possible'
    ]


def test_one_mistake_on_many_lines_is_said_on_each() -> None:
    assert [sentence.split(":")[1] for sentence in said("runs", "idler", "rough", "smooth", "rough")] == ["2", "4"]


def test_a_question_mark_means_not_known_only_where_the_table_says_so() -> None:
    table = filled_table("belts.csv", "belt,runs_before\nA,?\nB,\nC,2\n")
    read, faults = cells(table, placed("belts", table)[0]["runs_before"])
    assert faults == []
    assert read.asked.tolist() == [True, False, False]
    assert read.known.tolist() == [False, False, True]


@pytest.mark.parametrize(
    ("value", "written"),
    [
        (50.0, "50"),
        (50_000.0, "50000"),
        (11.2404, "11.24"),
        (0.196850394, "0.1969"),
        (11240.4, "11240"),
        (1e9, "1000000000"),
        (-40.0, "-40"),
        (0.0, "0"),
    ],
)
def test_a_number_is_written_the_way_a_cell_may_hold_it(value, written) -> None:
    assert figure(value) == written


def test_a_column_of_words_of_their_own_is_told_of_a_map() -> None:
    table = filled_table("runs.csv", "idler\nS\nT\nsmooth\n")
    _, faults = cells(table, placed("runs", table)[0]["idler"])
    assert [str(fault) for fault in faults] == [
        'runs.csv:2:idler: fault: "S" is no idler; one of smooth, toothed',
        'runs.csv:3:idler: fault: "T" is no idler; one of smooth, toothed',
        (
            "runs.csv:1:idler: warning: holds 2 words of your own; "
            "have a map of them drafted: drivekit check LOG --columns map.toml"
        ),
    ]
