"""The findings as tables to paste from: one spreadsheet, a sheet a kind of number, units in the headings.

A word is written as a word: one that begins with = + - or @, as a car's name may, is marked as text, so that no
spreadsheet program takes it for something to work out.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Iterator, Mapping

from drivekit.cautions import CAUTIONS
from drivekit.show.phrases import Plain

__all__ = ["spreadsheet"]

Row = tuple[object, ...]

LIMITS = ("lower limit", "upper limit")
TERM = ("coef", "se", "robust_se", "hr", "lower", "upper", "p")


def spreadsheet(findings: Plain) -> bytes:
    """Write the findings as a spreadsheet, an .xlsx file; the same bytes for the same findings."""
    from openpyxl import Workbook
    from openpyxl.styles import Font, PatternFill

    book = Workbook()
    book.remove(book.active)
    for name, (heading, say) in SHEETS.items():
        sheet, rows = book.create_sheet(name), [heading, *say(findings)]
        for row in rows:
            sheet.append(row)
        for cell in (cell for row in sheet for cell in row if isinstance(cell.value, str)):
            if cell.value.startswith(("=", "+", "-", "@")):
                cell.data_type, cell.quotePrefix = "s", True
        for place, cell in enumerate(sheet[1]):
            cell.font, cell.fill = Font(bold=True, color="1B2A33"), PatternFill("solid", fgColor="E6ECEF")
            widest = max(len(str(row[place])) for row in rows[:51] if len(row) > place)
            sheet.column_dimensions[cell.column_letter].width = min(widest, 18 if place else 90) + 2
        sheet.freeze_panes = "A2"
    kept = io.BytesIO()
    book.save(kept)
    return _same_each_time(kept)


def _about(findings: Plain) -> Iterator[Row]:
    log, settings = findings["log"], findings["settings"]
    yield "log", log["name"] + (" (invented)" if log["invented"] else "")
    for name in ("belts", "runs", "failed", "censored", "unused", "unknown_age"):
        yield name.replace("_", " "), log[name]
    yield "failures", ", ".join(settings["failures"])
    yield "confidence", settings["confidence"]
    yield "horizon (runs)", settings["horizon_runs"]
    yield "tension cuts (N)", ", ".join(f"{cut:.0f}" for cut in settings["tension_cuts_n"] or ())
    yield "seed", settings["seed"]
    yield "drivekit", findings["provenance"]["drivekit"]
    yield from (("caution", caution) for caution in CAUTIONS)


def _answers(findings: Plain) -> Iterator[Row]:
    for name, head in findings["headline"].items():
        question = findings["comparisons"][name]["question"]
        told = (head.get(part) for part in ("contrast", "horizon_runs", "estimate", "lower", "upper", "method"))
        yield question, *told, head.get("reason")


def _groups(findings: Plain) -> Iterator[tuple[str, Plain]]:
    life, named = findings["life"], findings["comparisons"]
    for name, block in (*life.items(), *life.get("more", {}).items()):
        if name in named:
            yield named[name]["said"], block


def _curves(findings: Plain) -> Iterator[Row]:
    every = [("all belts", "all belts", findings["life"]["overall"])]
    for setting, block in _groups(findings):
        every += [(setting, level, curve) for level, curve in block.get("levels", {}).items()]
    columns = ("age", "at_risk", "failed_at", "survival", "lower", "upper")
    for setting, level, curve in every:
        for row in zip(*(curve.get(column, ()) for column in columns), strict=True):
            yield setting, level, *row


def _differences(findings: Plain) -> Iterator[Row]:
    for setting, block in _groups(findings):
        found = block.get("mean_difference", block)
        if "reason" in found:
            yield setting, None, None, None, None, None, found["reason"]
            continue
        for contrast, told in found.items():
            yield setting, contrast, *(told[part] for part in ("estimate", "se", "lower", "upper")), told.get("reason")


def _terms(findings: Plain) -> Iterator[Row]:
    if "reason" in (hazard := findings["hazard"]):
        yield "all", *[None] * len(TERM), hazard["reason"]
    for name, term in hazard.get("terms", {}).items():
        yield name, *(term[part] for part in TERM), term.get("reason")


def _causes(findings: Plain) -> Iterator[Row]:
    for name, cause in findings["causes"].items():
        if name != "reason":
            yield from zip([name] * len(cause["age"]), *cause.values(), strict=True)


SHEETS: Mapping[str, tuple[Row, Callable[[Plain], Iterator[Row]]]] = {
    "about": (("what", "value"), _about),
    "answers": (
        ("question", "contrast", "of the first (runs)", "difference (runs)", *LIMITS, "computed by", "why not"),
        _answers,
    ),
    "curves": (("setting", "level", "age (runs)", "at risk (belts)", "failed", "share running", *LIMITS), _curves),
    "differences": (
        ("setting", "contrast", "difference (runs)", "standard error", *LIMITS, "why there is none"),
        _differences,
    ),
    "hazard": (
        ("term", "coefficient", "standard error", "robust error", "hazard ratio", *LIMITS, "p", "why there is none"),
        _terms,
    ),
    "causes": (("cause", "age (runs)", "share failed", "standard error", *LIMITS), _causes),
}
"""The heading of each sheet, and what gives its rows."""


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
