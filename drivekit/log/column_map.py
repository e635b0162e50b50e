"""A person's own headings and words: which of theirs is which of ours, as a small TOML file says it.

A table for each of ours holds headings, a table for each column holds words, and the order of days is said once::

    [runs]
    "Roller" = "idler"
    "Static pull lb" = "tension_lbf"
    "Weather" = ""                   # known, and not read

    [words.idler]
    "S" = "smooth"

    [days]
    order = "month first"            # 3/7/2026 is the 7th of March

Nothing is read that does not stand here: a word is never taken for the nearest one, nor a day for the likelier one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import Any, NamedTuple

from drivekit.faults import Fault, Unusable, nearest, shown
from drivekit.log.columns import Column
from drivekit.log.reading import text_of
from drivekit.toml_file import toml_bytes, toml_content
from drivekit.units import INCH_POUND, Twin

__all__ = ["NO_MAP", "ORDERS", "ColumnMap", "column_map", "known_headings", "offer"]

ORDERS = ("day first", "month first")
"""The two ways in which 3/7/2026 can be meant."""

TABLES = "put headings under [belts] or [runs], words under [words.COLUMN], the order of days under [days]"


class ColumnMap(NamedTuple):
    """What a person's own headings and words stand for.

    Parameters
    ----------
    file : str
        The map's name; empty where there is none.
    ours : mapping of str to mapping of str to str
        For each table by name: their heading, as typed, to ours; to nothing where it is not to be read.
    line : mapping of (str, str) to int or None
        The line on which a heading of a table stands.
    words : mapping of str to mapping of str to str
        For each column by our name: their word, lower case, to one of our levels or to a blank.
    order : str
        One of `ORDERS`; empty where none was said.
    faults : tuple of Fault
        What is wrong with single entries.
    """

    file: str
    ours: Mapping[str, Mapping[str, str]]
    line: Mapping[tuple[str, str], int | None]
    words: Mapping[str, Mapping[str, str]] = {}
    order: str = ""
    faults: tuple[Fault, ...] = ()


NO_MAP = ColumnMap("", {}, {})


def column_map(path: str | Path, tables: Mapping[str, Sequence[Column]]) -> ColumnMap:
    """Read a map.

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
    name, full = shown(place.name, None), shown(str(path), None)
    if not place.exists():
        raise Unusable(f"{full} is not there: drivekit check LOG --columns {full} drafts it.")
    text = text_of(name, toml_bytes(place, full))
    content = toml_content(name, text, 'write lines such as "Their heading" = "tension_n"')
    faults: list[Fault] = []
    ours: dict[str, Mapping[str, str]] = {}
    lines: dict[tuple[str, str], int | None] = {}
    for table, entries in content.items():
        if table not in (*tables, "words", "days") or not isinstance(entries, dict):
            faults.append(Fault(name, _line_of(text, table), "", shown(table), "is no table of the map", TABLES))
        elif table in tables:
            known = known_headings(tables[table])
            ours[table] = {theirs: our for theirs, our in entries.items() if our in ("", *known)}
            lines |= {(table, theirs): _line_of(text, table, theirs) for theirs in entries}
            faults += [
                Fault(name, lines[table, theirs], shown(theirs), shown(str(our)), f"is no column of {table}", right)
                for theirs, our in entries.items()
                if theirs not in ours[table]
                for right in [offer(str(our), known)]
            ]
    columns = {column.name: column for of_table in tables.values() for column in of_table}
    words, wrong_words = _words(name, text, content.get("words"), columns)
    order, wrong_order = _order(name, text, content.get("days"))
    return ColumnMap(name, ours, lines, words, order, (*faults, *wrong_words, *wrong_order))


def known_headings(columns: Sequence[Column]) -> dict[str, tuple[Column, Twin | None]]:
    """Give every heading that is ours: each column's name, and its twin in inch-pound units."""
    known: dict[str, tuple[Column, Twin | None]] = {column.name: (column, None) for column in columns}
    known |= {column.twin: (column, INCH_POUND[column.unit]) for column in columns if column.twin is not None}
    return known


def offer(word: str, allowed: Mapping[str, object] | Sequence[str]) -> str:
    """Offer the near one of a long list, or all of it when none is near."""
    lower = {name.lower(): name for name in allowed}
    close = get_close_matches(word.strip().lower(), list(lower), n=1, cutoff=0.5)
    return f"did you mean {shown(lower[close[0]])}?" if close else shown(nearest("", list(allowed)), 2000)


def _words(
    file: str, text: str, content: Any, columns: Mapping[str, Column]
) -> tuple[dict[str, dict[str, str]], list[Fault]]:
    """Read the words of each column; a number or day may be said to be blank, a name stands as it is."""
    words: dict[str, dict[str, str]] = {}
    faults: list[Fault] = []
    for name, entries in content.items() if isinstance(content, dict) else ():
        section, column = f"words.{name}", columns.get(name)
        if column is None or column.kind in ("name", "text") or not isinstance(entries, dict):
            worded = [name for name, column in columns.items() if column.levels]
            wrong = "is no column whose words can be mapped"
            faults.append(Fault(file, _line_of(text, section), "words", shown(name), wrong, offer(name, worded)))
            continue
        words[name] = {theirs.strip().lower(): our for theirs, our in entries.items() if our in ("", *column.levels)}
        for theirs, our in entries.items():
            if our not in ("", *column.levels):
                right = nearest(str(our), column.levels) if column.levels else '"" for a blank, and nothing else'
                wrong = f"is no {name}"
            elif theirs.strip().lower() in column.levels and theirs.strip().lower() != our:
                right = f"{shown(theirs)} is one of ours: take the line out"
                wrong = "is not what this means"
            else:
                continue
            faults.append(Fault(file, _line_of(text, section, theirs), shown(theirs), shown(str(our)), wrong, right))
    return words, faults


def _order(file: str, text: str, content: Any) -> tuple[str, Iterator[Fault]]:
    """Read in which order days are written."""
    entries = content if isinstance(content, dict) else {}
    right = 'write order = "day first" or order = "month first"'
    faults = (
        Fault(file, _line_of(text, "days", key), shown(key), shown(str(value)), "does not say the order of days", right)
        for key, value in entries.items()
        if key != "order" or value not in ORDERS
    )
    order = entries.get("order")
    return order if order in ORDERS else "", faults


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
