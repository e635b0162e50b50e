"""A season's log, read whole and checked, or every reason why not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from drivekit.faults import Fault, Faulty, in_order
from drivekit.log.cells import figure
from drivekit.log.checking import Sheet, Sheets, checked_sheet
from drivekit.log.columns import BELTS, RUNS, Column
from drivekit.log.headings import NO_MAP, column_map
from drivekit.log.reading import source
from drivekit.log.rules import ENDINGS, across
from drivekit.log.tables import counted
from drivekit.log.tension import Floats, tensions

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Season", "check_season", "read_season"]

UNUSUAL = 2.0
FEWEST_FOR_USUAL = 5


@dataclass(frozen=True, slots=True, eq=False)
class Season:
    """A season's log without a fault.

    Parameters
    ----------
    belts, runs : DataFrame
        Both tables in metric units under the log's own names; columns absent from the log are absent here. Runs stand
        in order of run. Blank names, words and texts are None, blank numbers nan, blank days NaT. `runs_before` is 0
        where it was blank and nan where it was ``?``. `tension_n` holds what was typed or what follows from the span.
        `cause` is always there.
    name : str
        Name of the folder or spreadsheet.
    sha256 : str
        Of the bytes of belts.csv then runs.csv, or of the spreadsheet.
    warnings : tuple of Fault
        What is unlikely but possible.
    absent : tuple of Column
        Columns the log lacks; each says what it would have added.
    invented : bool
        Whether the description beside the log says that it is invented.
    """

    belts: pd.DataFrame
    runs: pd.DataFrame
    name: str
    sha256: str
    warnings: tuple[Fault, ...]
    absent: tuple[Column, ...]
    invented: bool

    def __str__(self) -> str:
        days = self.runs["day"]
        kind = "an invented season" if self.invented else "a season"
        return (
            f"{self.name}: {kind} of {counted(len(self.belts), 'belt')} and {counted(len(self.runs), 'run')}, "
            f"{days.min():%Y-%m-%d} to {days.max():%Y-%m-%d}, {counted(len(self.warnings), 'warning')}."
        )

    def _repr_html_(self) -> str:
        return f"<p>{escape(str(self))}</p>"


def read_season(path: str | Path, columns: str | Path | None = None) -> Season:
    """Read a season's log.

    Parameters
    ----------
    path : path
        A folder with belts.csv and runs.csv, or an .xlsx spreadsheet with sheets belts and runs.
    columns : path, optional
        A map of the person's own headings to ours (TOML).

    Raises
    ------
    Unusable
        If there is no log.
    Faulty
        If it has faults: all of them, with the warnings.
    """
    season, faults = _season(path, columns)
    if season is None:
        raise Faulty(faults)
    return season


def check_season(path: str | Path, columns: str | Path | None = None) -> tuple[Fault, ...]:
    """Find every fault and warning of a season's log, in the order of its files.

    Raises
    ------
    Unusable
        If there is no log.
    """
    return _season(path, columns)[1]


def _season(path: str | Path, columns: str | Path | None) -> tuple[Season | None, tuple[Fault, ...]]:
    found = source(path)
    try:
        own = NO_MAP if columns is None else column_map(columns, {"belts": BELTS, "runs": RUNS})
    except Faulty as error:
        # Without the map the person's headings are unknown: what else would be said of them is no help.
        return None, error.faults
    sheets = Sheets(checked_sheet("belts", found.belts, BELTS, own), checked_sheet("runs", found.runs, RUNS, own))
    tension = tensions(sheets)
    faults = in_order(
        (
            *found.faults,
            *own.faults,
            *sheets.belts.faults,
            *sheets.runs.faults,
            *across(sheets),
            *tension.faults,
            *_unusual(sheets.runs, tension.tension_n),
        )
    )
    if any(not fault.warning for fault in faults):
        return None, faults
    belts, runs = _frame(sheets.belts), _runs_frame(sheets, tension.tension_n)
    absent = (*_absent(BELTS, sheets.belts, belts), *_absent(RUNS, sheets.runs, runs))
    return Season(belts, runs, found.name, found.sha256, faults, absent, found.invented), faults


def _unusual(runs: Sheet, tension_n: Floats) -> list[Fault]:
    """Warn of tensions more than twice, or less than half, the middle one of the log."""
    known = tension_n[~np.isnan(tension_n)]
    if len(known) < FEWEST_FOR_USUAL:
        return []
    usual = float(np.median(known))
    name = next((name for name in ("tension_n", "span_hz", "push_n") if name in runs.cells), "tension_n")
    warnings = []
    for row in np.flatnonzero((tension_n > UNUSUAL * usual) | (tension_n < usual / UNUSUAL)):
        source_name = (
            "tension_n" if runs.known("tension_n")[row] else ("span_hz" if runs.known("span_hz")[row] else name)
        )
        size = "more than twice" if tension_n[row] > usual else "less than half"
        warnings.append(
            Fault(
                runs.file,
                int(runs.line[row]),
                runs.heading(source_name),
                runs.typed(source_name, int(row)),
                f"makes {figure(float(tension_n[row]))} N, {size} the usual {figure(usual)} N",
                "correct it if it is a slip",
                True,
            )
        )
    return warnings


def _frame(sheet: Sheet) -> pd.DataFrame:
    import pandas as pd

    columns: dict[str, object] = {}
    for name, cells in sheet.cells.items():
        value = cells.value
        if name == "runs_before":
            value = np.where(cells.known | cells.asked, value, 0.0)
        columns[name] = value.astype("datetime64[ns]") if cells.placed.column.kind == "day" else value
    return pd.DataFrame(columns)


def _runs_frame(sheets: Sheets, tension_n: Floats) -> pd.DataFrame:
    frame = _frame(sheets.runs)
    frame["run"] = frame["run"].astype("int64")
    if not np.isnan(tension_n).all() or "tension_n" in frame:
        frame["tension_n"] = tension_n
    if "cause" not in frame:
        # Why a belt ended was never written down: that is what the cause "unknown" says.
        frame["cause"] = ["unknown" if fate in ENDINGS else None for fate in frame["fate"]]
    names: Sequence[str] = [column.name for column in RUNS if column.name in frame]
    return frame.loc[sheets.order, names].reset_index(drop=True)


def _absent(columns: Sequence[Column], sheet: Sheet, frame: pd.DataFrame) -> list[Column]:
    """Find the columns the log lacks, but those whose worth another column of the log has given."""
    return [
        column
        for column in columns
        if column.adds and column.name not in sheet.cells and not (column.name == "tension_n" and "tension_n" in frame)
    ]
