import csv
import datetime
import hashlib
import io
import json
import os
import zipfile
from pathlib import Path

import pandas as pd
import pytest
from openpyxl import Workbook

from drivekit.faults import Unusable
from drivekit.log import check_season, read_season
from drivekit.log.reading import LARGEST_BYTES, source


def refusal(path) -> str:
    with pytest.raises(Unusable) as refused:
        check_season(path)
    return str(refused.value)


def test_a_path_that_is_not_there_is_refused(tmp_path) -> None:
    assert refusal(tmp_path / "none") == f"{tmp_path / 'none'} is not there."
    assert refusal(tmp_path / ("x" * 300)).endswith("cannot be read: File name too long.")


def test_a_folder_without_its_files_is_refused(tmp_path) -> None:
    tail = ": a season log is a folder with belts.csv and runs.csv, or one .xlsx file."
    assert refusal(tmp_path) == f"{tmp_path} holds no belts.csv{tail}"
    (tmp_path / "belts.csv").write_text("belt\nA1\n")
    assert refusal(tmp_path) == f"{tmp_path} holds no runs.csv{tail}"
    (tmp_path / "Runs.CSV").write_text("run\n1\n")
    assert refusal(tmp_path) == f"{tmp_path} holds no runs.csv (it has Runs.CSV: rename it){tail}"


def test_another_file_is_refused(log) -> None:
    place = log()
    assert refusal(place / "runs.csv") == (
        "runs.csv is no season log: name a folder that holds belts.csv and runs.csv, or one .xlsx file."
    )


def test_a_folder_in_a_file_s_place_is_refused(log) -> None:
    place = log()
    (place / "runs.csv").unlink()
    (place / "runs.csv").mkdir()
    assert refusal(place) == f"{place / 'runs.csv'} is a folder where a file should stand."


def test_what_is_no_ordinary_file_is_refused(log) -> None:
    place = log()
    (place / "runs.csv").unlink()
    os.mkfifo(place / "runs.csv")
    assert refusal(place) == f"{place / 'runs.csv'} is no ordinary file."


def test_an_empty_file_is_refused(log) -> None:
    assert refusal(log(runs="")) == "runs.csv is empty: its first line must name the columns."
    assert refusal(log(belts="\n \n", name="b")) == "belts.csv is empty: its first line must name the columns."
    assert refusal(log(belts="\ufeff", name="c")) == "belts.csv is empty: its first line must name the columns."


def test_a_binary_file_is_refused_with_the_byte_and_line(log) -> None:
    assert refusal(log(runs=b"run,day\n1,\x00\n")) == "runs.csv is no text file: byte 11 (line 2) is zero."
    assert refusal(log(runs=b"run,note\n1,h\xe9 \n", name="b")) == (
        "runs.csv is no UTF-8 text: byte 13 (line 2) is E9; save it as UTF-8."
    )
    assert refusal(log(runs="run,day\n".encode("utf-16"), name="c")) == "runs.csv is saved as UTF-16: save it as UTF-8."


def test_a_file_too_large_is_refused_before_it_is_read(log) -> None:
    place = log()
    with (place / "runs.csv").open("r+b") as file:
        file.truncate(2_000_000_000)  # a hole: it takes no room on the disk
    assert refusal(place) == "runs.csv has 2,000 MB: a season log has at most 200 MB."
    assert LARGEST_BYTES == 200_000_000


def test_the_digest_is_of_belts_then_runs(log) -> None:
    place = log()
    both = (place / "belts.csv").read_bytes() + (place / "runs.csv").read_bytes()
    assert read_season(place).sha256 == hashlib.sha256(both).hexdigest()


def test_a_log_is_invented_only_when_the_description_beside_it_says_so(log) -> None:
    place = log()
    assert not source(place).invented
    for content, invented in (({"invented": True}, True), ({"invented": "yes"}, False), ([], False)):
        (place / "datapackage.json").write_text(json.dumps(content))
        assert read_season(place).invented is invented
    (place / "datapackage.json").write_text("{")
    assert [str(fault) for fault in read_season(place).warnings][1:] == [
        (
            "datapackage.json: warning: cannot be read, so whether the log is invented is not known; "
            "mend it or take it away"
        )
    ]


def test_a_log_is_called_by_its_folder_even_from_within(log, monkeypatch) -> None:
    monkeypatch.chdir(log())
    assert read_season(".").name == "season"


DAYS = ("day", "first_day")


