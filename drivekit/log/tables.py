"""A table of text cells as it stands in a file, before anything is made of it.

Cells are kept by column as codes into the distinct texts of that column, so that a hundred thousand rows cost little
and every distinct text is looked at once.
"""

from __future__ import annotations

import csv
import io
import re
from array import array
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import count, islice
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from drivekit.faults import Fault, Unusable, counted

__all__ = ["CellText", "Table", "csv_text", "delimiter_of", "filled_table", "with_row"]

HEAD_CHARACTERS = 65_536
LONGEST_CELL = 131_072
FEWER = "give every column a cell, blank where nothing is known"
MORE = "a comma or semicolon too many? put a text that holds one between double quotes"
ROW_LIKE = 0.8
"""The share of a row's separators from which a line within a cell is taken for a row."""
PIECE_CHARACTERS = 1_000_000
TOGETHER = 256
"""So many rows are turned into columns together: more of them, and the processor waits for its memory."""

Record = tuple[int, Sequence[str] | Fault]
"""A line, and what begins there: one row's cells, or what cannot be read."""


class CellText(NamedTuple):
    """The cells of one column: each row's place (`code`, shape (n_rows,)) among its distinct texts.

    These stand in the order met, blanks around them taken off.
    """

    code: NDArray[np.int32]
    distinct: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """One table of the log as text; rows that are blank throughout are left out."""

    file: str  # how faults name it: runs.csv or season.xlsx[runs]
    heading_line: int
    headings: tuple[str, ...]  # as typed, blanks around them taken off
    cells: tuple[CellText, ...]  # one for each heading
    line: NDArray[np.int64]  # of each row, its first in the file
    sound: NDArray[np.bool_]  # False where a row has too many or too few cells: none can be trusted to its column
    faults: tuple[Fault, ...]  # what reading found
    complete: bool  # False when rows could not be read at all

    @property
    def last_line(self) -> int:
        """The line of the last row; of the heading where there is none."""
        return int(self.line[-1]) if len(self.line) else self.heading_line

    def fault(self, heading: str, wrong: str, right: str, warning: bool = False) -> Fault:
        """Find fault with a heading; an empty one means their whole line."""
        return Fault(self.file, self.heading_line, heading, None, wrong, right, warning)


def with_row(table: Table, cells: Sequence[str]) -> Table:
    """Give the table with one row more below the others; a text for each heading."""

    def grown(text: CellText, cell: str) -> CellText:
        distinct = text.distinct if cell in text.distinct else (*text.distinct, cell)
        return CellText(np.append(text.code, np.int32(distinct.index(cell))), distinct)

    line, sound = np.append(table.line, table.last_line + 1), np.append(table.sound, np.True_)
    return replace(table, cells=tuple(map(grown, table.cells, cells)), line=line, sound=sound)


def csv_text(rows: Iterable[Sequence[object]], **how: Any) -> str:
    """Write rows as comma-separated text; `how` else, as `csv.writer` takes it."""
    text = io.StringIO()
    csv.writer(text, **{"lineterminator": "\n"} | how).writerows(rows)
    return text.getvalue()


def delimiter_of(file: str, text: str) -> str:
    """Tell by which sign the heading's cells are parted; raises as `filled_table`."""
    # Quoted parts may hold separators and line ends: they are taken out before the heading is looked at.
    unquoted = re.sub(r'"[^"]*"', "", text[:HEAD_CHARACTERS])
    heading = next((line for line in unquoted.splitlines() if line.strip()), "")
    if "\t" in heading and not set(",;") & set(heading):
        raise Unusable(f"{file} parts its columns by tabs: save it with commas or semicolons.")
    return ";" if heading.count(";") > heading.count(",") else ","


