"""The checked cells of both tables, side by side, as the rules across rows see them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from drivekit.faults import Fault
from drivekit.log.cells import Cells, cells
from drivekit.log.columns import Column
from drivekit.log.headings import NO_MAP, ColumnMap, placed
from drivekit.log.tables import Table, shown

__all__ = ["Sheet", "Sheets", "checked_sheet"]

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """One table with its cells read.

    Parameters
    ----------
    table : Table
        The table as text.
    cells : mapping of str to Cells
        The columns present, by our names.
    faults : tuple of Fault
        What is wrong with its headings, rows and cells, each by itself.
    """

    table: Table
    cells: Mapping[str, Cells]
    faults: tuple[Fault, ...]

    def __len__(self) -> int:
        return len(self.table.line)

    @property
    def file(self) -> str:
        """How faults name the table."""
        return self.table.file

    @property
    def line(self) -> NDArray[np.int64]:
        """The line of each row."""
        return self.table.line

    def value(self, name: str) -> NDArray[Any]:
        """Give a column's values; all None where the column is absent."""
        return self.cells[name].value if name in self.cells else np.full(len(self), None, dtype=object)

    def number(self, name: str) -> Floats:
        """Give a column's numbers; all nan where the column is absent."""
        return self.cells[name].value if name in self.cells else np.full(len(self), math.nan)

    def known(self, name: str) -> Bools:
        """Say where a column holds a sound value."""
        return self.cells[name].known if name in self.cells else np.zeros(len(self), dtype=np.bool_)

    def bad(self, name: str) -> Bools:
        """Say where a cell has been found at fault already."""
        return self.cells[name].bad if name in self.cells else np.zeros(len(self), dtype=np.bool_)

    def heading(self, name: str) -> str:
        """Give the column's name as the person wrote it."""
        return self.cells[name].placed.heading if name in self.cells else name

    def typed(self, name: str, row: int) -> str | None:
        """Give a cell as typed, fit to print; None where it is blank or its column absent."""
        if name not in self.cells:
            return None
        text = self.table.cells[self.cells[name].placed.index].at(row)
        return shown(text) if text else None


@dataclass(frozen=True, eq=False)
class Sheets:
    """Both tables."""

    belts: Sheet
    runs: Sheet

    @cached_property
    def belt_row(self) -> NDArray[np.int64]:
        """The row among the belts of each run's belt; -1 where the belt is unknown or blank."""
        row_of = {belt: row for row, belt in reversed(list(enumerate(self.belt_names)))}
        return np.array([row_of.get(belt, -1) for belt in self.runs.value("belt")], dtype=np.int64)

    @cached_property
    def belt_names(self) -> tuple[str | None, ...]:
        """The belts' names, also of rows that are at fault in some other way; None where blank."""
        if "belt" not in self.belts.cells:
            return (None,) * len(self.belts)
        text = self.belts.table.cells[self.belts.cells["belt"].placed.index]
        return tuple(text.distinct[code] or None for code in text.code)

    @property
    def unknown_belt(self) -> Bools:
        """Where a run names a belt that has no row among the belts."""
        unknown: Bools = self.runs.known("belt") & (self.belt_row < 0)
        return unknown

    def of_belt(self, name: str) -> Floats:
        """Give each run a number of its belt; nan where that is not known."""
        values = np.append(self.belts.number(name), math.nan)
        return values[self.belt_row]

    def of_belt_bad(self, name: str) -> Bools:
        """Say for each run whether its belt's cell has been found at fault already."""
        return np.append(self.belts.bad(name), False)[self.belt_row]

    @cached_property
    def order(self) -> NDArray[np.int64]:
        """Rows of the runs in order of run; those without a number of their own are left out.

        Of two rows with one number only the first in the file takes part: where the other belongs is not known.
        """
        if "run" not in self.runs.cells:
            return np.zeros(0, dtype=np.int64)
        rows = np.flatnonzero(self.runs.known("run"))
        number = self.runs.number("run")[rows]
        _, first = np.unique(number, return_index=True)
        return rows[first]


def checked_sheet(name: str, table: Table, columns: Sequence[Column], own: ColumnMap = NO_MAP) -> Sheet:
    """Read every known column of a table, and collect what is wrong with headings, rows and cells.

    Parameters
    ----------
    name : str
        The table's name in the map of headings.
    table : Table
        The table as text.
    columns : sequence of Column
        The columns it may have.
    own : ColumnMap
        The person's own headings.
    """
    places, faults = placed(name, table, columns, own)
    found: dict[str, Cells] = {}
    for column in columns:
        if column.name in places:
            found[column.name], wrong = cells(table, places[column.name])
            faults.extend(wrong)
    return Sheet(table, found, (*table.faults, *faults))
