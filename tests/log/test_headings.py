"""Which column a heading names: ours, or a person's own by a map; what a map says, and what is said of a map."""

import os
from pathlib import Path

import pytest

from drivekit.faults import Unusable
from drivekit.log import BELTS, RUNS, check_season, read_season
from drivekit.log.headings import column_map, placed
from drivekit.log.tables import filled_table

WORDED = ", ".join(column.name for column in (*BELTS, *RUNS) if column.levels)
FULL = "run,day,car,belt,idler,fate"


def said(heading: str, row: str = "") -> list[str]:
    return [str(fault) for fault in placed("runs", filled_table("runs.csv", f"{heading}\n{row}\n"))[1]]


def test_headings_are_taken_in_any_case_with_stray_blanks() -> None:
    found, faults = placed("runs", filled_table("r", " RUN ,Day,car,Belt,IDLER, Fate ,Tension_LBF\n"))
    assert faults == []
    assert [place.heading for place in found.values()] == ["run", "day", "car", "belt", "idler", "fate", "tension_lbf"]
    assert found["tension_n"].units.inch_pound


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
        (
            'map.toml:7: fault: "belt" is no table of the map; put headings under [belts] or [runs], '
            "words under [words.COLUMN], the order of days under [days]"
        ),
    ]


def test_a_map_that_is_no_toml_is_a_fault_with_its_line(log, tmp_path) -> None:
    own = written(tmp_path, "[runs]\nZug = tension_n\n")
    assert [str(fault) for fault in check_season(log(), own)] == [
        'map.toml:2: fault: cannot be read as TOML; write lines such as "Their heading" = "tension_n"'
    ]


def test_a_map_that_is_not_there_or_no_text_is_refused(tmp_path) -> None:
    with pytest.raises(
        Unusable, match=r"map\.toml is not there: drivekit check LOG --columns .*map\.toml drafts it\.$"
    ):
        column_map(tmp_path / "map.toml")
    with pytest.raises(Unusable, match=r"cannot be read: Is a directory\.$"):
        column_map(tmp_path)
    (tmp_path / "map.toml").write_bytes(b"\xff\xfea")
    with pytest.raises(Unusable, match=r"^map\.toml is saved as UTF-16: save it as UTF-8\.$"):
        column_map(tmp_path / "map.toml")


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("a = " + "[" * 100_000, "is nested too deep to be read"),
        ("a = " + "9" * 5000, "holds a number of hundreds of digits"),
        (".".join("a" * 5000) + " = 1", "holds a key of very many parts"),
    ],
)
def test_a_map_that_no_person_wrote_is_one_fault(log, tmp_path, text, wrong) -> None:
    faults = check_season(log(), written(tmp_path, text))
    assert [fault.wrong for fault in faults] == [wrong]


def test_a_map_that_is_no_ordinary_file_is_refused(tmp_path) -> None:
    os.mkfifo(tmp_path / "map.toml")
    with pytest.raises(Unusable, match=r"map\.toml is no ordinary file\.$"):
        column_map(tmp_path / "map.toml")


def faults_of(place: Path, own: Path) -> list[str]:
    return [str(fault) for fault in check_season(place, own) if not fault.warning]


def test_words_are_read_by_a_map_each_in_its_own_column(log, tmp_path) -> None:
    plain = read_season(log())
    own = written(
        tmp_path,
        '[runs]\nRolle = "idler"\n[words.idler]\nS = "smooth"\n"Z " = "toothed"\n'
        '[words.fate]\nS = "kept"\n[words.tension_n]\n"n/a" = ""\n[words.edge_lube]\n"-" = ""\n',
    )
    place = log(run=("idler", "Rolle"), name="own")
    text = (place / "runs.csv").read_text()
    for old, new in ((",smooth,", ",s,"), (",toothed,", ",Z,"), (",kept,", ",S,"), (",s,,none", ",s,N/A,-")):
        text = text.replace(old, new)
    (place / "runs.csv").write_text(text)
    mapped = read_season(place, own)
    for name in ("idler", "fate"):
        assert mapped.runs[name].tolist() == plain.runs[name].tolist()
    assert mapped.runs["tension_n"].isna().tolist() == plain.runs["tension_n"].isna().tolist()
    assert mapped.runs["edge_lube"].tolist()[2] is None
    assert faults_of(place, written(tmp_path, '[runs]\nRolle = "idler"\n'))[0] == (
        'runs.csv:2:Rolle: fault: "s" is no idler; one of smooth, toothed'
    )