def filled_table(file: str, content: str | Iterable[Record]) -> Table:
    """Sort cells into columns; the first record that is not blank is the heading.

    Parameters
    ----------
    file : str
        How faults name the table.
    content : str or iterable of (line, cells)
        The file's text without byte-order mark, any line ends, its cells parted by commas or by semicolons, whichever
        the heading has; or the records in the order of the file, a fault in the place of one that could not be read.

    Raises
    ------
    Unusable
        If no record holds anything, or columns are parted by tabs.
    """
    rows = iter(_records(file, content) if isinstance(content, str) else content)
    heading_line, headings = _heading(file, rows)
    width = len(headings)
    places = [_places() for _ in headings]
    codes = [array("i") for _ in headings]
    lines, sound = array("q"), bytearray()
    faults: list[Fault] = []
    blank_lines: list[int] = []
    pending: list[int] = []
    complete = True
    while together := list(islice(rows, TOGETHER)):
        filled: list[Sequence[str]] = []
        for line, record in together:
            if isinstance(record, Fault):
                complete = False
                faults.append(record)
            elif not any(map(str.strip, record)):
                pending.append(line)
            else:
                blank_lines += pending
                pending.clear()
                lines.append(line)
                sound.append(len(record) == width)
                if len(record) != width:
                    wrong = f"has {counted(len(record), 'cell')} where the heading has {width}"
                    faults.append(Fault(file, line, "", None, wrong, MORE if len(record) > width else FEWER))
                    record = [*record, *[""] * (width - len(record))]
                filled.append(record)
        for place, code, column in zip(places, codes, zip(*filled, strict=False), strict=False):
            code.extend(map(place.__getitem__, column))
    if blank_lines:
        wrong = "blank row" if len(blank_lines) == 1 else f"first of {len(blank_lines)} blank rows between the others"
        faults.append(Fault(file, blank_lines[0], "", None, wrong, "take it out if nothing is missing there", True))
    cells = tuple(_stripped(place, code) for place, code in zip(places, codes, strict=True))
    line_of, is_sound = np.array(lines, dtype=np.int64), np.array(sound, dtype=np.bool_)
    return Table(file, heading_line, headings, cells, line_of, is_sound, tuple(faults), complete)


def _places() -> defaultdict[str, int]:
    """Begin a column's distinct texts, each with its place in the order met: one that is asked for joins them."""
    return defaultdict(count().__next__)


def _stripped(places: dict[str, int], code: array[int]) -> CellText:
    """Take the blanks around each text off; those that are then alike are one."""
    of_row = np.asarray(code)
    typed = tuple(places)
    texts = tuple(map(str.strip, typed))
    if texts == typed:
        return CellText(of_row, texts)
    kept = _places()
    place_of = np.array([kept[text] for text in texts], dtype=np.int32)
    return CellText(place_of[of_row], tuple(kept))


def _heading(file: str, rows: Iterator[Record]) -> tuple[int, tuple[str, ...]]:
    for line, record in rows:
        if isinstance(record, Fault):
            why = f"{record.wrong}; {record.right}"
            raise Unusable(f"{file} has a heading that cannot be read (line {line}): {why}.")
        if any(map(str.strip, record)):
            return line, tuple(map(str.strip, record))
    raise Unusable(f"{file} is empty: its first line must name the columns.")


def _records(file: str, text: str) -> Iterator[Record]:
    """Read records as the csv module takes them; one that it cannot take costs no other."""
    csv.field_size_limit(LONGEST_CELL)  # other libraries raise it for the whole process
    delimiter = delimiter_of(file, text)
    reader = csv.reader(_lines(text), delimiter=delimiter, strict=True)
    width = 0
    while True:
        line = reader.line_num + 1
        try:
            record = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            yield line, Fault(file, line, "", None, *_unreadable(str(error)))
            continue
        # Only a record over several lines can hold a row within a cell.
        loose = _swallowed(record, line, width, delimiter) if reader.line_num > line else None
        width = width or (len(record) if any(map(str.strip, record)) else 0)
        yield line, record if loose is None else Fault(file, line, "", None, *loose)


def _lines(text: str) -> Iterator[str]:
    """Part a text at its line ends of any kind, which stay, without a second copy of the whole."""
    at = 0
    while at < len(text):
        end = text.find("\n", at + PIECE_CHARACTERS) + 1 or len(text)
        yield from io.StringIO(text[at:end], newline="")
        at = end


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
        return f"holds a cell of more than {LONGEST_CELL} characters", "a double quote may stand open here"
    return "goes on after a closing double quote", 'write a double quote within a text as ""'
