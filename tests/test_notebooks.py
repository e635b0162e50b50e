"""Running workbooks: through their one parameters cell, by this very Python, stored the same byte for byte."""

from __future__ import annotations

import json
import re
import sys
from ast import literal_eval
from pathlib import Path
from typing import Any

import nbformat
import pytest
from nbclient.exceptions import CellExecutionError
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook

from drivekit import notebooks
from drivekit.notebooks import (
    DRIVES,
    WORKBOOKS,
    carried,
    copied,
    run_workbook,
    sent,
    workbooks_in,
)

PARAMETERS = "log = 'usual'  # a folder\nhorizon = None"


def a_workbook(folder: Path, *sources: str, name: str = "00-start.ipynb") -> Path:
    """A numbered notebook of a heading, a parameters cell and these code cells."""
    cells = [new_markdown_cell("# Start", id="head"), new_code_cell(PARAMETERS, id="given")]
    cells[1].metadata["tags"] = ["parameters"]
    cells += [new_code_cell(source, id=f"cell-{number}") for number, source in enumerate(sources)]
    folder.mkdir(exist_ok=True)
    nbformat.write(new_notebook(cells=cells), folder / name)
    return folder / name


def ran(place: Path, parameters: dict[str, object], beside: Path) -> list[dict[str, Any]]:
    cells: list[dict[str, Any]] = json.loads(run_workbook(place, parameters, beside))["cells"]
    return cells


def said(cell: dict[str, Any]) -> str:
    return "".join(cell["outputs"][0]["data"]["text/plain"])


def test_a_workbook_runs_where_it_is_to_stand_by_this_python(tmp_path: Path) -> None:
    place = a_workbook(tmp_path / "from", "import os, sys\n[os.getcwd(), sys.executable, log, horizon]")
    stored = place.read_bytes()
    (tmp_path / "to").mkdir()
    last = ran(place, {}, tmp_path / "to")[-1]
    assert literal_eval(said(last)) == [str((tmp_path / "to").resolve()), sys.executable, "usual", None]
    assert place.read_bytes() == stored


def test_parameters_that_a_workbook_names_take_the_place_of_its_usual_ones_and_others_are_left_out(
    tmp_path: Path,
) -> None:
    place = a_workbook(tmp_path / "from", "[log, horizon]")
    given: dict[str, object] = {"log": "../log", "seed": 3}
    cells = ran(place, given, tmp_path)
    assert ["".join(cell["source"]) for cell in cells] == [
        "# Start",
        "log = '../log'  # a folder\nhorizon = None",
        "[log, horizon]",
    ]
    assert said(cells[2]) == "['../log', None]"


@pytest.mark.parametrize(
    ("source", "becomes"),
    [
        ("log = 'a'\nlog = 'b'", "log = 'new'\nlog = 'new'"),
        ("log = (\n    'a'\n    'b'\n)  # of two lines\nx = 1", "log = (\n    'new'\n)  # of two lines\nx = 1"),
        ("ä = 'log'; log = 'log'", "ä = 'log'; log = 'new'"),
        ("x = 'log'", "x = 'log'"),
    ],
)
def test_a_value_is_put_where_it_stands_and_nothing_else_moves(tmp_path: Path, source: str, becomes: str) -> None:
    place = a_workbook(tmp_path / "from")
    notebook = nbformat.read(place, as_version=4)
    notebook.cells[1].source = source
    assert notebooks.given(notebook, {"log": "new"}) is (source != becomes)
    assert notebook.cells[1].source == becomes


def test_copies_put_on_a_log_lose_the_outputs_of_another_and_keep_what_a_person_wrote(tmp_path: Path) -> None:
    place = a_workbook(tmp_path / "mine", "log", "'my own cell'")
    place.write_text(run_workbook(place, {}, tmp_path))
    notebooks.put_on(tmp_path / "mine", {"log": "../../my-log"})
    cells = json.loads(place.read_text())["cells"]
    assert "".join(cells[1]["source"]).startswith("log = '../../my-log'  # a folder")
    assert [cell["outputs"] for cell in cells[1:]] == [[], [], []]
    assert "".join(cells[3]["source"]) == "'my own cell'"
    place.write_text(run_workbook(place, {}, tmp_path))
    before = place.read_bytes()
    notebooks.put_on(tmp_path / "mine", {"log": "../../my-log"})
    assert place.read_bytes() == before


