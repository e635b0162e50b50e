"""The log as one spreadsheet: its sheets belts and runs, read as text cells."""

from __future__ import annotations

import datetime
import io
import re
import warnings
import zipfile
from collections.abc import Iterator, Sequence
from typing import Any

from drivekit.faults import Unusable
from drivekit.log.tables import Table, Unreadable, filled_table, shown

__all__ = ["NO_VALUE", "sheet_tables"]

LARGEST_UNPACKED_BYTES = 1_000_000_000

NO_VALUE = "formula without a value"
"""Stands in a cell whose formula was never computed; no column takes it."""


def sheet_tables(name: str, content: bytes, sheets: Sequence[str]) -> list[Table]:
    """Read the named sheets, in any case, of a spreadsheet.

    Parameters
    ----------
    name : str
        The file's name, for faults: sheet runs of season.xlsx is ``season.xlsx[runs]``.
    content : bytes
        The file.
    sheets : sequence of str
        The sheets wanted, lower case.

    Raises
    ------
    Unusable
        If it is no spreadsheet, unpacks to more than a gigabyte, or lacks a sheet.
    """
    with _parts(name, content) as archive:
        unpacked = sum(part.file_size for part in archive.infolist())
        if unpacked > LARGEST_UNPACKED_BYTES:
            raise Unusable(f"{name} unpacks to {unpacked / 1e9:.1f} GB: a season log has at most 1 GB.")
        # A formula keeps the value it last had beside it; only where there are formulas is a second look needed.
        formulas = any(
            re.search(rb"<f[ />]", archive.read(part)) for part in archive.namelist() if "worksheets/" in part
        )
    values = _workbook(name, content, data_only=True)
    typed = _workbook(name, content, data_only=False) if formulas else None
    titles = {title.strip().lower(): title for title in values.sheetnames}
    tables = []
    for sheet in sheets:
        if sheet not in titles:
            held = ", ".join(shown(title) for title in values.sheetnames)
            raise Unusable(f"{name} has no sheet named {sheet} (it has {held}).")
        title = titles[sheet]
        rows = _rows(values[title], None if typed is None else typed[title])
        tables.append(filled_table(f"{name}[{sheet}]", _levelled(rows)))
    return tables


def _parts(name: str, content: bytes) -> zipfile.ZipFile:
    try:
        archive = zipfile.ZipFile(io.BytesIO(content))
        broken = archive.testzip()
    except Exception:
        # A damaged archive fails in many ways (bad magic number, checksum, compression); to the user they are one.
        raise Unusable(
            f"{name} is damaged, or is no .xlsx spreadsheet: open it in a spreadsheet program and save it "
            "again as .xlsx."
        ) from None
    if broken is not None:
        raise Unusable(f"{name} is damaged (its part {shown(broken)} does not unpack): take another copy.")
    return archive


def _workbook(name: str, content: bytes, *, data_only: bool) -> Any:
    from openpyxl import load_workbook

    try:
        with warnings.catch_warnings():
            # openpyxl warns of what it could not write back; nothing is written back here.
            warnings.simplefilter("ignore")
            return load_workbook(io.BytesIO(content), read_only=True, data_only=data_only)
    except Exception:
        # A zip archive that is no spreadsheet fails inside openpyxl as KeyError, ValueError and others.
        raise Unusable(
            f"{name} is no .xlsx spreadsheet: open it in a spreadsheet program and save it again as .xlsx."
        ) from None


def _rows(values: Any, typed: Any) -> Iterator[list[str]]:
    """Give the cells of each row as text; the sheet's own note of its size is not trusted."""
    values.reset_dimensions()
    if typed is None:
        for row in values.iter_rows(values_only=True):
            yield [_text(value) for value in row]
        return
    typed.reset_dimensions()
    for row, formulas in zip(values.iter_rows(values_only=True), typed.iter_rows(values_only=True), strict=True):
        yield [
            NO_VALUE if value is None and formula is not None else _text(value)
            for value, formula in zip(row, formulas, strict=True)
        ]


def _levelled(rows: Iterator[list[str]]) -> Iterator[tuple[int, Sequence[str] | Unreadable]]:
    """Bring every row to the heading's width: a sheet has no row ends of its own."""
    width = 0
    for line, row in enumerate(rows, 1):
        while row and not row[-1].strip():
            row.pop()
        width = width or len(row)
        yield line, row + [""] * (width - len(row))


def _text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime.datetime):
        return value.date().isoformat() if value.time() == datetime.time() else value.isoformat(" ")
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return str(value)
