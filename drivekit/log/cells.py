"""From the text of a column's cells to its values: what each kind of cell may hold, and what is wrong with any other.

A value is never guessed: what is not plainly a number, a day or a level is a fault that says what would be right.
"""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from drivekit.faults import Fault, nearest, shown
from drivekit.log.columns import TABLES, Column
from drivekit.log.guess import ISO_DAY, SLASHED
from drivekit.log.headings import NO_MAP, ColumnMap, Placed, placed
from drivekit.log.reading import NO_VALUE
from drivekit.log.tables import CellText, Table

__all__ = ["Cells", "Sheet", "Sheets", "cells", "checked_sheet", "figure"]

Bools = NDArray[np.bool_]
Row = int | np.integer[Any]

FIRST_DAY = datetime.date(1950, 1, 1)
LAST_DAY = datetime.date(2099, 12, 31)
DAY = re.compile(rf"{ISO_DAY.pattern}( [0-9:.]+)?")
NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?")
THOUSANDS = re.compile(r"[+-]?[0-9]{1,3}([,' \u00a0\u202f][0-9]{3})+(\.[0-9]+)?")
DECIMAL_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+")
NO_NAME = re.compile(r"TRUE|FALSE|#(REF!|N/A|VALUE!|DIV/0!|NAME\?|NUM!|NULL!)")
WITH_UNIT = re.compile(rf"({NUMBER.pattern})\s*[^0-9\s.,:/+-][^0-9,]*")


class Wrong(NamedTuple):
    """What is wrong with a text, and what would be right."""

    wrong: str
    right: str


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """One column's cells, row by row; all blank where the log lacks the column."""

    place: Placed  # what it means, and how the person writes it
    there: bool  # whether the log has it
    table: Table
    text: CellText  # as typed
    # In metric units. Numbers are float64, nan where not known; days datetime64[D], NaT; all else object, None.
    value: NDArray[Any]
    known: Bools  # where a sound value stands
    bad: Bools  # where a fault was found, so that no further rule need speak of the cell
    asked: Bools  # where a question mark stands for "not known"

    def typed(self, row: Row) -> str | None:
        """Give a cell as typed, fit to print; None where it is blank."""
        typed = self.text.distinct[self.text.code[row]]
        return None if typed in ("", NO_VALUE) else shown(typed)

    def line(self, row: Row) -> int:
        """Give the line of a row in the file."""
        return int(self.table.line[row])

    def fault(self, row: Row, wrong: str, right: str, warning: bool = False) -> Fault:
        """Find fault with a cell."""
        return Fault(self.table.file, self.line(row), self.place.heading, self.typed(row), wrong, right, warning)


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """One table with its cells read: `sheet["fate"]` is a column, `len(sheet)` counts its rows."""

    table: Table
    columns: Mapping[str, Cells]  # every column it may have, by our names
    faults: tuple[Fault, ...]  # what is wrong with its headings, rows and cells, each by itself

    def __getitem__(self, name: str) -> Cells:
        return self.columns[name]

    def __len__(self) -> int:
        return len(self.table.line)


@dataclass(frozen=True, eq=False)
class Sheets:
    """Both tables side by side, as the rules across rows see them."""

    belts: Sheet
    runs: Sheet

    @cached_property
    def belt_names(self) -> tuple[str | None, ...]:
        """The belts' names, also of rows that are at fault in some other way; None where blank."""
        text = self.belts["belt"].text
        return tuple(text.distinct[code] or None for code in text.code)

    @cached_property
    def belt_row(self) -> NDArray[np.int64]:
        """The row among the belts of each run's belt; -1 where the belt is unknown or blank."""
        row_of = {belt: row for row, belt in reversed(list(enumerate(self.belt_names)))}
        belt = self.runs["belt"]
        rows = np.array([row_of.get(typed, -1) for typed in belt.text.distinct], dtype=np.int64)
        return np.where(belt.known, rows[belt.text.code], row_of.get(None, -1))

    @property
    def unknown_belt(self) -> Bools:
        """Where a run names a belt that has no row among the belts."""
        unknown: Bools = self.runs["belt"].known & (self.belt_row < 0)
        return unknown

    @cached_property
    def order(self) -> NDArray[np.int64]:
        """Rows of the runs in order of run; those without a number of their own are left out.

        Of two rows with one number only the first in the file takes part: where the other belongs is not known.
        """
        rows = np.flatnonzero(self.runs["run"].known)
        _, first = np.unique(self.runs["run"].value[rows], return_index=True)
        return rows[first]


