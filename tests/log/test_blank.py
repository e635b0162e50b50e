import pytest
from openpyxl import load_workbook

from drivekit.cautions import CAUTIONS
from drivekit.faults import Unusable
from drivekit.log import BELTS, RUNS, check_season, read_season
from drivekit.log.blank import columns_in_words, write_blank
from drivekit.log.columns import EXAMPLE

SHEET = b"%PDF a run sheet"


@pytest.fixture
def sheets(tmp_path):
    write_blank(tmp_path / "season.xlsx", SHEET)
    return load_workbook(tmp_path / "season.xlsx")


@pytest.mark.parametrize(
    ("name", "files"),
    [("season", ("belts.csv", "runs.csv")), ("season.xlsx", ("season.xlsx[belts]", "season.xlsx[runs]"))],
)
def test_the_example_row_is_all_that_is_wrong_with_a_blank_log(tmp_path, name, files) -> None:
    write_blank(tmp_path / name, SHEET)
    assert [str(fault) for fault in check_season(tmp_path / name)] == [
        f'{file}:2:belt: fault: "{EXAMPLE}" is the example row of the blank log, still there; delete the row'
        for file in files
    ]


def test_a_blank_folder_holds_headings_meanings_and_the_run_sheet(tmp_path) -> None:
    place = tmp_path / "seasons" / "next"
    assert write_blank(place, SHEET) == tuple(
        place / name for name in ("belts.csv", "runs.csv", "README.md", "run-sheet.pdf")
    )
    assert (place / "runs.csv").read_text().splitlines()[0] == ",".join(column.name for column in RUNS)
    assert (place / "run-sheet.pdf").read_bytes() == SHEET
    readme = (place / "README.md").read_text()
    for column in (*BELTS, *RUNS):
        assert f"| `{column.name}` | {'yes' if column.required else ''} | {column.holds} | {column.meaning} |" in readme
    for words in (*CAUTIONS, "`_n` in N, or `_lbf` in lbf", "50 to 50000 N"):
        assert words in readme
    assert [other.name for other in (tmp_path / "seasons").iterdir()] == ["next"]
    assert place.stat().st_mode & 0o444 == 0o444


def test_a_filled_blank_log_is_a_season(tmp_path) -> None:
    write_blank(tmp_path / "season", SHEET)
    for file in ("belts.csv", "runs.csv"):
        text = (tmp_path / "season" / file).read_text()
        (tmp_path / "season" / file).write_text(text.replace(EXAMPLE, "B1"))
    season = read_season(tmp_path / "season")
    assert season.warnings == ()
    assert season.absent == ()
    assert season.runs["tension_n"].tolist() == [8000.0]


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


def refusal(path) -> str:
    with pytest.raises(Unusable) as refused:
        write_blank(path, SHEET)
    return str(refused.value)


def test_nothing_that_is_there_is_written_over(tmp_path) -> None:
    (tmp_path / "season").mkdir()
    (tmp_path / "season" / "notes.txt").write_text("mine")
    assert refusal(tmp_path / "season") == f"{tmp_path / 'season'} is there already: name a folder that is not."
    (tmp_path / "file").write_text("mine")
    assert refusal(tmp_path / "file") == f"{tmp_path / 'file'} is there already: name a folder that is not."
    assert refusal(tmp_path / "file" / "season").endswith("cannot be written: File exists.")
    write_blank(tmp_path / "one.xlsx", SHEET)
    assert refusal(tmp_path / "one.xlsx").endswith("one.xlsx is there already: name a place where it is not.")
    write_blank(tmp_path / "two.xlsx", SHEET)  # the run sheet beside it is the same
    (tmp_path / "run-sheet.pdf").write_text("mine")
    assert refusal(tmp_path / "three.xlsx").endswith("run-sheet.pdf is there already: name a place where it is not.")
    assert not (tmp_path / "three.xlsx").exists()


def test_an_empty_folder_is_filled_even_from_within(tmp_path, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    write_blank(".", SHEET)
    assert sorted(file.name for file in tmp_path.iterdir()) == ["README.md", "belts.csv", "run-sheet.pdf", "runs.csv"]


def test_the_meanings_are_a_table_for_the_documents() -> None:
    heading, rule, first, *_ = columns_in_words(RUNS).splitlines()
    assert heading == "| column | must be filled | what it holds | what it means |"
    assert rule == "|---|---|---|---|"
    assert first == (
        "| `run` | yes | a whole number, 0 to 1000000000 | "
        "Number of the run; each number once, in the order the runs were made. |"
    )
