"""The log in a workbook: what was read, each belt's life, and what the columns mean."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from html import escape, unescape
from pathlib import Path
from typing import Any

import nbformat
import numpy as np
import pytest

from drivekit import lab
from drivekit.lab.season_log import NO_WARNING, STILL
from drivekit.lab.season_study import Study, Words, study
from drivekit.log import read_season
from drivekit.log.columns import BELTS, RUNS
from drivekit.notebooks import _stored_text
from drivekit.show.paper import STYLES, Picture
from drivekit.study.comparisons import COMPARISONS

Find = Callable[[Any, str], Any]


def marks(picture: Picture) -> dict[str, Any]:
    return {mark.get_gid(): mark for mark in picture.figure().findobj(lambda mark: bool(mark.get_gid()))}


def lives(studied: Study, setting: str = "idler") -> Picture:
    """The lives as the controls draw them, the lines by one setting."""
    box = lab.lives_controls(studied)
    box.widgets["Setting compared"].value = setting
    assert box.drawing.picture is not None
    return box.drawing.picture


def drawn_runs(picture: Picture) -> dict[str, set[tuple[int, int]]]:
    """Ages run under each line's colour, by belt; colours by their place."""
    colours = [colour for colour, *_ in STYLES]
    found: dict[str, set[tuple[int, int]]] = {}
    for gid, line in marks(picture).items():
        if gid.startswith("life:"):
            _, belt, _ = gid.split(":")
            (start, end), place = line.get_xdata(), colours.index(line.get_color())
            found.setdefault(belt, set()).update((age, place) for age in range(start + 1, end + 1))
    return found


def test_lives_are_the_runs_of_the_table_under_their_idler(studied: Study) -> None:
    table = studied.asked.table
    expected: dict[str, set[tuple[int, int]]] = {}
    for belt, age, idler in zip(table["belt"], table["age"], table["idler"], strict=True):
        expected.setdefault(belt, set()).add((int(age), int(idler == "toothed")))
    picture = lives(studied)
    assert drawn_runs(picture) == expected
    found, failed = marks(picture), studied.asked.failed
    dots = [int(age) for gid, mark in found.items() if gid.startswith("failures:") for age in mark.get_xdata()]
    assert sorted(dots) == sorted(table["age"][failed].tolist())
    ended = {belt: cause for belt, cause in zip(table["belt"], table["cause"], strict=True) if cause}
    causes = {gid[6:]: mark.get_text() for gid, mark in found.items() if gid.startswith("cause:")}
    assert causes == ended


def test_lives_by_tension_give_blank_runs_a_line_of_their_own(studied: Study) -> None:
    table = studied.asked.table
    picture = lives(studied, "belt tension")
    blank = {
        (belt, int(age))
        for belt, age, tension in zip(table["belt"], table["age"], table["tension_n"], strict=True)
        if np.isnan(tension)
    }
    assert blank
    assert {(belt, age) for belt, ages in drawn_runs(picture).items() for age, ink in ages if ink == 3} == blank


def test_a_belt_is_not_failed_before_its_last_run(written: Callable[..., Path]) -> None:
    runs = (
        "run,day,car,belt,idler,fate,cause\n"
        "1,2032-03-01,red,A,smooth,kept,\n2,2032-03-01,red,B,smooth,kept,\n3,2032-03-02,red,A,toothed,broke,tooth-loss\n"
    )
    picture = lives(study(str(written("belt,runs_before\nA,2\nB,\n", runs))))
    assert drawn_runs(picture) == {"A": {(3, 0), (4, 1)}, "B": {(1, 0)}}
    assert marks(picture)["failures:1"].get_xydata().tolist() == [[4, 2]]


def test_a_log_without_a_belt_of_known_age_is_answered_in_one_sentence(
    written: Callable[..., Path], control: Find
) -> None:
    runs = "run,day,car,belt,idler,fate\n1,2032-03-01,red,A,smooth,kept\n"
    unknown = study(str(written("belt,runs_before\nA,?\n", runs)))
    assert lab.picture(unknown, "overall") == Words(("No belt of known age has made a run, so no life can be drawn.",))
    box = lab.lives_controls(unknown)
    assert control(box, "Car").options == ("all cars",)
    assert lab.lives_words(unknown) == ("No belt ended in this log.",)
    assert len(lab.said(unknown, "headlines")) == 3
    assert lab.curves_controls(unknown).drawing.sentences
    assert lab.question_controls(unknown).drawing.sentences


