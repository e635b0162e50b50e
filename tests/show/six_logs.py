"""Six logs to try a deck and a sheet on, some of them awkward: season two changed run by run."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

from drivekit.log import read_season
from drivekit.study.findings import study

DATA = Path(__file__).parents[2] / "data"
STARRED = ("run", "day", "car", "belt", "idler", "fate", "cause")

Row = dict[str, str]


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
        "season-one": read_season(DATA / "season-one"),
        "season-two": read_season(DATA / "season-two"),
        "first runs": changed(made / "first", lambda row: row if int(row["run"]) <= 60 else None),
        "starred columns alone": changed(made / "starred", dict, STARRED.__contains__),
        "no failure": changed(made / "none", unfailing),
        "long names": changed(made / "long", lambda row: row | {"car": row["car"].replace("teal", long)}),
    }
    return {name: study(season) for name, season in logs.items()}
