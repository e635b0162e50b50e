"""Which column of ours a person's own heading most likely means, judged by its letters and by what stands under it.

A guess is only ever offered, in a fault or in the draft of a map; nothing is read by it. A column whose cells could not
hold what stands there is never offered, and a unit is the one in which the numbers come nearest to the usual ones.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from difflib import SequenceMatcher, get_close_matches
from itertools import islice
from typing import NamedTuple

from drivekit.log.columns import INCH_POUND, Column, Twin
from drivekit.log.tables import CellText, Table

__all__ = ["LIKELY", "NEAREST", "SLASHED", "Content", "Guess", "content_of", "guesses", "near_level"]

SLASHED = re.compile(r"(?P<first>[0-9]{1,2})(?P<mark>[/.-])(?P<second>[0-9]{1,2})(?P=mark)(?P<year>[0-9]{4})")
"""A day in the order of some country: which part is the month cannot be seen."""

LIKELY, NEAREST = 0.7, 0.5
"""From these scores on a guess is said to a person who may have misspelt, and drafted for one to confirm; 1 is the
same word."""

ISO_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)")
LOOKED_AT = 300
MOST_HEADINGS = 200
LONGEST = 60
MOSTLY = 0.8
ALL_SAID = 0.8
"""How near a heading is that has every word of a column's name and more."""
UNITS = {
    **dict.fromkeys(("n", "newton", "newtons", "mm", "c", "g", "m", "per"), False),
    **dict.fromkeys(("lb", "lbs", "lbf", "pound", "pounds", "in", "inch", "inches", "f", "ft"), True),
}
"""Whether a word of a heading is an inch-pound unit, or a metric one."""

ALSO = {
    "date": "day",
    "no": "run",
    "number": "run",
    "roller": "idler",
    "pulley": "idler",
    "vehicle": "car",
    "pull": "tension",
    "tight": "tension",
    "event": "meeting",
    "session": "round",
    "grease": "lube",
    "material": "compound",
    "outcome": "fate",
    "result": "fate",
    "reason": "cause",
    "why": "cause",
    "price": "cost",
    "weight": "mass",
    "temp": "edge",
    "temperature": "edge",
    "comment": "note",
    "remarks": "note",
}
"""Other words that crews write for ours (common practice, no source)."""


class Content(NamedTuple):
    """What stands in the cells of one column, each distinct text once.

    Parameters
    ----------
    texts : tuple of str
        The first few hundred distinct texts that are not blank.
    numbers : tuple of float
        Those of them that are numbers.
    days : int
        How many of them are days, in any order.
    """

    texts: tuple[str, ...]
    numbers: tuple[float, ...]
    days: int

    def mostly(self, number: int) -> bool:
        """Whether that many of the texts are nearly all of them."""
        return number >= MOSTLY * len(self.texts)


class Guess(NamedTuple):
    """A column that a heading may mean, the unit it may be in, and how near it is."""

    column: Column
    twin: Twin | None
    score: float

    @property
    def name(self) -> str:
        """Our heading for it."""
        return self.column.name if self.twin is None else str(self.column.twin)


def content_of(cells: CellText) -> Content:
    """Look at the cells of a column."""
    texts = tuple(islice((text for text in cells.distinct if text), LOOKED_AT))
    numbers = tuple(float(text) for text in texts if NUMBER.fullmatch(text))
    days = sum(bool(ISO_DAY.match(text) or SLASHED.fullmatch(text)) for text in texts)
    return Content(texts, numbers, days)


def guesses(table: Table, headings: Sequence[str], free: Sequence[Column], least: float = LIKELY) -> dict[str, Guess]:
    """Guess what headings mean, each column at most once, the nearest first.

    Parameters
    ----------
    table : Table
        The table in which they stand.
    headings : sequence of str
        The headings that are none of ours, as typed.
    free : sequence of Column
        The columns that none of the other headings names.
    least : float
        The lowest score of a guess.

    Returns
    -------
    dict of str to Guess
        By heading; those that are near to nothing are left out.
    """
    found = [
        (guess.score, heading, guess)
        for heading in islice(dict.fromkeys(headings), MOST_HEADINGS)
        for guess in _of(heading, content_of(table.cells[table.headings.index(heading)]), len(table.line), free)
        if guess.score >= least
    ]
    taken: dict[str, Guess] = {}
    for _, heading, guess in sorted(found, key=lambda one: -one[0]):
        if heading not in taken and all(guess.column is not other.column for other in taken.values()):
            taken[heading] = guess
    return taken


