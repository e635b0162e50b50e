"""The one table that says what each column of the season log is.

Reading, checking, the blank log, the run sheet and the documents all come from it: a new column is one new entry here.

Sides: front is away from the engine, rear towards it; left and right as the driver sits. The snout is the blower's
nose. A column's unit stands at the end of its name; each metric unit has one inch-pound twin (`drivekit.units`), and a
heading with the twin's ending is taken for the same column, its values converted.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from math import inf
from pathlib import Path
from typing import Any, Literal

from drivekit.units import INCH_POUND, SI, Units

__all__ = ["BELTS", "CAUSES", "EXAMPLE", "FAILURES", "RUNS", "TABLES", "Column", "Kind", "known_headings"]

Kind = Literal["name", "word", "whole", "number", "day", "text"]

FAILURES = ("tooth-jump", "tooth-loss", "edge-split", "cord-pull", "unknown")
"""The causes that count as the belt's own failure unless the user says otherwise; unknown only when the belt broke."""


@dataclass(frozen=True, slots=True)
class Column:
    """What one column of the log means and holds: an entry of ``columns.toml``, whose head explains each field."""

    name: str
    kind: Kind
    label: str
    meaning: str
    also: tuple[str, ...] = ()
    levels: tuple[str, ...] = ()
    unit: str = ""
    low: float = -inf
    high: float = inf
    required: bool = False
    question: bool = False
    adds: str = ""
    gives: str = ""
    part: str = ""
    example: str = ""

    @property
    def twin(self) -> str | None:
        """The heading of the same column in inch-pound units; None where there is none."""
        twin = INCH_POUND.get(self.unit)
        return None if twin is None else self.name.removesuffix(twin.ending) + twin.twin_ending

    @property
    def holds(self) -> str:
        """What a cell may hold, in words."""
        if self.levels:
            return ", ".join(self.levels[:-1]) + f" or {self.levels[-1]}"
        if self.is_number:
            kind = "a whole number" if self.kind == "whole" else "a number"
            unit = f" {self.unit}" if self.unit else ""
            return f"{kind}, {self.low:.10g} to {self.high:.10g}{unit}{', or ?' if self.question else ''}"
        return {"day": "a day, year-month-day", "name": "a name", "text": "any text"}[self.kind]

    @property
    def is_number(self) -> bool:
        """Whether cells hold a number, whole or not."""
        return self.kind in ("whole", "number")


def known_headings(columns: Sequence[Column]) -> dict[str, tuple[Column, Units]]:
    """Give every heading that is ours, each column's name and its twin, with the units that it says."""
    known = {column.name: (column, SI) for column in columns}
    return known | {column.twin: (column, Units(inch_pound=True)) for column in columns if column.twin is not None}


def _table(name: str) -> tuple[Column, ...]:
    text = Path(__file__).with_name("columns.toml").read_text(encoding="utf-8")
    entries: list[dict[str, Any]] = tomllib.loads(text)[name]
    lists = ("also", "levels")
    return tuple(Column(**entry | {key: tuple(entry.get(key, ())) for key in lists}) for entry in entries)


BELTS, RUNS = _table("belts"), _table("runs")
TABLES = {"belts": BELTS, "runs": RUNS}
"""The columns of both tables, in the order of a blank log."""

EXAMPLE = next(column.example for column in BELTS if column.name == "belt")
"""The belt of the example row in a blank log; checking says when it still stands there."""

CAUSES = next(column.levels for column in RUNS if column.name == "cause")
"""Every way a belt's life in the log can end."""
