"""The stored workbooks: run from top to bottom, thin, no number typed, and guarded by what is compared."""

from __future__ import annotations

import ast
import json
import os
import re
import shutil
import subprocess
import sys
from base64 import b64decode
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from drivekit.cautions import CAUTIONS
from drivekit.notebooks import run_workbook, workbooks_in

TOP = Path(__file__).parents[1]
WORKBOOKS = workbooks_in(TOP / "workbooks")
Cell = dict[str, Any]
MARKS = "curve|band|whole|failures|censored|median|label|interval|rule|life|pulley|arc|span|force|spots|line|bar"
FIRST_SET = ("00-start-here", "01-season-log", "02-belt-life")

each = pytest.mark.parametrize("workbook", WORKBOOKS, ids=lambda place: place.stem)


def cells(workbook: Path, kind: str) -> list[Cell]:
    found = json.loads(workbook.read_bytes())["cells"]
    return [{**cell, "source": "".join(cell["source"])} for cell in found if cell["cell_type"] == kind]


def tagged(cell: Cell, tag: str) -> bool:
    return tag in cell["metadata"].get("tags", ())


def data(cell: Cell) -> Iterator[dict[str, str]]:
    """What a cell shows, by its kind of content; the picture above the words of controls stands in their HTML."""
    for output in cell["outputs"]:
        shown = {kind: "".join(text) for kind, text in output.get("data", {}).items() if isinstance(text, str | list)}
        if drawn := re.search('src="data:image/svg[+]xml;base64,([^"]*)"', shown.get("text/html", "")):
            shown["image/svg+xml"] = b64decode(drawn[1]).decode()
        yield shown


def test_the_numbered_workbooks_are_there_without_a_gap() -> None:
    assert set(FIRST_SET) <= {place.stem for place in WORKBOOKS}
    assert [place.stem[:2] for place in WORKBOOKS] == [f"{number:02d}" for number in range(len(WORKBOOKS))]


@each
def test_every_code_cell_was_run_in_order(workbook: Path) -> None:
    counts = [cell["execution_count"] for cell in cells(workbook, "code")]
    assert counts == list(range(1, len(counts) + 1))


@each
def test_every_cell_that_asks_for_something_shows_it(workbook: Path) -> None:
    for cell in cells(workbook, "code"):
        asks = any(isinstance(node, ast.Expr) for node in ast.parse(cell["source"]).body)
        assert bool(cell["outputs"]) == asks, cell["source"]
        for output in cell["outputs"]:
            assert output["output_type"] in ("execute_result", "display_data"), cell["source"]
            assert "".join(output["data"]["text/plain"]).strip(), cell["source"]


@each
def test_code_cells_are_thin_and_none_is_left_out_of_the_comparison(workbook: Path) -> None:
    for cell in cells(workbook, "code"):
        lines = cell["source"].splitlines()
        assert tagged(cell, "parameters") or len(lines) <= 2, cell["source"]
        assert all(len(line) <= 100 for line in lines)
        assert not cell["source"].rstrip().endswith(";")
        assert set(cell["metadata"].get("tags", ())) <= {"parameters"}


@each
def test_code_is_folded_but_for_the_cell_that_names_the_log(workbook: Path) -> None:
    for cell in cells(workbook, "code"):
        assert cell["metadata"].get("jupyter", {}).get("source_hidden", False) is not tagged(cell, "parameters")


@each
def test_one_parameters_cell_names_the_log_and_the_settings(workbook: Path) -> None:
    (given,) = (cell for cell in cells(workbook, "code") if tagged(cell, "parameters"))
    values: dict[str, object] = {}
    exec(given["source"], values)
    assert values["log"] == "../data/season-two"
    assert values["settings"] == {}
    of_the_drive = workbook.stem[:2] in ("06", "07")
    assert values.get("drive") == ("../data/drives/toothed-inside.toml" if of_the_drive else None)


@pytest.mark.parametrize("workbook", [place for place in WORKBOOKS if place.stem[:2] in ("06", "07")])
def test_where_someone_may_go_to_the_engine_the_cautions_come_first(workbook: Path) -> None:
    shown = [text["text/plain"] for cell in cells(workbook, "code") for text in data(cell)]
    assert shown[0] == "\n".join(CAUTIONS)


@each
def test_a_workbook_asks_answers_and_says_its_limits_and_its_sources(workbook: Path) -> None:
    words = "\n".join(cell["source"] for cell in cells(workbook, "markdown"))
    headings = re.findall(r"^#+ (.*)$", words, re.M)
    assert headings[0].startswith(workbook.stem[:2])
    assert "What this cannot tell you" in headings
    assert headings[-1] == "How it is computed"
    assert any(heading.endswith("?") for heading in headings)


