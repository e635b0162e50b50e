"""A workbook in a real browser: `drivekit lab` opened, all cells run, a control moved, the answer seen to change.

Needs chromium. Without it the test is skipped and says so, unless CI or DRIVEKIT_BROWSER demands it.
"""

from __future__ import annotations

import json
import os
import secrets
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.error import URLError
from urllib.parse import urlsplit
from urllib.request import urlopen

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Page

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
DEMANDED = os.environ.get("CI") == "true" or os.environ.get("DRIVEKIT_BROWSER") == "required"
QUIET = [
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
]
PATIENCE_S = 120

needs_chromium = pytest.mark.skipif(
    not (CHROMIUM or DEMANDED), reason="no chromium here: the workbooks were not tried in a browser"
)


@dataclass(frozen=True)
class Lab:
    """A running JupyterLab, and the folder it was opened in."""

    address: str
    token: str
    folder: Path

    def rests(self) -> bool:
        """Whether a kernel stands ready; while one is being made the server may have no answer, or an error for one."""
        try:
            kernels = self.asked("/api/kernels")
        except (URLError, TimeoutError):
            return False
        return any(kernel["connections"] and kernel["execution_state"] == "idle" for kernel in kernels)

    def asked(self, path: str) -> Any:
        with urlopen(f"{self.address}{path}?token={self.token}", timeout=5) as answer:
            return json.load(answer)


def until(true: Callable[[], bool], what: str) -> None:
    """Wait for something, and fail by name when it does not come."""
    ends = time.monotonic() + PATIENCE_S
    while not true():
        assert time.monotonic() < ends, f"waited {PATIENCE_S} s for {what}"
        time.sleep(0.1)


def settled(settings: Path, port: int, token: str) -> None:
    """Lay down what keeps JupyterLab to this machine, this port and this folder."""
    config = {
        "ServerApp": {"ip": "127.0.0.1", "port": port, "port_retries": 0, "open_browser": False, "allow_root": True},
        "IdentityProvider": {"token": token},
        "LabApp": {"extension_manager": "readonly"},
    }
    (settings / "config").mkdir(parents=True)
    (settings / "config" / "jupyter_server_config.json").write_text(json.dumps(config))
    chosen = {
        "apputils-extension/notification": {"fetchNews": "false", "checkForUpdates": False},
        "notebook-extension/tracker": {"windowingMode": "none"},  # every cell stays drawn, in view or not
    }
    for name, values in chosen.items():
        place = settings / "settings" / "@jupyterlab" / f"{name}.jupyterlab-settings"
        place.parent.mkdir(parents=True)
        place.write_text(json.dumps(values))


