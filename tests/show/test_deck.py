"""The deck: what stands on its slides, and how it behaves in a real browser on six logs, some of them awkward."""

from __future__ import annotations

import re
import shutil
from base64 import b64encode
from collections.abc import Iterator
from hashlib import sha256
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from drivekit.show.deck import deck, slides
from drivekit.show.page import pages
from drivekit.show.words import answer

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")


@pytest.fixture(name="found")
def of_six_logs(six_logs: dict[str, dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """What the study found in each of them."""
    return six_logs


@pytest.mark.usefixtures("undrawn")
def test_every_question_has_a_slide_with_the_pages_own_answer(found: dict[str, Any]) -> None:
    for findings in found.values():
        made = {slide.question: slide for slide in slides(findings)}
        whole = " ".join(unescape(pages(findings)["findings.html"]).replace("\N{NO-BREAK SPACE}", " ").split())
        for name in findings["headline"]:
            slide = made[findings["comparisons"][name]["question"]]
            said = answer(findings, name)
            assert slide.sentence.startswith(said.finding)
            assert slide.notes[0] == str(said)
            assert said.finding in whole


def test_the_talk_goes_from_what_was_found_to_what_to_do(found: dict[str, Any]) -> None:
    asked = list(dict.fromkeys(slide.question for slide in slides(found["season-two"])))
    assert asked == [
        "How long do belts last?",
        "Does the toothed idler make belts last?",
        "How tight should a belt run?",
        "Does greasing the edges pay?",
        "Why believe it?",
        "What could be wrong?",
        "How do belts fail?",
        "Where does the belt run even?",
        "When to change",
        "One more run?",
        "Belts to have",
        "What do we do?",
        "What do we test next?",
        "What can this log not tell?",
        "Before hands go near the drive",
    ]


def test_its_policy_lets_nothing_run_but_its_own_script_and_it_names_no_address(found: dict[str, Any]) -> None:
    text = deck(found["season-two"])
    script = re.search(r"<script>(.*?)</script>", text, re.DOTALL)
    assert script is not None
    hashed = b64encode(sha256(script[1].encode()).digest()).decode()
    assert f"default-src 'none'; style-src 'unsafe-inline'; script-src 'sha256-{hashed}'" in text
    assert set(re.findall(r'https?://[^"\s]+', text)) <= {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}
    assert text.count("<script") == 1


@pytest.mark.usefixtures("undrawn")
def test_an_invented_season_says_so_on_every_slide(found: dict[str, Any]) -> None:
    assert deck(found["season-one"]).count("These are invented data") == len(slides(found["season-one"]))
    assert "invented" not in deck(found["long names"])


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """A browser without a window."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as player:
        started = player.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        yield started
        started.close()


@pytest.fixture(scope="module")
def kept(six_logs: dict[str, dict[str, Any]], tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The deck of each of six logs, in a file, drawn once."""
    folder = tmp_path_factory.mktemp("decks")
    files = {name: folder / f"{name.replace(' ', '-')}.html" for name in six_logs}
    for name, file in files.items():
        file.write_text(deck(six_logs[name]), encoding="utf-8")
    return files


MEASURED = """slide => {
  const inch = slide.getBoundingClientRect().width / 13.333, within = slide.getBoundingClientRect();
  const over = [...slide.querySelectorAll('.head, .points, .foot, .picture, li')].filter(part =>
    part.scrollHeight > part.clientHeight + 1 || part.scrollWidth > part.clientWidth + 1
    || part.getBoundingClientRect().bottom > within.bottom + 1).map(part => part.className);
  const points = [...slide.querySelectorAll('h2, p, li, span')].map(
    part => parseFloat(getComputedStyle(part).fontSize));
  const drawn = [...slide.querySelectorAll('svg text')].map(text =>
    parseFloat(getComputedStyle(text).fontSize) * Math.hypot(text.getScreenCTM().a, text.getScreenCTM().b));
  return [over, Math.min(...points, ...drawn) / inch * 72, within.bottom - innerHeight, within.right - innerWidth];
}"""

needs_chromium = pytest.mark.skipif(CHROMIUM is None, reason="no chromium here: the deck was not opened")


@pytest.mark.browser
@needs_chromium
@pytest.mark.parametrize("window", [(1280, 720), (1024, 768)])
def test_no_slide_overflows_and_no_type_is_under_14_points_on_six_logs(
    found: dict[str, Any], browser: Any, kept: dict[str, Path], window: tuple[int, int]
) -> None:
    for name, findings in found.items():
        shown = browser.new_page(viewport={"width": window[0], "height": window[1]})
        shown.goto(kept[name].as_uri())
        for place in range(len(slides(findings))):
            over, least, below, beside = shown.eval_on_selector(".slide.now", MEASURED)
            assert (over, least >= 13.95, below <= 1, beside <= 1) == ([], True, True, True), (
                name,
                place + 1,
                over,
                least,
            )
            shown.keyboard.press("ArrowRight")
        shown.close()


@pytest.mark.browser
@needs_chromium
def test_keys_turn_the_slides_show_the_notes_and_give_the_scroll(
    browser: Any, kept: dict[str, Path], tmp_path: Path
) -> None:
    troubles: list[str] = []
    shown = browser.new_page(viewport={"width": 1280, "height": 720})
    shown.on("pageerror", lambda error: troubles.append(str(error)))
    shown.on("console", lambda message: troubles.append(message.text))
    shown.goto(kept["season-two"].as_uri())

    def now() -> str:
        return shown.eval_on_selector(".slide.now", "slide => slide.id")

    for key, expected in (("ArrowRight", 2), (" ", 3), ("ArrowLeft", 2), ("End", 17), ("PageDown", 17), ("Home", 1)):
        shown.keyboard.press(key)
        assert now() == f"slide-{expected}"
    assert not shown.is_visible("#slide-1 + .notes")
    shown.keyboard.press("n")
    assert shown.is_visible("#slide-1 + .notes")
    shown.keyboard.press("s")
    assert shown.is_visible("#slide-9")
    assert troubles == []
    shown.pdf(path=tmp_path / "slides.pdf", prefer_css_page_size=True)
    from pypdf import PdfReader

    assert len(PdfReader(tmp_path / "slides.pdf").pages) == 17


@pytest.mark.browser
@needs_chromium
def test_without_its_script_the_deck_reads_as_a_scroll(browser: Any, kept: dict[str, Path]) -> None:
    shown = browser.new_context(java_script_enabled=False).new_page()
    shown.goto(kept["season-two"].as_uri())
    assert all(shown.is_visible(f"#slide-{place}") for place in range(1, 18))
