import io

import pytest
from openpyxl import load_workbook

from drivekit.cautions import CAUTIONS
from drivekit.log import BELTS, RUNS
from drivekit.log.blank import blank_files, blank_spreadsheet, columns_in_words


@pytest.fixture
def sheets():
    return load_workbook(io.BytesIO(blank_spreadsheet()))


def test_the_files_of_a_blank_log_hold_headings_and_what_each_column_means() -> None:
    files = {name: content.decode() for name, content in blank_files().items()}
    assert list(files) == ["belts.csv", "runs.csv", "README.md"]
    assert files["runs.csv"].splitlines()[0] == ",".join(column.name for column in RUNS)
    for column in (*BELTS, *RUNS):
        row = f"| `{column.name}` | {'yes' if column.required else ''} | {column.holds} | {column.meaning} |"
        assert row in files["README.md"]
    for words in (*CAUTIONS, "`_n` in N, or `_lbf` in lbf", "50 to 50000 N"):
        assert words in files["README.md"]


def test_a_blank_spreadsheet_offers_every_level_and_belt(sheets) -> None:
    for name, columns in (("belts", BELTS), ("runs", RUNS)):
        sheet = sheets[name]
        offers = {str(offer.sqref): offer for offer in sheet.data_validations.dataValidation}
        for index, column in enumerate(columns, 1):
            heading = sheet.cell(1, index)
            cells = f"{heading.column_letter}2:{heading.column_letter}5000"
            if column.levels:
                assert offers[cells].formula1 == f'"{",".join(column.levels)}"'
            elif column.is_number and not column.question:
                assert (float(offers[cells].formula1), float(offers[cells].formula2)) == (column.low, column.high)
            elif (name, column.name) == ("runs", "belt"):
                assert offers[cells].formula1 == "belts!$A$2:$A$5000"
            else:
                assert cells not in offers


def test_a_blank_spreadsheet_keeps_its_headings_in_sight_and_says_what_they_mean(sheets) -> None:
    for name, columns in (("belts", BELTS), ("runs", RUNS)):
        sheet = sheets[name]
        assert sheet.freeze_panes == "B2"
        for index, column in enumerate(columns, 1):
            heading = sheet.cell(1, index)
            assert heading.value == column.name
            assert heading.comment.text.startswith(f"{column.meaning}\n")
            assert column.unit in heading.comment.text
            assert heading.comment.text.endswith("\nMust be filled.") == column.required
    said = [str(cell.value) for row in sheets["columns"].iter_rows() for cell in row]
    assert set(CAUTIONS) < set(said)
    assert {column.meaning for column in (*BELTS, *RUNS)} < set(said)


def test_the_meanings_are_a_table_for_the_documents() -> None:
    heading, rule, first, *_ = columns_in_words(RUNS).splitlines()
    assert heading == "| column | must be filled | what it holds | what it means |"
    assert rule == "|---|---|---|---|"
    assert first == (
        "| `run` | yes | a whole number, 0 to 1000000000 | "
        "Number of the run; each number once, in the order the runs were made. |"
    )
