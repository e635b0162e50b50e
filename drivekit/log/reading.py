"""From a path to the two tables of a log, or one sentence on why there is none.

A log is a folder with belts.csv and runs.csv, or one spreadsheet with sheets belts and runs, read as text cells.
"""

from __future__ import annotations

import datetime
import hashlib
import io
import json
import re
import warnings
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from itertools import repeat, zip_longest
from pathlib import Path
from typing import Any, NamedTuple

from drivekit.faults import Fault, Unusable, shown
from drivekit.log.columns import TABLES
from drivekit.log.tables import Record, Table, filled_table

__all__ = ["BEFORE", "LARGEST_BYTES", "NO_VALUE", "Source", "copy_before", "files_of", "source", "text_of"]

LARGEST_BYTES = 200_000_000
LARGEST_UNPACKED_BYTES = 1_000_000_000
BEFORE, DIGITS = ".before-", 12
LAST_ROW = 1_048_576
ROW_NUMBER = re.compile(rb"<(?:\w+:)?row\s(?:[^>]*?\s)?r=[\"']([0-9]+)")
MERGED = re.compile(rb"<(?:\w+:)?mergeCell\s(?:[^>]*?\s)?ref=[\"']([A-Z]{1,3}[0-9]+:[A-Z]{1,3}[0-9]+)")
AGAIN = "open it in a spreadsheet program and save it again as .xlsx"

NO_VALUE = "formula without a value"
"""Stands in a cell whose formula was never computed; no column takes it."""


class Source(NamedTuple):
    """What stands in a log, as text: its name, its two tables, and what is wrong beside them.

    `sha256` is of the bytes of belts.csv then runs.csv, or of the spreadsheet; a datapackage.json may say `invented`.
    """

    name: str
    belts: Table
    runs: Table
    sha256: str
    invented: bool
    faults: tuple[Fault, ...]


def source(path: str | Path, instead: Mapping[str, bytes] = {}) -> Source:
    """Read the tables of a log; `instead` says what is read in the place of files of these names.

    Raises
    ------
    Unusable
        If the path is missing, holds no log, or one of its files is empty, too large or no text.
    """
    place = Path(path)
    try:
        there = place.exists()
    except OSError as error:
        raise Unusable(f"{shown(str(path), None)} cannot be read: {error.strerror}.") from None
    if not there:
        looked = "" if place.is_absolute() else f": it was looked for at {shown(str(place.absolute()), None)}"
        raise Unusable(f"{shown(str(path), None)} is not there{looked}.")
    name = shown(place.resolve().name, None)
    if place.is_dir():
        contents, of_files = _folder_files(place, instead)
        texts = {name: text_of(name, content) for name, content in contents.items()}
        of_files += [
            _cut_off(name, text) for name, text in texts.items() if not text.rstrip(" \t;,").endswith(("\r", "\n"))
        ]
        belts, runs = (filled_table(name, texts.pop(name)) for name in list(texts))
    elif place.suffix.lower() == ".xlsx":
        contents = {name: _bytes(place, instead)}
        (belts, runs), of_files = _sheet_tables(name, contents[name])
    else:
        raise Unusable(f"{name} is no season log: name a folder that holds belts.csv and runs.csv, or one .xlsx file.")
    digest = hashlib.sha256(b"".join(contents.values())).hexdigest()
    invented, faults = _invented((place if place.is_dir() else place.parent) / "datapackage.json")
    return Source(name, belts, runs, digest, invented, (*of_files, *faults))


def files_of(place: Path) -> tuple[Path, ...]:
    """Name the files of a log: belts.csv and runs.csv of a folder, or the spreadsheet alone."""
    return tuple(place / f"{table}.csv" for table in TABLES) if place.is_dir() else (place,)


def copy_before(file: Path, contents: Iterable[bytes]) -> Path:
    """Name the copy of what a file of a log held before it was replaced, which left the log's files as these."""
    left = hashlib.sha256(b"".join(contents)).hexdigest()[:DIGITS]
    return file.with_name(f"{file.name}{BEFORE}{left}")