def test_each_control_of_the_lives_turned_once_draws_them_anew(studied: Study, control: Find) -> None:
    box = lab.lives_controls(studied)
    control(box, "Setting compared").value = "edge grease"
    by_grease = lives(studied, "edge grease")
    assert box.shown.value == by_grease.svg()
    control(box, "Car").value = "red"
    one_car = box.shown.value
    assert one_car != by_grease.svg()
    red = studied.asked.table["belt"][studied.asked.table["car"] == "red"]
    assert f"Of {len(set(red))} belts" in unescape(one_car)


def test_one_belt_s_history_is_how_it_was_run_each_change_and_what_was_found(
    written: Callable[..., Path], control: Find
) -> None:
    runs = (
        "run,day,car,belt,idler,tension_n,teeth_look,shade,note,fate,cause\n"
        "1,2032-03-01,red,A,smooth,8000,good,even,,kept,\n2,2032-03-01,red,B,smooth,,good,even,,kept,\n"
        "3,2032-03-02,red,A,smooth,8100,worn,even,oil <here>,kept,\n"
        "4,2032-03-03,red,A,toothed,,torn,,,broke,tooth-loss\n5,2032-03-04,blue,C,smooth,8000,good,even,,kept,\n"
    )
    box = lab.history_controls(study(str(written("belt,runs_before\nA,2\nB,\nC,?\n", runs))))
    belt = control(box, "Belt")
    assert belt.options == ("A", "B", "C")
    belt.value = "A"
    assert box.drawing.sentences == (
        "A has made 5 runs, 3 of them in this log; it broke on the last one: tooth-loss.",
        "Run 1 (2032-03-01) to 3 (2032-03-02): car red, idler smooth, tension 8,000 to 8,100 N.",
        "Run 4 (2032-03-03): car red, idler toothed.",
        'Found after run 3: teeth worn, "oil <here>".',
        "Found after run 4: teeth torn.",
    )
    assert drawn_runs(box.drawing.picture) == {"A": {(3, 0), (4, 0), (5, 1)}}
    belt.value = "C"  # of no known age, so without a line of its own
    assert box.drawing.picture is None
    assert box.drawing.sentences[1] == "Run 5 (2032-03-04): car blue, idler smooth, tension 8,000 N."


def test_the_words_count_endings_and_changes(studied: Study) -> None:
    table = studied.asked.table
    ended, changed = lab.lives_words(studied)
    for cause in ("tooth-jump", "edge-split", "precaution", "sold"):
        assert f"{cause} {int((table['cause'] == cause).sum())}" in ended
    idlers = {belt: set(table["idler"][table["belt"] == belt]) for belt in set(table["belt"])}
    moved = sum(len(levels) > 1 for levels in idlers.values())
    assert moved
    assert changed == f"Changed on living belts: the idler on {moved}."


def test_what_was_read_is_said_with_its_warnings(studied: Study, written: Callable[..., Path]) -> None:
    assert lab.log_words(studied) == (str(studied.season), NO_WARNING)
    runs = "run,day,car,belt,idler,fate\n1,2032-03-01,red,A,smooth,kept\n2,2032-03-01,blue,A,smooth,kept\n"
    warned = study(str(written("belt\nA\n", runs)))
    said = lab.log_words(warned)
    assert said[0] == str(warned.season)
    assert said[1:] == tuple(warned.findings["log"]["warnings"])
    assert "warning" in said[1]


def test_the_overlap_table_holds_the_runs_of_each_level(studied: Study, written: Callable[..., Path]) -> None:
    said = repr(lab.overlap(studied))
    table = studied.asked.table
    counts = [int(((table["idler"] == "toothed") & (table["car"] == car)).sum()) for car in ("blue", "red")]
    assert f"toothed | {counts[0]} | {counts[1]}" in said
    runs = "run,day,car,belt,idler,fate\n1,2032-03-01,red,A,smooth,kept\n"
    bare = study(str(written("belt\nA\n", runs)))
    assert "cannot be told | no run has its edge grease filled in" in repr(lab.overlap(bare))


def test_every_column_is_explained_and_said_to_be_there_or_not(studied: Study) -> None:
    lines = repr(lab.columns(studied)).splitlines()
    assert lines[0].startswith("column | meaning")
    assert len(lines) == 1 + len(BELTS) + len(RUNS)
    by_name = {line.split(" | ")[0]: line for line in lines}
    assert " | no | " in by_name["compound"]
    assert " | yes" in by_name["tension_n"]


