import io
import re

import pytest
from openpyxl import load_workbook

from drivekit.cautions import CAUTIONS
from drivekit.log import BELTS, RUNS
from drivekit.log.blank import blank_files, blank_spreadsheet, columns_in_words
from drivekit.units import INCH_POUND


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
    for words in (*CAUTIONS, "`_n` in N, or `_lbf` in lbf", "50 to 50000 N", '"S" = "smooth"', "--columns map.toml"):
        assert words in files["README.md"]


PLANNED = [{"belt": "T01", "trial_idler": "toothed", "trial_block": "1"}, {"belt": "T02", "trial_idler": "smooth"}]


def test_belts_that_a_plan_drew_stand_in_place_of_the_examples() -> None:
    files = blank_files(PLANNED)
    heading, *belts = files["belts.csv"].decode().splitlines()
    place = heading.split(",").index("trial_idler")
    assert [row.split(",")[0] for row in belts] == ["T01", "T02"]
    assert [row.split(",")[place] for row in belts] == ["toothed", "smooth"]
    assert files["runs.csv"].decode().splitlines() == [",".join(column.name for column in RUNS)]
    book = load_workbook(io.BytesIO(blank_spreadsheet(PLANNED)))
    assert [cell.value for cell in book["belts"]["A"]] == ["belt", "T01", "T02"]
    assert [cell.value for cell in book["belts"][2]][[column.name for column in BELTS].index("trial_block")] == 1
    assert book["runs"].max_row == 1


def limits_of(offer) -> tuple[str, str]:
    return offer.formula1, offer.formula2


def limit_under(heading: str, cell: str, formula: str) -> float:
    """Work out a limit of a cell rule as a spreadsheet would, where the heading is as said."""
    parts = re.fullmatch(r'IF\(([A-Z]+\$1)="(\w+)",(\S+),(\S+)\)', formula)
    if parts is None:
        return float(formula)
    assert parts[1].replace("$", "") == cell
    return float(parts[3] if heading == parts[2] else parts[4])


def test_the_rules_of_cells_follow_the_heading_into_inch_pound_units(sheets) -> None:
    sheet, said = sheets["runs"], []
    offers = {str(offer.sqref): offer for offer in sheet.data_validations.dataValidation}
    for index, column in enumerate(RUNS, 1):
        if column.twin:
            heading = sheet.cell(1, index)
            assert f"change this heading to {column.twin}." in heading.comment.text
            offer = offers[f"{heading.column_letter}2:{heading.column_letter}5000"]
            limits = [limit_under(column.twin, heading.coordinate, formula) for formula in limits_of(offer)]
            twin = INCH_POUND[column.unit]
            assert [twin.metric(limit) for limit in limits] == pytest.approx([column.low, column.high])
            said.append(offer.error)
    assert "a number, 50 to 50000 N (under tension_lbf: in lbf)" in said
    assert "_n in N, or _lbf in lbf" in [cell.value for cell in sheets["columns"]["A"]]


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
                limits = [limit_under(column.name, heading.coordinate, offer) for offer in limits_of(offers[cells])]
                assert limits == [column.low, column.high]
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