def _folder_files(folder: Path, instead: Mapping[str, bytes]) -> tuple[dict[str, bytes], list[Fault]]:
    """Read the files of a folder; belts that were written for a run that never was are those from before it.

    A run with a new belt is added by replacing belts.csv first; it is read last, so that a run never lacks its belt.
    """
    members = [_member(folder, file.name) for file in files_of(folder)]
    found = {file.name: _bytes(file, instead) for file in reversed(members)}
    contents = {file.name: found[file.name] for file in members}
    before = copy_before(members[0], contents.values())
    if not before.is_file():
        return contents, []
    wrong = "has a new belt whose run was cut short while it was added, so the file is read as it was before that"
    contents[members[0].name] = _bytes(before, {})
    return contents, [Fault(members[0].name, None, "", None, wrong, "add the run again", True)]


def _cut_off(name: str, text: str) -> Fault:
    wrong = "is a last line without an end, so that rows below it may be gone"
    return Fault(name, len(text.splitlines()), "", None, wrong, "put them back, or end the line", True)


def text_of(file: str, content: bytes) -> str:
    """Decode a text file, with or without a byte-order mark.

    Raises
    ------
    Unusable
        If it is no UTF-8 text; the sentence says at which byte and line.
    """
    if content[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise Unusable(f"{file} is saved as UTF-16: save it as UTF-8.")
    zero = content.find(b"\0")
    if zero >= 0:
        line = content.count(b"\n", 0, zero) + 1
        raise Unusable(f"{file} is no text file: byte {zero + 1} (line {line}) is zero.")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        at, line = error.start, content.count(b"\n", 0, error.start) + 1
        where = f"byte {at + 1} (line {line}) is {content[at]:02X}"
        raise Unusable(f"{file} is no UTF-8 text: {where}; save it as UTF-8.") from None


def _member(folder: Path, name: str) -> Path:
    try:
        held = sorted(member.name for member in folder.iterdir())
    except OSError as error:
        raise Unusable(f"{shown(str(folder), None)} cannot be read: {error.strerror}.") from None
    if name in held:
        return folder / name
    alike = [other for other in held if other.lower() == name]
    hint = f" (it has {alike[0]}: rename it)" if alike else ""
    log = "a season log is a folder with belts.csv and runs.csv, or one .xlsx file"
    raise Unusable(f"{shown(str(folder), None)} holds no {name}{hint}: {log}.")


def _bytes(file: Path, instead: Mapping[str, bytes]) -> bytes:
    if file.name in instead:
        return instead[file.name]
    full, name = shown(str(file), None), shown(file.name, None)
    if file.is_dir():
        raise Unusable(f"{full} is a folder where a file should stand.")
    if not file.is_file():
        raise Unusable(f"{full} is no ordinary file.")
    try:
        size = file.stat().st_size
        if size > LARGEST_BYTES:
            most = f"a season log has at most {LARGEST_BYTES / 1e6:.0f} MB"
            raise Unusable(f"{name} has {size / 1e6:,.0f} MB: {most}.")
        content = file.read_bytes()
    except OSError as error:
        raise Unusable(f"{full} cannot be read: {error.strerror}.") from None
    if not content or content.isspace():
        raise Unusable(f"{name} is empty: its first line must name the columns.")
    return content


def _invented(package: Path) -> tuple[bool, tuple[Fault, ...]]:
    """Say whether the description beside the log calls it invented."""
    if not package.is_file():
        return False, ()
    try:
        described = json.loads(package.read_bytes())
    except (OSError, ValueError):
        wrong = "cannot be read, so whether the log is invented is not known"
        return False, (Fault(package.name, None, "", None, wrong, "mend it or take it away", True),)
    return isinstance(described, dict) and described.get("invented") is True, ()


def _sheet_tables(name: str, content: bytes) -> tuple[list[Table], list[Fault]]:
    """Read sheets belts and runs, in any case, of a spreadsheet; sheet runs of season.xlsx is ``season.xlsx[runs]``."""
    sheets = _sheet_parts(name, content)
    tables, faults = [], []
    with warnings.catch_warnings():
        # openpyxl warns of what it could not write back; nothing is written back here.
        warnings.simplefilter("ignore")
        with _damage(f"{name} is no .xlsx spreadsheet: {AGAIN}."):
            from openpyxl import load_workbook

            values = load_workbook(io.BytesIO(content), read_only=True, data_only=True)
            # A formula keeps the value it last had beside it; only where there are formulas is a second look needed.
            formulas = any(re.search(rb"<f[ />]", part) for part in sheets.values())
            typed = load_workbook(io.BytesIO(content), read_only=True) if formulas else None
        for sheet in TABLES:
            titles = [title for title in values.sheetnames if title.strip().lower() == sheet]
            if not titles:
                held = ", ".join(shown(title) for title in values.sheetnames)
                raise Unusable(f"{name} has no sheet named {sheet} (it has {held}).")
            if len(titles) > 1:
                wrong = f"is the name of {len(titles)} sheets: {', '.join(repr(shown(title)) for title in titles)}"
                right = "keep one, or give the other another name"
                faults.append(Fault(f"{name}[{sheet}]", None, "", sheet, wrong, right))
            # Rows are parsed as they are asked for: what is wrong in a sheet's XML is found here.
            with _damage(f"{name} is damaged: its sheet {sheet} cannot be read; take another copy."):
                of_values, of_typed = values[titles[0]], typed and typed[titles[0]]
                rows = list(_rows(of_values, of_typed))
            table = filled_table(f"{name}[{sheet}]", rows)
            tables.append(table)
            faults += _merged(table, sheets.get(of_values._worksheet_path.lstrip("/"), b""))
    return tables, faults


def _merged(table: Table, part: bytes) -> Iterator[Fault]:
    """Find merged cells over the table: those that are hidden read as blank."""
    from openpyxl.utils import range_boundaries

    for area in map(bytes.decode, MERGED.findall(part)):
        column, line, _, until = range_boundaries(area)
        if column <= len(table.headings) and line <= table.last_line and until >= table.heading_line:
            wrong = f"cells {area} are merged, so that all but the first read as blank"
            yield Fault(table.file, line, "", None, wrong, "take the merge apart and fill every cell")


@contextmanager
def _damage(sentence: str) -> Iterator[None]:
    """Say in one sentence what fails in many ways: bad magic numbers, checksums, compression, XML, names of parts."""
    try:
        yield
    except Unusable:
        raise
    except Exception:
        raise Unusable(sentence) from None


def _sheet_parts(name: str, content: bytes) -> dict[str, bytes]:
    """Unpack the sheets of a spreadsheet, once all that it declares is found to be of a size that can be unpacked."""
    with _damage(f"{name} is damaged, or is no .xlsx spreadsheet: {AGAIN}."):
        archive = zipfile.ZipFile(io.BytesIO(content))
        unpacked = sum(part.file_size for part in archive.infolist())
        if unpacked > LARGEST_UNPACKED_BYTES:
            raise Unusable(f"{name} unpacks to {unpacked / 1e9:.1f} GB: a season log has at most 1 GB.")
        broken = archive.testzip()
    if broken is not None:
        raise Unusable(f"{name} is damaged (its part {shown(broken)} does not unpack): take another copy.")
    sheets = {part: archive.read(part) for part in archive.namelist() if "worksheets/" in part}
    last = max((int(row) for part in sheets.values() for row in ROW_NUMBER.findall(part)), default=0)
    if last > LAST_ROW:
        # The rows between would all be made, blank, one by one.
        raise Unusable(f"{name} numbers a row {last:,}: a spreadsheet has at most {LAST_ROW:,}.")
    return sheets


def _rows(values: Any, typed: Any) -> Iterator[Record]:
    """Give the cells of each row as text, brought to the heading's width, since a sheet has no row ends of its own.

    The sheet's own note of its size is not trusted. `typed` is the sheet with its formulas, where it has any.
    """
    values.reset_dimensions()
    formulas: Iterator[tuple[object, ...]] = repeat(())
    if typed is not None:
        typed.reset_dimensions()
        formulas = typed.iter_rows(values_only=True)
    width = 0
    for line, (row, of_row) in enumerate(zip(values.iter_rows(values_only=True), formulas, strict=False), 1):
        texts = [
            NO_VALUE if value is None and formula is not None else _text(value)
            for value, formula in zip_longest(row, of_row)
        ]
        while texts and not texts[-1].strip():
            texts.pop()
        width = width or len(texts)
        yield line, texts + [""] * (width - len(texts))


def _text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).upper()
    if isinstance(value, datetime.datetime):
        return value.date().isoformat() if value.time() == datetime.time() else value.isoformat(" ")
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return str(value)
