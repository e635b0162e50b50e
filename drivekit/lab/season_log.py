"""Workbook 01: what was read, each belt's life, and what the columns mean."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from drivekit.lab.season_study import ALL_CARS, Study, Table, Words
from drivekit.log.columns import BELTS, RUNS
from drivekit.show import words
from drivekit.show.controls import Control, Drawing, panel
from drivekit.show.lives import Life, lives_picture
from drivekit.show.markup import table
from drivekit.show.page import overlap_table
from drivekit.show.paper import Picture
from drivekit.show.phrases import wording
from drivekit.study.comparisons import Comparison
from drivekit.study.study_input import StudyInput

if TYPE_CHECKING:
    from ipywidgets import VBox

__all__ = ["columns", "lives", "lives_controls", "lives_words", "log_words", "overlap"]

NO_WARNING = "Nothing in it looks unlikely."
NO_LIFE = "No belt of known age has made a run, so no life can be drawn."


def log_words(study: Study) -> Words:
    """Say what was read, and everything in it that is unlikely."""
    log = study.findings["log"]
    return Words((str(study.season), *log["warnings"])) if log["warnings"] else Words((str(study.season), NO_WARNING))


def lives(study: Study, name: str = "idler") -> Picture | Words:
    """Draw each belt's life, its line by the level of one setting on each run, or say why it cannot be drawn."""
    if not len(study.asked.table):
        return Words((NO_LIFE,))
    comparison = next(comparison for comparison in study.comparisons if comparison.name == name)
    return _lives(study, study.asked, comparison)


def _lives(study: Study, asked: StudyInput, comparison: Comparison) -> Picture:
    found = asked.groups(comparison)
    names, level = ((), np.full(len(asked.table), -1)) if found is None else found
    invented = words.INVENTED if study.season.invented else ""
    return lives_picture(_each_life(asked, level), names, comparison.said, invented=invented)


def _each_life(asked: StudyInput, level: NDArray[np.int64]) -> list[Life]:
    """Fold the runs of each belt into stretches under one level, belts in the order first fitted."""
    runs_of: dict[str, list[int]] = {}
    for row, belt in enumerate(asked.table["belt"]):
        runs_of.setdefault(belt, []).append(row)
    age, failed = asked.table["age"], asked.failed
    return [
        (
            belt,
            [
                (int(of_level), int(age[rows[0]]) - 1, int(age[rows[-1]]))
                for of_level, stretch in groupby(of_belt, key=lambda row: level[row])
                if (rows := list(stretch))
            ],
            bool(failed[of_belt[-1]]),
        )
        for belt, of_belt in runs_of.items()
    ]


def lives_words(study: Study) -> Words:
    """Say how belts ended, and on how many a setting was changed in mid-life."""
    log, life = study.findings["log"], study.findings["life"]
    changed = [
        f"the {comparison.said} on {life[comparison.name]['changed_belts']}"
        for comparison in study.comparisons
        if comparison.planned and comparison.name != "tension" and life[comparison.name].get("changed_belts")
    ]
    ended = ", ".join(f"{cause} {seen}" for cause, seen in log["causes"].items())
    sentences = [f"Belts that ended, by cause: {ended}." if ended else "No belt ended in this log."]
    if changed:
        sentences.append(f"Changed on living belts: {', '.join(changed)}.")
    return Words(tuple(sentences))


def lives_controls(study: Study) -> VBox:
    """Lay controls under which the lives are drawn anew: the setting that the lines show, and the car."""
    shown = study.recorded
    controls = {
        "said": Control("choice", "Lines by", tuple(shown)),
        "car": Control("choice", "Car", (ALL_CARS, *study.cars)),
    }

    def redraw(said: str, car: str) -> Drawing:
        return Drawing(_lives(study, study.runs_of_car(car, study.settings), shown[said]), ())

    return panel(controls, redraw)


def overlap(study: Study) -> Table:
    """Set how the runs of each planned setting fall over the thirds of the season and over the cars."""
    shown = []
    for name, block in study.findings["overlap"].items():
        noun = wording(study.findings, name).noun
        if "reason" in block:
            shown.append(table((noun, ""), [("cannot be told", block["reason"])]))
            continue
        shown += [table(*overlap_table(block[part], f"Runs by {noun} and {part}")) for part in ("time", "car")]
    return Table("".join(shown))


def columns(study: Study) -> Table:
    """Set what each column of a log means, its unit or words, and whether this log has it."""
    absent = {column.name for column in study.season.absent}
    rows = [
        (
            column.name,
            column.meaning,
            ", ".join(column.levels) or column.unit,
            "no" if column.name in absent else "yes",
            column.adds,
        )
        for column in (*BELTS, *RUNS)
    ]
    return Table(table(("column", "meaning", "words or unit", "in this log", "what it adds"), rows))
