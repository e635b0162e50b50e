"""What `drivekit new` writes: a blank log of the log's own columns, and the run sheet drawn from the same."""

import errno

import pytest

from drivekit.begin import new_log
from drivekit.faults import Unusable
from drivekit.lab.drive_set_up import run_blanks
from drivekit.log import RUNS, check_season, read_season
from drivekit.log.columns import EXAMPLE
from drivekit.show.sheet import run_sheet

SHEETS = ("run-sheet.pdf", "run-sheet-letter.pdf")


@pytest.mark.parametrize(
    ("name", "files"),
    [("season", ("belts.csv", "runs.csv")), ("season.xlsx", ("season.xlsx[belts]", "season.xlsx[runs]"))],
)
def test_the_example_row_is_all_that_is_wrong_with_a_blank_log(tmp_path, name, files) -> None:
    new_log(tmp_path / name)
    assert [str(fault) for fault in check_season(tmp_path / name)] == [
        f'{file}:2:belt: fault: "{EXAMPLE}" is the example row of the blank log, still there; delete the row'
        for file in files
    ]


def test_a_blank_log_has_its_run_sheet_beside_it_and_nothing_else(tmp_path) -> None:
    place, beside = tmp_path / "seasons" / "next", tmp_path / "sheets" / "next.xlsx"
    assert new_log(place) == tuple(place / name for name in ("belts.csv", "runs.csv", "README.md", *SHEETS))
    assert new_log(beside) == (beside, *(beside.parent / name for name in SHEETS))
    for folder in (place, beside.parent):
        assert (folder / "run-sheet.pdf").read_bytes() == run_sheet(run_blanks())
        assert (folder / "run-sheet-letter.pdf").read_bytes() == run_sheet(run_blanks(), "Letter")
    assert [other.name for other in (tmp_path / "seasons").iterdir()] == ["next"]
    assert sorted(other.name for other in beside.parent.iterdir()) == sorted(["next.xlsx", *SHEETS])
    assert sorted(other.name for other in place.iterdir()) == sorted(["README.md", "belts.csv", *SHEETS, "runs.csv"])
    assert place.stat().st_mode & 0o444 == 0o444


def test_a_filled_blank_log_is_a_season(tmp_path) -> None:
    new_log(tmp_path / "season")
    for file in ("belts.csv", "runs.csv"):
        text = (tmp_path / "season" / file).read_text()
        (tmp_path / "season" / file).write_text(text.replace(EXAMPLE, "B1"))
    season = read_season(tmp_path / "season")
    assert season.warnings == ()
    assert season.absent == ()
    assert season.runs["tension_n"].tolist() == [8000.0]


def refusal(path) -> str:
    with pytest.raises(Unusable) as refused:
        new_log(path)
    return str(refused.value)


def test_nothing_that_is_there_is_written_over(tmp_path) -> None:
    (tmp_path / "season").mkdir()
    (tmp_path / "season" / "notes.txt").write_text("mine")
    assert refusal(tmp_path / "season") == f"{tmp_path / 'season'} is there already: name a folder that is not."
    (tmp_path / "file").write_text("mine")
    assert refusal(tmp_path / "file") == f"{tmp_path / 'file'} is there already: name a folder that is not."
    assert refusal(tmp_path / "file" / "season").endswith("cannot be written: Not a directory")
    new_log(tmp_path / "one.xlsx")
    assert refusal(tmp_path / "one.xlsx").endswith("one.xlsx is there already: name a place where it is not.")
    new_log(tmp_path / "two.xlsx")  # the run sheet beside it is the same
    (tmp_path / "run-sheet.pdf").write_text("mine")
    assert refusal(tmp_path / "three.xlsx").endswith("run-sheet.pdf is there already: name a place where it is not.")
    assert not (tmp_path / "three.xlsx").exists()


def test_an_empty_folder_is_filled_even_from_within(tmp_path, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    new_log(".")
    assert sorted(file.name for file in tmp_path.iterdir()) == sorted(["README.md", "belts.csv", *SHEETS, "runs.csv"])


def test_every_column_of_a_run_is_a_blank_marked_where_it_must_be_filled() -> None:
    blanks = run_blanks()
    assert [blank.label.removeprefix("● ") for blank in blanks] == [column.label for column in RUNS]
    assert [blank.label.startswith("●") for blank in blanks] == [column.required for column in RUNS]
    by_label = {blank.label: blank for blank in blanks}
    assert by_label["with free span"].units == ("mm", "in")
    assert by_label["or: span rings at"].units == ("Hz",)
    assert by_label["Adjuster turns"].units == ()


@pytest.mark.parametrize("name", ["next", "next/season.xlsx"])
def test_a_disk_that_fills_up_leaves_no_half_of_a_log(tmp_path, monkeypatch, name) -> None:
    written = []

    def to_disk(path, content) -> None:
        if written:
            raise OSError(errno.ENOSPC, "No space left on device")
        path.write_bytes(content)
        written.append(path)

    monkeypatch.setattr("drivekit.folder._to_disk", to_disk)
    assert refusal(tmp_path / name) == f"{tmp_path / name} cannot be written: No space left on device"
    assert len(written) == 1
    assert list(tmp_path.iterdir()) == []


def test_a_toml_file_is_a_blank_drive_and_one_that_is_there_stays(tmp_path) -> None:
    place = tmp_path / "mine.toml"
    assert new_log(place) == (place,)
    assert "[belt]" in place.read_text()
    assert [file.name for file in tmp_path.iterdir()] == ["mine.toml"]
    place.write_text("mine")
    assert refusal(place) == f"{place} is there already: name a file that is not."
    assert place.read_text() == "mine"


def test_grease_is_drawn_for_a_test_alone(tmp_path):
    with pytest.raises(Unusable, match="--grease draws the grease of a test: name the log that sizes it"):
        new_log(tmp_path / "next", grease=True)
    assert not (tmp_path / "next").exists()
