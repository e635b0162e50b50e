"""Which column of ours a person's own heading most likely means, judged by its letters and by what stands under it.

A guess is only ever offered, in a fault or in the draft of a map, each line of which is a comment until a person takes
its ``#`` away: nothing is read by it. A column whose cells could not hold what stands there is never offered, and a
unit is the one in which the numbers come nearest to the usual ones.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator, Sequence, Set
from difflib import SequenceMatcher, get_close_matches
from itertools import islice
from pathlib import Path
from shlex import quote
from typing import NamedTuple

import numpy as np

from drivekit.faults import counted, shown
from drivekit.log.columns import TABLES, Column, known_headings
from drivekit.log.reading import source
from drivekit.log.tables import CellText, Table
from drivekit.units import INCH_POUND, SI, Units

__all__ = ["ISO_DAY", "ORDERS", "SLASHED", "Guess", "drafted_map", "guesses"]

SLASHED = re.compile(r"(?P<first>[0-9]{1,2})(?P<mark>[/.-])(?P<second>[0-9]{1,2})(?P=mark)(?P<year>[0-9]{4})")
"""A day in the order of some country: which part is the month cannot be seen."""

ORDERS = ("day first", "month first")
"""The two ways in which it can be meant."""

LIKELY, NEAREST = 0.7, 0.5
"""From these scores on a guess is said of a heading that may be misspelt, and drafted to be confirmed; 1: the same."""

ISO_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)")
LOOKED_AT, MOST_HEADINGS, LONGEST = 300, 200, 60
MOSTLY = 0.8
ALL_SAID = 0.8
"""How near a heading is that has every word of a column's name and more."""
TOP = """\
# What your headings and words mean: yours on the left, drivekit's on the right.
# A line counts once its "# " is taken away: do so where it is right, or correct it first. "" on the right
# says: known, not read. When done:
#     drivekit check """
MOST_WORDS, WIDE = 40, 34
"""Words of a column that a draft lists, and how far its remarks stand to the right."""
METRIC = {"n", "newton", "newtons", "mm", "c", "g", "m", "per"}
INCH = {"lb", "lbs", "lbf", "pound", "pounds", "in", "inch", "inches", "f", "ft"}


class Content(NamedTuple):
    """What stands in a column: its first few hundred distinct texts, those that are numbers, how many are days."""

    texts: tuple[str, ...]
    numbers: tuple[float, ...]
    days: int

    def mostly(self, number: int) -> bool:
        """Whether that many of the texts are nearly all of them."""
        return number >= MOSTLY * len(self.texts)


class Guess(NamedTuple):
    """A column that a heading may mean, the units it may be in, and how near it is."""

    column: Column
    units: Units
    score: float

    @property
    def name(self) -> str:
        """Our heading for it."""
        return str(self.column.twin) if self.units.inch_pound else self.column.name


def content_of(cells: CellText) -> Content:
    """Look at the cells of a column."""
    texts = tuple(islice((text for text in cells.distinct if text), LOOKED_AT))
    numbers = tuple(float(text) for text in texts if NUMBER.fullmatch(text))
    return Content(texts, numbers, sum(bool(ISO_DAY.match(text) or SLASHED.fullmatch(text)) for text in texts))


def guesses(
    table: Table, headings: Sequence[str], free: Sequence[Column], least: float = LIKELY, belts: Set[str] = frozenset()
) -> dict[str, Guess]:
    """Guess what headings of a table mean, by heading: each column at most once, the nearest first.

    `headings` are those that are none of ours, `free` the columns that no other heading names; a heading whose nearest
    column has a lower score than `least` is left out. Where the names of the belts are known, they tell of a belt.
    """
    found = [
        (heading, guess)
        for heading in islice(dict.fromkeys(headings), MOST_HEADINGS)
        for guess in _of(heading, content_of(table.cells[table.headings.index(heading)]), len(table.line), free, belts)
        if guess.score >= least
    ]
    taken: dict[str, Guess] = {}
    for heading, guess in sorted(found, key=lambda one: -one[1].score):
        if heading not in taken and all(guess.column is not other.column for other in taken.values()):
            taken[heading] = guess
    return taken


def near_level(word: str, levels: Sequence[str]) -> str | None:
    """Give the level that a word most likely stands for: its own letters, its beginning, or one a slip away."""
    plain = re.sub(r"[\s_]+", "-", word.strip().lower())
    begun = [level for level in levels if level.startswith(plain) or plain.startswith(level)]
    if plain in levels or len(begun) == 1:
        return plain if plain in levels else begun[0]
    return next(iter(get_close_matches(plain, levels, n=1, cutoff=0.6)), None)


def _of(heading: str, content: Content, rows: int, free: Sequence[Column], belts: Set[str]) -> Iterator[Guess]:
    words = re.findall(r"[^\W_]+", heading[:LONGEST].lower())
    unit = next((word in INCH for word in words[1:] if word in INCH | METRIC), None)
    plain = [word for word in words if word not in INCH | METRIC or len(words) == 1]
    for column in free:
        units = _units(column, content, unit)
        fit = _fit(column, units, content, rows, belts)
        if fit is not None:
            yield Guess(column, units, _likeness(plain, column) + fit)