def test_a_second_run_stores_the_same_bytes_and_no_widget(tmp_path: Path) -> None:
    place = a_workbook(
        tmp_path / "from",
        "import ipywidgets\nfirst = ipywidgets.HTML('<b>one</b>')\nipywidgets.VBox([first])",
        "first",
    )
    runs = [run_workbook(place, {}, tmp_path) for _ in range(2)]
    assert runs[0] == runs[1]
    views = [cell["outputs"][0]["data"] for cell in json.loads(runs[0])["cells"][2:]]
    assert [list(view) for view in views] == [["text/plain"]] * 2  # a view of a widget is nothing without a kernel
    assert views[1]["text/plain"] == ["HTML(value='<b>one</b>')"]
    for varying in ('execution":', 'widgets":', '"version": "3', str(tmp_path)):
        assert varying not in runs[0]


def test_a_cell_that_fails_stops_the_run(tmp_path: Path) -> None:
    place = a_workbook(tmp_path / "from", "1 / 0", "2")
    with pytest.raises(CellExecutionError, match="ZeroDivisionError"):
        run_workbook(place, {}, tmp_path)


def test_only_numbered_notebooks_are_workbooks_in_their_order(tmp_path: Path) -> None:
    for name in ("10-last.ipynb", "02-next.ipynb", "scratch.ipynb"):
        a_workbook(tmp_path / "from", "log", name=name)
    assert [place.name for place in workbooks_in(tmp_path / "from")] == ["02-next.ipynb", "10-last.ipynb"]


def test_a_copy_that_a_person_changed_is_kept_and_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("00-start.ipynb", "01-log.ipynb"):
        a_workbook(tmp_path / "carried", "log", name=name)
    monkeypatch.setattr(notebooks, "carried", lambda what: tmp_path / "carried")
    mine = tmp_path / "mine" / "workbooks"
    assert copied(WORKBOOKS, mine) == ()
    assert sorted(place.name for place in mine.iterdir()) == ["00-start.ipynb", "01-log.ipynb"]
    (mine / "01-log.ipynb").write_text("changed")
    (mine / "00-start.ipynb").unlink()
    assert copied(WORKBOOKS, mine) == (mine / "01-log.ipynb",)
    assert (mine / "01-log.ipynb").read_text() == "changed"
    assert (mine / "00-start.ipynb").read_bytes() == (tmp_path / "carried" / "00-start.ipynb").read_bytes()


def test_a_checkout_carries_the_workbooks_beside_the_package() -> None:
    assert carried(WORKBOOKS) == Path(__file__).parents[1] / "workbooks"
    assert carried(DRIVES) == Path(__file__).parents[1] / "data" / "drives"


def test_the_example_drives_are_copied_and_a_changed_copy_is_kept(tmp_path: Path) -> None:
    assert copied(DRIVES, tmp_path / "drives") == ()
    for drive in carried(DRIVES).glob("*.toml"):
        assert (tmp_path / "drives" / drive.name).read_bytes() == drive.read_bytes()
    mine = tmp_path / "drives" / "toothed-inside.toml"
    mine.write_text("mine")
    assert copied(DRIVES, tmp_path / "drives") == (mine,)
    assert mine.read_text() == "mine"


def test_a_workbook_to_send_has_its_answers_without_code_network_or_notebook(tmp_path: Path) -> None:
    place = a_workbook(tmp_path, "print('two & three')")
    notebook = nbformat.read(place, as_version=4)
    notebook.cells.append(new_markdown_cell("See [the log](01-season-log.ipynb).", id="link"))
    nbformat.write(notebook, place)
    page = sent(run_workbook(place, {}, tmp_path))
    assert "<title>Start</title>" in page
    assert "two &amp; three" in page
    assert "print(" not in page
    assert "horizon = None" not in page
    assert 'href="01-season-log.html"' in page
    assert "default-src 'none'" in page
    assert re.search(r"<script|https?://", page) is None


@pytest.mark.parametrize("place", sorted(carried(WORKBOOKS).glob("*.ipynb")), ids=lambda place: place.stem)
def test_every_stored_workbook_can_be_sent_as_it_stands(place: Path) -> None:
    page = sent(place.read_text(encoding="utf-8"))
    assert re.search(r"<script|(?:src|href)=\"https?://|\.ipynb", page) is None
    assert page.count("<h1") == 1
