"""Logs to try words and pictures on: season two changed run by run, and logs written belt by belt."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable, Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from drivekit.log import read_season
from drivekit.study.findings import study

DATA = Path(__file__).parents[2] / "data"
STARRED = ("run", "day", "car", "belt", "idler", "fate", "cause")

Row = dict[str, str]


@cache
def demo_findings(name: str) -> dict[str, Any]:
    """Study one of the invented seasons, once for all tests that read what is found; a test that changes it copies."""
    return study(read_season(DATA / name))


def changed(folder: Path, change: Callable[[Row], Row | None], keep: Callable[[str], bool] = lambda _: True) -> Any:
    """Read season two again with its runs changed, and some of its columns alone."""
    folder.mkdir()
    shutil.copy(DATA / "season-two" / "belts.csv", folder)
    with (DATA / "season-two" / "runs.csv").open(newline="") as file:
        rows = [row for one in csv.DictReader(file) if (row := change(one)) is not None]
    with (folder / "runs.csv").open("w", newline="") as file:
        writer = csv.DictWriter(file, [name for name in rows[0] if keep(name)], extrasaction="ignore")
        writer.writeheader()
        writer.writerows(rows)
    return read_season(folder)


def logged(folder: Path, belts: Iterable[Mapping[str, Any]]) -> Any:
    """Write a log from its belts and read it: how many runs each made, whether it failed then, and its settings.

    A setting may be a list, one of its entries for each run in turn.
    """
    runs, names = [], []
    for number, belt in enumerate(belts):
        name = f"B{number:03d}"
        names.append({"belt": name} | {key: belt[key] for key in ("compound", "runs_before") if key in belt})
        settings = {key: value for key, value in belt.items() if key not in {"runs", "failed", "off", *names[-1]}}
        for run in range(belt["runs"]):
            fate = {"fate": "kept", "cause": ""}
            if run == belt["runs"] - 1:
                fate = {"fate": "broke", "cause": "tooth-jump"} if belt["failed"] else belt.get("off", fate)
            each = {
                key: value[run % len(value)] if isinstance(value, list) else value for key, value in settings.items()
            }
            day = {"run": len(runs) + 1, "day": "2031-04-01", "belt": name, "car": "red", "idler": "smooth"}
            runs.append(day | each | fate)
    for file, rows in (("belts", names), ("runs", runs)):
        with (folder / f"{file}.csv").open("w", newline="") as opened:
            writer = csv.DictWriter(opened, list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)
    return read_season(folder)


def unfailing(row: Row) -> Row:
    return (
        row
        | {"fate": "kept" if row["fate"] == "trimmed" else row["fate"], "cause": row["cause"] and "sold"}
        | ({"fate": "retired"} if row["fate"] == "broke" else {})
    )


def studied(made: Path) -> dict[str, dict[str, Any]]:
    """Study each of the six, the changed ones written into a folder."""
    long = "the car that was bought in the autumn and painted twice"
    logs = {
        "first runs": changed(made / "first", lambda row: row if int(row["run"]) <= 60 else None),
        "starred columns alone": changed(made / "starred", dict, STARRED.__contains__),
        "no failure": changed(made / "none", unfailing),
        "long names": changed(made / "long", lambda row: row | {"car": row["car"].replace("teal", long)}),
    }
    demos = {name: demo_findings(name) for name in ("season-one", "season-two")}
    return demos | {name: study(season) for name, season in logs.items()}
