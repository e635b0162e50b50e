"""What the tests of life share: stored results, and subjects with an entry and an exit turned into runs."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest

REFERENCE = Path(__file__).parents[1] / "reference"


@dataclass(frozen=True)
class Runs:
    """One row a run; `times` are what age 1, 2, ... stood for."""

    age: np.ndarray
    failed: np.ndarray
    belt: np.ndarray
    group: np.ndarray
    cause: np.ndarray
    times: np.ndarray

    def where(self, rows: np.ndarray) -> Runs:
        return Runs(*(getattr(self, name)[rows] for name in ("age", "failed", "belt", "group", "cause")), self.times)


def _runs_of(
    start: Iterable[float], stop: Iterable[float], event: Iterable[int], group: Iterable[int] | None = None
) -> Runs:
    """Make every subject run once at each exit time of anyone with start < time <= stop; event 0 is none."""
    start, stop, event = (np.asarray(list(values), dtype=float) for values in (start, stop, event))
    group = np.zeros(stop.size, int) if group is None else np.asarray(list(group), int)
    times = np.unique(stop)
    belt, place = np.nonzero((start[:, None] < times) & (times <= stop[:, None]))
    ends = times[place] == stop[belt]
    cause = np.where(ends, event[belt], 0).astype(int) - 1
    return Runs(place + 1, cause >= 0, belt, group[belt], cause, times)


@pytest.fixture(scope="session")
def runs_of() -> Callable[..., Runs]:
    return _runs_of


@pytest.fixture(scope="session")
def stored() -> Callable[[str], dict[str, Any]]:
    return lambda name: json.loads((REFERENCE / "life" / f"{name}.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="session")
def season() -> tuple[dict[str, np.ndarray], dict[str, Any]]:
    """The invented season with R's results: its run table by plain loops, and what R gives for it."""
    import csv

    folder = REFERENCE / "season"
    with (folder / "belts.csv").open(encoding="utf-8") as lines:
        before = {row["belt"]: row["runs_before"] for row in csv.DictReader(lines)}
    with (folder / "runs.csv").open(encoding="utf-8") as lines:
        rows = sorted((row for row in csv.DictReader(lines) if before[row["belt"]] != "?"), key=lambda r: int(r["run"]))
    causes = ["tooth-jump", "tooth-loss", "edge-split", "cord-pull", "unknown"]
    made: dict[str, int] = {}
    for row in rows:
        made[row["belt"]] = made.get(row["belt"], int(before[row["belt"]] or 0)) + 1
        counts = row["cause"] in causes and (row["cause"] != "unknown" or row["fate"] == "broke")
        row |= {"age": made[row["belt"]], "code": causes.index(row["cause"]) if counts else -1}
    table = {name: np.array([row[name] for row in rows], object) for name in ("idler", "edge_lube", "car", "tension_n")}
    names = sorted(before)
    table |= {
        "age": np.array([row["age"] for row in rows]),
        "cause": np.array([row["code"] for row in rows]),
        "belt": np.array([names.index(row["belt"]) for row in rows]),
    }
    table["failed"] = table["cause"] >= 0
    return table, json.loads((folder / "expected.json").read_text(encoding="utf-8"))
