import os
from pathlib import Path

import pytest

from drivekit.faults import Unusable
from drivekit.log import BELTS, RUNS, check_season, read_season
from drivekit.log.headings import column_map, placed
from drivekit.log.tables import comma_table

TABLES = {"belts": BELTS, "runs": RUNS}
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
            "or say with --columns which of your headings is which"
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
            "runs.csv:1: warning: 2 columns of your own not read: weather, who drove; "
            "nothing need be done; a map of headings can name them"
        ),
    ]


def written(tmp_path: Path, text: str) -> Path:
    place = tmp_path / "map.toml"
    place.write_text(text, encoding="utf-8")
    return place


def test_a_person_s_own_headings_are_read_by_a_map(log, tmp_path) -> None:
    plain = read_season(log())
    own = written(tmp_path, '[belts]\n"Riemen" = "belt"\n[runs]\n"Zug lbf" = "tension_lbf"\nRIEMEN = "belt"\n')
    mapped = read_season(
        log(belt=("belt", "riemen"), run=("belt,idler,tension_n", "Riemen,idler,Zug LBF"), name="own"), own
    )
    assert mapped.runs["belt"].tolist() == plain.runs["belt"].tolist()
    assert mapped.runs["tension_n"].dropna().tolist() == [
        value * 4.4482216152605 for value in plain.runs["tension_n"].dropna()
    ]


def test_a_mapped_column_is_called_as_the_person_calls_it(log, tmp_path) -> None:
    own = written(tmp_path, '[runs]\n"Rolle" = "idler"\n')
    place = log(run=("idler", "Rolle"))
    assert read_season(place, own).runs["idler"].tolist()[:2] == ["smooth", "toothed"]
    (place / "runs.csv").write_text((place / "runs.csv").read_text().replace("toothed", "tothed", 1))
    assert [str(fault) for fault in check_season(place, own) if not fault.warning] == [
        'runs.csv:3:Rolle: fault: "tothed" is no idler; did you mean toothed? (smooth, toothed)'
    ]


def test_what_is_wrong_in_a_map_is_said_like_any_other_fault(log, tmp_path) -> None:
    own = written(
        tmp_path, '# ours\n[runs]\n"Rolle" = "idlr"\n"Fahrzeug" = "car"\ncars = "car"\nn = 3\n[belt]\na = "b"\n'
    )
    assert [str(fault) for fault in check_season(log(), own) if not fault.warning] == [
        'map.toml:3:Rolle: fault: "idlr" is no column of runs; did you mean idler?',
        "map.toml:4:Fahrzeug: fault: is no heading of runs.csv; did you mean fate?",
        "map.toml:5:cars: fault: is no heading of runs.csv; did you mean car?",
        (
            'map.toml:6:n: fault: "3" is no column of runs; '
            f"one of {', '.join(c.name for c in RUNS)}, "
            f"{', '.join(c.twin for c in RUNS if c.twin)}"
        ),
        'map.toml:7: fault: "belt" is no table of the log; put the headings under [belts] or [runs]',
    ]


def test_a_map_that_is_no_toml_is_a_fault_with_its_line(log, tmp_path) -> None:
    own = written(tmp_path, "[runs]\nZug = tension_n\n")
    assert [str(fault) for fault in check_season(log(), own)] == [
        'map.toml:2: fault: cannot be read as TOML; write lines such as "Their heading" = "tension_n"'
    ]


def test_a_map_that_is_not_there_or_no_text_is_refused(tmp_path) -> None:
    with pytest.raises(Unusable, match=r"map\.toml is not there\.$"):
        column_map(tmp_path / "map.toml", TABLES)
    with pytest.raises(Unusable, match=r"cannot be read: Is a directory\.$"):
        column_map(tmp_path, TABLES)
    (tmp_path / "map.toml").write_bytes(b"\xff\xfea")
    with pytest.raises(Unusable, match=r"^map\.toml is saved as UTF-16: save it as UTF-8\.$"):
        column_map(tmp_path / "map.toml", TABLES)


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("a = " + "[" * 100_000, "is nested too deep to be read"),
        ("a = " + "9" * 5000, "holds a number of 1000 digits"),
        (".".join("a" * 5000) + " = 1", "holds a key of very many parts"),
    ],
)
def test_a_map_that_no_person_wrote_is_one_fault(log, tmp_path, text, wrong) -> None:
    faults = check_season(log(), written(tmp_path, text))
    assert [fault.wrong for fault in faults] == [wrong]


def test_a_map_that_is_no_ordinary_file_is_refused(tmp_path) -> None:
    os.mkfifo(tmp_path / "map.toml")
    with pytest.raises(Unusable, match=r"map\.toml is no ordinary file\.$"):
        column_map(tmp_path / "map.toml", TABLES)
