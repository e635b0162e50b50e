from drivekit.log import RUNS
from drivekit.log.headings import placed
from drivekit.log.tables import comma_table

FULL = "run,day,car,belt,idler,fate"


def said(heading: str, row: str = "") -> list[str]:
    return [str(fault) for fault in placed("runs", comma_table("runs.csv", f"{heading}\n{row}\n"), RUNS)[1]]


def test_headings_are_taken_in_any_case_with_stray_blanks() -> None:
    found, faults = placed("runs", comma_table("r", " RUN ,Day,car,Belt,IDLER, Fate ,Tension_LBF\n"), RUNS)
    assert faults == []
    assert [place.heading for place in found.values()] == ["run", "day", "car", "belt", "idler", "fate", "tension_lbf"]
    assert found["tension_n"].twin is not None


def test_a_missing_column_is_a_fault_that_names_the_nearest_heading() -> None:
    assert said("run,day,car,belt,idlers,fate") == [
        'runs.csv:1:idler: fault: this column is missing; is it the one headed "idlers"?',
        "runs.csv:1:idlers: warning: is no column of the log and is not read; did you mean idler?",
        (
            "runs.csv:1: warning: 1 heading of your own; "
            "have a map of your headings drafted: drivekit check LOG --columns map.toml"
        ),
    ]
    assert said("run,day,car,belt,idler") == [
        (
            "runs.csv:1:fate: fault: this column is missing; "
            "add it: What became of the belt: kept, trimmed and kept, retired whole, or broke."
        )
    ]


def test_a_table_without_headings_is_one_fault() -> None:
    assert said("1,2026-03-01,blue,A1,smooth,kept") == [
        (
            "runs.csv:1: fault: no heading of the log stands in the first line; "
            "name the columns there: run, day, car, belt, idler, fate at least, "
            "or have a map of your headings drafted: drivekit check LOG --columns map.toml"
        )
    ]


def test_a_heading_that_stands_twice_is_a_fault() -> None:
    assert said(f"{FULL},fate") == ["runs.csv:1:fate: fault: this heading stands twice; keep one of the two columns"]


def test_a_column_in_both_units_is_a_fault() -> None:
    assert said(f"{FULL},tension_n,tension_lbf") == [
        "runs.csv:1:tension_lbf: fault: says the same as tension_n; keep one of the two columns"
    ]


def test_a_column_without_a_heading_is_a_fault_only_when_something_stands_in_it() -> None:
    assert said(f"{FULL},", "1,2026-03-01,blue,A1,smooth,kept,") == []
    assert said(f"{FULL},", "1,2026-03-01,blue,A1,smooth,kept,?") == [
        "runs.csv:1: fault: column 7 has no heading; name it, or take its cells out"
    ]


def test_own_columns_are_ignored_with_one_warning_and_misspelt_ones_with_their_own() -> None:
    assert said(f"{FULL},weather,Tenson_n,who drove") == [
        "runs.csv:1:Tenson_n: warning: is no column of the log and is not read; did you mean tension_n?",
        (
            "runs.csv:1: warning: 2 headings near to none of ours and not read: weather, who drove; "
            "nothing need be done, or have a map of your headings drafted: drivekit check LOG --columns map.toml"
        ),
    ]


def test_what_stands_under_a_heading_tells_which_column_is_meant() -> None:
    row = "3/7/2026,1800,12,smooth,kept,blue,A1\n3/7/2026,1700,13,toothed,kept,blue,A1"
    assert [line for line in said("Date,Tension,No,Roller,fate,car,belt", row) if "did you mean" in line] == [
        "runs.csv:1:Date: warning: is no column of the log and is not read; did you mean day?",
        "runs.csv:1:Tension: warning: is no column of the log and is not read; did you mean tension_lbf?",
        "runs.csv:1:No: warning: is no column of the log and is not read; did you mean run?",
        "runs.csv:1:Roller: warning: is no column of the log and is not read; did you mean idler?",
    ]
