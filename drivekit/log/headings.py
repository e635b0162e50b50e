"""Which column of a file is which column of the log: by our own headings, or by a person's as a small TOML file says.

Headings are taken in any case, in metric or inch-pound units. In the map a table for each of ours holds headings, a
table for each column holds words, and the order of days is said once::

    [runs]
    "Roller" = "idler"
    "Static pull lb" = "tension_lbf"
    "Weather" = ""                   # known, and not read

    [words.idler]
    "S" = "smooth"

    [days]
    order = "month first"            # 3/7/2026 is the 7th of March

A heading that is near to a column of ours, by its letters or by what stands under it, is offered and never taken; nor
is a word taken for the nearest one, nor a day for the likelier one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from difflib import get_close_matches
from functools import partial
from pathlib import Path
from typing import NamedTuple

from drivekit.faults import Fault, counted, nearest, shown
from drivekit.log.columns import TABLES, Column, known_headings
from drivekit.log.guess import ORDERS, guesses
from drivekit.log.reading import text_of
from drivekit.log.tables import Table
from drivekit.toml_file import toml_bytes, toml_content
from drivekit.units import SI, Units

__all__ = ["NO_MAP", "ColumnMap", "Placed", "column_map", "placed"]

DRAFTED = "have a map of your headings drafted: drivekit check LOG --columns map.toml"
Entry = tuple[int | None, str, object, str, str]
"""A line of the map, the key there, what it stands for, what is wrong with that, and what would be right."""


class ColumnMap(NamedTuple):
    """What a person's own headings and words stand for."""

    file: str = ""  # the map's name
    text: str = ""  # as it stands in the file
    ours: Mapping[str, Mapping[str, str]] = {}  # of each table: their heading, as typed, and ours or nothing
    words: Mapping[str, Mapping[str, str]] = {}  # of each column: their word, lower case, and a level or nothing
    order: str = ""  # one of `ORDERS`, where it was said
    faults: tuple[Fault, ...] = ()  # what is wrong with single entries


NO_MAP = ColumnMap()


def column_map(path: str | Path) -> ColumnMap:
    """Read a map, a TOML file.

    Raises
    ------
    Unusable
        If the file is not there or no text.
    Faulty
        If it cannot be read as TOML; what is wrong with single entries stands in the result.
    """
    place = Path(path)
    name, full = shown(place.name, None), shown(str(path), None)
    absent = f"{full} is not there: drivekit check LOG --columns {full} drafts it."
    text = text_of(name, toml_bytes(place, full, absent))
    content = toml_content(name, text, 'write lines such as "Their heading" = "tension_n"')
    line = partial(_line_of, text)
    wrong: list[Entry] = []
    ours: dict[str, Mapping[str, str]] = {}
    for table, entries in content.items():
        if table not in (*TABLES, "words", "days") or not isinstance(entries, dict):
            right = "put headings under [belts] or [runs], words under [words.COLUMN], the order of days under [days]"
            wrong.append((line(table), "", table, "is no table of the map", right))
        elif table in TABLES:
            known = known_headings(TABLES[table])
            ours[table] = {theirs: our for theirs, our in entries.items() if our in ("", *known)}
            wrong += [
                (line(table, theirs), theirs, our, f"is no column of {table}", _offer(str(our), known))
                for theirs, our in entries.items()
                if theirs not in ours[table]
            ]
    of_words, days = (part if isinstance(part, dict) else {} for part in map(content.get, ("words", "days")))
    columns = {column.name: column for table in TABLES.values() for column in table}
    words: dict[str, dict[str, str]] = {}
    for of, entries in of_words.items():
        column = columns.get(of)
        if column is None or column.kind in ("name", "text") or not isinstance(entries, dict):
            right = _offer(of, [column.name for column in columns.values() if column.levels])
            wrong.append((line(f"words.{of}"), "words", of, "is no column whose words can be mapped", right))
            continue
        words[of] = {theirs.strip().lower(): our for theirs, our in entries.items() if our in ("", *column.levels)}
        wrong += [
            (line(f"words.{of}", theirs), theirs, our, *said)
            for theirs, our in entries.items()
            for said in _wrong_word(theirs.strip().lower(), our, column)
        ]
    order, right = days.get("order"), 'write order = "day first" or order = "month first"'
    wrong += [
        (line("days", key), key, value, "does not say the order of days", right)
        for key, value in days.items()
        if key != "order" or value not in ORDERS
    ]
    faults = tuple(Fault(name, at, shown(key), shown(str(value)), no, so) for at, key, value, no, so in wrong)
    return ColumnMap(name, text, ours, words, order if order in ORDERS else "", faults)


