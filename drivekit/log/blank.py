"""A blank log to fill in, as a folder or a spreadsheet, and the run sheet to print beside it."""

from __future__ import annotations

import csv
import io
import os
import shutil
import tempfile
from collections.abc import Sequence
from pathlib import Path

from drivekit.cautions import CAUTIONS
from drivekit.faults import Unusable
from drivekit.log.blank_sheets import blank_spreadsheet
from drivekit.log.cells import figure
from drivekit.log.columns import BELTS, RUNS, Column
from drivekit.log.tables import shown
from drivekit.log.units import INCH_POUND

__all__ = ["columns_in_words", "write_blank"]

RUN_SHEET = "run-sheet.pdf"


def write_blank(path: str | Path, run_sheet: bytes) -> tuple[Path, ...]:
    """Write a blank log and the run sheet.

    Parameters
    ----------
    path : path
        A folder that is not there yet, or is empty; or an .xlsx file that is not there yet: the run sheet is then
        written beside it.
    run_sheet : bytes
        The sheet to print, as a PDF.

    Returns
    -------
    tuple of Path
        What was written.

    Raises
    ------
    Unusable
        If something stands there already, or nothing can be written there.
    """
    place = Path(path)
    try:
        return _spreadsheet(place, run_sheet) if place.suffix.lower() == ".xlsx" else _folder(place, run_sheet)
    except OSError as error:
        raise Unusable(f"{shown(str(path), None)} cannot be written: {error.strerror}.") from None


def columns_in_words(columns: Sequence[Column]) -> str:
    """Write what each column means as a Markdown table."""
    rows = ["| column | must be filled | what it holds | what it means |", "|---|---|---|---|"]
    rows += [
        f"| `{column.name}` | {'yes' if column.required else ''} | {column.holds} | {column.meaning} |"
        for column in columns
    ]
    return "\n".join(rows)


def _folder(place: Path, run_sheet: bytes) -> tuple[Path, ...]:
    if place.exists() and (not place.is_dir() or any(place.iterdir())):
        raise Unusable(f"{shown(str(place), None)} is there already: name a folder that is not.")
    place.parent.mkdir(parents=True, exist_ok=True)
    files = {
        "belts.csv": _heading_and_example(BELTS).encode(),
        "runs.csv": _heading_and_example(RUNS).encode(),
        "README.md": _readme().encode(),
        RUN_SHEET: run_sheet,
    }
    if place.exists():
        for name, content in files.items():
            (place / name).write_bytes(content)
        return tuple(place / name for name in files)
    # All of it is made beside the place first, so that no half of a log is left when something fails.
    beside = Path(tempfile.mkdtemp(dir=place.parent))
    try:
        for name, content in files.items():
            (beside / name).write_bytes(content)
        beside.chmod(0o777 & ~_mask())
        os.replace(beside, place)
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return tuple(place / name for name in files)


def _spreadsheet(place: Path, run_sheet: bytes) -> tuple[Path, ...]:
    made = {place: blank_spreadsheet(), place.parent / RUN_SHEET: run_sheet}
    for file, content in made.items():
        # The run sheet of another season may stand there: it is the same page.
        if file.exists() and (file == place or file.read_bytes() != content):
            raise Unusable(f"{shown(str(file), None)} is there already: name a place where it is not.")
    place.parent.mkdir(parents=True, exist_ok=True)
    for file, content in made.items():
        file.write_bytes(content)
    return tuple(made)


def _mask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _heading_and_example(columns: Sequence[Column]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([column.name for column in columns])
    writer.writerow([column.example for column in columns])
    return text.getvalue()


def _readme() -> str:
    twins = "\n".join(
        f"- `{twin.ending}` in {unit}, or `{twin.twin_ending}` in {twin.unit}" for unit, twin in INCH_POUND.items()
    )
    tension = next(column for column in RUNS if column.name == "tension_n")
    cautions = "\n".join(f"- {caution}" for caution in CAUTIONS)
    return f"""# A season's log

One row a belt in `belts.csv`, one row a run in `runs.csv`, in the order the runs were made. Each holds an example row:
delete it when your own stand there; `drivekit check` says so as long as it is there. `{RUN_SHEET}` is the same in boxes
to tick at the trailer, one page a run.

Columns that need not be filled may be left blank, or out; the study says what each would have added.
Front is away from the engine, rear towards it; left and right as the driver sits. The snout is the blower's nose. A
flat is a sixth of a turn. Days are written year-month-day. Numbers have a decimal point, no comma and no unit.

The unit stands at the end of the heading. Change the heading to write in the other unit:

{twins}

The tension ({figure(tension.low or 0)} to {figure(tension.high or 0)} N) is `tension_n`; or leave it blank and fill in
`span_hz` and `span_mm` (with the belt's `mass_g_per_m`), or `push_n`, `push_mm` and `span_mm`, and it is computed.

## belts.csv

{columns_in_words(BELTS)}

## runs.csv

{columns_in_words(RUNS)}

## Cautions

{cautions}
"""
