"""What a season begins with: a blank log, the invented seasons, and JupyterLab on a person's own copies."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from subprocess import Popen
from time import sleep
from typing import Any

from drivekit.drive.blank_drive import blank_drive
from drivekit.faults import Unusable, shown, writing
from drivekit.folder import write_files
from drivekit.lab.decisions import belts_taken, drawn_plan
from drivekit.lab.drive_set_up import run_blanks
from drivekit.lab.season_study import Study
from drivekit.log.blank import RUN_SHEET, blank_files, blank_spreadsheet
from drivekit.log.demo import SEASONS, demo_files
from drivekit.log.season import read_season
from drivekit.notebooks import DRIVES, WORKBOOKS, copied, put_on
from drivekit.show.pdf import on_papers
from drivekit.show.sheet import plan_sheet, run_sheet
from drivekit.study.study_input import Settings

__all__ = ["FOLDER", "RECORD", "SETTINGS", "address", "new_log", "prepared", "served", "write_demo"]

FREE = {".xlsx": "a place where it is not", ".toml": "a file that is not"}
"""What to name where one file is to be written and something stands there."""

FOLDER = Path("drivekit-lab")
FIRST = "workbooks/00-start-here.ipynb"
ARGUMENTS = ("-y", "--LabApp.extension_manager=readonly", "--LabApp.news_url=None")
SETTINGS, RECORD = ".jupyter", "server.log"
CHOSEN = {
    "@jupyterlab/apputils-extension/notification": {"fetchNews": "false", "checkForUpdates": False},
    "@jupyter-widgets/jupyterlab-manager/plugin": {"saveState": True},
}
"""No question whether news are wanted, on a machine that may have no network; saved controls show what they showed."""


def new_log(
    path: str | Path, trial: str | Path | None = None, *, seed: int = 1, grease: bool = False
) -> tuple[Path, ...]:
    """Write a blank log and the run sheet to print beside it, all of them or none, and say what was written.

    `path` is a folder that is not there yet, or is empty; or an .xlsx file that is not there yet: the run sheet is then
    written beside it. A .toml file that is not there yet is a blank drive file instead, and stands alone. `trial` is
    last season's log: the belts of a test sized by it stand in the new one, which idler each gets drawn by lot with
    `seed`, and with `grease` whether its edges are greased, two by two; the sheet of the plan is written too.

    Raises
    ------
    Unusable
        If something stands there already, or nothing can be written there; or there is no log to size a test by.
    Faulty
        If that log has faults.
    """
    place = Path(path)
    kind = place.suffix.lower()
    home = place.parent if kind in FREE else place
    files = {place.name: blank_drive().encode()} if kind == ".toml" else _log_files(place, trial, seed, grease=grease)
    with writing(place):
        if kind in FREE:
            # The run sheet of another season may stand there: it is the same page.
            there = [home / name for name in files if (home / name).exists()]
            taken = [one for one in there if one == place or one.read_bytes() != files[one.name]]
        else:
            taken = [place] if place.exists() and (not place.is_dir() or any(place.iterdir())) else []
        if taken:
            free = FREE.get(kind, "a folder that is not")
            raise Unusable(f"{shown(str(taken[0]), None)} is there already: name {free}.")
        write_files(home, files)
    return tuple(home / name for name in files)


def _log_files(place: Path, trial: str | Path | None, seed: int, *, grease: bool) -> dict[str, bytes]:
    """Make a blank log with its run sheet, and the plan of a test and its sheet, as far as one holds it."""
    sheets, planned = on_papers(RUN_SHEET, lambda paper: run_sheet(run_blanks(), paper)), []
    if trial is not None:
        study = Study(read_season(trial), Settings(seed=seed))
        if not len(study.asked.table):
            raise Unusable(f"{shown(str(trial), None)} has no run of a belt of known age to size a test by")
        plan = drawn_plan(study, takes := belts_taken(study), grease=grease)
        sheets["plan.pdf"] = plan_sheet(plan, seed, takes)
        planned = [
            {
                "belt": one.belt,
                **dict(zip(("trial_idler", "trial_edge_lube"), one.arm, strict=False)),
                "trial_block": str(one.block),
                "note": f"drawn by lot with seed {seed}: line {one.line} of {one.car}",
            }
            for one in plan
        ]
    elif grease:
        raise Unusable("--grease draws the grease of a test: name the log that sizes it, as --trial my-season does")
    log = {place.name: blank_spreadsheet(planned)} if place.suffix.lower() == ".xlsx" else blank_files(planned)
    return log | sheets


def write_demo(folder: Path, *, seed: int = 1) -> tuple[Path, ...]:
    """Write season-one and season-two into a folder, which is made if it is not there, both or none; give their places.

    Season one is drawn from `seed`, season two from the number after it.

    Raises
    ------
    Unusable
        If one of the two is there already (nothing is written then), or the folder is a file or cannot be written.
    """
    homes = {plan.name: folder / plan.name for plan in SEASONS}
    again = "is there already; name a folder without it, so that nothing of yours is replaced"
    with writing(folder):
        for home in homes.values():
            if home.exists():
                raise Unusable(f"{home} {again}")
        write_files(folder, demo_files(seed))
    return tuple(homes.values())


def prepared(parameters: Mapping[str, object]) -> tuple[Path, ...]:
    """Lay out the folder: workbooks, example drives, invented seasons; all on a person's own log where one is given.

    `parameters` are ``log``, ``settings`` and ``drive`` as the workbooks take them. Of copies that the person has
    changed only the parameters cells are put on the log; where none is given they are kept, and returned.
    """
    if not (FOLDER / "data").exists():
        write_demo(FOLDER / "data")
    kept = [path for what in (WORKBOOKS, DRIVES) for path in copied(what, FOLDER / what)]
    if parameters:
        put_on(FOLDER / WORKBOOKS, parameters)
    chosen = {f"settings/{name}.jupyterlab-settings": json.dumps(values).encode() for name, values in CHOSEN.items()}
    write_files(FOLDER / SETTINGS, chosen)
    return () if parameters else tuple(kept)


@contextmanager
def served() -> Iterator[Popen[bytes]]:
    """Run JupyterLab on the folder, its first workbook open; what it writes goes to a file, not to the terminal."""
    places = {name: str((FOLDER / SETTINGS / name).resolve()) for name in ("settings", "workspaces")}
    own = {f"JUPYTERLAB_{name.upper()}_DIR": place for name, place in places.items()}
    command = [sys.executable, "-m", "jupyterlab", *ARGUMENTS, f"--ServerApp.root_dir={FOLDER.resolve()}", FIRST]
    with (
        (FOLDER / SETTINGS / RECORD).open("wb") as record,
        Popen(command, cwd=FOLDER, env=own | dict(os.environ), stdout=record, stderr=record) as server,
    ):
        yield server


def address(server: Popen[Any]) -> str | None:
    """Wait until a server answers, and give the address of the first workbook; None where it ended instead."""
    from jupyter_server.serverapp import list_running_servers

    while server.poll() is None:
        for running in list_running_servers():
            if running["pid"] == server.pid:
                return f"{running['url']}lab/tree/{FIRST}?token={running['token']}"
        sleep(0.2)
    return None
