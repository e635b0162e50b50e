"""Which column of a file is which column of the log.

Headings are taken in any case, in metric or inch-pound units, or under a person's own name by a map. The map is a TOML
file with a table for each of ours::

    [runs]
    "Zahnriemen Nr." = "belt"
    "Static pull lb" = "tension_lbf"
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import NamedTuple

from drivekit.faults import Fault, nearest
from drivekit.log.columns import INCH_POUND, Column, Twin
from drivekit.log.reading import text_of
from drivekit.log.tables import Table, counted, shown
from drivekit.toml_file import toml_bytes, toml_content

__all__ = ["ColumnMap", "Placed", "column_map", "placed"]


class Placed(NamedTuple):
    """A column of ours, where it stands in the file and in which unit.

    Parameters
    ----------
    column : Column
        What it means.
    at : int
        Its place among the file's headings.
    heading : str
        The name faults give it: ours, or the person's own where that is another.
    twin : Twin or None
        The inch-pound unit it is written in; None for the metric one.
    """

    column: Column
    at: int
    heading: str
    twin: Twin | None


class ColumnMap(NamedTuple):
    """A person's own headings, for each table by name: their heading (as typed) to ours, and the line it stands on."""

    file: str
    ours: Mapping[str, Mapping[str, str]]
    line: Mapping[tuple[str, str], int | None]
    faults: tuple[Fault, ...] = ()


NO_MAP = ColumnMap("", {}, {})


def column_map(path: str | Path, tables: Mapping[str, Sequence[Column]]) -> ColumnMap:
    """Read a map of headings.

    Parameters
    ----------
    path : path
        A TOML file.
    tables : mapping of str to sequence of Column
        Our tables by name.

    Raises
    ------
    Unusable
        If the file is not there or no text.
    Faulty
        If it cannot be read as TOML; what is wrong with single entries stands in the result.
    """
    place = Path(path)
    name = shown(place.name, None)
    text = text_of(name, toml_bytes(place, shown(str(path), None)))
    content = toml_content(name, text, 'write lines such as "Their heading" = "tension_n"')
    faults: list[Fault] = []
    ours: dict[str, dict[str, str]] = {table: {} for table in tables}
    lines: dict[tuple[str, str], int | None] = {}
    for table, entries in content.items():
        if table not in tables or not isinstance(entries, dict):
            wrong, right = "is no table of the log", "put the headings under [belts] or [runs]"
            faults.append(Fault(name, _line_of(text, table), "", shown(table), wrong, right))
            continue
        known = _known(tables[table])
        for theirs, our in entries.items():
            line = lines[table, theirs] = _line_of(text, theirs)
            if isinstance(our, str) and our in known:
                ours[table][theirs] = our
            else:
                wrong, right = f"is no column of {table}", _offer(str(our), known)
                faults.append(Fault(name, line, shown(theirs), shown(str(our)), wrong, right))
    return ColumnMap(name, ours, lines, tuple(faults))


