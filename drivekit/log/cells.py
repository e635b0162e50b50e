"""From the text of a column's cells to its values: what each kind of cell may hold, and what is wrong with any other.

A value is never guessed: what is not plainly a number, a day or a level is a fault that says what would be right.
"""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from drivekit.faults import Fault, nearest
from drivekit.log.columns import Column
from drivekit.log.headings import Placed
from drivekit.log.spreadsheet import NO_VALUE
from drivekit.log.tables import Table, shown

__all__ = ["Cells", "cells", "figure"]

FIRST_DAY = datetime.date(1950, 1, 1)
LAST_DAY = datetime.date(2099, 12, 31)
NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?")
THOUSANDS = re.compile(r"[+-]?[0-9]{1,3}([,' \u00a0\u202f][0-9]{3})+(\.[0-9]+)?")
DECIMAL_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+")
WITH_UNIT = re.compile(rf"({NUMBER.pattern})\s*[^0-9\s.,:/+-][^0-9,]*")


@dataclass(frozen=True, slots=True)
class Wrong:
    """What is wrong with a text, and what would be right."""

    wrong: str
    right: str


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """One column's values.

    Parameters
    ----------
    placed : Placed
        The column, and how the file heads it.
    value : ndarray, shape (n_rows,)
        float64 in metric units, nan where not known (numbers); object, None where not known (names, words, text);
        datetime64[D], NaT where not known (days).
    known : ndarray of bool, shape (n_rows,)
        Where a sound value stands.
    bad : ndarray of bool, shape (n_rows,)
        Where a fault was found, so that no further rule need speak of the cell.
    asked : ndarray of bool, shape (n_rows,)
        Where a question mark stands for "not known".
    """

    placed: Placed
    value: NDArray[Any]
    known: NDArray[np.bool_]
    bad: NDArray[np.bool_]
    asked: NDArray[np.bool_]


def cells(table: Table, place: Placed) -> tuple[Cells, list[Fault]]:
    """Read one column of a table.

    Each distinct text is looked at once; rows with too many or too few cells are left out and marked bad.

    Returns
    -------
    Cells, list of Fault
        The values in metric units, and a fault for each cell that has none.
    """
    column = place.column
    text = table.cells[place.index]
    parse = _PARSERS[column.kind]
    parsed = [
        (_blank(column) if column.required else None)
        if not typed
        else None
        if column.question and typed == "?"
        else Wrong("is a formula whose value was never computed", "open the file in a spreadsheet program and save it")
        if typed == NO_VALUE
        else parse(typed, place)
        for typed in text.distinct
    ]
    wrong = np.array([isinstance(value, Wrong) for value in parsed], dtype=np.bool_)
    asked = np.array([column.question and typed == "?" for typed in text.distinct], dtype=np.bool_)
    empty = np.array([value is None for value in parsed], dtype=np.bool_)
    values = _array(column, [None if isinstance(value, Wrong) else value for value in parsed])
    bad = wrong[text.code] & table.sound
    faults = [_fault(table, place, int(row), text.at(int(row)), parsed[text.code[row]]) for row in np.flatnonzero(bad)]
    value = values[text.code]
    if not table.sound.all():
        value[~table.sound] = _array(column, [None])[0]
    known = ~(wrong | empty)[text.code] & table.sound
    return Cells(place, value, known, bad | ~table.sound, asked[text.code] & table.sound), faults


def figure(value: float) -> str:
    """Write a number the way a cell may hold it: no more than four figures, or all of a whole one."""
    if float(value).is_integer() and abs(value) < 1e15:
        return str(int(value))
    digits = max(0, 3 - math.floor(math.log10(abs(value))))
    rounded = f"{value:.{digits}f}"
    return rounded.rstrip("0").rstrip(".") if "." in rounded else rounded


def _fault(table: Table, place: Placed, row: int, typed: str, wrong: object) -> Fault:
    assert isinstance(wrong, Wrong)
    shows = None if typed in ("", NO_VALUE) else shown(typed)
    return Fault(table.file, int(table.line[row]), place.heading, shows, wrong.wrong, wrong.right)


