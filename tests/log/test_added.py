"""One run more in a log: what is asked and offered, what is found wrong, and how the files hold it."""

from __future__ import annotations

import csv
import io
import re
import tempfile
import zipfile
from collections.abc import Callable
from datetime import date
from pathlib import Path

import numpy as np
import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl.styles import Font, PatternFill
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.table import Table as Listed

from drivekit.faults import Faulty, Unusable
from drivekit.log import read_season, run_table
from drivekit.log.added import OpenLog, open_log
from drivekit.log.blank import blank_spreadsheet
from drivekit.log.reading import source
from drivekit.log.season import season_of

Log = Callable[..., Path]
RUN = {
    "run": "7",
    "day": "2026-03-04",
    "car": "green",
    "belt": "A3",
    "idler": "smooth",
    "tension_n": "9100",
    "edge_lube": "none",
    "fate": "kept",
    "cause": "",
}


def offered(log: OpenLog, **run: str) -> dict[str, str]:
    """What is offered to somebody who takes all that is offered, but for these answers."""
    for question in log.of_run(run):
        run.setdefault(question.place.column.name, question.offered)
    return run


def test_the_next_number_today_and_the_drive_as_last_set_on_that_car_are_offered(log: Log) -> None:
    run = offered(open_log(log()), car="red")
    assert run.pop("day") == date.today().isoformat()
    # the belt of the last run on the red car was retired on it
    expected = {"run": "7", "car": "red", "belt": "", "idler": "smooth", "tension_n": "7600", "edge_lube": "every-run"}
    assert run == expected | {"fate": "", "cause": ""}
    assert offered(open_log(log(name="again")), car="green")["belt"] == "A3"


def test_what_a_run_showed_is_never_offered_and_a_cause_is_asked_of_an_end_alone(log: Log) -> None:
    asked = open_log(log())
    run = {"fate": "kept"}
    assert "cause" not in {question.place.column.name for question in asked.of_run(run)}
    run = {"fate": "broke"}
    causes = [question.known for question in asked.of_run(run) if question.place.column.name == "cause"]
    assert causes
    assert "tooth-jump" in causes[0]


def test_a_measurement_of_tension_is_not_offered_beside_a_tension_that_was_given(log: Log) -> None:
    runs = "run,day,car,belt,idler,tension_n,span_hz,span_mm,fate\n1,2026-03-01,red,A1,smooth,,60,300,kept\n"
    asked = open_log(log("belt,mass_g_per_m\nA1,500\n", runs))
    assert offered(asked)["span_hz"] == "60"
    given = offered(asked, tension_n="8000")
    assert (given["span_hz"], given["span_mm"]) == ("", "")


def test_a_meeting_and_a_round_are_offered_on_their_own_day_alone(log: Log) -> None:
    runs = "run,day,meeting,car,belt,idler,fate\n1,2026-03-01,March,red,A1,smooth,kept\n"
    asked = open_log(log("belt\nA1\n", runs))
    assert offered(asked, day="2026-03-01")["meeting"] == "March"
    assert offered(asked, day="2026-03-02")["meeting"] == ""


