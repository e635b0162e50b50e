"""Workbook 01: what was read, each belt's life, what the columns mean, and the form that takes today's run."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import chain, groupby
from typing import TYPE_CHECKING, Any

import numpy as np

from drivekit.faults import Said
from drivekit.lab.adding import add, after, earlier_season, life_words, undo
from drivekit.lab.season_study import Study, Table, Words
from drivekit.log.added import Question, open_log, typed
from drivekit.log.columns import BELTS, RUNS
from drivekit.log.season import read_season
from drivekit.show import words
from drivekit.show.controls import Control, Drawing, Panel, answer_box, headed, put, with_still
from drivekit.show.endings import Life, lives_picture
from drivekit.show.page import overlap_table
from drivekit.show.paper import Picture
from drivekit.show.phrases import wording
from drivekit.study.comparisons import Comparison
from drivekit.study.study_input import StudyInput

if TYPE_CHECKING:
    from ipywidgets import Widget

__all__ = ["add_form", "columns", "history_controls", "lives_controls", "lives_words", "log_words", "overlap"]

Row = dict[Any, Any]
NO_WARNING = "Nothing in it looks unlikely."
FIRST = ("run", "day", "car")
"""What the other offers follow from."""
NEW_BELT = "The new belt"
HOW_RUN, FOUND = ("car", "idler", "idler_support", "edge_lube"), "After the run"
STILL = (
    "A form for today's run stands here once the workbook is run: the drive is filled in as the car last ran it, each "
    "answer is checked at once, and a run that was added can be taken back."
)


def log_words(study: Study) -> Words:
    """Say what was read, and everything in it that is unlikely."""
    log = study.findings["log"]
    return Words((str(study.season), *(log["warnings"] or (NO_WARNING,))))


def _lives(study: Study, asked: StudyInput, comparison: Comparison) -> Picture:
    """Draw the life of each belt, in the order first fitted: stretches of runs under one level, and its end."""
    age, failed, cause = asked.table["age"], asked.failed, asked.table["cause"]
    names, level = asked.groups(comparison) or ((), np.full(len(age), -1))
    lives: list[Life] = []
    for belt in dict.fromkeys(asked.table["belt"]):
        runs = np.flatnonzero(asked.table["belt"] == belt)
        stretches = [list(rows) for _, rows in groupby(runs, key=lambda row: level[row])]
        lines = [(int(level[rows[0]]), int(age[rows[0]]) - 1, int(age[rows[-1]])) for rows in stretches]
        lives.append((belt, lines, bool(failed[runs[-1]]), cause[runs[-1]] or ""))
    return lives_picture(lives, names, comparison.said, invented=words.INVENTED if study.season.invented else "")


def lives_words(study: Study) -> Words:
    """Say how belts ended, and on how many a setting was changed in mid-life."""
    log, life = study.findings["log"], study.findings["life"]
    changed = [
        f"the {comparison.said} on {life[comparison.name]['changed_belts']}"
        for comparison in study.comparisons
        if comparison.planned and comparison.name != "tension" and life[comparison.name].get("changed_belts")
    ]
    ended = ", ".join(f"{cause} {seen}" for cause, seen in log["causes"].items())
    said = f"Belts that ended, by cause: {ended}." if ended else "No belt ended in this log."
    return Words((said, *([f"Changed on living belts: {', '.join(changed)}."] if changed else [])))


def lives_controls(study: Study) -> Panel:
    """Lay controls under which the lives are drawn anew: the setting that the lines show, and the car."""

    def redraw(said: str, car: str) -> Drawing:
        return Drawing(_lives(study, study.asking(car), study.recorded[said]), ())

    return Panel(study.controls("said", "car"), redraw)


def history_controls(study: Study) -> Panel:
    """Lay a choice of belt; its life follows: how it was run, each change of that, and what was seen on it."""
    runs = study.season.runs

    def redraw(belt: str) -> Drawing:
        asked = replace(study.asked, table=study.asked.table.where(study.asked.table["belt"] == belt))
        drawn = _lives(study, asked, study.comparisons[0]) if len(asked.table) else None
        rows = runs[runs["belt"] == belt].to_dict("records")
        return Drawing(drawn, (life_words(study, belt), *_run_so(rows), *_seen(rows)))

    belts = tuple(dict.fromkeys(runs["belt"]))
    return Panel({"belt": Control("choice", "Belt", belts, belts[-1])}, redraw)


def _run_so(rows: Sequence[Row]) -> Iterator[str]:
    """Say how a belt was run, one sentence for all runs in a row with the same car and settings, tension as it went."""
    columns = [column for column in RUNS if column.name in HOW_RUN and column.name in rows[0]]
    for how, stretch in groupby(rows, lambda row: [row[column.name] or "not written" for column in columns]):
        of = list(stretch)
        said = [f"{column.label.lower()} {value}" for column, value in zip(columns, how, strict=True)]
        if tensions := [row["tension_n"] for row in of if row.get("tension_n", np.nan) > 0]:
            said.append(f"tension {' to '.join(dict.fromkeys(f'{n:,.0f}' for n in (min(tensions), max(tensions))))} N")
        which = " to ".join(dict.fromkeys(f"{row['run']} ({row['day']:%Y-%m-%d})" for row in (of[0], of[-1])))
        yield f"Run {which}: {', '.join(said)}."


def _seen(rows: Sequence[Row]) -> Iterator[str]:
    """Say of each run what was found on the belt or happened on it, and its note; of a run as usual, nothing."""
    found = [one for one in RUNS if one.levels and one.part == FOUND and one.name not in ("fate", "cause")]
    for row in rows:
        said = [
            f"{column.label.lower()} {row[column.name]}"
            for column in found
            if row.get(column.name) not in (None, "", "even", column.levels[0])
        ]
        said += [f'"{row["note"]}"'] if row.get("note") else []
        if said:
            yield f"Found after run {row['run']}: {', '.join(said)}."


def overlap(study: Study) -> Table:
    """Set how the runs of each planned setting fall over the thirds of the season and over the cars."""
    shown: list[Sequence[Any]] = []
    for name, block in study.findings["overlap"].items():
        noun = wording(study.findings, name).noun
        if "reason" in block:
            shown.append(((noun, ""), [("cannot be told", block["reason"])]))
        else:
            shown += [overlap_table(block[part], f"Runs by {noun} and {part}") for part in ("time", "car")]
    return Table(*shown)


def columns(study: Study) -> Table:
    """Set what each column of a log means, its unit or words, and whether this log has it."""
    tables = ((BELTS, study.season.belts), (RUNS, study.season.runs))
    rows = [
        (one.name, one.meaning, ", ".join(one.levels) or one.unit, "yes" if one.name in frame else "no", one.adds)
        for of, frame in tables
        for one in of
    ]
    return Table((("column", "meaning", "words or unit", "in this log", "what it adds"), rows))


def add_form(log: str, earlier: str = "", *, columns: str | None = None, **_: Any) -> Widget:
    """Lay a form that takes a run into a log, each answer checked at once; the settings of a study are none of it.

    `earlier` is an earlier season's log, for the watch: empty where there is none, and not used where it alone is
    invented; `columns` the map of the headings.
    """
    return with_still(_RunForm(log, earlier, columns).box, STILL)


class _RunForm:
    """The form: a box and what is wrong with it for each question, laid anew whenever the log is another."""

    def __init__(self, log: str, earlier: str, columns: str | None) -> None:
        from ipywidgets import HTML, Button, HBox, VBox

        self.place, self.earlier, self.columns = log, earlier, columns
        self.log = open_log(log, columns)
        if earlier and len(self.log.found.runs.line):
            season = read_season(log, columns)
            self.earlier = earlier if earlier_season(season, earlier, columns).invented <= season.invented else ""
        self.fields, self.of_belt, self.elsewhere, self.answer = VBox(), VBox(), HTML(), HTML()
        add_it, take_back = Button(description="Add the run"), Button(description="Take it back")
        add_it.on_click(lambda _: self._try(self._added))
        take_back.on_click(lambda _: self._try(lambda: (undo(log),)))
        self.box = VBox([self.fields, self.of_belt, self.elsewhere, HBox([add_it, take_back]), self.answer])
        self._lay()

    def _lay(self) -> None:
        self.offered: dict[str, str] = {}
        asked = [("runs", one) for one in self._asked(self.offered)]
        asked += [("belts", one) for one in self.log.of_belt(self.offered)]
        self.rows: dict[tuple[str, str], Any] = {}
        parts: dict[str, list[Widget]] = {NEW_BELT: []}
        for of, one in asked:
            column = one.place.column
            row = answer_box(one.label, one.offered, one.known, only=bool(column.levels))
            if of == "runs" and column.name in FIRST:
                row.children[0].observe(self._offer, "value")
            row.children[0].observe(self._check, "value")
            parts.setdefault(column.part if of == "runs" else NEW_BELT, []).append(row)
            self.rows[of, column.name] = row
        self.of_belt.children = headed(NEW_BELT, parts.pop(NEW_BELT))
        self.fields.children = [widget for part, rows in parts.items() for widget in headed(part, rows)]
        self._check()

    def _asked(self, run: dict[str, str]) -> Iterator[Question]:
        """Ask for all of a run, what is offered taken for what it does not hold yet."""
        for question in self.log.of_run(run):
            run.setdefault(question.place.column.name, question.offered)
            yield question

    def _given(self) -> tuple[dict[str, str], dict[str, str] | None]:
        given: dict[str, dict[str, str]] = {"runs": {}, "belts": {}}
        for (of, name), row in self.rows.items():
            given[of][name] = typed(row.children[0].value)
        return given["runs"], given["belts"] if self.log.is_new(given["runs"]["belt"]) else None

    def _offer(self, _: Any) -> None:
        """Offer the drive as that car last ran it, and what belongs to the day, wherever nothing else was written."""
        known = {name: value for name, value in self._given()[0].items() if name in FIRST}
        for one in self._asked(known):
            name = one.place.column.name
            box = self.rows["runs", name].children[0]
            if name not in FIRST and box.value == self.offered[name]:
                self.offered[name] = one.offered
                put(box, one.offered)

    def _check(self, _: Any = None) -> None:
        """Say beside each box what is wrong, or unlikely, with it; and below, what is elsewhere."""
        run, belt = self._given()
        self.of_belt.layout.display = "none" if belt is None else None
        said: dict[tuple[str, str] | None, list[str]] = {}
        for fault in self.log.wrong(run, belt):
            said.setdefault(self.log.place_of(fault), []).append(fault.plainly)
        for place, row in self.rows.items():
            row.children[1].value = Words(said.pop(place, ()))._repr_html_()
        self.elsewhere.value = Words(chain.from_iterable(said.values()))._repr_html_()

    def _added(self) -> Iterable[str]:
        run, belt = self._given()
        add(self.log, run, belt)
        return after(self.place, run["belt"], self.columns, self.earlier or None)

    def _try(self, work: Callable[[], Iterable[str]]) -> None:
        """Do what a button asks and say what came of it, the form laid anew on the log as it then is."""
        try:
            said = Words(work())
            self.log = open_log(self.place, self.columns)
            self._lay()
        except Said as refused:
            said = Words((str(refused),))
        self.answer.value = said._repr_html_()
