"""Workbooks run by the machine: on any log through their one parameters cell, stored the same byte for byte.

A workbook's cell tagged ``parameters`` gives names their usual values; a run, or the copy of someone who has a log of
their own, gives some of them others there. What is stored carries no times, no random ids and no versions, so that a
second run on the same log changes nothing and a difference in the file is a difference in the result.

Run as a program, ``python -m drivekit.notebooks FOLDER`` runs the workbooks there and stores what comes out.
"""

from __future__ import annotations

import ast
import asyncio
import os
import re
import sys
from collections.abc import Mapping
from itertools import accumulate
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from drivekit.folder import write_files
from drivekit.show.markup import written

__all__ = ["DRIVES", "WORKBOOKS", "carried", "copied", "given", "put_on", "run_workbook", "sent", "workbooks_in"]

WORKBOOKS, DRIVES = "workbooks", "data/drives"
CARRIED = {WORKBOOKS: "[0-9][0-9]*.ipynb", DRIVES: "*.toml"}
"""What the package carries for a person: the folder of each, and the names in it."""

NUMBERED = r"[0-9][0-9][-a-z0-9]*\."
WIDGET = "application/vnd.jupyter.widget-view+json"
SECONDS_A_CELL = 600


def carried(what: str) -> Path:
    """Find the folder of one of `CARRIED`: inside an installed package, beside it in a checkout.

    Raises
    ------
    FileNotFoundError
        If neither is there.
    """
    package = Path(__file__).resolve().parent
    for folder in (package / what, package.parent / what):
        if any(folder.glob(CARRIED[what])):
            return folder
    raise FileNotFoundError(f"no {what} in {package} nor beside it")


def copied(what: str, folder: Path) -> tuple[Path, ...]:
    """Copy one of `CARRIED` into a person's folder, made if it is not there; a copy that was changed is never replaced.

    Returns
    -------
    tuple of Path
        Copies that differ from what is carried and were kept.
    """
    own = {place.name: place.read_bytes() for place in sorted(carried(what).glob(CARRIED[what]))}
    write_files(folder, {name: content for name, content in own.items() if not (folder / name).exists()})
    return tuple(folder / name for name, content in own.items() if (folder / name).read_bytes() != content)


def put_on(folder: Path, parameters: Mapping[str, object]) -> None:
    """Put a person's copies of the workbooks on a log: outputs of another log are taken out, the rest stays theirs."""
    import nbformat

    changed = {}
    for place in workbooks_in(folder):
        notebook = nbformat.read(place, as_version=4)
        if given(notebook, parameters):
            for cell in notebook.cells:
                if cell.cell_type == "code":
                    cell.outputs, cell.execution_count = [], None
            changed[place.name] = _stored_text(notebook).encode()
    write_files(folder, changed)


def workbooks_in(folder: Path) -> tuple[Path, ...]:
    """List a folder's numbered workbooks in their order."""
    return tuple(sorted(folder.glob(CARRIED[WORKBOOKS])))


def run_workbook(place: Path, parameters: Mapping[str, object], beside: Path) -> str:
    """Run one workbook, which is not changed, and give the text that is to be stored: the workbook with its outputs.

    Its parameters cell is given the values of those names that it has. It thinks that it stands in the folder `beside`,
    which is there: relative paths start there.

    Raises
    ------
    nbclient.exceptions.CellExecutionError
        When a cell fails.
    """
    import nbformat
    from ipykernel.kernelspec import write_kernel_spec
    from jupyter_client.kernelspec import KernelSpecManager
    from jupyter_client.manager import AsyncKernelManager
    from nbclient import NotebookClient

    notebook = nbformat.read(place, as_version=4)
    given(notebook, parameters)
    with TemporaryDirectory() as private:
        # This very Python, whatever kernel the person has named so, and none of the person's start-up files.
        write_kernel_spec(os.path.join(private, "kernels", "python3"))
        manager = AsyncKernelManager(
            kernel_name="python3",
            transport="tcp" if os.name == "nt" else "ipc",  # sockets in the private folder, none on the network
            connection_file=os.path.join(private, "connection.json"),
            kernel_spec_manager=KernelSpecManager(kernel_dirs=[os.path.join(private, "kernels")]),
        )
        client = NotebookClient(
            notebook,
            km=manager,
            timeout=SECONDS_A_CELL,
            record_timing=False,
            store_widget_state=False,
            resources={"metadata": {"path": os.fspath(beside)}},
        )
        # in a loop of its own, so that several run side by side in threads
        own = {**os.environ, "IPYTHONDIR": os.path.join(private, "ipython")}
        asyncio.run(client.async_execute(cleanup_kc=True, env=own))
    return _stored_text(notebook)


def sent(text: str) -> str:
    """Set a stored workbook as a page that needs no network and no notebook: words, pictures and answers, no code."""
    import nbformat
    from markupsafe import Markup
    from nbconvert import HTMLExporter

    hidden = {"exclude_input": True, "exclude_output_prompt": True, "exclude_anchor_links": True}
    exporter = HTMLExporter(template_name="basic", **hidden)  # type: ignore[no-untyped-call]
    body, _ = exporter.from_notebook_node(nbformat.reads(text, as_version=4))
    title = re.search(r"<h1[^>]*>(.*?)</h1>", body)
    linked = re.sub(rf'(href="{NUMBERED})ipynb"', r'\1html"', body)
    return written("workbook.html.j2", title=title[1] if title else "drivekit", body=Markup(linked))


def _stored_text(notebook: Any) -> str:
    """Write a notebook, tidied in place, as JSON without what differs from run to run, or needs a kernel.

    Widgets and the version of Python go; the drawing of controls stays.
    """
    import nbformat

    notebook.metadata.pop("widgets", None)
    notebook.metadata.get("language_info", {}).pop("version", None)
    for cell in notebook.cells:
        cell.metadata.pop("execution", None)
        for output in cell.get("outputs", ()):
            output.get("data", {}).pop(WIDGET, None)
    return str(nbformat.writes(notebook)).rstrip("\n") + "\n"


def given(notebook: Any, parameters: Mapping[str, object]) -> bool:
    """Give names of a notebook's parameters cell these values, in place; say whether anything in it became another."""
    cell = next((cell for cell in notebook.cells if "parameters" in cell.metadata.get("tags", ())), None)
    if cell is None:
        return False
    source = cell.source.encode()  # a parser counts columns in bytes
    lines = [0, *accumulate(map(len, source.splitlines(keepends=True)))]
    # from the last to the first, so that the places of those still to come stay right
    for node in reversed(ast.parse(source).body):
        if isinstance(node, ast.Assign) and isinstance(name := node.targets[0], ast.Name) and name.id in parameters:
            value = node.value
            assert value.end_lineno is not None  # it was parsed from text
            assert value.end_col_offset is not None
            start, end = lines[value.lineno - 1] + value.col_offset, lines[value.end_lineno - 1] + value.end_col_offset
            source = source[:start] + repr(parameters[name.id]).encode() + source[end:]
    changed, cell.source = cell.source != source.decode(), source.decode()
    return bool(changed)


if __name__ == "__main__":
    for workbook in workbooks_in(folder := Path(sys.argv[1])):
        write_files(folder, {workbook.name: run_workbook(workbook, {}, folder).encode()})