def test_units_words_and_days_are_those_of_the_log_s_own_headings(log: Log, tmp_path: Path) -> None:
    runs = "No,Date,Car,Belt,Roller,Pull lb,End\n1,3/7/2026,red,A1,S,1800,ok\n2,3/7/2026,red,A1,T,1700,ok\n"
    own = tmp_path / "map.toml"
    own.write_text(
        '[belts]\nBelt = "belt"\n[runs]\nNo = "run"\nDate = "day"\nCar = "car"\nBelt = "belt"\nRoller = "idler"\n'
        '"Pull lb" = "tension_lbf"\nEnd = "fate"\n[words.idler]\ns = "smooth"\nt = "toothed"\n'
        '[words.fate]\nok = "kept"\nlost = "broke"\n[days]\norder = "month first"\n'
    )
    asked = open_log(log("Belt\nA1\n", runs), own)
    run: dict[str, str] = {}
    by_name = {}
    for question in asked.of_run(run):
        by_name[question.place.column.name] = question
        run[question.place.column.name] = question.offered
    assert by_name["tension_n"].label == "Tension, cold, one span, lbf"
    assert by_name["tension_n"].offered == "1700"
    assert by_name["idler"].known == ("S", "T")
    assert by_name["fate"].known == ("ok", "trimmed", "retired", "lost")
    today = date.today()
    assert run["day"] == f"{today.month}/{today.day}/{today.year}"
    named, _ = asked.named({"Roller": "S", "End": "lost", "pull LB": "1750", "fate": "ok"})
    files = asked.files(named)
    assert files["runs.csv"].decode().splitlines()[-1] == f"3,{run['day']},red,A1,S,1750,ok"
    added = season_of(source(asked.path, files), own).runs.iloc[-1]
    assert added["idler"] == "smooth"
    assert added["tension_n"] == pytest.approx(1750 * 4.4482216152605)


def test_a_heading_that_is_none_is_answered_with_the_nearest(log: Log) -> None:
    with pytest.raises(Unusable, match=r'"tension_lbf" is no heading of runs.csv that is read; did you mean tension_n'):
        open_log(log()).named({"tension_lbf": "1700"})


BAD = {
    "a word that is none": ({"idler": "tothed"}, ("runs", "idler"), "did you mean toothed"),
    "an impossible number": ({"tension_n": "8000000"}, ("runs", "tension_n"), "50 to 50000 N is possible"),
    "a decimal comma": ({"tension_n": "8000,5"}, ("runs", "tension_n"), "write 8000.5"),
    "a day that goes back": ({"day": "2026-03-01"}, ("runs", "day"), "goes back"),
    "a number there twice": ({"run": "6"}, ("runs", "run"), "line 7 too"),
    "a belt that ended": ({"belt": "A1"}, ("runs", "belt"), "makes no more runs"),
    "a belt unheard of": ({"belt": "A9"}, ("runs", "belt"), "is no belt of belts.csv"),
    "no fate": ({"fate": ""}, ("runs", "fate"), "one of kept"),
    "an end without its cause": ({"fate": "broke"}, ("runs", "cause"), "though the belt broke"),
    "a cause of a kept belt": ({"cause": "sold"}, ("runs", "cause"), "leave the cause blank"),
}


@pytest.mark.parametrize("bad", BAD)
def test_an_answer_is_found_wrong_as_check_finds_it_and_no_file_is_made(log: Log, bad: str) -> None:
    answers, where, words = BAD[bad]
    asked = open_log(log())
    faults = [fault for fault in asked.wrong(RUN | answers) if not fault.warning]
    assert [asked.place_of(fault) for fault in faults] == [where]
    assert words in str(faults[0])
    with pytest.raises(Faulty, match=words.split(",")[0]):
        asked.files(RUN | answers)


def test_a_new_belt_is_offered_what_the_last_one_is_made_of_and_gets_its_row(log: Log) -> None:
    asked = open_log(log())
    run = RUN | {"belt": "A4"}
    belt = {question.place.column.name: question.offered for question in asked.of_belt(run)}
    expected = {"compound": "rubber", "width_mm": "80", "mass_g_per_m": "520", "runs_before": ""}
    assert belt == expected | {"first_day": "2026-03-04"}
    files = asked.files(run, belt)
    assert list(files) == ["belts.csv", "runs.csv"]
    assert files["belts.csv"].endswith(b"\nA4,rubber,80,520,,2026-03-04\n")
    with pytest.raises(Faulty, match="is no whole number"):
        asked.files(run, belt | {"runs_before": "many"})