def test_a_word_is_mapped_to_a_level_or_a_blank_and_to_nothing_else(log, tmp_path) -> None:
    own = written(
        tmp_path,
        '[words.idler]\nS = "smoth"\ntoothed = "smooth"\n"smooth" = "smooth"\n'
        '[words.belt]\nA = "A1"\n[words.ider]\nS = "smooth"\n[words.tension_n]\nfull = "8000"\n[words.fate]\nS = 3\n',
    )
    assert faults_of(log(), own) == [
        'map.toml:2:S: fault: "smoth" is no idler; did you mean smooth? (smooth, toothed)',
        'map.toml:3:toothed: fault: "smooth" is not what this means; toothed is one of ours: take the line out',
        'map.toml:5:words: fault: "belt" is no column whose words can be mapped; one of ' + WORDED,
        'map.toml:7:words: fault: "ider" is no column whose words can be mapped; did you mean idler?',
        'map.toml:10:full: fault: "8000" is no tension_n; "" for a blank, and nothing else',
        'map.toml:12:S: fault: "3" is no fate; one of kept, trimmed, retired, broke',
    ]


def test_a_blank_that_a_map_makes_of_a_word_is_still_missed_where_one_must_stand(log, tmp_path) -> None:
    own = written(tmp_path, '[words.idler]\n"-" = ""\n')
    place = log(run=("A1,smooth,8000", "A1,-,8000"))
    assert faults_of(place, own) == ['runs.csv:2:idler: fault: "-" blank; every row needs one of smooth, toothed']


@pytest.mark.parametrize(("order", "month"), [("month first", 3), ("day first", 7)])
def test_the_order_of_days_is_said_once_and_never_guessed(log, tmp_path, order, month) -> None:
    place = log()
    for file in ("runs.csv", "belts.csv"):
        text = (place / file).read_text()
        (place / file).write_text(text.replace("2026-03-01", "3/7/2026").replace("2026-03-0", "2026-08-0"))
    own = written(tmp_path, f'[days]\norder = "{order}"\n')
    assert {day.month for day in read_season(place, own).runs["day"][:3]} == {month}
    assert faults_of(place, written(tmp_path, ""))[-3:] == [
        f'runs.csv:{line}:day: fault: "3/7/2026" is no day of one meaning; write year-month-day, such as 2026-03-07, '
        "or say in a map (--columns) whether day or month is first"
        for line in (2, 3, 4)
    ]


def test_a_day_that_the_order_said_cannot_be_is_a_fault(log, tmp_path) -> None:
    own = written(tmp_path, '[days]\norder = "day first"\n')
    assert faults_of(log(run=("1,2026-03-01", "1,3/25/2026")), own) == [
        (
            'runs.csv:2:day: fault: "3/25/2026" is no day of the calendar; '
            "the map says day first: correct the one that is wrong"
        )
    ]


def test_an_order_of_days_that_is_none_is_a_fault_with_its_line(log, tmp_path) -> None:
    own = written(tmp_path, '[days]\norder = "month"\nday = "first"\n')
    right = 'write order = "day first" or order = "month first"'
    assert faults_of(log(), own) == [
        f'map.toml:2:order: fault: "month" does not say the order of days; {right}',
        f'map.toml:3:day: fault: "first" does not say the order of days; {right}',
    ]


def test_a_heading_that_the_map_knows_as_nothing_is_not_read_and_not_spoken_of(log, tmp_path) -> None:
    place = log(run=("tension_n", "weather"))
    assert any("weather" in str(fault) for fault in check_season(place))
    assert not any(
        "weather" in str(fault) for fault in check_season(place, written(tmp_path, '[runs]\nWeather = ""\n'))
    )


def test_the_same_heading_in_both_tables_is_named_with_its_own_line(log, tmp_path) -> None:
    own = written(tmp_path, '[belts]\nbelt = "belt"\n[runs]\nbelt = "belts"\n')
    assert faults_of(log(), own) == ['map.toml:4:belt: fault: "belts" is no column of runs; did you mean belt?']
