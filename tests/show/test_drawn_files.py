"""The files of a study are the same whoever draws them; a second process that ends, or is not there, costs none."""

from __future__ import annotations

import io
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import BrokenExecutor, Executor, Future
from typing import Any

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from PIL import Image

from drivekit.show import drawn_files as module
from drivekit.show.drawn_files import drawn_files, second_process
from drivekit.show.paper import SIZES, Picture

FILES = [
    "findings.html",
    "slides.html",
    "sheet.pdf",
    "inspection-card.pdf",
    "inspection-card-letter.pdf",
    "findings.xlsx",
    *(f"figures/{name}.{kind}" for name in ("a", "b") for kind in ("svg", "png")),
]


def picture(name: str) -> Picture:
    def draw(body: Any, size: Any) -> None:
        body.add_axes((0.1, 0.1, 0.8, 0.8)).plot([0, 1], [0, len(name)])

    return Picture(name, f"Belt {name} at 9\N{NO-BREAK SPACE}°C", "so many", "read so", draw, lambda size: 2.0)


@pytest.fixture(autouse=True)
def two_pictures(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two small pictures and a short page in place of a study's."""
    of = {name: picture(name) for name in "ab"}
    monkeypatch.setattr("drivekit.show.page.pictures", lambda findings: of)
    monkeypatch.setattr("drivekit.show.page.pages", lambda findings, drawn: {"findings.html": "a page"})
    monkeypatch.setattr("drivekit.show.deck.deck", lambda findings, drawn: "a deck")
    monkeypatch.setattr("drivekit.show.sheet.wall_sheet", lambda findings: b"a sheet")
    monkeypatch.setattr("drivekit.show.sheet.inspection_card", lambda findings, paper: paper.encode())
    monkeypatch.setattr("drivekit.show.spreadsheet.spreadsheet", lambda findings: b"sheets")
    monkeypatch.setattr(module, "held", {})


class Here(Executor):
    """Works out at once and never lets a part be taken back, or fails as a process that was ended does."""

    def __init__(self, trouble: Exception | None = None) -> None:
        self.trouble, self.asked = trouble, 0

    def submit(self, work: Callable[..., Any], /, *given: Any, **named: Any) -> Future[Any]:
        done: Future[Any] = Future()
        done.set_running_or_notify_cancel()
        self.asked += 1
        if self.trouble is None:
            done.set_result(work(*given, **named))
        else:
            done.set_exception(self.trouble)
        return done


def test_the_files_are_the_same_whoever_draws_them() -> None:
    alone = drawn_files({})
    assert list(alone) == FILES
    other = Here()
    assert drawn_files({}, other) == alone
    assert other.asked == 5  # what to draw from, and two figures as SVG and as PNG


def test_a_second_process_that_was_ended_leaves_all_to_the_first() -> None:
    assert drawn_files({}, Here(BrokenExecutor("ended"))) == drawn_files({})


def test_what_goes_wrong_in_the_second_process_is_raised_in_the_first() -> None:
    with pytest.raises(ZeroDivisionError, match="no width"):
        drawn_files({}, Here(ZeroDivisionError("no width")))


def test_one_processor_is_not_shared(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: 1)
    with second_process() as second:
        assert second is None


def test_a_machine_without_a_second_process_draws_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    def none_left(*given: object, **named: object) -> None:
        raise OSError("no semaphores")

    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    monkeypatch.setattr("concurrent.futures.ProcessPoolExecutor", none_left)
    with second_process() as second:
        assert second is None


@pytest.mark.skipif(os.name == "nt", reason="signals of another kind")
def test_the_second_process_ends_when_the_first_is_killed() -> None:
    program = (
        "import os; from drivekit.show.drawn_files import second_process\n"
        "with second_process() as second:\n"
        "    print(second.submit(os.getpid).result(), flush=True); input()"
    )
    first = subprocess.Popen([sys.executable, "-c", program], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    assert first.stdin is not None
    assert first.stdout is not None
    with first:
        second = int(first.stdout.readline())
        assert second != first.pid
        first.send_signal(signal.SIGKILL)
    for _ in range(400):
        try:
            os.kill(second, 0)
        except ProcessLookupError:
            return
        time.sleep(0.05)
    raise AssertionError("the second process still runs")


def test_a_png_holds_what_was_drawn_and_its_title() -> None:
    of = picture("a")
    kept = Image.open(io.BytesIO(of.png("slide")))
    fig = of.figure("slide")
    fig.set_dpi(150)
    canvas = FigureCanvasAgg(fig)
    canvas.draw()
    assert kept.info["Title"] == of.title
    assert kept.info["dpi"] == pytest.approx((150, 150), abs=0.02)
    assert kept.size == (round(150 * SIZES["slide"].width), round(150 * (SIZES["slide"].height or 0)))
    assert np.asarray(kept).shape == (*kept.size[::-1], 3)
    assert len(np.unique(np.asarray(kept).reshape(-1, 3), axis=0)) > 10


def test_very_many_marks_are_one_image_in_an_svg_and_fewer_are_elements_each() -> None:
    def dots(number: int) -> str:
        def draw(body: Any, size: Any) -> None:
            body.add_axes((0.1, 0.1, 0.8, 0.8)).plot(range(number), range(number), "o", gid="dots")

        return Picture("dots", "Dots", "so many", "read so", draw, lambda size: 2.0).svg()

    few, many = dots(2000), dots(2001)
    assert "<image" not in few
    assert few.count("<use") > 2000
    assert "<image" in many
    assert many.count("<use") < 200
    assert many == dots(2001)


def test_a_size_that_is_set_holds_for_every_figure_whoever_draws_it() -> None:
    usual, slide = drawn_files({}), drawn_files({}, size="slide")
    assert usual["figures/a.png"] == slide["figures/a.png"]
    assert usual["figures/a.svg"] == picture("a").svg("screen").encode()
    assert slide["figures/a.svg"] == picture("a").svg("slide").encode()
    for size in SIZES:
        alone = drawn_files({}, size=size)
        assert Image.open(io.BytesIO(alone["figures/a.png"])).width == int(150 * SIZES[size].width)
        assert drawn_files({}, Here(), size) == alone