def test_a_log_with_faults_is_refused_in_a_sentence_and_an_empty_one_takes_its_first_run(log: Log) -> None:
    with pytest.raises(Faulty, match=r"^season: fault: has 1 fault already, so nothing is added to it; mend"):
        open_log(log(run=("A1,smooth", "A1,smoth")))
    asked = open_log(log("belt\n", "run,day,car,belt,idler,fate\n", name="empty"))
    run, belt = asked.named({"car": "red", "belt": "A1", "idler": "smooth", "fate": "kept", "belts.belt": "A1"})
    grown = source(asked.path, asked.files(run, belt))
    assert run_table(season_of(grown))["age"].tolist() == [1]


def test_a_log_that_was_changed_meanwhile_is_left_as_it_is(log: Log) -> None:
    folder = log()
    asked = open_log(folder)
    with (folder / "runs.csv").open("a") as file:
        file.write("7,2026-03-03,green,A3,smooth,9000,none,kept,\n")
    with pytest.raises(Unusable, match="was changed meanwhile"):
        asked.files(RUN)


HEAD, ROW = "run,day,car,belt,idler,fate,note", "1,2026-03-01,red,A1,smooth,kept,"
NEW = "2,2026-03-02,red,A1,smooth,kept,"
WRITTEN = {
    "plain": (f"{HEAD}\n{ROW}\n", f"{HEAD}\n{ROW}\n{NEW}new\n"),
    "Windows, with its mark": (f"\ufeff{HEAD}\r\n{ROW}\r\n", f"\ufeff{HEAD}\r\n{ROW}\r\n{NEW}new\r\n"),
    "old line ends": (f"{HEAD}\r{ROW}\r", f"{HEAD}\r{ROW}\r{NEW}new\r"),
    "no last end": (f"{HEAD}\n{ROW}", f"{HEAD}\n{ROW}\n{NEW}new\n"),
    "blank rows below": (f"{HEAD}\n{ROW}\n,,,,,,\n\n", f"{HEAD}\n{ROW}\n{NEW}new\n,,,,,,\n\n"),
    "semicolons": (f"{HEAD}\n{ROW}\n".replace(",", ";"), f"{HEAD}\n{ROW}\n{NEW}new\n".replace(",", ";")),
    "a column of their own": (f"sky,{HEAD}\nblue,{ROW}\n", f"sky,{HEAD}\nblue,{ROW}\n,{NEW}new\n"),
    "all quoted": tuple(
        "".join(f'"{line}"\n'.replace(",", '","') for line in lines)
        for lines in ((HEAD, ROW), (HEAD, ROW, NEW + "new"))
    ),
}


@pytest.mark.parametrize("kind", WRITTEN)
def test_a_text_file_keeps_its_bytes_and_its_way_of_writing(log: Log, kind: str) -> None:
    before, after = WRITTEN[kind]
    asked = open_log(log("belt\nA1\n", before))
    run, _ = asked.named({"day": "2026-03-02", "fate": "kept", "note": "new"})
    assert asked.files(run)["runs.csv"].decode() == after


def test_separators_quotes_and_line_ends_in_an_answer_stay_one_cell(log: Log) -> None:
    asked = open_log(log("belt\nA1\n", f"{HEAD}\n{ROW}\n"))
    run, _ = asked.named({"day": "2026-03-02", "fate": "kept", "note": ' a "tear", 3 mm;\nseen late\x07 '})
    files = asked.files(run)
    assert files["runs.csv"].endswith(b',"a ""tear"", 3 mm; seen late\\x07"\n')
    assert season_of(source(asked.path, files)).runs["note"].iloc[-1] == 'a "tear", 3 mm; seen late\\x07'


# ---- spreadsheets


