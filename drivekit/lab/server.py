"""JupyterLab on a person's own copies of the workbooks, put on their log: what is prepared, and how it is opened."""

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

from drivekit.lab.sheets import write_demo
from drivekit.show.folder import write_files
from drivekit.show.notebooks import DRIVES, WORKBOOKS, copied, put_on

__all__ = ["FOLDER", "RECORD", "SETTINGS", "address", "prepared", "served"]

FOLDER = Path("drivekit-lab")
FIRST = "workbooks/00-start-here.ipynb"
ARGUMENTS = ("-y", "--LabApp.extension_manager=readonly", "--LabApp.news_url=None")
SETTINGS, RECORD = ".jupyter", "server.log"
CHOSEN = {
    "@jupyterlab/apputils-extension/notification": {"fetchNews": "false", "checkForUpdates": False},
    "@jupyter-widgets/jupyterlab-manager/plugin": {"saveState": True},
}
"""No question whether news are wanted, on a machine that may have no network; saved controls show what they showed."""


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
