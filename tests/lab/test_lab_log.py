"""The log in a workbook: what was read, each belt's life, and what the columns mean."""

from __future__ import annotations

from collections.abc import Callable
from html import unescape
from pathlib import Path
from typing import Any

import numpy as np

from drivekit import lab
from drivekit.lab.season_log import NO_LIFE, NO_WARNING
from drivekit.lab.season_study import Study, Words, study
from drivekit.log.columns import BELTS, RUNS
from drivekit.show.paper import STYLES, Picture
from drivekit.study.comparisons import COMPARISONS

Find = Callable[[Any, str], Any]


def marks(picture: Picture) -> dict[str, Any]:
    return {mark.get_gid(): mark for mark in picture.figure().findobj(lambda mark: bool(mark.get_gid()))}


def drawn_runs(picture: Picture) -> dict[str, set[tuple[int, int]]]:
    """Ages run under each line's colour, by belt; colours by their place."""
    colours = [colour for colour, _ in STYLES]
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
    picture = lab.lives(studied)
    assert isinstance(picture, Picture)
    assert drawn_runs(picture) == expected
    dots = marks(picture)["failures:belts"]
    failed = studied.asked.failed
    assert sorted(dots.get_xdata()) == sorted(table["age"][failed].tolist())
    heights = {belt: len(expected) - place for place, belt in enumerate(expected)}
    assert set(dots.get_ydata()) == {heights[belt] for belt in table["belt"][failed]}


def test_lives_by_tension_give_blank_runs_a_line_of_their_own(studied: Study) -> None:
    table = studied.asked.table
    picture = lab.lives(studied, "tension")
    assert isinstance(picture, Picture)
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
    picture = lab.lives(study(str(written("belt,runs_before\nA,2\nB,\n", runs))))
    assert isinstance(picture, Picture)
    assert drawn_runs(picture) == {"A": {(3, 0), (4, 1)}, "B": {(1, 0)}}
    assert marks(picture)["failures:belts"].get_xydata().tolist() == [[4, 2]]


def test_a_log_without_a_belt_of_known_age_is_answered_in_one_sentence(
    written: Callable[..., Path], control: Find
) -> None:
    runs = "run,day,car,belt,idler,fate\n1,2032-03-01,red,A,smooth,kept\n"
    unknown = study(str(written("belt,runs_before\nA,?\n", runs)))
    assert lab.lives(unknown) == Words((NO_LIFE,))
    box = lab.lives_controls(unknown)
    assert control(box, "Car").options == ("all cars",)
    assert lab.lives_words(unknown) == ("No belt ended in this log.",)
    assert len(lab.said(unknown, "headlines")) == 3
    assert lab.curves_controls(unknown).children
    assert lab.question_controls(unknown).children


def test_each_control_of_the_lives_turned_once_draws_them_anew(studied: Study, control: Find) -> None:
    box = lab.lives_controls(studied)
    control(box, "Lines by").value = "edge grease"
    by_grease = lab.lives(studied, "edge_lube")
    assert isinstance(by_grease, Picture)
    assert box.children[-1].value == by_grease.svg()
    control(box, "Car").value = "red"
    one_car = box.children[-1].value
    assert one_car != by_grease.svg()
    red = studied.asked.table["belt"][studied.asked.table["car"] == "red"]
    assert f"Of {len(set(red))} belts" in unescape(one_car)


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
    for comparison in COMPARISONS:
        assert isinstance(lab.lives(studied, comparison.name), Picture)
