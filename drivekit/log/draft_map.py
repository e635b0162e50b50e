"""The draft of a map: every heading of a log with the nearest column of ours, and every word with the nearest level.

Each line is a comment until a person takes its ``#`` away, since a guess is nothing that may change an answer.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from shlex import quote

import numpy as np

from drivekit.faults import shown
from drivekit.log.columns import BELTS, RUNS, Column, known_headings
from drivekit.log.guess import NEAREST, ORDERS, SLASHED, Content, Guess, content_of, guesses, near_level
from drivekit.log.reading import source
from drivekit.log.tables import CellText, Table, counted

__all__ = ["drafted_map"]

MOST_WORDS = 40
WIDE = 34
READING = "Read as they are, no line needed: "


def drafted_map(log: str | Path, map_path: str | Path) -> str:
    """Draft the map of a log's headings and words.

    Parameters
    ----------
    log : path
        The log.
    map_path : path
        Where the map is to stand, as the text tells it.

    Returns
    -------
    str
        A TOML file whose lines are to be confirmed; as it stands it maps nothing.

    Raises
    ------
    Unusable
        If there is no log.
    """
    found = source(log)
    parts: list[str] = []
    words: list[str] = []
    days: set[str] = set()
    for name, table, columns in (("belts", found.belts, BELTS), ("runs", found.runs, RUNS)):
        known = known_headings(columns)
        ours = {heading: known[heading.lower()][0] for heading in table.headings if heading.lower() in known}
        theirs = [heading for heading in dict.fromkeys(table.headings) if heading and heading not in ours]
        near = guesses(table, theirs, [column for column in columns if column not in ours.values()], NEAREST)
        lines = [_heading(heading, near.get(heading), table) for heading in theirs]
        lines += [f"# {READING}{', '.join(map(shown, ours))}"] if ours else []
        heading_of = {column: heading for heading, column in ours.items()}
        heading_of |= {guess.column: heading for heading, guess in near.items()}
        lost = [column for column in columns if column.required and column not in heading_of]
        parts += ["", f"[{name}]", *lines, *(f"# In no column yet: {column.name}: {column.meaning}" for column in lost)]
        for column in columns:
            if column in heading_of:
                cells = table.cells[table.headings.index(heading_of[column])]
                words += _words(heading_of[column], column, cells)
                if column.kind == "day":
                    days |= {text for text in cells.distinct if SLASHED.fullmatch(text)}
    return "\n".join([*_top(log, map_path), *parts, *words, *_days(days)]) + "\n"


def _top(log: str | Path, map_path: str | Path) -> Iterator[str]:
    yield "# What your headings and words mean: yours on the left, drivekit's on the right."
    yield '# A line counts once its "# " is taken away: do so where it is right, or correct it first. "" on the right'
    yield "# says: known, not read. When done:"
    yield f"#     drivekit check {shown(quote(str(log)), None)} --columns {shown(quote(str(map_path)), None)}"


def _heading(heading: str, guess: Guess | None, table: Table) -> str:
    content = content_of(table.cells[table.headings.index(heading)])
    line = f'# {_quoted(heading)} = "{guess.name if guess else ""}"'
    unit = "" if guess is None else guess.twin.unit if guess.twin else guess.column.unit
    in_unit = f"unit {unit}; " if unit else ""
    none = "" if guess else "near to no column of ours; "
    return f"{line:<{WIDE}}  # {none}{in_unit}{_standing(content)}"


def _standing(content: Content) -> str:
    """Say what stands in a column, as a person would check a guess by it."""
    if not content.texts:
        return "no cell is filled"
    if content.mostly(len(content.numbers)):
        return f"{min(content.numbers):g} to {max(content.numbers):g} stand there"
    some = ", ".join(shown(text, 20) for text in content.texts[:4])
    return f"{some}{', ...' if len(content.texts) > 4 else ''} stand{'s' if len(content.texts) == 1 else ''} there"


def _words(heading: str, column: Column, cells: CellText) -> Iterator[str]:
    """List the words of a column that are no levels of ours, each with the nearest."""
    count = np.bincount(cells.code, minlength=len(cells.distinct))
    own = [code for code, text in enumerate(cells.distinct) if text and text.lower() not in column.levels]
    if not column.levels or not own:
        return
    yield ""
    yield f"[words.{column.name}]"
    yield f'# in "{shown(heading)}"; ours are {column.holds}; "" is a blank'
    for code in own[:MOST_WORDS]:
        text = cells.distinct[code]
        line = f'# {_quoted(text)} = "{near_level(text, column.levels) or "?"}"'
        yield f"{line:<{WIDE}}  # on {counted(int(count[code]), 'row')}"
    if len(own) > MOST_WORDS:
        yield f"# and {counted(len(own) - MOST_WORDS, 'word')} more, which each need a line"


def _days(days: set[str]) -> Iterator[str]:
    """Offer the orders in which every day of the log would be one of the calendar."""
    if not days:
        return
    parts = [(int(found["first"]), int(found["second"])) for day in days if (found := SLASHED.fullmatch(day))]
    some = min(days)
    yield from ("", "[days]", f"# {counted(len(days), 'day')} such as {some}: which comes first? Take one line.")
    for order, month in zip(ORDERS, (1, 0), strict=True):
        beyond = sum(pair[month] > 12 for pair in parts)
        line = f'# order = "{order}"'
        says = f"cannot be: {counted(beyond, 'month')} above 12" if beyond else "every month is 1 to 12"
        yield f"{line:<{WIDE}}  # {says}"


def _quoted(text: str) -> str:
    """Write a text as TOML does; JSON's escapes are among its own."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