def _wrong_word(theirs: str, our: object, column: Column) -> Iterator[tuple[str, str]]:
    """Say what is wrong, and right, where a word cannot stand for one of a column; number or day may be a blank."""
    if our not in ("", *column.levels):
        blank = '"" for a blank, and nothing else'
        yield f"is no {column.name}", nearest(str(our), column.levels) if column.levels else blank
    elif theirs in column.levels and theirs != our:
        yield "is not what this means", f"{shown(theirs)} is one of ours: take the line out"


def _offer(word: str, allowed: Mapping[str, object] | Sequence[str]) -> str:
    """Offer the near one of a long list, or all of it when none is near."""
    lower = {name.lower(): name for name in allowed}
    close = get_close_matches(word.strip().lower(), list(lower), n=1, cutoff=0.5)
    return f"did you mean {shown(lower[close[0]])}?" if close else shown(nearest("", list(allowed)), 2000)


def _line_of(text: str, section: str, key: str = "") -> int | None:
    """Find the line of a TOML file on which a table or a key of it stands; None where it is written in another way."""
    here = ""
    for number, line in enumerate(text.split("\n"), 1):
        bare = line.strip()
        if bare.startswith("["):
            here = re.sub(r"[\s\"'\[\]]", "", bare.split("#")[0])
            if here == section and not key:
                return number
        elif (here, bool(key)) in ((section, True), ("", False)):
            wanted = key or section
            if bare.startswith((f'"{wanted}"', f"'{wanted}'")) or re.match(rf"{re.escape(wanted)}\s*[=.]", bare):
                return number
    return None


class Placed(NamedTuple):
    """A column of ours, where it stands in the file and how the person writes it."""

    column: Column
    at: int  # among the file's headings
    heading: str  # as faults name it: ours, or the person's own where that is another
    units: Units = SI
    words: Mapping[str, str] = {}  # the person's own, lower case, and what they stand for
    order: str = ""  # of days, where it was said


def placed(name: str, table: Table, own: ColumnMap = NO_MAP) -> tuple[dict[str, Placed], list[Fault]]:
    """Find our columns among the headings of a table, belts or runs.

    Returns
    -------
    dict of str to Placed, list of Fault
        The columns found by our names, and what is wrong with the headings. When no heading at all is known the dict
        is empty and there is one fault.
    """
    columns = TABLES[name]
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
        column, units = known[our]
        heading = plain if plain in known and plain not in mapped else shown(typed)
        first = found.setdefault(
            column.name, Placed(column, index, heading, units, own.words.get(column.name, {}), own.order)
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
    like = {guess.column: heading for heading, guess in near.items()}
    for column in missing:
        right = f'is it the one headed "{shown(like[column])}"?' if column in like else f"add it: {column.meaning}"
        faults.append(table.fault(column.name, "this column is missing", right))
    not_read = "is no column of the log and is not read"
    for heading in filter(near.__contains__, unknown):
        mean = f"did you mean {near[heading].name}?"
        faults.append(table.fault(shown(heading), not_read, mean, warning=True))
    rest = [shown(heading) for heading in unknown if heading not in near]
    if rest or (unknown and missing):
        wrong = f"{counted(len(unknown), 'heading')} of your own"
        if rest:
            wrong = f"{counted(len(rest), 'heading')} near to none of ours and not read: {shown(', '.join(rest), 300)}"
        right = confirm if missing else f"nothing need be done, or {confirm}"
        faults.append(table.fault("", wrong, right, warning=True))
    return found, faults


def _unused_entries(name: str, table: Table, own: ColumnMap) -> Iterator[Fault]:
    """Find entries of the map whose heading the file lacks."""
    typed = [heading for heading in table.headings if heading]
    lower = {heading.lower() for heading in typed}
    for theirs in own.ours.get(name, {}):
        if theirs.strip().lower() not in lower:
            wrong = f"is no heading of {table.file}"
            yield Fault(own.file, _line_of(own.text, name, theirs), shown(theirs), None, wrong, _offer(theirs, typed))