def spreadsheet(place: Path) -> Path:
    """A season as a person keeps one: coloured, a date format, a list, drop-downs, formulas, another sheet."""
    book = openpyxl.Workbook()
    belts, runs = book.active, book.create_sheet("Runs")
    belts.title = "Belts"
    for row in (("belt", "width_mm"), (12, 75), ("A2", 75)):
        belts.append(row)
    runs.append(("run", "day", "car", "belt", "idler", "tension_n", "half", "fate", "note"))
    for run, day in enumerate((1, 2, 3), 1):
        runs.append((run, date(2026, 3, day), "red", 12, "smooth", 8000.5, "=F2/2", "kept", None))
        runs.cell(run + 1, 2).number_format = "d mmm yyyy"
        runs.cell(run + 1, 6).fill = PatternFill("solid", fgColor="FFEE00")
        runs.cell(run + 1, 3).font = Font(bold=True)
    for line in range(2, 5):
        runs.cell(line, 9).number_format = "@"
    validation = DataValidation(type="list", formula1='"smooth,toothed"', sqref="E2:E4")
    runs.add_data_validation(validation)
    runs.add_table(Listed(displayName="AllRuns", ref="A1:I4"))
    runs["K1"], runs["K2"] = "sum", "=SUM(F2:F4)"
    book.create_sheet("Notes")["B2"] = "kept"
    book.save(place)
    # as a spreadsheet program would store it: each formula with its value
    return with_values(place)


def with_values(place: Path) -> Path:
    with zipfile.ZipFile(place) as archive:
        parts = {info.filename: archive.read(info) for info in archive.infolist()}
    part = "xl/worksheets/sheet2.xml"
    parts[part] = re.sub(rb"</f><v ?(/>|></v>)", b"</f><v>4000.25</v>", parts[part])
    with zipfile.ZipFile(place, "w") as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return place


def test_a_spreadsheet_keeps_formats_drop_downs_lists_formulas_and_its_other_sheets(tmp_path: Path) -> None:
    asked = open_log(spreadsheet(tmp_path / "season.xlsx"))
    run, _ = asked.named({"day": "2026-03-09", "fate": "kept", "tension_n": "8100", "note": "=1+1"})
    assert run["belt"] == "12"
    (name, content), *rest = asked.files(run).items()
    assert (name, rest) == ("season.xlsx", [])
    runs = openpyxl.load_workbook(io.BytesIO(content))["Runs"]
    above, added = list(runs.iter_rows(min_row=4, max_row=5))
    values = [cell.value for cell in added[:9]]
    assert values[1].date() == date(2026, 3, 9)
    assert values[:1] + values[2:] == [4, "red", 12, "smooth", 8100, None, "kept", "=1+1"]
    assert added[8].data_type == "s"
    for one, other in zip(above[:9], added[:9], strict=True):
        if other.value is not None:
            assert one.number_format == other.number_format
            assert (one.font.b, one.fill.fgColor.rgb) == (other.font.b, other.fill.fgColor.rgb)
    assert str(runs.data_validations.dataValidation[0].sqref) == "E2:E5"
    assert runs.tables["AllRuns"].ref == runs.tables["AllRuns"].autoFilter.ref == "A1:I5"
    before, after = (zipfile.ZipFile(source_) for source_ in (tmp_path / "season.xlsx", io.BytesIO(content)))
    assert before.namelist() == after.namelist()
    changed = {part for part in before.namelist() if before.read(part) != after.read(part)}
    assert changed == {"xl/worksheets/sheet2.xml", "xl/tables/table1.xml"}
    values_of = openpyxl.load_workbook(io.BytesIO(content), data_only=True)["Runs"]
    assert values_of["G3"].value == 4000.25


def test_a_new_belt_of_a_spreadsheet_stands_on_its_sheet(tmp_path: Path) -> None:
    asked = open_log(spreadsheet(tmp_path / "season.xlsx"))
    run, belt = asked.named({"day": "2026-03-09", "belt": "A3", "fate": "kept", "belts.width_mm": "80"})
    grown = season_of(source(asked.path, asked.files(run, belt)))
    assert grown.belts.iloc[-1].to_dict() == {"belt": "A3", "width_mm": 80.0}
    assert grown.runs["belt"].iloc[-1] == "A3"


