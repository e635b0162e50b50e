"""The invented demo seasons: two logs, each an open Data Package that says it is invented.

`demo_truth` says what is true of them, `demo_season` plays them. Same seed, same bytes. The description comes from
the table of columns and follows the Data Package and Table Schema standards, version 1 (https://specs.frictionlessdata.io).
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Mapping, Sequence
from hashlib import sha256

from drivekit.log.columns import BELTS, RUNS, Column
from drivekit.log.demo_season import DemoSeason, season
from drivekit.log.demo_truth import SEASON_ONE, SEASON_TWO, Cell, Plan

__all__ = ["SEASONS", "demo_files", "season_files"]

_TYPES = {"name": "string", "word": "string", "text": "string", "whole": "integer", "number": "number", "day": "date"}

LICENCE = {"name": "CC0-1.0", "title": "Creative Commons Zero 1.0"}
LICENCE["path"] = "https://creativecommons.org/publicdomain/zero/1.0/"
SEASONS = (SEASON_ONE, SEASON_TWO)


def demo_files(seed: int = 1) -> dict[str, bytes]:
    """Play both seasons, the first drawn from `seed`, the second from the number after it; files by their paths."""
    return {
        f"{plan.name}/{name}": content
        for number, plan in enumerate(SEASONS)
        for name, content in season_files(plan, season(plan, seed=seed + number)).items()
    }


def season_files(plan: Plan, played: DemoSeason) -> dict[str, bytes]:
    """Say a played season as the files of its folder.

    Parameters
    ----------
    plan : Plan
        For the season's name and title.
    played : DemoSeason
        Its rows.

    Returns
    -------
    dict of str to bytes
        ``belts.csv``, ``runs.csv`` and ``datapackage.json``.
    """
    tables = {"belts.csv": (BELTS, played.belts), "runs.csv": (RUNS, played.runs)}
    columns = {file: [one for one in of if any(one.name in row for row in rows)] for file, (of, rows) in tables.items()}
    files = {file: _csv(columns[file], rows) for file, (_, rows) in tables.items()}
    package = {
        "profile": "tabular-data-package",
        "name": plan.name,
        "title": plan.title,
        "description": "Invented: no real belt, car, meeting or person. One row of runs.csv is one run of one belt.",
        "invented": True,
        "licenses": [LICENCE],
        "resources": [_resource(file, columns[file], content) for file, content in files.items()],
    }
    return files | {"datapackage.json": (json.dumps(package, indent=2, ensure_ascii=False) + "\n").encode()}


def _csv(columns: Iterable[Column], rows: Iterable[Mapping[str, Cell]]) -> bytes:
    names = [column.name for column in columns]
    cells = ([row.get(name) for name in names] for row in rows)
    said = ([f"{cell:.10g}" if isinstance(cell, float) else cell for cell in row] for row in cells)
    text = io.StringIO(newline="")
    csv.writer(text, lineterminator="\n").writerows([names, *said])
    return text.getvalue().encode()


def _resource(file: str, columns: Sequence[Column], content: bytes) -> dict[str, object]:
    key = columns[0].name
    schema: dict[str, object] = {
        "fields": [_field(column, unique=column.name == key) for column in columns],
        "missingValues": ["", "?"],
        "primaryKey": key,
    }
    if file == "runs.csv":
        schema["foreignKeys"] = [{"fields": "belt", "reference": {"resource": "belts", "fields": "belt"}}]
    return {
        "profile": "tabular-data-resource",
        "name": file.removesuffix(".csv"),
        "path": file,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "dialect": {"delimiter": ",", "lineTerminator": "\n"},
        "bytes": len(content),
        "hash": f"sha256:{sha256(content).hexdigest()}",
        "schema": schema,
    }


def _field(column: Column, *, unique: bool) -> dict[str, object]:
    """Describe a column as a Table Schema field; `unit` is our own addition, which the standard allows."""
    rules: dict[str, object] = {
        "required": column.required or None,
        "unique": unique or None,
        "minimum": column.low if column.is_number else None,
        "maximum": column.high if column.is_number else None,
        "enum": list(column.levels) or None,
    }
    field: dict[str, object] = {
        "name": column.name,
        "type": _TYPES[column.kind],
        "description": column.meaning,
        "unit": column.unit or None,
        "constraints": {name: rule for name, rule in rules.items() if rule is not None} or None,
    }
    return {name: said for name, said in field.items() if said is not None}
