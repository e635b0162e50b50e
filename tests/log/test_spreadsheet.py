import csv
import datetime
import io
import zipfile
from pathlib import Path

import pandas as pd
import pytest
from openpyxl import Workbook

from drivekit.faults import Unusable
from drivekit.log import check_season, read_season

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
            'season.xlsx[runs]:4:tension_n: fault: "True" is no number; '
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


def refusal(place: Path) -> str:
    with pytest.raises(Unusable) as refused:
        check_season(place)
    return str(refused.value)


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


def test_a_small_file_that_unpacks_to_gigabytes_is_refused(log, tmp_path, monkeypatch) -> None:
    monkeypatch.setattr("drivekit.log.reading.LARGEST_UNPACKED_BYTES", 1000)
    assert refusal(spreadsheet(log(), tmp_path / "season.xlsx")).startswith("season.xlsx unpacks to 0.0 GB")
