"""A season's log, read whole and checked, or every reason why not; and its run table, from which all is counted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from drivekit.faults import Fault, Faulty, counted, in_order
from drivekit.log.cells import Sheet, Sheets, checked_sheet
from drivekit.log.columns import Column
from drivekit.log.headings import NO_MAP, column_map
from drivekit.log.reading import Source, source
from drivekit.log.rules import RULES, WAS
from drivekit.log.tension import Floats, tensions
from drivekit.units import SI, Units

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["RunTable", "Season", "check_season", "checked", "read_season", "run_table", "season_of"]

SPEAK = ("tension_n", "push_n", "span_mm", "edge_front_c")
OF_THE_BELT = ("compound", "width_mm", "pitch_mm", "teeth", "trial_idler", "trial_edge_lube")


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
    units : Units
        Those in which it writes its tensions, or else what gives them, or the edges' temperatures: it is answered so.
    """

    belts: pd.DataFrame
    runs: pd.DataFrame
    name: str
    sha256: str
    warnings: tuple[Fault, ...]
    absent: tuple[Column, ...]
    invented: bool
    units: Units = SI

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
    return season_of(source(path), columns)


def season_of(found: Source, columns: str | Path | None = None) -> Season:
    """Make a season of the tables of a log; parameters and raises as in `read_season`."""
    sheets, tension_n, faults = checked(found, columns)
    if sheets is None or any(not fault.warning for fault in faults):
        raise Faulty(faults)
    belts, runs = _frame(sheets.belts), _runs_frame(sheets, tension_n)
    # A column is not missed where another column of the log has given its worth.
    absent = tuple(
        cells.place.column
        for sheet, frame in ((sheets.belts, belts), (sheets.runs, runs))
        for name, cells in sheet.columns.items()
        if cells.place.column.adds and not cells.there and not (name == "tension_n" and name in frame)
    )
    units = next((sheets.runs[name].place.units for name in SPEAK if sheets.runs[name].there), SI)
    return Season(belts, runs, found.name, found.sha256, faults, absent, found.invented, units)


def check_season(path: str | Path, columns: str | Path | None = None) -> tuple[Fault, ...]:
    """Find every fault and warning of a season's log, in the order of its files.

    Raises
    ------
    Unusable
        If there is no log.
    """
    return checked(source(path), columns)[2]


def checked(found: Source, columns: str | Path | None) -> tuple[Sheets | None, Floats, tuple[Fault, ...]]:
    """Check a log: its cells, the tension of each run, and everything found in it."""
    try:
        own = NO_MAP if columns is None else column_map(columns)
    except Faulty as error:
        # Without the map the person's headings are unknown: what else would be said of them is no help.
        return None, np.empty(0), error.faults
    sheets = Sheets(checked_sheet("belts", found.belts, own), checked_sheet("runs", found.runs, own))
    tension_n, of_tension = tensions(sheets)
    single = (*found.faults, *own.faults, *sheets.belts.faults, *sheets.runs.faults)
    of_rules = (fault for rule in RULES for fault in rule(sheets))
    return sheets, tension_n, in_order((*single, *of_rules, *of_tension))


def _frame(sheet: Sheet) -> pd.DataFrame:
    import pandas as pd

    there = {name: cells for name, cells in sheet.columns.items() if cells.there}
    columns = {
        name: cells.value.astype("datetime64[ns]") if cells.place.column.kind == "day" else cells.value
        for name, cells in there.items()
    }
    if before := there.get("runs_before"):
        columns["runs_before"] = np.where(before.known | before.asked, before.value, 0.0)
    return pd.DataFrame(columns, copy=False)


def _runs_frame(sheets: Sheets, tension_n: Floats) -> pd.DataFrame:
    frame = _frame(sheets.runs)
    frame["run"] = frame["run"].astype("int64")
    if not np.isnan(tension_n).all() or "tension_n" in frame:
        frame["tension_n"] = tension_n
    if "cause" not in frame:
        # Why a belt ended was never written down: that is what the cause "unknown" says.
        frame["cause"] = ["unknown" if fate in WAS else None for fate in frame["fate"]]
    # columns and runs mostly stand in their order: then there is nothing to be copied
    names = [name for name in sheets.runs.columns if name in frame]
    frame = frame if names == list(frame) else frame[names]
    in_order = bool((np.diff(sheets.order) > 0).all())
    return frame if in_order else frame.loc[sheets.order].reset_index(drop=True)


@dataclass(frozen=True, slots=True, eq=False)
class RunTable:
    """Runs in order, each with its belt's age and every setting as it was on that run; nothing can be changed in it.

    The arrays handed in are not copied: they are the table's alone.

    ``table["age"]`` is a column, ``"tension_n" in table`` says whether the log has one, ``len(table)`` counts the runs.

    Parameters
    ----------
    values : mapping of str to ndarray
        The columns by name: every run column of the log, `compound`, `width_mm`, `pitch_mm` and `teeth` of the belt
        and what a plan drew for it where the log has them, and `age`. Numbers are float64 with nan where blank; `run`
        and `age` int64; days datetime64[D]; names, words and texts object arrays with None where blank.
    """

    values: Mapping[str, NDArray[Any]]

    def __post_init__(self) -> None:
        closed = {name: value.view() for name, value in self.values.items()}
        for value in closed.values():
            value.flags.writeable = False
        object.__setattr__(self, "values", MappingProxyType(closed))

    def __getitem__(self, name: str) -> NDArray[Any]:
        return self.values[name]

    def __contains__(self, name: object) -> bool:
        return name in self.values

    def __len__(self) -> int:
        return len(self.values["age"])

    @property
    def columns(self) -> tuple[str, ...]:
        """The names of the columns."""
        return tuple(self.values)

    def coded(self, name: str) -> tuple[list[str], NDArray[np.int64]]:
        """Give the words met in a column, in their order, and each run's place among them, -1 where it is blank."""
        import pandas as pd

        code, words = pd.factorize(self.values[name], sort=True)
        return words.tolist(), code.astype(np.int64)

    def where(self, mask: NDArray[np.bool_]) -> RunTable:
        """Keep the runs for which `mask`, shape (n_runs,), is true."""
        return RunTable({name: value[mask] for name, value in self.values.items()})

    def __str__(self) -> str:
        belts = len(set(self.values["belt"].tolist()))
        return f"{counted(len(self), 'run')} of {counted(belts, 'belt')}"

    def _repr_html_(self) -> str:
        return f"<p>{escape(str(self))}</p>"


def run_table(season: Season) -> RunTable:
    """Fold a season's log into one row a run; belts whose age is not known are left out.

    A belt's age at a run is the runs it had before the log plus the run's place among its own, so its first run from
    new has age 1.
    """
    belts, runs = season.belts, season.runs
    row_of = {belt: row for row, belt in enumerate(belts["belt"])}
    row = np.array([row_of[belt] for belt in runs["belt"]], dtype=np.int64)
    before = belts["runs_before"].to_numpy() if "runs_before" in belts else np.zeros(len(belts))
    place = runs.groupby("belt", sort=False).cumcount().to_numpy() + 1
    known = ~np.isnan(before[row])
    values: dict[str, NDArray[Any]] = {}
    for name in runs.columns:
        value = runs[name].to_numpy()[known]
        values[name] = value.astype("datetime64[D]") if value.dtype.kind == "M" else value
    values |= {name: belts[name].to_numpy()[row[known]] for name in OF_THE_BELT if name in belts}
    return RunTable(values | {"age": (np.nan_to_num(before[row]).astype(np.int64) + place)[known]})