def placed(
    name: str, table: Table, columns: Sequence[Column], own: ColumnMap = NO_MAP
) -> tuple[dict[str, Placed], list[Fault]]:
    """Find our columns among a table's headings.

    Parameters
    ----------
    name : str
        The table's name in the map: belts or runs.
    table : Table
        The table as text.
    columns : sequence of Column
        The columns it may have.
    own : ColumnMap
        The person's own headings.

    Returns
    -------
    dict of str to Placed, list of Fault
        The columns found by our names, and what is wrong with the headings. When no heading at all is known the dict
        is empty and there is one fault.
    """
    known = _known(columns)
    mapped = {theirs.strip().lower(): our for theirs, our in own.ours.get(name, {}).items()}
    found: dict[str, Placed] = {}
    faults: list[Fault] = []
    unknown: list[str] = []
    for index, typed in enumerate(table.headings):
        plain = typed.lower()
        our = mapped.get(plain, plain)
        if our not in known:
            if typed:
                unknown.append(typed)
            elif any(table.cells[index].distinct):
                faults.append(table.fault("", f"column {index + 1} has no heading", "name it, or take its cells out"))
            continue
        column, twin = known[our]
        heading = plain if plain in known and plain not in mapped else shown(typed)
        first = found.setdefault(column.name, Placed(column, index, heading, twin))
        if first.at != index:
            wrong = "this heading stands twice" if first.heading == heading else f"says the same as {first.heading}"
            faults.append(table.fault(heading, wrong, "keep one of the two columns"))
    required = [column for column in columns if column.required]
    if not found:
        at_least = f"name the columns there: {', '.join(column.name for column in required)} at least"
        at_least += "" if own.file else ", or say with --columns which of your headings is which"
        nothing = table.fault("", "no heading of the log stands in the first line", at_least)
        return found, [nothing, *_unused_entries(name, table, own)]
    faults += _unused_entries(name, table, own)
    faults += [_missing(table, column, unknown) for column in required if column.name not in found]
    faults += _ignored(table, unknown, [name for name in known if known[name][0].name not in found])
    return found, faults


def _known(columns: Sequence[Column]) -> dict[str, tuple[Column, Twin | None]]:
    known: dict[str, tuple[Column, Twin | None]] = {column.name: (column, None) for column in columns}
    known |= {column.twin: (column, INCH_POUND[column.unit]) for column in columns if column.twin is not None}
    return known


def _missing(table: Table, column: Column, unknown: Sequence[str]) -> Fault:
    close = get_close_matches(column.name, [heading.lower() for heading in unknown], n=1, cutoff=0.6)
    typed = next((heading for heading in unknown if close and heading.lower() == close[0]), None)
    right = f"add it: {column.meaning}" if typed is None else f'is it the one headed "{shown(typed)}"?'
    return table.fault(column.name, "this column is missing", right)


def _ignored(table: Table, unknown: Sequence[str], free: Sequence[str]) -> Iterator[Fault]:
    """Warn of headings that are none of ours: each that may be misspelt, the rest in one line."""
    rest: list[str] = []
    for heading in unknown:
        close = get_close_matches(heading.lower().replace(" ", "_"), free, n=1, cutoff=0.7)
        if close:
            right = f"did you mean {close[0]}?"
            yield table.fault(shown(heading), "is no column of the log and is not read", right, warning=True)
        else:
            rest.append(shown(heading))
    if rest:
        wrong = f"{counted(len(rest), 'column')} of your own not read: {shown(', '.join(rest), 300)}"
        yield table.fault("", wrong, "nothing need be done; a map of headings can name them", warning=True)


def _unused_entries(name: str, table: Table, own: ColumnMap) -> Iterator[Fault]:
    """Find entries of the map whose heading the file lacks."""
    typed = [heading for heading in table.headings if heading]
    lower = {heading.lower() for heading in typed}
    for theirs in own.ours.get(name, {}):
        if theirs.strip().lower() not in lower:
            line, wrong = own.line[name, theirs], f"is no heading of {table.file}"
            yield Fault(own.file, line, shown(theirs), None, wrong, _offer(theirs, typed))


def _offer(word: str, allowed: Mapping[str, object] | Sequence[str]) -> str:
    """Offer the near ones of a long list, or all of it when none is near."""
    lower = {name.lower(): name for name in allowed}
    close = get_close_matches(word.strip().lower(), list(lower), n=1, cutoff=0.5)
    return f"did you mean {shown(lower[close[0]])}?" if close else shown(nearest("", list(allowed)), 2000)


def _line_of(text: str, key: str) -> int | None:
    """Find the line of a TOML file on which a key stands; None where it is written in some other way."""
    for number, line in enumerate(text.splitlines(), 1):
        bare = line.strip().lstrip("[").strip()
        if bare.startswith((f'"{key}"', f"'{key}'")) or re.match(rf"{re.escape(key)}\s*[\]=.]", bare):
            return number
    return None