@pytest.fixture
def lab(tmp_path: Path) -> Iterator[Lab]:
    """`drivekit lab`, as a person starts it in an empty folder."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    token, settings, home = secrets.token_hex(8), tmp_path / "jupyter", tmp_path / "home"
    settled(settings, port, token)
    home.mkdir()
    places = {f"JUPYTER_{name.upper()}_DIR": str(settings / name) for name in ("config", "data", "runtime")}
    places |= {f"JUPYTERLAB_{name.upper()}_DIR": str(settings / name) for name in ("settings", "workspaces")}
    places |= {"IPYTHONDIR": str(settings / "ipython")}
    with (tmp_path / "lab.log").open("wb") as log:
        command = [sys.executable, "-m", "drivekit", "lab"]
        server = subprocess.Popen(
            command, cwd=home, env=os.environ | places, stdout=log, stderr=log, start_new_session=True
        )
        running = Lab(f"http://127.0.0.1:{port}", token, home / "drivekit-lab")

        def answers() -> bool:
            assert server.poll() is None, (tmp_path / "lab.log").read_text()
            try:
                return bool(running.asked("/api/status"))
            except (URLError, ConnectionError, TimeoutError):
                return False

        try:
            until(answers, "JupyterLab")
            yield running
        finally:
            os.killpg(server.pid, signal.SIGTERM)
            server.wait(PATIENCE_S)


@pytest.fixture
def page(tmp_path: Path) -> Iterator[Page]:
    from playwright.sync_api import sync_playwright

    assert CHROMIUM, "chromium is demanded here and is not installed"
    with sync_playwright() as player:
        browser = player.chromium.launch_persistent_context(
            tmp_path / "profile", executable_path=CHROMIUM, args=QUIET, viewport={"width": 1400, "height": 1000}
        )
        browser.set_default_timeout(PATIENCE_S * 1000)
        yield browser.pages[0]
        browser.close()


@pytest.mark.browser
@needs_chromium
def test_a_control_moved_in_a_real_browser_changes_picture_and_sentence(lab: Lab, page: Page) -> None:
    troubles: list[str] = []
    asked: list[str] = []
    page.on("pageerror", lambda error: troubles.append(str(error)))
    page.on("request", lambda request: asked.append(request.url))

    page.goto(f"{lab.address}/doc/tree/workbooks/02-belt-life.ipynb?token={lab.token}&reset")
    until(lab.rests, "a kernel")
    page.get_by_role("menuitem", name="Run", exact=True).click()
    page.get_by_role("menuitem", name="Run All Cells", exact=True).click()

    shown = page.locator(".jp-OutputArea-output .widget-html-content:has(svg)")
    shown.wait_for()
    until(lambda: "[*]:" not in page.locator(".jp-InputPrompt").all_inner_texts(), "the last cell")
    failed = ", ".join(f"[data-mime-type='application/vnd.jupyter.{kind}']" for kind in ("stderr", "error"))
    assert page.locator(failed).all_inner_texts() == []
    setting = page.get_by_label("Setting compared")
    drawn: list[tuple[str, str]] = []

    def moved(move: Callable[[], object]) -> None:
        """Move a control and wait until what is shown has changed."""
        before = shown.inner_html()
        move()
        until(lambda: shown.inner_html() != before and shown.locator("svg").count() == 1, "a new drawing")
        drawn.append((shown.locator("svg").inner_html(), " ".join(shown.locator("p").all_inner_texts())))

    moved(lambda: setting.select_option(index=1))
    moved(lambda: setting.select_option(index=0))
    horizon = page.get_by_role("slider").first
    moved(lambda: horizon.press("ArrowLeft"))

    pictures, sentences = zip(*drawn, strict=True)
    assert len(set(pictures)) == len(set(sentences)) == 3
    assert all(sentence.endswith(".") for sentence in sentences)
    assert troubles == []
    assert asked
    assert [
        url
        for url in asked
        if urlsplit(url).scheme in ("http", "https", "ws", "wss") and urlsplit(url).hostname != "127.0.0.1"
    ] == []


@pytest.mark.browser
@needs_chromium
def test_a_run_goes_in_by_the_form_of_workbook_01_and_is_taken_back(lab: Lab, page: Page) -> None:
    page.goto(f"{lab.address}/doc/tree/workbooks/01-season-log.ipynb?token={lab.token}&reset")
    page.get_by_text("A form for today's run stands here").wait_for()
    until(lab.rests, "a kernel")
    page.get_by_role("menuitem", name="Run", exact=True).click()
    page.get_by_role("menuitem", name="Run All Cells", exact=True).click()
    runs = lab.folder / "data" / "season-two" / "runs.csv"
    before = runs.read_bytes()

    page.get_by_label("Tension, cold").first.fill("8000000")
    page.get_by_label("Tension, cold").first.press("Tab")
    page.get_by_text('"8000000" is impossible; 50 to 50000 N is possible.').wait_for()
    page.get_by_label("Tension, cold").first.fill("8000")
    page.get_by_label("Tension, cold").first.press("Tab")
    page.get_by_text("is impossible").wait_for(state="detached")
    page.get_by_label("Fate").select_option("kept")
    page.get_by_role("button", name="Add the run").click()
    page.get_by_text("has made 10 runs.").wait_for()
    assert runs.read_bytes().startswith(before)
    assert len(runs.read_bytes()) > len(before)
    page.get_by_role("button", name="Take it back").click()
    page.get_by_text("season-two has 490 runs again").wait_for()
    assert runs.read_bytes() == before


def test_the_copies_in_a_person_s_folder_are_theirs_and_the_data_lie_beside_them(lab: Lab) -> None:
    names = {place.name for place in (lab.folder / "workbooks").glob("*.ipynb")}
    assert {"00-start-here.ipynb", "01-season-log.ipynb", "02-belt-life.ipynb"} <= names
    assert (lab.folder / "data" / "season-two" / "runs.csv").is_file()
    contents = {entry["name"] for entry in lab.asked("/api/contents")["content"]}
    assert contents == {"workbooks", "data"}
