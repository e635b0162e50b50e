"""What must hold from row to row and from table to table.

A rule takes both tables and gives its faults; it keeps silent on cells that were found at fault already, so that one
mistake is said once. A new rule is one function, named in `RULES`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from difflib import get_close_matches

import numpy as np

from drivekit.faults import Fault
from drivekit.log.checking import Sheet, Sheets
from drivekit.log.columns import CAUSES, EXAMPLE
from drivekit.log.tables import counted, shown

__all__ = ["RULES", "across"]

ENDINGS = ("retired", "broke")
MANY_RUNS_BEFORE = 40
OFFERS = 50
Rule = Callable[[Sheets], Iterator[Fault]]


def across(sheets: Sheets) -> tuple[Fault, ...]:
    """Apply every rule."""
    return tuple(fault for rule in RULES for fault in rule(sheets))


def rows_there(sheets: Sheets) -> Iterator[Fault]:
    """Want at least one row in each table."""
    for sheet, noun in ((sheets.belts, "belt"), (sheets.runs, "run")):
        if len(sheet) == 0 and sheet.cells and sheet.table.complete:
            yield Fault(sheet.file, None, "", None, f"has its heading but no {noun}", f"give every {noun} a row")


def example_gone(sheets: Sheets) -> Iterator[Fault]:
    """Want the example row of a blank log gone."""
    for sheet in (sheets.belts, sheets.runs):
        for row in np.flatnonzero(sheet.value("belt") == EXAMPLE):
            yield Fault(
                sheet.file,
                int(sheet.line[row]),
                sheet.heading("belt"),
                EXAMPLE,
                "is the example row of the blank log, still there",
                "delete the row",
            )


def belts_once(sheets: Sheets) -> Iterator[Fault]:
    """Want a name of its own for each belt."""
    seen: dict[str, int] = {}
    for row, belt in enumerate(sheets.belt_names):
        if belt is None:
            continue
        line = int(sheets.belts.line[row])
        if belt in seen:
            yield Fault(
                sheets.belts.file,
                line,
                sheets.belts.heading("belt"),
                shown(belt),
                f"stands on line {seen[belt]} too",
                "each belt has one row and a name of its own",
            )
        seen.setdefault(belt, line)


def runs_once(sheets: Sheets) -> Iterator[Fault]:
    """Want a number of its own for each run."""
    runs = sheets.runs
    known = np.flatnonzero(runs.known("run"))
    first = {float(runs.number("run")[row]): int(runs.line[row]) for row in known[::-1]}
    for row in np.setdiff1d(known, sheets.order):
        yield Fault(
            runs.file,
            int(runs.line[row]),
            runs.heading("run"),
            runs.typed("run", int(row)),
            f"is the number of the run on line {first[float(runs.number('run')[row])]} too",
            "each run has a number of its own",
        )


def days_forward(sheets: Sheets) -> Iterator[Fault]:
    """Want no day before the day of the run that came before, in order of run."""
    runs = sheets.runs
    rows = sheets.order[runs.known("day")[sheets.order]]
    if not len(rows):
        return
    day = runs.value("day")[rows]
    for at in np.flatnonzero(day[1:] < day[:-1]):
        before, row = int(rows[at]), int(rows[at + 1])
        yield Fault(
            runs.file,
            int(runs.line[row]),
            runs.heading("day"),
            runs.typed("day", row),
            f"goes back: run {runs.typed('run', before)} before it was made on {day[at]} (line {runs.line[before]})",
            "runs are numbered in the order made: correct the day or the number",
        )


def belts_known(sheets: Sheets) -> Iterator[Fault]:
    """Want every run's belt among the belts."""
    runs, belts = sheets.runs, sheets.belts
    if "belt" not in belts.cells or not belts.table.complete:
        return  # A row of the belts that could not be read may be the one that is missed.
    lower = {belt.lower(): belt for belt in sheets.belt_names if belt is not None}
    offers: dict[str, str] = {}
    for row in np.flatnonzero(sheets.unknown_belt):
        belt = str(runs.value("belt")[row])
        if belt not in offers and len(offers) < OFFERS:
            close = get_close_matches(belt.lower(), list(lower), n=1, cutoff=0.5)
            offers[belt] = f"did you mean {shown(lower[close[0]])}? " if close else ""
        yield Fault(
            runs.file,
            int(runs.line[row]),
            runs.heading("belt"),
            shown(belt),
            f"is no belt of {belts.file}",
            f"{offers.get(belt, '')}give it the name it has there, or a row there",
        )


def ended_once(sheets: Sheets) -> Iterator[Fault]:
    """Want no run of a belt after the one that ended it."""
    runs = sheets.runs
    belt, fate = runs.value("belt"), runs.value("fate")
    ended: dict[str, int] = {}
    for row in sheets.order.tolist():
        name = belt[row]
        if name is None:
            continue
        if name in ended:
            end = ended[name]
            was = "broke" if fate[end] == "broke" else "was retired"
            yield Fault(
                runs.file,
                int(runs.line[row]),
                runs.heading("belt"),
                shown(name),
                f"makes run {runs.typed('run', row)} but {was} on run {runs.typed('run', end)} (line {runs.line[end]})",
                "a belt that ended makes no more runs: correct the name here or the fate there",
            )
        elif fate[row] in ENDINGS:
            ended[name] = row


