"""The findings as tables to paste from: one spreadsheet, a sheet a kind of number, units in the headings.

A word is written as a word: one that begins with = + - or @, as a car's name may, is marked as text, so that no
spreadsheet program takes it for something to work out.
"""

from __future__ import annotations

import io
import tomllib
import zipfile
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

from drivekit.cautions import CAUTIONS
from drivekit.show.phrases import Plain

__all__ = ["spreadsheet"]

COLUMNS: Mapping[str, Mapping[str, str]] = tomllib.loads(Path(__file__).with_suffix(".toml").read_text("utf-8"))
"""Of each sheet the headings, each with the key of what stands under it."""


def spreadsheet(findings: Plain) -> bytes:
    """Write the findings as a spreadsheet, an .xlsx file; the same bytes for the same findings."""
    from openpyxl import Workbook
    from openpyxl.styles import Font, PatternFill

    book = Workbook()
    book.remove(book.active)
    for name, columns in COLUMNS.items():
        sheet, rows = book.create_sheet(name), [tuple[Any, ...](columns)]
        rows += [tuple(row.get(key) for key in columns.values()) for row in SHEETS[name](findings)]
        for row in rows:
            sheet.append(row)
        for cell in (cell for row in sheet for cell in row if isinstance(cell.value, str)):
            if cell.value.startswith(("=", "+", "-", "@")):
                cell.data_type, cell.quotePrefix = "s", True
        for place, cell in enumerate(sheet[1]):
            cell.font, cell.fill = Font(bold=True, color="1B2A33"), PatternFill("solid", fgColor="E6ECEF")
            widest = max(len(str(row[place])) for row in rows[:51])
            sheet.column_dimensions[cell.column_letter].width = min(widest, 18 if place else 90) + 2
        sheet.freeze_panes = "A2"
    kept = io.BytesIO()
    book.save(kept)
    return _same_each_time(kept)


def _about(findings: Plain) -> Iterator[Plain]:
    log, settings = findings["log"], findings["settings"]
    counts = ("belts", "runs", "failed", "censored", "unused", "unknown_age")
    every = [
        ("log", log["name"] + (" (invented)" if log["invented"] else "")),
        *((name.replace("_", " "), log[name]) for name in counts),
        ("failures", ", ".join(settings["failures"])),
        ("confidence", settings["confidence"]),
        ("horizon (runs)", settings["horizon_runs"]),
        ("tension cuts (N)", ", ".join(f"{cut:.0f}" for cut in settings["tension_cuts_n"] or ())),
        ("seed", settings["seed"]),
        ("drivekit", findings["provenance"]["drivekit"]),
        *(("caution", caution) for caution in CAUTIONS),
    ]
    yield from ({"what": what, "value": value} for what, value in every)


def _answers(findings: Plain) -> Iterator[Plain]:
    for name, head in findings["headline"].items():
        yield {**head, "question": findings["comparisons"][name]["question"]}


def _groups(findings: Plain) -> Iterator[tuple[str, Plain]]:
    life, named = findings["life"], findings["comparisons"]
    for name, block in (*life.items(), *life.get("more", {}).items()):
        if name in named:
            yield named[name]["said"], block


def _by_age(block: Plain, **named: str) -> Iterator[Plain]:
    columns = {key: values for key, values in block.items() if isinstance(values, list)}
    yield from ({**named, **dict(zip(columns, row, strict=True))} for row in zip(*columns.values(), strict=True))


def _curves(findings: Plain) -> Iterator[Plain]:
    yield from _by_age(findings["life"]["overall"], setting="all belts", level="all belts")
    for setting, block in _groups(findings):
        for level, curve in block.get("levels", {}).items():
            yield from _by_age(curve, setting=setting, level=level)


def _differences(findings: Plain) -> Iterator[Plain]:
    for setting, block in _groups(findings):
        found = block.get("mean_difference", block)
        for contrast, told in ({None: found} if "reason" in found else found).items():
            yield {**told, "setting": setting, "contrast": contrast}


def _terms(findings: Plain) -> Iterator[Plain]:
    hazard = findings["hazard"]
    for term, told in ({"all": hazard} if "reason" in hazard else hazard["terms"]).items():
        yield {**told, "term": term}


def _causes(findings: Plain) -> Iterator[Plain]:
    for name, cause in findings["causes"].items():
        if name != "reason":
            yield from _by_age(cause, cause=name)


SHEETS: Mapping[str, Callable[[Plain], Iterator[Plain]]] = {
    "about": _about,
    "answers": _answers,
    "curves": _curves,
    "differences": _differences,
    "hazard": _terms,
    "causes": _causes,
}
"""What gives the rows of each sheet, each by the keys of its columns."""


def _same_each_time(book: io.BytesIO) -> bytes:
    """Take the moment of writing out of a spreadsheet's archive: same findings, same bytes."""
    import re

    kept = io.BytesIO()
    with zipfile.ZipFile(book) as old, zipfile.ZipFile(kept, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            content = old.read(name)
            if name == "docProps/core.xml":
                content = re.sub(rb"(W3CDTF\">)[^<]*", rb"\g<1>2000-01-01T00:00:00Z", content)
            new.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_DEFLATED)
    return kept.getvalue()
