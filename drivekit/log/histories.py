"""The run table: one run is one row, from which everything else is counted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from drivekit.log.season import Season
from drivekit.log.tables import counted

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["RunTable", "run_table"]

OF_THE_BELT = ("compound", "width_mm", "pitch_mm", "teeth")


@dataclass(frozen=True, slots=True, eq=False)
class RunTable:
    """Runs in order, each with its belt's age and every setting as it was on that run; nothing in it can be changed.

    ``table["age"]`` is a column, ``"tension_n" in table`` says whether the log has one, ``len(table)`` counts the runs.

    Parameters
    ----------
    values : mapping of str to ndarray
        The columns by name: every run column of the log, `compound`, `width_mm`, `pitch_mm` and `teeth` of the belt
        where the log has them, and `age`. Numbers are float64 with nan where blank; `run` and `age` int64; days
        datetime64[D]; names, words and texts object arrays with None where blank.
    """

    values: Mapping[str, NDArray[Any]]

    def __post_init__(self) -> None:
        kept = {}
        for name, value in self.values.items():
            kept[name] = value.copy() if value.flags.writeable else value
            kept[name].flags.writeable = False
        object.__setattr__(self, "values", MappingProxyType(kept))

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

    def where(self, mask: NDArray[np.bool_]) -> RunTable:
        """Keep the runs for which `mask`, shape (n_runs,), is true."""
        return RunTable({name: value[mask] for name, value in self.values.items()})

    def frame(self) -> pd.DataFrame:
        """Give a copy as a pandas frame."""
        import pandas as pd

        return pd.DataFrame(
            {
                name: value.astype("datetime64[ns]") if value.dtype.kind == "M" else value.copy()
                for name, value in self.values.items()
            }
        )

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
    for name in OF_THE_BELT:
        if name in belts:
            values[name] = belts[name].to_numpy()[row][known]
    values["age"] = (np.nan_to_num(before[row]).astype(np.int64) + place)[known]
    return RunTable(values)