@each
def test_no_number_is_typed_into_the_words(workbook: Path) -> None:
    words = "\n".join(cell["source"] for cell in cells(workbook, "markdown")).split("## How it is computed")[0]
    words = re.sub(r"^#.*$|\$[^$]*\$|`[^`]*`|\[[^\]]*\]\([^)]*\)|\bworkbook \d\d\b", "", words, flags=re.M)
    assert re.findall(r".*\d.*", words) == []


@each
def test_a_picture_s_text_lists_what_it_draws(workbook: Path) -> None:
    for cell in cells(workbook, "code"):
        for shown in data(cell):
            if "image/svg+xml" not in shown:
                continue
            listed = set(
                re.findall(
                    rf"^((?:{MARKS})\S*:\S.*?): ",
                    shown["text/plain"],
                    re.M,
                )
            )
            drawn = set(
                re.findall(
                    rf'id="((?:{MARKS})[^"]*)"',
                    shown["image/svg+xml"],
                )
            )
            assert listed
            assert listed <= drawn


def test_there_are_pictures_to_look_at() -> None:
    drawn = {
        place.stem: sum("image/svg+xml" in shown for cell in cells(place, "code") for shown in data(cell))
        for place in WORKBOOKS
    }
    assert drawn["02-belt-life"] == 2  # all belts, and the setting that is chosen
    assert drawn["00-start-here"] >= 1
    assert drawn["06-drive-set-up"] >= 1
    assert drawn["07-tracking"] >= 2


@each
def test_nothing_of_the_machine_is_stored(workbook: Path) -> None:
    text = re.sub(r"[A-Za-z0-9+/]{76,}", "", workbook.read_text())  # pictures, whose letters are any
    assert not re.search(r"/home/|/root/|/tmp/|/Users/|0x[0-9a-f]{6,}|\b[0-9a-f]{32}\b", text)
    assert not re.search(r'"(execution|widgets)":', text)


@pytest.mark.slow
@pytest.mark.skipif(sys.version_info[:2] != (3, 11) or sys.platform != "linux", reason="bytes are held on Python 3.11")
@pytest.mark.parametrize("workbook", WORKBOOKS[0:3:2], ids=lambda place: place.stem)
def test_running_a_workbook_again_stores_the_same_bytes(workbook: Path) -> None:
    assert run_workbook(workbook, {}, workbook.parent) == workbook.read_text()


def compared(folder: Path) -> subprocess.CompletedProcess[str]:
    """Compare the stored outputs in a folder with a new run, as `make test` does."""
    command = [sys.executable, "-m", "pytest", "-p", "no:randomly", "-p", "no:cacheprovider", "--nbval", "-q"]
    command += [f"--nbval-sanitize-with={TOP / 'tests' / 'nbval.cfg'}", "--nbval-current-env", str(folder)]
    # what pytest prints depends on these
    quiet = {
        name: value for name, value in os.environ.items() if not name.startswith(("PYTEST_", "CI", "BUILD_NUMBER"))
    }
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False, env=quiet)


def a_changed_digit(text: str) -> str:
    """Change the first digit that stands in a text."""
    return re.sub(r"\d", lambda digit: str((int(digit[0]) + 1) % 10), text, count=1)


@pytest.mark.slow
def test_a_stored_number_that_is_changed_fails_the_comparison_and_an_unchanged_one_passes(tmp_path: Path) -> None:
    (tmp_path / "workbooks").mkdir()
    shutil.copytree(TOP / "data" / "season-two", tmp_path / "data" / "season-two")
    book = json.loads((TOP / "workbooks" / "00-start-here.ipynb").read_bytes())
    outputs = [output for cell in book["cells"] for output in cell.get("outputs", ())]
    for is_picture in (False, True):
        changed = next(
            output["data"]
            for output in outputs
            if ("data:image" in "".join(output["data"].get("text/html", ""))) == is_picture
            and re.search(r"\d", "".join(output["data"]["text/plain"]))
        )
        changed["text/plain"] = a_changed_digit("".join(changed["text/plain"]))
    (tmp_path / "workbooks" / "00-start-here.ipynb").write_text(json.dumps(book))
    compared_with = compared(tmp_path / "workbooks")
    of = len(cells(TOP / "workbooks" / "00-start-here.ipynb", "code"))
    assert compared_with.returncode == 1
    assert f"2 failed, {of - 2} passed" in compared_with.stdout
    assert compared_with.stdout.count("mismatch 'text/plain'") == 2