def test_a_blank_row_with_formats_of_its_own_is_filled(tmp_path: Path) -> None:
    place = spreadsheet(tmp_path / "season.xlsx")
    book = openpyxl.load_workbook(place)
    for cell in book["Runs"][5]:
        cell.fill = PatternFill("solid", fgColor="00CCFF")
    book.save(place)
    asked = open_log(place)
    run, _ = asked.named({"day": "2026-03-09", "fate": "kept"})
    runs = openpyxl.load_workbook(io.BytesIO(asked.files(run)["season.xlsx"]))["Runs"]
    assert [runs[cell].fill.fgColor.rgb for cell in ("A5", "C5", "H5")] == ["0000CCFF"] * 3
    assert (runs["A5"].value, runs["B5"].number_format) == (4, "d mmm yyyy")


def test_the_blank_spreadsheet_takes_its_first_run_and_its_first_belt(tmp_path: Path) -> None:
    place = tmp_path / "new.xlsx"
    book = openpyxl.load_workbook(io.BytesIO(blank_spreadsheet()))
    for sheet in ("belts", "runs"):
        book[sheet].delete_rows(2)
    book.save(place)
    asked = open_log(place)
    cells = {"day": "2026-03-09", "car": "red", "belt": "A1", "idler": "smooth", "fate": "kept", "belts.belt": "A1"}
    run, belt = asked.named(cells)
    content = asked.files(run, belt)["new.xlsx"]
    assert run_table(season_of(source(place, {"new.xlsx": content})))["age"].tolist() == [1]
    assert len(openpyxl.load_workbook(io.BytesIO(content))["runs"].data_validations.dataValidation) > 10


@st.composite
def grown_logs(draw: st.DrawFn) -> tuple[str, str, list[str], dict[str, str]]:
    """A sound log in some way of writing, as rows, and answers for a run more."""
    delimiter, end = draw(st.sampled_from([",", ";"])), draw(st.sampled_from(["\n", "\r\n", "\r"]))
    text = st.text(st.characters(exclude_categories=("C", "Z")), max_size=8)
    cars, idlers, tensions = (
        st.sampled_from(values) for values in (["red", "blue"], ["smooth", "toothed"], ["", "8000", "7.5e3"])
    )
    rows = [
        [str(run), "2026-03-01", draw(cars), "A1", draw(idlers), draw(tensions), "kept", draw(text)]
        for run in range(1, draw(st.integers(1, 5)) + 1)
    ]
    run = {
        "run": str(len(rows) + draw(st.integers(1, 3))),
        "day": draw(st.sampled_from(["2026-03-01", "2026-03-02"])),
        "car": draw(st.sampled_from(["red", "blue", 'the "third", old'])),
        "belt": "A1",
        "idler": draw(idlers),
        "fate": draw(st.sampled_from(["kept", "trimmed"])),
        "tension_n": draw(st.sampled_from(["", "9000", "8123.25"])),
        "note": draw(text),
    }
    return delimiter, end, rows, run


@settings(deadline=None, max_examples=60)
@given(grown_logs())
def test_a_log_with_a_run_added_reads_as_the_log_and_that_row(drawn) -> None:
    delimiter, end, rows, run = drawn
    headings = ["run", "day", "car", "belt", "idler", "tension_n", "fate", "note"]

    def written(folder: str, lines: list[list[str]]) -> Path:
        text = io.StringIO()
        csv.writer(text, delimiter=delimiter, lineterminator=end).writerows([headings, *lines])
        (Path(folder) / "runs.csv").write_bytes(text.getvalue().encode())
        (Path(folder) / "belts.csv").write_text("belt\nA1\n")
        return Path(folder)

    with tempfile.TemporaryDirectory() as one, tempfile.TemporaryDirectory() as other:
        asked = open_log(written(one, rows))
        files = asked.files(run)
        assert files["runs.csv"].startswith((Path(one) / "runs.csv").read_bytes())
        (Path(one) / "runs.csv").write_bytes(files["runs.csv"])
        added = read_season(one)
        by_hand = read_season(written(other, [*rows, [run[name].strip() for name in headings]]))
    for name in added.runs:
        np.testing.assert_array_equal(added.runs[name], by_hand.runs[name])