def checked_sheet(name: str, table: Table, own: ColumnMap = NO_MAP) -> Sheet:
    """Read every known column of a table, belts or runs, and collect what is wrong with headings, rows and cells."""
    places, faults = placed(name, table, own)
    found: dict[str, Cells] = {}
    for column in TABLES[name]:
        if column.name in places:
            found[column.name], wrong = cells(table, places[column.name])
            faults.extend(wrong)
        else:
            found[column.name] = _absent(table, column)
    return Sheet(table, found, (*table.faults, *faults))


def cells(table: Table, place: Placed) -> tuple[Cells, list[Fault]]:
    """Read one column of a table.

    Each distinct text is looked at once; rows with too many or too few cells are left out and marked bad.

    Returns
    -------
    Cells, list of Fault
        The values in metric units, and a fault for each cell that has none.
    """
    column, text, words = place.column, table.cells[place.at], place.words
    meant = [words.get(typed.lower(), typed) for typed in text.distinct] if words else text.distinct
    parsed = [_parsed(typed, place, of_sheet=table.file.endswith("]")) for typed in meant]
    wrong = np.array([isinstance(value, Wrong) for value in parsed], dtype=np.bool_)[text.code]
    empty = np.array([value is None for value in parsed], dtype=np.bool_)[text.code]
    asked = np.array([column.question and typed == "?" for typed in meant], dtype=np.bool_)[text.code]
    value = _array(column, [None if isinstance(value, Wrong) else value for value in parsed])[text.code]
    value[~table.sound] = None
    bad = wrong | ~table.sound
    read = Cells(place, True, table, text, value, ~(bad | empty), bad, asked & table.sound)
    faults = [read.fault(int(row), *parsed[text.code[row]]) for row in np.flatnonzero(wrong & table.sound)]
    own = sum(isinstance(value, Wrong) for typed, value in zip(text.distinct, parsed, strict=True) if typed)
    if column.levels and own > 1 and 2 * own > len(text.distinct):
        drafted = "have a map of them drafted: drivekit check LOG --columns map.toml"
        right = f"name them in the map under [words.{column.name}]" if words else drafted
        faults.append(table.fault(place.heading, f"holds {own} words of your own", right, warning=True))
    return read, faults


def _absent(table: Table, column: Column) -> Cells:
    """Give a column that the table lacks; its blanks take no room."""
    rows = table.line.shape
    no, blank = np.broadcast_to(np.False_, rows), np.broadcast_to(_array(column, [None]), rows)
    text = CellText(np.broadcast_to(np.int32(0), rows), ("",))
    return Cells(Placed(column, -1, column.name), False, table, text, blank, no, no, no)


def figure(value: float) -> str:
    """Write a number the way a cell may hold it: no more than four figures, or all of a whole one."""
    if float(value).is_integer() and abs(value) < 1e15:
        return str(int(value))
    digits = max(0, 3 - math.floor(math.log10(abs(value))))
    rounded = f"{value:.{digits}f}"
    return rounded.rstrip("0").rstrip(".") if "." in rounded else rounded


def _parsed(typed: str, place: Placed, *, of_sheet: bool) -> Any:
    """Give the value that a text stands for: None for none, or what is wrong with it."""
    column = place.column
    if not typed:
        return _blank(column) if column.required else None
    if column.question and typed == "?":
        return None
    if typed == NO_VALUE:
        right = "open the file in a spreadsheet program and save it"
        return Wrong("is a formula whose value was never computed", right)
    if column.kind == "word":
        word = typed.lower()
        return word if word in column.levels else Wrong(f"is no {column.name}", nearest(word, column.levels))
    if column.kind == "day":
        return _day(typed, place.order)
    if column.kind == "name":
        return _name(typed, column, of_sheet=of_sheet)
    return _number(typed, place) if column.is_number else typed


