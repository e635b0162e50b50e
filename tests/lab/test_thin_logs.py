"""Every cell of the workbooks that asks of the log has an answer on logs that lack what most of them ask for."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from drivekit import lab
from drivekit.lab.decisions import belts_taken, drawn_plan
from drivekit.lab.season_study import Study
from drivekit.notebooks import workbooks_in
from drivekit.show.paper import Picture
from tests.show.six_logs import STARRED, Row, changed, unfailing

TOP = Path(__file__).parents[2]
THIN: dict[str, tuple[Callable[[Row], Row | None], Callable[[str], bool]]] = {
    "starred columns alone": (dict, STARRED.__contains__),
    "no failure in sixty runs": (lambda row: unfailing(row) if int(row["run"]) <= 60 else None, lambda _: True),
}


def asked(workbook: Path) -> list[str]:
    """Give the lines of a workbook that ask of the log."""
    cells = json.loads(workbook.read_bytes())["cells"]
    lines = ("".join(cell["source"]) for cell in cells if cell["cell_type"] == "code")
    return [line.removeprefix("found = ") for line in lines if re.search(r"\(study\b|, study\)|add_form", line)]


@pytest.fixture(scope="module", params=THIN)
def thin(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Study]:
    folder = tmp_path_factory.mktemp("thin") / "log"
    changed(folder, *THIN[request.param])
    return str(folder), lab.study(str(folder))


@pytest.mark.parametrize("workbook", workbooks_in(TOP / "workbooks"), ids=lambda place: place.stem)
def test_every_cell_that_asks_of_a_thin_log_answers(
    thin: tuple[str, Study], workbook: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Picture, "svg", lambda *_, **__: '<svg viewBox="0 0 1 1"></svg>')
    log, study = thin
    drive = str(TOP / "data" / "drives" / "toothed-inside.toml")
    given: dict[str, Any] = {"lab": lab, "log": log, "study": study, "settings": {}, "drive": drive}
    given |= {"earlier": str(TOP / "data" / "season-one"), "found": lab.set_up(drive)}
    lines = asked(workbook)
    assert lines
    for line in lines:
        assert str(eval(line, given))


def test_without_meetings_the_plan_has_blocks_for_each_days_new_belts(tmp_path: Path) -> None:
    days = changed(tmp_path / "days", lambda row: row | {"meeting": row["day"]})
    none = changed(tmp_path / "none", dict, lambda name: name != "meeting")
    assert drawn_plan(Study(none), belts_taken(Study(none))) == drawn_plan(Study(days), belts_taken(Study(days)))