def cell(heading: str, text: str) -> object:
    """Type a text the way a person's spreadsheet keeps it: numbers as numbers, days as days."""
    if not text:
        return None
    if heading in DAYS:
        return datetime.datetime.fromisoformat(text)
    try:
        return float(text)
    except ValueError:
        return text


def spreadsheet(folder: Path, place: Path, sheets: tuple[str, str] = ("belts", "runs"), change=None) -> Path:
    """Copy a log from a folder into a spreadsheet; `change` may alter the book before it is saved."""
    book = Workbook()
    book.active.title = "notes"
    book.active.append(["read me first"])
    for file, title in zip(("belts.csv", "runs.csv"), sheets, strict=True):
        sheet = book.create_sheet(title)
        headings, *rows = csv.reader((folder / file).read_text().splitlines())
        sheet.append(headings)
        for row in rows:
            sheet.append([cell(heading, text) for heading, text in zip(headings, row, strict=True)])
    if change is not None:
        change(book)
    book.save(place)
    return place


@pytest.mark.parametrize("sheets", [("belts", "runs"), (" Belts ", "RUNS")])
def test_a_spreadsheet_is_the_same_season_as_its_folder(log, tmp_path, sheets) -> None:
    place = log()
    from_folder = read_season(place)
    from_sheets = read_season(spreadsheet(place, tmp_path / "season.xlsx", sheets))
    pd.testing.assert_frame_equal(from_folder.belts, from_sheets.belts)
    pd.testing.assert_frame_equal(from_folder.runs, from_sheets.runs)
    assert from_sheets.name == "season.xlsx"
    assert [(fault.line, fault.column) for fault in from_sheets.warnings] == [(4, "runs_before")]


def said(log, tmp_path, change) -> list[str]:
    place = spreadsheet(log(), tmp_path / "season.xlsx", change=change)
    return [str(fault) for fault in check_season(place) if fault.column != "runs_before"]


def test_faults_name_the_sheet_and_its_row(log, tmp_path) -> None:
    def change(book) -> None:
        book["runs"]["F3"] = 8_000_000
        book["runs"]["E4"] = "smoth"
        book["belts"]["C2"] = "wide"

    assert said(log, tmp_path, change) == [
        (
            'season.xlsx[belts]:2:width_mm: fault: "wide" is no number; '
            "write a number, such as 75, or leave the cell blank"
        ),
        'season.xlsx[runs]:3:tension_n: fault: "8000000" is impossible; 50 to 50000 N is possible',
        'season.xlsx[runs]:4:idler: fault: "smoth" is no idler; did you mean smooth? (smooth, toothed)',
    ]


def test_a_formula_without_a_value_is_a_fault_and_with_one_is_that_value(log, tmp_path) -> None:
    def change(book) -> None:
        book["runs"]["F2"] = "=7000+1000"

    place = spreadsheet(log(), tmp_path / "season.xlsx", change=change)
    assert [str(fault) for fault in check_season(place) if not fault.warning] == [
        (
            "season.xlsx[runs]:2:tension_n: fault: is a formula whose value was never computed; "
            "open the file in a spreadsheet program and save it"
        )
    ]
    computed = tmp_path / "computed.xlsx"
    with zipfile.ZipFile(place) as old, zipfile.ZipFile(computed, "w") as new:
        for part in old.namelist():
            text = old.read(part)
            new.writestr(part, text.replace(b"<v></v>", b"<v>8000</v>").replace(b"<v />", b"<v>8000</v>"))
    assert read_season(computed).runs["tension_n"][0] == 8000.0


def test_a_day_or_a_yes_in_a_note_is_read_as_its_text(log, tmp_path) -> None:
    def change(book) -> None:
        for row, value in enumerate(["note", datetime.datetime(2026, 3, 1), True, 7.0], 1):
            book["runs"].cell(row, 10, value)

    place = spreadsheet(log(), tmp_path / "season.xlsx", change=change)
    assert read_season(place).runs["note"].tolist()[:4] == ["2026-03-01", "TRUE", "7", None]


def test_a_day_with_a_time_of_day_is_a_fault_and_so_is_an_error_value(log, tmp_path) -> None:
    def change(book) -> None:
        book["runs"]["B2"] = datetime.datetime(2026, 3, 1, 14, 30)
        book["runs"]["F3"] = "#N/A"
        book["runs"]["F4"] = True

    assert said(log, tmp_path, change) == [
        (
            'season.xlsx[runs]:2:day: fault: "2026-03-01 14:30:00" holds a time of day too; '
            "write the day alone: 2026-03-01"
        ),
        (
            'season.xlsx[runs]:3:tension_n: fault: "#N/A" is no number; '
            "write a number, such as 8000, or leave the cell blank"
        ),
        (
            'season.xlsx[runs]:4:tension_n: fault: "TRUE" is no number; '
            "write a number, such as 8000, or leave the cell blank"
        ),
    ]


