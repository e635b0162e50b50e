"""From a path to the two tables of a log, or one sentence on why there is none."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from pathlib import Path

from drivekit.faults import Fault, Unusable
from drivekit.log.spreadsheet import sheet_tables
from drivekit.log.tables import Table, comma_table, shown

__all__ = ["LARGEST_BYTES", "Source", "source", "text_of"]

LARGEST_BYTES = 200_000_000
TABLES = ("belts", "runs")


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """What stands in a log, as text.

    Parameters
    ----------
    name : str
        Name of the folder or spreadsheet.
    belts, runs : Table
        Its two tables.
    sha256 : str
        Of the bytes of belts.csv then runs.csv, or of the spreadsheet.
    invented : bool
        Whether a datapackage.json beside it says so.
    faults : tuple of Fault
        What is wrong beside the tables.
    """

    name: str
    belts: Table
    runs: Table
    sha256: str
    invented: bool
    faults: tuple[Fault, ...]


def source(path: str | Path) -> Source:
    """Read a folder with belts.csv and runs.csv, or one .xlsx spreadsheet with sheets belts and runs.

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
        raise Unusable(f"{shown(str(path), None)} is not there.")
    name = shown(place.resolve().name, None)
    if place.is_dir():
        contents = [_bytes(_member(place, f"{table}.csv")) for table in TABLES]
        belts, runs = (
            comma_table(f"{table}.csv", text_of(f"{table}.csv", content))
            for table, content in zip(TABLES, contents, strict=True)
        )
        package = place / "datapackage.json"
    elif place.suffix.lower() == ".xlsx":
        contents = [_bytes(place)]
        belts, runs = sheet_tables(name, contents[0], TABLES)
        package = place.parent / "datapackage.json"
    else:
        raise Unusable(f"{name} is no season log: name a folder that holds belts.csv and runs.csv, or one .xlsx file.")
    digest = hashlib.sha256(b"".join(contents)).hexdigest()
    invented, faults = _invented(package)
    return Source(name, belts, runs, digest, invented, faults)


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
        at = error.start
        line = content.count(b"\n", 0, at) + 1
        raise Unusable(
            f"{file} is no UTF-8 text: byte {at + 1} (line {line}) is {content[at]:02X}; save it as UTF-8."
        ) from None


def _member(folder: Path, name: str) -> Path:
    try:
        held = sorted(member.name for member in folder.iterdir())
    except OSError as error:
        raise Unusable(f"{shown(str(folder), None)} cannot be read: {error.strerror}.") from None
    if name in held:
        return folder / name
    alike = [other for other in held if other.lower() == name]
    hint = f" (it has {alike[0]}: rename it)" if alike else ""
    raise Unusable(
        f"{shown(str(folder), None)} holds no {name}{hint}: a season log is a folder with belts.csv and "
        "runs.csv, or one .xlsx file."
    )


def _bytes(file: Path) -> bytes:
    if file.is_dir():
        raise Unusable(f"{shown(str(file), None)} is a folder where a file should stand.")
    if not file.is_file():
        raise Unusable(f"{shown(str(file), None)} is no ordinary file.")
    try:
        size = file.stat().st_size
        if size > LARGEST_BYTES:
            raise Unusable(
                f"{shown(file.name, None)} has {size / 1e6:,.0f} MB: a season log has at most "
                f"{LARGEST_BYTES / 1e6:.0f} MB."
            )
        content = file.read_bytes()
    except OSError as error:
        raise Unusable(f"{shown(str(file), None)} cannot be read: {error.strerror}.") from None
    if not content.strip():
        raise Unusable(f"{shown(file.name, None)} is empty: its first line must name the columns.")
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