def test_settings_of_the_lives_are_those_of_the_comparisons(studied: Study) -> None:
    settings = lab.lives_controls(studied).widgets["Setting compared"].options
    assert settings == tuple(one.said for one in COMPARISONS if one.said in studied.recorded)
    assert len({str(lives(studied, setting)) for setting in settings}) == len(settings)


@pytest.fixture
def log(folder: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(folder, tmp_path / "small"))


class Filled:
    """A form as a person meets it: fields by what they are called, what is said beside each, and buttons to press."""

    def __init__(self, form: Any) -> None:
        self.of_run, self.of_belt, self.elsewhere, self.buttons, self.answer = form.children

    def rows(self, part: Any) -> dict[str, Any]:
        lines = (line for line in part.children if hasattr(line, "children"))
        return {row.children[0].description: row.children for line in lines for row in line.children}

    def __getitem__(self, label: str) -> Any:
        return (self.rows(self.of_run) | self.rows(self.of_belt))[label][0]

    def beside(self, label: str) -> str:
        return unescape((self.rows(self.of_run) | self.rows(self.of_belt))[label][1].value)

    def press(self, label: str) -> str:
        next(button for button in self.buttons.children if button.description == label).click()
        return unescape(self.answer.value)


def test_the_form_is_filled_in_as_the_car_last_ran_and_follows_the_car(log: Path) -> None:
    form, runs = Filled(lab.add_form(str(log))), read_season(log).runs
    assert form["Run"].value == str(runs["run"].max() + 1)
    for car in ("red", "blue"):
        form["Car"].value = car
        last = runs[runs["car"] == car].iloc[-1]
        assert form["Idler"].value == last["idler"]
        assert form["Edges greased"].value == last["edge_lube"]
    other = "smooth" if last["idler"] == "toothed" else "toothed"
    form["Idler"].value = other
    form["Car"].value = "red"
    assert form["Idler"].value == other  # what a person wrote stays
    assert form["Idler"].options == ("", "smooth", "toothed")


def test_a_fault_is_said_beside_its_field_at_once_and_goes_when_it_is_mended(log: Path) -> None:
    form, before = Filled(lab.add_form(str(log))), (log / "runs.csv").read_bytes()
    tension = "Tension, cold, one span, N"
    form[tension].value = "8000000"
    assert form.beside(tension) == '<p>"8000000" is impossible; 50 to 50000 N is possible.</p>'
    assert form.beside("Fate") == "<p>blank; every row needs one of kept, trimmed, retired, broke.</p>"
    assert "is impossible; 50 to 50000 N is possible" in form.press("Add the run")
    assert (log / "runs.csv").read_bytes() == before
    form[tension].value = "8000"
    assert form.beside(tension) == ""


def test_the_form_adds_a_run_of_a_new_belt_says_its_life_and_takes_it_back(log: Path) -> None:
    form, before = Filled(lab.add_form(str(log))), {place.name: place.read_bytes() for place in log.iterdir()}
    assert form.of_belt.layout.display == "none"
    for label, value in {"Day": "2032-12-01", "Car": "red", "Belt": "new & true", "Fate": "kept"}.items():
        form[label].value = value
    assert form.of_belt.layout.display is None
    assert form["Width, mm"].value == "75"
    said = form.press("Add the run")
    assert said.startswith("<p>new & true has made 1 run.</p><p>A belt whose look says off comes off")
    assert read_season(log).belts["belt"].iloc[-1] == "new & true"
    assert form["Run"].value == str(read_season(log).runs["run"].max() + 1)  # laid anew, for the next run
    assert "is taken back" in form.press("Take it back")
    assert {place.name: place.read_bytes() for place in log.iterdir()} == before
    assert "not as drivekit add left it" in form.press("Take it back")


def test_a_form_that_was_not_run_shows_words_that_know_no_day(log: Path) -> None:
    bundle = lab.add_form(str(log))._repr_mimebundle_()
    assert bundle["text/plain"] == STILL
    assert bundle["text/html"] == f"<p>{escape(STILL)}</p>"
    output = nbformat.v4.new_output("execute_result", bundle)
    notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell("form", outputs=[output])])
    assert "widget-view" not in _stored_text(notebook)
