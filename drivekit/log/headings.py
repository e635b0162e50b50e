"""Which column of a file is which column of the log.

Headings are taken in any case, in metric or inch-pound units, or under a person's own name by a map. One that is near
to a column of ours, by its letters or by what stands under it, is offered and never taken.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from drivekit.faults import Fault, shown
from drivekit.log.column_map import NO_MAP, ColumnMap, known_headings, offer
from drivekit.log.columns import Column
from drivekit.log.guess import Guess, guesses
from drivekit.log.tables import Table, counted
from drivekit.units import Twin

__all__ = ["Placed", "placed"]

DRAFTED = "have a map of your headings drafted: drivekit check LOG --columns map.toml"


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
    words : mapping of str to str
        The person's own words, lower case, and what they stand for.
    order : str
        In which order the person writes days; empty where that was not said.
    """

    column: Column
    at: int
    heading: str
    twin: Twin | None
    words: Mapping[str, str] = {}
    order: str = ""


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
    known = known_headings(columns)
    mapped = {theirs.strip().lower(): our for theirs, our in own.ours.get(name, {}).items()}
    found: dict[str, Placed] = {}
    faults: list[Fault] = []
    unknown: list[str] = []
    for index, typed in enumerate(table.headings):
        plain = typed.lower()
        our = mapped.get(plain, plain)
        if our not in known:
            if typed and our:
                unknown.append(typed)
            elif not typed and any(table.cells[index].distinct):
                faults.append(table.fault("", f"column {index + 1} has no heading", "name it, or take its cells out"))
            continue
        column, twin = known[our]
        heading = plain if plain in known and plain not in mapped else shown(typed)
        first = found.setdefault(
            column.name, Placed(column, index, heading, twin, own.words.get(column.name, {}), own.order)
        )
        if first.at != index:
            wrong = "this heading stands twice" if first.heading == heading else f"says the same as {first.heading}"
            faults.append(table.fault(heading, wrong, "keep one of the two columns"))
    faults += _unused_entries(name, table, own)
    missing = [column for column in columns if column.required and column.name not in found]
    confirm = f"take the # from the lines of {own.file} that are right" if own.file else DRAFTED
    if not found:
        at_least = f"name the columns there: {', '.join(column.name for column in missing)} at least, or {confirm}"
        return found, [table.fault("", "no heading of the log stands in the first line", at_least), *faults]
    near = guesses(table, unknown, [column for column in columns if column.name not in found])
    faults += [_missing(table, column, near) for column in missing]
    not_read = "is no column of the log and is not read"
    faults += [
        table.fault(shown(heading), not_read, f"did you mean {near[heading].name}?", warning=True)
        for heading in unknown
        if heading in near
    ]
    rest = [shown(heading) for heading in unknown if heading not in near]
    if rest or (unknown and missing):
        wrong = f"{counted(len(unknown), 'heading')} of your own"
        if rest:
            wrong = f"{counted(len(rest), 'heading')} near to none of ours and not read: {shown(', '.join(rest), 300)}"
        right = confirm if missing else f"nothing need be done, or {confirm}"
        faults.append(table.fault("", wrong, right, warning=True))
    return found, faults


def _missing(table: Table, column: Column, near: Mapping[str, Guess]) -> Fault:
    typed = next((heading for heading, guess in near.items() if guess.column is column), None)
    right = f"add it: {column.meaning}" if typed is None else f'is it the one headed "{shown(typed)}"?'
    return table.fault(column.name, "this column is missing", right)


def _unused_entries(name: str, table: Table, own: ColumnMap) -> Iterator[Fault]:
    """Find entries of the map whose heading the file lacks."""
    typed = [heading for heading in table.headings if heading]
    lower = {heading.lower() for heading in typed}
    for theirs in own.ours.get(name, {}):
        if theirs.strip().lower() not in lower:
            line, wrong = own.line[name, theirs], f"is no heading of {table.file}"
            yield Fault(own.file, line, shown(theirs), None, wrong, offer(theirs, typed))