def near_level(word: str, levels: Sequence[str]) -> str | None:
    """Give the level that a word most likely stands for: its own letters, its beginning, or one a slip away."""
    plain = re.sub(r"[\s_]+", "-", word.strip().lower())
    begun = [level for level in levels if level.startswith(plain) or plain.startswith(level)]
    if plain in levels or len(begun) == 1:
        return plain if plain in levels else begun[0]
    close = get_close_matches(plain, levels, n=1, cutoff=0.6)
    return close[0] if close else None


def _of(heading: str, content: Content, rows: int, free: Sequence[Column]) -> Iterator[Guess]:
    words = re.findall(r"[^\W_]+", heading[:LONGEST].lower())
    plain = [ALSO.get(word, word) for word in words if word not in UNITS or len(words) == 1]
    inch = next((UNITS[word] for word in words[1:] if word in UNITS), None)
    for column in free:
        twin = _unit(column, content, inch)
        fit = _fit(column, twin, content, rows)
        if fit is not None:
            yield Guess(column, twin, _likeness(plain, column) + fit)


def _likeness(words: Sequence[str], column: Column) -> float:
    """Say how like a heading's words are to a column's, 0 to 1."""
    ending = INCH_POUND[column.unit].ending if column.unit in INCH_POUND else ""
    name, label = (re.findall(r"[a-z]+", text.lower()) for text in (column.name.removesuffix(ending), column.label))
    shared = len({*words} & {*name}) / len({*words} | {*name})
    shared = max(shared, ALL_SAID) if {*name} < {*words} else shared
    ratios = (SequenceMatcher(None, " ".join(words), " ".join(other)).ratio() for other in (name, label))
    return max(shared, *ratios)


def _unit(column: Column, content: Content, inch: bool | None) -> Twin | None:
    """Take the unit that the heading names, else the one in which the middle number is nearest to a usual one."""
    twin = INCH_POUND.get(column.unit)
    if twin is None or inch is not None or not content.numbers:
        return twin if inch else None
    assert column.low is not None
    assert column.high is not None
    usual = float(column.example) if column.example else math.sqrt(max(column.low, column.high / 1000) * column.high)
    middle = sorted(content.numbers)[len(content.numbers) // 2]
    metric, inch_pound = (abs(math.log(max(value, 1e-9) / usual)) for value in (middle, twin.metric(middle)))
    return twin if inch_pound < metric else None


def _fit(column: Column, twin: Twin | None, content: Content, rows: int) -> float | None:
    """Say how much what stands there speaks for a column, 0 to 1; None where the column could not hold it."""
    if not content.texts:
        return 0.0
    if column.kind == "day":
        return 0.5 if content.mostly(content.days) else None
    if content.mostly(content.days) and column.kind != "text":
        return None
    if column.levels:
        near = sum(near_level(text, column.levels) is not None for text in content.texts)
        exact = sum(text.lower() in column.levels for text in content.texts)
        return (0.4 * near + 0.3 * exact) / len(content.texts) if 2 * near >= len(content.texts) else None
    if column.is_number:
        return _of_numbers(column, twin, content, rows)
    return 0.0 if column.kind == "name" or not content.mostly(len(content.numbers)) else None


def _of_numbers(column: Column, twin: Twin | None, content: Content, rows: int) -> float | None:
    assert column.low is not None
    assert column.high is not None
    metric = [twin.metric(value) if twin else value for value in content.numbers]
    possible = sum(column.low <= value <= column.high for value in metric)
    whole = column.kind != "whole" or all(value.is_integer() for value in content.numbers)
    if not content.mostly(possible) or not whole:
        return None
    # Only the number of a run is another one in every row.
    numbered = column.name == "run" and len(content.numbers) >= min(rows, LOOKED_AT) > 1
    return 0.3 if numbered else 0.0
