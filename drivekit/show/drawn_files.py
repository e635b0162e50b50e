"""All that a study draws, by the names of its files: this process and a second one share the work.

The second is started while the study still computes, so that it has its libraries read when there is something to draw.
Figures lie in a row from which it takes the first and this process, once page and deck are set, the last; whoever draws
a figure, its bytes are the same. Where the machine allows no second process, or ends it, this one draws all.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from concurrent.futures import BrokenExecutor, Executor, Future
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from drivekit.show.paper import Picture

__all__ = ["drawn_files", "second_process"]

held: dict[str, Picture] = {}
"""What the second process draws from; empty in the first."""


@contextmanager
def second_process() -> Iterator[Executor | None]:
    """Start a process beside this one, which works out one thing after the other, and let it go at the end.

    None where there is one processor only, or no process can be started.
    """
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    second = None
    if (os.cpu_count() or 1) > 1:
        with suppress(ImportError, OSError):  # no semaphores here, or no room for a process
            # spawned, not forked: compiled code has threads of its own by now, and a fork copies none of them
            second = ProcessPoolExecutor(1, mp_context=get_context("spawn"))
            second.submit(_begun)
    try:
        yield second
    finally:
        if second is not None:
            second.shutdown(wait=False, cancel_futures=True)


def drawn_files(
    findings: Mapping[str, Any], second: Executor | None = None, size: str | None = None
) -> dict[str, bytes]:
    """Draw pages, deck, sheets, spreadsheet, and every figure as SVG and as PNG: by path in the folder, the page first.

    The work is shared with the process of `second_process`, if one is given; what goes wrong there is raised here. All
    figures are of one size, if one is given; else an SVG is for a screen and a PNG for a slide.
    """
    from drivekit.show.deck import deck
    from drivekit.show.page import pages, pictures
    from drivekit.show.pdf import on_papers
    from drivekit.show.sheet import inspection_card, wall_sheet
    from drivekit.show.spreadsheet import spreadsheet

    drawn = pictures(findings)
    row = [(name, kind) for kind in ("png", "svg") for name in drawn]
    there: dict[tuple[str, str], Future[bytes]] = {}
    if second is not None:
        with suppress(BrokenExecutor):
            second.submit(_hold, findings)
            there.update({one: second.submit(_figure, *one, size) for one in row})
    files = {
        **{name: text.encode() for name, text in pages(findings, drawn).items()},
        "slides.html": deck(findings, drawn).encode(),
        "sheet.pdf": wall_sheet(findings),
        **on_papers("inspection-card.pdf", lambda paper: inspection_card(findings, paper)),
        "findings.xlsx": spreadsheet(findings),
    }
    here = {one: _figure(*one, size, drawn[one[0]]) for one in reversed(row) if one not in there or there[one].cancel()}
    for one in row:
        if one not in here:
            try:
                here[one] = there[one].result()
            except BrokenExecutor:
                here[one] = _figure(*one, size, drawn[one[0]])
    return files | {f"figures/{name}.{kind}": here[name, kind] for name in drawn for kind in ("svg", "png")}


def _figure(name: str, kind: str, size: str | None, picture: Picture | None = None) -> bytes:
    """Draw a figure in one form: the picture given, or in the second process the one of that name that it holds."""
    from drivekit.show.markup import drawn_or_said

    def form(one: Picture) -> bytes:
        return one.png(size or "slide") if kind == "png" else one.svg(size or "screen").encode()

    return drawn_or_said(picture or held[name], form)


def _begun() -> None:
    """Leave Ctrl-C to the first process, end when that is gone, and read what takes long before there is work."""
    from importlib import import_module
    from multiprocessing import parent_process
    from signal import SIG_IGN, SIGINT, signal
    from threading import Thread

    def end_with_the_first() -> None:
        if (first := parent_process()) is not None:
            first.join()
            os._exit(1)

    signal(SIGINT, SIG_IGN)
    Thread(target=end_with_the_first, daemon=True).start()
    for library in ("lifelines", "matplotlib.backends.backend_agg", "matplotlib.backends.backend_svg"):
        import_module(library)


def _hold(findings: Mapping[str, Any]) -> None:
    from drivekit.show.page import pictures

    held.update(pictures(findings))