def test_blank_rows_and_cells_beyond_the_headings_are_told_apart(log, tmp_path) -> None:
    def change(book) -> None:
        book["runs"].insert_rows(4)
        book["runs"]["L2"] = "beyond"
        book["runs"]["A60"] = "  "

    assert said(log, tmp_path, change) == [
        (
            "season.xlsx[runs]:2: fault: has 12 cells where the heading has 9; "
            "a comma or semicolon too many? put a text that holds one between double quotes"
        ),
        "season.xlsx[runs]:4: warning: blank row; take it out if nothing is missing there",
    ]


def test_what_is_no_spreadsheet_is_refused_in_one_sentence(log, tmp_path) -> None:
    place = tmp_path / "season.xlsx"
    again = "open it in a spreadsheet program and save it again as .xlsx."
    place.write_text("belt,compound\n")
    assert refusal(place) == f"season.xlsx is damaged, or is no .xlsx spreadsheet: {again}"
    with zipfile.ZipFile(place, "w") as archive:
        archive.writestr("letter.txt", "hello")
    assert refusal(place) == f"season.xlsx is no .xlsx spreadsheet: {again}"
    whole = spreadsheet(log(), tmp_path / "whole.xlsx").read_bytes()
    place.write_bytes(whole[: len(whole) // 2])
    assert refusal(place) == f"season.xlsx is damaged, or is no .xlsx spreadsheet: {again}"
    place.write_bytes(b"")
    assert refusal(place) == "season.xlsx is empty: its first line must name the columns."


def test_a_part_that_does_not_unpack_is_named(log, tmp_path) -> None:
    place = spreadsheet(log(), tmp_path / "season.xlsx")
    stored = io.BytesIO()
    with zipfile.ZipFile(place) as old, zipfile.ZipFile(stored, "w", zipfile.ZIP_STORED) as new:
        for part in old.namelist():
            new.writestr(part, old.read(part))
    place.write_bytes(stored.getvalue().replace(b"smooth", b"smoath", 1))
    assert refusal(place) == (
        "season.xlsx is damaged (its part xl/worksheets/sheet3.xml does not unpack): take another copy."
    )


def test_a_missing_sheet_is_refused_with_those_there(log, tmp_path) -> None:
    place = spreadsheet(log(), tmp_path / "season.xlsx", ("belts", "runs 2026"))
    assert refusal(place) == "season.xlsx has no sheet named runs (it has notes, belts, runs 2026)."


def changed_part(place: Path, number: int, old: bytes, new: bytes) -> Path:
    """Replace bytes of a sheet inside the archive, which stays sound."""
    kept = io.BytesIO(place.read_bytes())
    with zipfile.ZipFile(kept) as before, zipfile.ZipFile(place, "w", zipfile.ZIP_DEFLATED) as after:
        for part in before.namelist():
            content = before.read(part)
            if part.endswith(f"sheet{number}.xml"):
                assert old in content
                content = content.replace(old, new, 1)
            after.writestr(part, content)
    return place


def test_bad_xml_inside_a_sound_archive_is_refused_in_one_sentence(log, tmp_path) -> None:
    place = spreadsheet(log(), tmp_path / "season.xlsx")
    assert refusal(changed_part(place, 3, b"</row>", b"</rwo>")) == (
        "season.xlsx is damaged: its sheet runs cannot be read; take another copy."
    )


def test_a_row_number_beyond_a_spreadsheet_s_last_is_refused_before_rows_are_made(log, tmp_path) -> None:
    place = spreadsheet(log(), tmp_path / "season.xlsx")
    assert refusal(changed_part(place, 3, b'<row r="4"', b'<row r="99999999"')) == (
        "season.xlsx numbers a row 99,999,999: a spreadsheet has at most 1,048,576."
    )


def test_a_small_file_that_unpacks_to_gigabytes_is_refused(log, tmp_path, monkeypatch) -> None:
    monkeypatch.setattr("drivekit.log.reading.LARGEST_UNPACKED_BYTES", 1000)
    assert refusal(spreadsheet(log(), tmp_path / "season.xlsx")).startswith("season.xlsx unpacks to 0.0 GB")