def _array(column: Column, values: list[Any]) -> NDArray[Any]:
    return np.array(
        values, dtype=np.float64 if column.is_number else "datetime64[D]" if column.kind == "day" else object
    )


def _blank(column: Column) -> Wrong:
    if column.levels:
        return Wrong("blank", f"every row needs one of {', '.join(column.levels)}")
    needs = {"day": "a day, such as 2026-03-07", "whole": "a whole number", "number": "a number"}
    return Wrong("blank", f"every row needs {needs.get(column.kind, f'a {column.name}')}")


def _name(typed: str, column: Column, *, of_sheet: bool) -> str | Wrong:
    if of_sheet and DAY.fullmatch(typed):
        # A spreadsheet makes a day of a name that looks like one; in a text file it is what the person typed.
        return Wrong("is a day where a name should stand", "format the cell as text and type the name again")
    if NO_NAME.fullmatch(typed):
        return Wrong(f"is no {column.label.lower()} but an error or a yes-or-no of a spreadsheet", "write the name")
    return typed if typed.isprintable() else Wrong("holds a letter that cannot be seen", "type the name again")


def _day(typed: str, order: str) -> datetime.date | Wrong:
    right = "write year-month-day, such as 2026-03-07"
    if slashed := SLASHED.fullmatch(typed):
        if not order:
            say = f"{right}, or say in a map (--columns) whether day or month is first"
            return Wrong("is no day of one meaning", say)
        pair = int(slashed["first"]), int(slashed["second"])
        month, of_month = pair if order == "month first" else reversed(pair)
        typed = f"{slashed['year']}-{month:02}-{of_month:02}"
        right = f"the map says {order}: correct the one that is wrong"
    if not ISO_DAY.fullmatch(typed):
        if re.fullmatch(rf"{ISO_DAY.pattern}[ T][0-9:.]+", typed):
            return Wrong("holds a time of day too", f"write the day alone: {typed[:10]}")
        return Wrong("is no day", right)
    try:
        day = datetime.date.fromisoformat(typed)
    except ValueError:
        return Wrong("is no day of the calendar", right)
    if not FIRST_DAY <= day <= LAST_DAY:
        return Wrong("is an impossible day", f"{FIRST_DAY} to {LAST_DAY}")
    return day


def _number(typed: str, place: Placed) -> float | Wrong:
    if not NUMBER.fullmatch(typed):
        return _no_number(typed, place)
    value = float(typed)
    column, units = place.column, place.units
    if column.kind == "whole" and not value.is_integer():
        return Wrong("is no whole number", "write a count, such as 12")
    metric = units.metric(value, column.unit)
    # Inch-pound values pass through a conversion: a limit typed in full must not fail in its last digit.
    slack = 1e-12 if units.inch_pound else 0.0
    if column.low - slack * abs(column.low) <= metric <= column.high + slack * abs(column.high):
        return metric
    low, high = (figure(units.value(limit, column.unit)) for limit in (column.low, column.high))
    return Wrong("is impossible", f"{low} to {high} {units.name(column.unit)}".rstrip() + " is possible")


def _no_number(typed: str, place: Placed) -> Wrong:
    kind = "whole number" if place.column.kind == "whole" else "number"
    wrong = f"is no {kind}"
    if THOUSANDS.fullmatch(typed):
        plain = re.sub(r"[,' \u00a0\u202f]", "", typed)
        either = f", or {typed.replace(',', '.')} if the comma is a decimal point"
        return Wrong(wrong, f"write {plain}{either if DECIMAL_COMMA.fullmatch(typed) else ''}")
    if DECIMAL_COMMA.fullmatch(typed):
        return Wrong(wrong, f"write {typed.replace(',', '.')}")
    if with_unit := WITH_UNIT.fullmatch(typed):
        return Wrong(wrong, f"write {with_unit[1]} alone: the heading says the unit")
    leave = "" if place.column.required else ", or leave the cell blank"
    ask = " or ? for not known" if place.column.question else ""
    such = figure(place.units.value(float(place.column.example or 12), place.column.unit))
    return Wrong(wrong, f"write a {kind}, such as {such}{ask}{leave}")