def _likeness(words: Sequence[str], column: Column) -> float:
    """Say how like a heading's words are to a column's name, its label, or another word for it, 0 to 1."""
    ending = INCH_POUND[column.unit].ending if column.unit in INCH_POUND else ""
    name, *others = (
        re.findall(r"[a-z]+", text.lower()) for text in (column.name.removesuffix(ending), column.label, *column.also)
    )
    near = [len({*words} & {*other}) / len({*words} | {*other}) for other in (name, *others[1:])]
    near += [SequenceMatcher(None, " ".join(words), " ".join(other)).ratio() for other in (name, *others)]
    return max(*near, ALL_SAID if {*name} < {*words} else 0.0)


def _units(column: Column, content: Content, inch: bool | None) -> Units:
    """Take the units that the heading names, else those in which the middle number is nearest to a usual one."""
    if column.unit not in INCH_POUND:
        return SI
    if inch is not None or not content.numbers:
        return Units(bool(inch))
    between = math.sqrt(max(column.low, column.high / 1000) * column.high)
    usual = float(column.example) if column.example else between
    middle = sorted(content.numbers)[len(content.numbers) // 2]
    return min(
        (SI, Units(inch_pound=True)),
        key=lambda units: abs(math.log(max(units.metric(middle, column.unit), 1e-9) / usual)),
    )


def _fit(column: Column, units: Units, content: Content, rows: int, belts: Set[str]) -> float | None:
    """Say how much what stands there speaks for a column, 0 to 1; None where the column could not hold it."""
    if not content.texts:
        return 0.0
    if belts and column.name == "belt":
        return 1.0 if belts >= set(content.texts) else None
    if column.kind == "day":
        return 0.5 if content.mostly(content.days) else None
    if content.mostly(content.days) and column.kind != "text":
        return None
    if column.levels:
        near = sum(near_level(text, column.levels) is not None for text in content.texts)
        exact = sum(text.lower() in column.levels for text in content.texts)
        return (0.4 * near + 0.3 * exact) / len(content.texts) if 2 * near > len(content.texts) else None
    if not column.is_number:
        return 0.0 if column.kind == "name" or not content.mostly(len(content.numbers)) else None
    possible = sum(column.low <= units.metric(value, column.unit) <= column.high for value in content.numbers)
    whole = column.kind != "whole" or all(value.is_integer() for value in content.numbers)
    if not content.mostly(possible) or not whole:
        return None
    # Only the number of a run is another one in every row.
    return 0.3 if column.name == "run" and len(content.numbers) >= min(rows, LOOKED_AT) > 1 else 0.0


def drafted_map(log: str | Path, map_path: str | Path) -> str:
    """Draft the map of a log's headings and words: a TOML file to be confirmed, which as it stands maps nothing.

    `map_path` is where it is to stand, as the text tells it.

    Raises
    ------
    Unusable
        If there is no log.
    """
    found = source(log)
    parts: list[str] = []
    words: list[str] = []
    days, belts = set[str](), set[str]()
    for name, columns in TABLES.items():
        table: Table = getattr(found, name)
        known = known_headings(columns)
        ours = {heading: known[heading.lower()][0] for heading in table.headings if heading.lower() in known}
        theirs = [heading for heading in dict.fromkeys(table.headings) if heading and heading not in ours]
        near = guesses(table, theirs, [column for column in columns if column not in ours.values()], NEAREST, belts)
        parts += ["", f"[{name}]", *(_heading(heading, near.get(heading), table) for heading in theirs)]
        parts += [f"# Read as they are, no line needed: {', '.join(map(shown, ours))}"] if ours else []
        heading_of = {column: heading for heading, column in ours.items()}
        heading_of |= {guess.column: heading for heading, guess in near.items()}
        lost = [column for column in columns if column.required and column not in heading_of]
        parts += [f"# In no column yet: {column.name}: {column.meaning}" for column in lost]
        for column in filter(heading_of.__contains__, columns):
            cells = table.cells[table.headings.index(heading_of[column])]
            belts |= set(cells.distinct) if column.name == "belt" else set()
            words += _words(heading_of[column], column, cells)
            days |= {text for text in cells.distinct if column.kind == "day" and SLASHED.fullmatch(text)}
    checks = f"{shown(quote(str(log)), None)} --columns {shown(quote(str(map_path)), None)}"
    return "\n".join([TOP + checks, *parts, *words, *_days(days)]) + "\n"


def _heading(heading: str, guess: Guess | None, table: Table) -> str:
    """Offer a column for a heading, and say what stands there, as a person would check a guess by it."""
    texts, numbers, _ = content = content_of(table.cells[table.headings.index(heading)])
    line = f'# {_quoted(heading)} = "{guess.name if guess else ""}"'
    unit = guess.units.name(guess.column.unit) if guess else ""
    remark = f"unit {unit}; " if unit else "" if guess else "near to no column of ours; "
    if texts and content.mostly(len(numbers)):
        return f"{line:<{WIDE}}  # {remark}{min(numbers):g} to {max(numbers):g} stand there"
    some = f"{', '.join(shown(text, 20) for text in texts[:4])}{', ...' if len(texts) > 4 else ''}"
    says = f"{some} stand{'s' if len(texts) == 1 else ''} there" if texts else "no cell is filled"
    return f"{line:<{WIDE}}  # {remark}{says}"


def _words(heading: str, column: Column, cells: CellText) -> Iterator[str]:
    """List the words of a column that are no levels of ours, each with the nearest."""
    count = np.bincount(cells.code, minlength=len(cells.distinct))
    own = [code for code, text in enumerate(cells.distinct) if text and text.lower() not in column.levels]
    if not column.levels or not own:
        return
    yield from ("", f"[words.{column.name}]", f'# in "{shown(heading)}"; ours are {column.holds}; "" is a blank')
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
