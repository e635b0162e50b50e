"""The command for a drive as a person meets it: text alone, or page, picture and cards; every fault in one go."""

from __future__ import annotations

import io
import os
from pathlib import Path

import pytest
from pypdf import PdfReader

from drivekit.cautions import CAUTIONS
from drivekit.cli import main
from drivekit.drive.drive_file import read_drive
from drivekit.drive.set_up import set_up
from drivekit.log.columns import RUNS

DRIVES = Path(__file__).parents[1] / "data" / "drives"
TOOTHED = DRIVES / "toothed-inside.toml"
CARDS = ("set-up-card.pdf", "set-up-card-letter.pdf", "record-card.pdf", "record-card-letter.pdf")
WRITTEN = {"drive.html", "belt-path.svg", "belt-path.png", *CARDS}
Said = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def spoiled(here: Path, *pairs: tuple[str, str]) -> Path:
    text = TOOTHED.read_text()
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new, 1)
    place = here / "mine.toml"
    place.write_text(text)
    return place


@pytest.mark.parametrize("drive", sorted(DRIVES.glob("*.toml")), ids=lambda place: place.stem)
def test_the_set_up_is_printed_and_nothing_is_written(here: Path, drive: Path, capsys: Said) -> None:
    assert main(["drive", str(drive)]) == 0
    said = capsys.readouterr()
    assert said.out == f"{set_up(read_drive(drive))}\n"
    assert all(caution in said.out for caution in CAUTIONS)
    assert "goes slack at" in said.out
    assert said.err == ""
    assert list(here.iterdir()) == []


def test_a_folder_takes_the_page_the_picture_and_both_cards(here: Path, capsys: Said) -> None:
    assert main(["drive", str(TOOTHED), "--out", "out"]) == 0
    text, where = capsys.readouterr().out.rstrip("\n").rsplit("\n\n", 1)
    assert text == str(set_up(read_drive(TOOTHED)))
    first, second, third, last = (f"out/{name}" for name in CARDS)
    assert where == f"The page is out/drive.html; the cards to print are {first}, {second}, {third} and {last}."
    assert {path.name for path in (here / "out").iterdir()} == WRITTEN
    assert (here / "out" / "belt-path.png").read_bytes().startswith(b"\x89PNG")
    card, record = (
        " ".join(
            word
            for page in PdfReader(io.BytesIO((here / "out" / name).read_bytes())).pages
            for word in page.extract_text().split()
        )
        for name in ("set-up-card.pdf", "record-card.pdf")
    )
    assert "toothed idler inside (invented example)" in card
    assert all(column.label in record for column in RUNS if column.part)
    page = (here / "out" / "drive.html").read_text()
    assert all(sentence in text for text in (card, record) for sentence in CAUTIONS)
    assert "toothed idler inside" in page


def test_the_same_drive_gives_the_same_bytes(here: Path, capsys: Said) -> None:
    assert main(["drive", str(TOOTHED), "--out", "one"]) == main(["drive", str(TOOTHED), "--out", "two"]) == 0
    assert {path.name: path.read_bytes() for path in (here / "one").iterdir()} == {
        path.name: path.read_bytes() for path in (here / "two").iterdir()
    }


def test_an_earlier_set_stays_whole_when_the_drawing_cannot_be_written(
    here: Path, capsys: Said, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert main(["drive", str(TOOTHED), "--out", "out"]) == 0
    before = {path.name: path.read_bytes() for path in (here / "out").iterdir()}

    def full(descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("drivekit.folder.os.fsync", full)
    capsys.readouterr()
    assert main(["drive", str(DRIVES / "smooth-inside.toml"), "--out", "out"]) == 2
    said = capsys.readouterr()
    assert said.err == "drivekit: out cannot be written: No space left on device.\n"
    assert said.out == ""
    assert {path.name: path.read_bytes() for path in (here / "out").iterdir()} == before


def test_a_drive_beside_findings_leaves_them_alone(here: Path, capsys: Said) -> None:
    (here / "out").mkdir()
    (here / "out" / "findings.json").write_text("{}")
    assert main(["drive", str(TOOTHED), "--out", "out"]) == 0
    assert (here / "out" / "findings.json").read_text() == "{}"
    assert {path.name for path in (here / "out").iterdir()} == WRITTEN | {"findings.json"}


def test_every_fault_is_said_at_once_and_nothing_is_written(here: Path, capsys: Said) -> None:
    drive = spoiled(here, ("width_mm", "widht_mm"), ("crank_rpm = 7000", 'crank_rpm = "fast"'))
    assert main(["drive", str(drive), "--out", "out"]) == 1
    said = capsys.readouterr()
    assert said.out == ""
    *faults, closing = said.err.splitlines()
    assert [fault.split(": ")[0] for fault in faults] == [
        "mine.toml:8:belt.width_mm",
        "mine.toml:11:belt.widht_mm",
        "mine.toml:59:engine.crank_rpm",
    ]
    assert "did you mean width_mm?" in faults[1]
    assert closing == "3 faults, 0 warnings; nothing was written."
    assert os.listdir(here) == ["mine.toml"]


def test_a_belt_that_cannot_run_there_is_a_fault_in_one_sentence(here: Path, capsys: Said) -> None:
    assert main(["drive", str(spoiled(here, ("teeth = 130", "teeth = 90")))]) == 1
    fault, _ = capsys.readouterr().err.splitlines()
    assert fault.startswith("mine.toml:34:pulley[2]: fault: a belt of 90 teeth does not fit: ")


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("nowhere.toml", "drivekit: There is no drive file nowhere.toml."),
        ("two\nlines.toml", "drivekit: There is no drive file two\\nlines.toml."),
        ("folder", "drivekit: folder is no drive file: it is a folder."),
        ("picture.png", "drivekit: picture.png is no drive file: it is not text in UTF-8."),
        ("notes.txt", "drivekit: notes.txt is no drive file: it cannot be read as TOML (line "),
    ],
)
def test_what_is_no_drive_file_is_code_2_with_one_sentence(here: Path, name: str, sentence: str, capsys: Said) -> None:
    (here / "folder").mkdir()
    (here / "picture.png").write_bytes(b"\x89PNG\r\n\x1a\n\xff")
    (here / "notes.txt").write_text("the drive is fine")
    assert main(["drive", name, "--out", "out"]) == 2
    said = capsys.readouterr()
    assert len(said.err.splitlines()) == 1
    assert said.err.startswith(sentence)
    assert said.out == ""
    assert not (here / "out").exists()


def test_a_file_where_the_drawings_should_go_is_refused(here: Path, capsys: Said) -> None:
    (here / "taken").write_text("mine")
    assert main(["drive", str(TOOTHED), "--out", "taken"]) == 2
    assert capsys.readouterr().err == "drivekit: taken is a file; name a folder with --out.\n"
    assert (here / "taken").read_text() == "mine"