def endings_explained(sheets: Sheets) -> Iterator[Fault]:
    """Want a cause for every ending."""
    runs = sheets.runs
    if "cause" not in runs.cells:
        count = int(np.isin(runs.value("fate"), ENDINGS).sum())
        if count:
            yield Fault(
                runs.file,
                runs.table.heading_line,
                "cause",
                None,
                f"without this column {counted(count, 'ending')} must be taken as unknown: a belt that broke "
                "counts as failed, one that was retired does not",
                "add it to learn how belts fail",
                True,
            )
        return
    blank = ~runs.known("cause") & ~runs.bad("cause")
    for row in np.flatnonzero(np.isin(runs.value("fate"), ENDINGS) & blank):
        was = "broke" if runs.value("fate")[row] == "broke" else "was retired"
        yield Fault(
            runs.file,
            int(runs.line[row]),
            runs.heading("cause"),
            None,
            f"blank, though the belt {was}",
            f"one of {', '.join(CAUSES)}",
        )


def kept_without_cause(sheets: Sheets) -> Iterator[Fault]:
    """Want no cause of an end where the belt runs on."""
    runs = sheets.runs
    runs_on = runs.known("fate") & ~np.isin(runs.value("fate"), ENDINGS)
    for row in np.flatnonzero(runs.known("cause") & runs_on):
        yield Fault(
            runs.file,
            int(runs.line[row]),
            runs.heading("cause"),
            runs.typed("cause", int(row)),
            f"explains an end, but the belt was {runs.value('fate')[row]}",
            "leave the cause blank, or make the fate retired or broke",
        )


def broken_belts_off(sheets: Sheets) -> Iterator[Fault]:
    """Doubt that a belt was kept whose look is that of a broken one."""
    runs = sheets.runs
    broken = runs.known("break_look") & (runs.value("break_look") != "none")
    runs_on = runs.known("fate") & ~np.isin(runs.value("fate"), ENDINGS)
    for row in np.flatnonzero(broken & runs_on):
        yield Fault(
            runs.file,
            int(runs.line[row]),
            runs.heading("break_look"),
            runs.typed("break_look", int(row)),
            f"is the look of a broken belt, but this one was {runs.value('fate')[row]}",
            "correct the look or the fate",
            True,
        )


def one_car(sheets: Sheets) -> Iterator[Fault]:
    """Doubt that a belt changed cars."""
    runs = sheets.runs
    belt, car = runs.value("belt"), runs.value("car")
    last: dict[str, int] = {}
    for row in sheets.order.tolist():
        if belt[row] is None or car[row] is None:
            continue
        before = last.get(belt[row])
        if before is not None and car[before] != car[row]:
            yield Fault(
                runs.file,
                int(runs.line[row]),
                runs.heading("car"),
                shown(car[row]),
                f"is another car than belt {shown(belt[row])} last ran on: {shown(car[before])} "
                f"(line {runs.line[before]})",
                "correct it if the belt did not move",
                True,
            )
        last[belt[row]] = row


def names_alike(sheets: Sheets) -> Iterator[Fault]:
    """Doubt names that differ only in capitals."""
    for sheet in (sheets.belts, sheets.runs):
        for name, column in sheet.cells.items():
            if column.placed.column.kind == "name" and (sheet is sheets.belts or name != "belt"):
                yield from _alike(sheet, name)


def _alike(sheet: Sheet, name: str) -> Iterator[Fault]:
    text = sheet.table.cells[sheet.cells[name].placed.index]
    first: dict[str, str] = {}
    for code, typed in enumerate(text.distinct):
        other = first.setdefault(typed.lower(), typed)
        if typed and other != typed:
            row = int(np.flatnonzero(text.code == code)[0])
            yield Fault(
                sheet.file,
                int(sheet.line[row]),
                sheet.heading(name),
                shown(typed),
                f"differs from {shown(other)} only in capitals",
                "write one name in one way",
                True,
            )


def first_day_first(sheets: Sheets) -> Iterator[Fault]:
    """Doubt a belt's first day that is after its first run."""
    belts, runs = sheets.belts, sheets.runs
    if "first_day" not in belts.cells or "day" not in runs.cells:
        return
    seen: set[int] = set()
    for row in sheets.order.tolist():
        at = int(sheets.belt_row[row])
        if at < 0 or at in seen or not runs.known("day")[row]:
            continue
        seen.add(at)
        if belts.known("first_day")[at] and belts.value("first_day")[at] > runs.value("day")[row]:
            yield Fault(
                belts.file,
                int(belts.line[at]),
                belts.heading("first_day"),
                belts.typed("first_day", at),
                f"is after the belt's first run in the log, on {runs.value('day')[row]} "
                f"({runs.file}, line {runs.line[row]})",
                "correct the one that is wrong",
                True,
            )


def runs_before_likely(sheets: Sheets) -> Iterator[Fault]:
    """Doubt a great number of runs before the log, and say what an unknown one costs."""
    belts = sheets.belts
    if "runs_before" not in belts.cells:
        return
    for row in np.flatnonzero(belts.cells["runs_before"].asked):
        yield Fault(
            belts.file,
            int(belts.line[row]),
            belts.heading("runs_before"),
            "?",
            f"keeps belt {belts.typed('belt', int(row))} out of every answer that needs its age",
            "write the number if it can still be found",
            True,
        )
    for row in np.flatnonzero(belts.number("runs_before") > MANY_RUNS_BEFORE):
        yield Fault(
            belts.file,
            int(belts.line[row]),
            belts.heading("runs_before"),
            belts.typed("runs_before", int(row)),
            f"is more than {MANY_RUNS_BEFORE}, very many for one belt",
            "correct it if it is a slip",
            True,
        )


RULES: tuple[Rule, ...] = (
    rows_there,
    example_gone,
    belts_once,
    runs_once,
    days_forward,
    belts_known,
    ended_once,
    endings_explained,
    kept_without_cause,
    broken_belts_off,
    one_car,
    names_alike,
    first_day_first,
    runs_before_likely,
)