def _array(column: Column, values: list[Any]) -> NDArray[Any]:
    if column.is_number:
        return np.array([math.nan if value is None else value for value in values], dtype=np.float64)
    if column.kind == "day":
        return np.array(values, dtype="datetime64[D]")
    filled = np.empty(len(values), dtype=object)
    filled[:] = values
    return filled


def _blank(column: Column) -> Wrong:
    if column.levels:
        return Wrong("blank", f"every row needs one of {', '.join(column.levels)}")
    needs = {"day": "a day, such as 2026-03-07", "whole": "a whole number", "number": "a number"}
    return Wrong("blank", f"every row needs {needs.get(column.kind, f'a {column.name}')}")


def _name(typed: str, place: Placed) -> object:
    return typed


def _word(typed: str, place: Placed) -> object:
    word = typed.lower()
    if word in place.column.levels:
        return word
    return Wrong(f"is no {place.column.name}", nearest(word, place.column.levels))


def _day(typed: str, place: Placed) -> object:
    if not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", typed):
        if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}[ T][0-9:.]+", typed):
            return Wrong("holds a time of day too", f"write the day alone: {typed[:10]}")
        return Wrong("is no day", "write year-month-day, such as 2026-03-07")
    try:
        day = datetime.date.fromisoformat(typed)
    except ValueError:
        return Wrong("is no day of the calendar", "write year-month-day, such as 2026-03-07")
    if not FIRST_DAY <= day <= LAST_DAY:
        return Wrong("is an impossible day", f"{FIRST_DAY} to {LAST_DAY}")
    return day


def _number(typed: str, place: Placed) -> object:
    if not NUMBER.fullmatch(typed):
        return _no_number(typed, place)
    value = float(typed)
    column, twin = place.column, place.twin
    if column.kind == "whole" and not value.is_integer():
        return Wrong("is no whole number", "write a count, such as 12")
    metric = twin.metric(value) if twin else value
    # Inch-pound values pass through a conversion: a limit typed in full must not fail in its last digit.
    slack = 1e-12 if twin else 0.0
    low = -math.inf if column.low is None else column.low - slack * abs(column.low)
    high = math.inf if column.high is None else column.high + slack * abs(column.high)
    if low <= metric <= high and math.isfinite(metric):
        return metric
    return Wrong("is impossible", f"{_range(place)} is possible")


def _range(place: Placed) -> str:
    """Say what is possible in the unit that was typed."""
    column, twin = place.column, place.twin
    low, high = (
        None if limit is None else figure(twin.inch_pound(limit) if twin else limit)
        for limit in (column.low, column.high)
    )
    unit = twin.unit if twin else column.unit
    limits = (
        f"{low} to {high}"
        if low is not None and high is not None
        else (f"{low} or more" if low is not None else f"{high} or less" if high is not None else "a finite number")
    )
    return f"{limits} {unit}".rstrip()


def _no_number(typed: str, place: Placed) -> Wrong:
    kind = "whole number" if place.column.kind == "whole" else "number"
    wrong = f"is no {kind}"
    if THOUSANDS.fullmatch(typed):
        plain = re.sub(r"[,' \u00a0\u202f]", "", typed)
        either = f", or {typed.replace(',', '.')} if the comma is a decimal point"
        return Wrong(wrong, f"write {plain}{either if DECIMAL_COMMA.fullmatch(typed) else ''}")
    if DECIMAL_COMMA.fullmatch(typed):
        return Wrong(wrong, f"write {typed.replace(',', '.')}")
    with_unit = WITH_UNIT.fullmatch(typed)
    if with_unit:
        return Wrong(wrong, f"write {with_unit[1]} alone: the heading says the unit")
    leave = "" if place.column.required else ", or leave the cell blank"
    ask = " or ? for not known" if place.column.question else ""
    example = float(place.column.example or 12)
    such = figure(place.twin.inch_pound(example) if place.twin else example)
    return Wrong(wrong, f"write a {kind}, such as {such}{ask}{leave}")


_PARSERS: dict[str, Callable[[str, Placed], object]] = {
    "name": _name,
    "text": _name,
    "word": _word,
    "day": _day,
    "whole": _number,
    "number": _number,
}
