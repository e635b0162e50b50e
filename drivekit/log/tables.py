"""A table of text cells as it stands in a file, before anything is made of it.

Cells are kept by column as codes into the distinct texts of that column, so that a hundred thousand rows cost little
and every distinct text is looked at once.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from drivekit.faults import Fault, Unusable

__all__ = ["CellText", "Table", "comma_table", "counted", "filled_table"]

HEAD_CHARACTERS = 65_536
ROW_LIKE = 0.8
"""The share of a row's separators from which a line within a cell is taken for a row."""
Record = tuple[int, Sequence[str] | Fault]


class CellText(NamedTuple):
    """The cells of one column.

    Parameters
    ----------
    code : ndarray of int32, shape (n_rows,)
        Each row's place in `distinct`.
    distinct : tuple of str
        The distinct texts of the column, blanks around them taken off, in the order met.
    """

    code: NDArray[np.int32]
    distinct: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """One table of the log as text.

    Parameters
    ----------
    file : str
        How faults name it: ``runs.csv`` or ``season.xlsx[runs]``.
    heading_line : int
        Line of the heading.
    headings : tuple of str
        The headings as typed, blanks around them taken off.
    cells : tuple of CellText
        One for each heading; rows that are blank throughout are left out.
    line : ndarray of int64, shape (n_rows,)
        The first line of each row in the file.
    sound : ndarray of bool, shape (n_rows,)
        False where the row has too many or too few cells, so that no cell of it can be trusted to its column.
    faults : tuple of Fault
        What reading found.
    complete : bool
        False when rows could not be read at all.
    """

    file: str
    heading_line: int
    headings: tuple[str, ...]
    cells: tuple[CellText, ...]
    line: NDArray[np.int64]
    sound: NDArray[np.bool_]
    faults: tuple[Fault, ...]
    complete: bool

    def fault(self, heading: str, wrong: str, right: str, warning: bool = False) -> Fault:
        """Find fault with a heading; an empty one means their whole line."""
        return Fault(self.file, self.heading_line, heading, None, wrong, right, warning)


def counted(number: int, noun: str) -> str:
    """Say a number of things: ``1 run``, ``2 runs``."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def comma_table(file: str, text: str) -> Table:
    """Read a table whose cells are parted by commas or by semicolons, whichever the heading has.

    Parameters
    ----------
    file : str
        How faults name the file.
    text : str
        The file's text without byte-order mark; any line ends.

    Raises
    ------
    Unusable
        If there is nothing in it, or its columns are parted by tabs.
    """
    # Quoted parts may hold separators and line ends: they are taken out before the heading is looked at.
    unquoted = re.sub(r'"[^"]*"', "", text[:HEAD_CHARACTERS])
    heading = next((line for line in unquoted.splitlines() if line.strip()), "")
    if "\t" in heading and not set(",;") & set(heading):
        raise Unusable(f"{file} parts its columns by tabs: save it with commas or semicolons.")
    delimiter = ";" if heading.count(";") > heading.count(",") else ","
    return filled_table(file, _records(file, text, delimiter))


def filled_table(file: str, records: Iterable[Record]) -> Table:
    """Sort records into columns; the first that is not blank is the heading.

    Parameters
    ----------
    file : str
        How faults name the table.
    records : iterable of (line, cells)
        The records in the order of the file; a fault stands in the place of one that could not be read.

    Raises
    ------
    Unusable
        If no record holds anything.
    """
    rows = iter(records)
    heading_line, headings = _heading(file, rows)
    width = len(headings)
    places: list[dict[str, int]] = [{} for _ in headings]
    codes: list[list[int]] = [[] for _ in headings]
    lines: list[int] = []
    sound: list[bool] = []
    faults: list[Fault] = []
    blank_lines: list[int] = []
    pending: list[int] = []
    complete = True
    for line, record in rows:
        if isinstance(record, Fault):
            complete = False
            faults.append(record)
            continue
        row = [cell.strip() for cell in record]
        if not any(row):
            pending.append(line)
            continue
        blank_lines += pending
        pending.clear()
        lines.append(line)
        sound.append(len(row) == width)
        if len(row) != width:
            faults.append(_ragged(file, line, len(row), width))
            row += [""] * (width - len(row))
        for place, code, cell in zip(places, codes, row, strict=False):
            code.append(place.setdefault(cell, len(place)))
    if blank_lines:
        wrong = "blank row" if len(blank_lines) == 1 else f"first of {len(blank_lines)} blank rows between the others"
        faults.append(Fault(file, blank_lines[0], "", None, wrong, "take it out if nothing is missing there", True))
    cells = tuple(
        CellText(np.array(code, dtype=np.int32), tuple(place)) for place, code in zip(places, codes, strict=True)
    )
    line_of, is_sound = np.array(lines, dtype=np.int64), np.array(sound, dtype=np.bool_)
    return Table(file, heading_line, headings, cells, line_of, is_sound, tuple(faults), complete)


def _heading(file: str, rows: Iterator[Record]) -> tuple[int, tuple[str, ...]]:
    for line, record in rows:
        if isinstance(record, Fault):
            why = f"{record.wrong}; {record.right}"
            raise Unusable(f"{file} has a heading that cannot be read (line {line}): {why}.")
        if any(cell.strip() for cell in record):
            return line, tuple(cell.strip() for cell in record)
    raise Unusable(f"{file} is empty: its first line must name the columns.")


def _ragged(file: str, line: int, cells: int, width: int) -> Fault:
    right = "give every column a cell, blank where nothing is known"
    if cells > width:
        right = "a comma or semicolon too many? put a text that holds one between double quotes"
    return Fault(file, line, "", None, f"has {counted(cells, 'cell')} where the heading has {width}", right)


def _records(file: str, text: str, delimiter: str) -> Iterator[Record]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    width = 0
    while True:
        line = reader.line_num + 1
        try:
            record = next(reader)
            # Only a record over several lines can hold a row within a cell.
            loose = _swallowed(record, line, width, delimiter) if reader.line_num > line else None
            width = width or len(record)
            yield line, record if loose is None else Fault(file, line, "", None, *loose)
        except StopIteration:
            return
        except csv.Error as error:
            yield line, Fault(file, line, "", None, *_unreadable(str(error)))


def _swallowed(record: Sequence[str], line: int, width: int, delimiter: str) -> tuple[str, str] | None:
    """Find a cell that holds what looks like rows of the table, and say where it begins and ends."""
    for cell in record:
        _, *more = re.split(r"\r\n|\r|\n", cell)
        if any(part.count(delimiter) >= max(2, ROW_LIKE * (width - 1)) for part in more):
            until = line + len(more)
            wrong = f"opens a double quote that is closed on line {until}, so all between is one cell"
            return wrong, "close the quote where the text ends, or take both out"
        line += len(more)
    return None


def _unreadable(error: str) -> tuple[str, str]:
    """Say what is wrong, and what would be right, in the words of a person who sees the file."""
    if "end of data" in error:
        wrong = "opens a double quote that is never closed, so all below it is one cell"
        return wrong, "close the quote, or take it out"
    if "field larger" in error:
        return "holds a cell of more than 131072 characters", "a double quote may stand open here"
    return "goes on after a closing double quote", 'write a double quote within a text as ""'
