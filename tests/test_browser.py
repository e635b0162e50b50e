"""The workbooks in a real browser: `drivekit lab` opened, all cells run, each control moved, its answer seen to change.

Needs chromium. Without it the test is skipped and says so, unless CI or DRIVEKIT_BROWSER demands it.
"""

from __future__ import annotations

import json
import os
import re
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

from drivekit.notebooks import workbooks_in

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Locator, Page

TOP = Path(__file__).parents[1]
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
DEMANDED = os.environ.get("CI") == "true" or os.environ.get("DRIVEKIT_BROWSER") == "required"
QUIET = [
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
]
PATIENCE_S, ANSWERED_S = 120, 5

needs_chromium = pytest.mark.skipif(
    not (CHROMIUM or DEMANDED), reason="no chromium here: the workbooks were not tried in a browser"
)


@dataclass(frozen=True)
class Lab:
    """A running JupyterLab, and the folder it was opened in."""

    address: str
    token: str
    folder: Path

    def rests(self, name: str) -> bool:
        """Whether a workbook's kernel stands ready; while it is made the server may have no answer, or an error."""
        try:
            kernels = [one["kernel"] for one in self.asked("/api/sessions") if one["path"].endswith(f"{name}.ipynb")]
        except (URLError, TimeoutError):
            return False
        return any(kernel["connections"] and kernel["execution_state"] == "idle" for kernel in kernels)

    def asked(self, path: str) -> Any:
        with urlopen(f"{self.address}{path}?token={self.token}", timeout=5) as answer:
            return json.load(answer)


def within(seconds: float, true: Callable[[], bool]) -> bool:
    """Wait for something, and say whether it came."""
    ends = time.monotonic() + seconds
    while not (came := true()) and time.monotonic() < ends:
        time.sleep(0.1)
    return came


def until(true: Callable[[], bool], what: str) -> None:
    """Wait for something, and fail by name when it does not come."""
    assert within(PATIENCE_S, true), f"waited {PATIENCE_S} s for {what}"


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


@pytest.fixture(scope="module")
def lab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lab]:
    """`drivekit lab`, as a person starts it in an empty folder."""
    tmp_path = tmp_path_factory.mktemp("lab")
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


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[BrowserContext]:
    """A browser that has never been used, and keeps what it loads from one workbook to the next."""
    from playwright.sync_api import sync_playwright

    assert CHROMIUM, "chromium is demanded here and is not installed"
    profile = tmp_path_factory.mktemp("profile")
    with sync_playwright() as player:
        started = player.chromium.launch_persistent_context(
            profile, executable_path=CHROMIUM, args=QUIET, viewport={"width": 1400, "height": 1000}
        )
        started.set_default_timeout(PATIENCE_S * 1000)
        yield started
        started.close()


@pytest.fixture
def page(browser: BrowserContext) -> Iterator[Page]:
    with browser.new_page() as page:
        yield page


def opened(page: Page, menu: str, entry: Locator) -> bool:
    """Open a menu, and say whether it stands open: opened while the page is still being laid, it closes again."""
    page.get_by_role("menuitem", name=menu, exact=True).click()
    return within(2, entry.is_visible)


def ran(lab: Lab, page: Page, name: str) -> None:
    """Open a workbook, take what is stored off it and run all its cells; none may fail or warn."""
    page.goto(f"{lab.address}/doc/tree/workbooks/{name}.ipynb?token={lab.token}&reset")
    until(lambda: lab.rests(name), "a kernel")
    for menu, item in (("Edit", "Clear Outputs of All Cells"), ("Run", "Run All Cells")):
        entry = page.get_by_role("menuitem", name=item, exact=True)
        until(lambda menu=menu, entry=entry: opened(page, menu, entry), f"the menu {menu}")
        entry.click()
    prompts = page.locator(".jp-CodeCell .jp-InputPrompt")
    until(lambda: not {"[*]:", "[ ]:"} & set(prompts.all_inner_texts()), f"the last cell of {name}")
    failed = ", ".join(f"[data-mime-type='application/vnd.jupyter.{kind}']" for kind in ("stderr", "error"))
    assert page.locator(failed).all_inner_texts() == []


def move(control: Locator) -> None:
    """Choose the next of a list, tick or untick the first box, or move a slider up, at its end down, by a page."""
    if control.locator("select").count():
        chosen = control.locator("select")
        at, of = chosen.evaluate("it => [it.selectedIndex, it.length]")
        chosen.select_option(index=(at + 1) % of)
    elif control.locator("input[type=checkbox]").count():
        control.locator("input[type=checkbox]").first.click()
    else:
        handle = control.get_by_role("slider").first
        at_its_end = handle.get_attribute("aria-valuenow") == handle.get_attribute("aria-valuemax")
        handle.press("PageDown" if at_its_end else "PageUp")


def each_moved(panel: Locator, where: str) -> int:
    """Move every control of a panel once, those hidden as soon as they show; what is shown must change each time."""
    shown = panel.locator("> .widget-html .widget-html-content")
    left = panel.locator(".widget-box").first.locator("> *").all()
    of = len(left)
    while left:
        control = next((one for one in left if one.is_visible()), None)
        assert control is not None, f"{where}: {len(left)} of {of} controls are never seen"
        left.remove(control)
        before, label = shown.inner_html(), control.locator(".widget-label").first.inner_text()

        def changed(before: str = before) -> bool:
            return shown.inner_html() != before

        move(control)
        if control.get_by_role("slider").count() and not within(ANSWERED_S, changed):
            control.get_by_role("slider").first.press("Home")  # a page may lead to the same part of those on hand
        until(changed, f"{label} of {where} to change what is shown")
    return of


@pytest.mark.browser
@needs_chromium
@pytest.mark.parametrize("name", [place.stem for place in workbooks_in(TOP / "workbooks")])
def test_every_control_moved_in_a_real_browser_changes_what_is_shown(lab: Lab, page: Page, name: str) -> None:
    troubles: list[str] = []
    asked: list[str] = []
    page.on("pageerror", lambda error: troubles.append(str(error)))
    page.on("request", lambda request: asked.append(request.url))

    ran(lab, page, name)
    panels = page.locator(".jp-OutputArea-output .widget-vbox:has(> .widget-box > button:text-is('Reset'))")
    written = (lab.folder / "workbooks" / f"{name}.ipynb").read_text()
    calls = re.findall(r"lab\.(?:\w+_controls|calculator)\(", written)
    until(lambda: panels.count() == len(calls), f"the controls of {len(calls)} pictures and calculators")
    moved = sum(each_moved(panel, f"{name}, {number}") for number, panel in enumerate(panels.all(), 1))
    assert moved >= len(calls)
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
    ran(lab, page, "01-season-log")
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
    page.get_by_text("belts failed where season-one leads to expect").wait_for()
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
