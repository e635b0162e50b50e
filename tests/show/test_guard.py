"""What fails is told with its reason, and what is whole stands beside it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, NoReturn

import pytest

from drivekit.show import page as module
from drivekit.show.deck import deck
from drivekit.show.drawn_files import _figure
from drivekit.show.page import pages, pictures
from drivekit.show.words import headlines

pytestmark = pytest.mark.usefixtures("guarded")
OURS = "an error of drivekit's own (ZeroDivisionError: no ground to stand on); please report it"


def failing(*given: object, **named: object) -> NoReturn:
    raise ZeroDivisionError("no ground\nto stand on")


def page(findings: dict[str, Any]) -> str:
    """Both pages, one after the other."""
    return "".join(pages(findings).values())


def plain(html: str) -> str:
    return html.replace("&#39;", "'")


@pytest.mark.usefixtures("undrawn")
def test_a_picture_that_cannot_be_made_up_says_so_and_the_others_stand(
    demo: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    before = pictures(demo)
    monkeypatch.setattr(module, "PICTURES", {**module.PICTURES, "causes": failing})
    after = pictures(demo)
    assert after["causes"].title == f"This picture cannot be drawn: {OURS}"
    assert set(after) == set(before)
    assert after["overall"].title == before["overall"].title
    assert f"This picture cannot be drawn: {OURS}" in plain(page(demo))


def test_a_picture_that_fails_while_it_is_drawn_leaves_the_page_and_the_other_pictures(
    demo: dict[str, Any], demo_pages: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    made = {name: draw(demo) for name, draw in module.PICTURES.items()}
    broken = replace(made["overall"], draw=failing)
    made["overall"] = broken
    monkeypatch.setattr(module, "PICTURES", {name: lambda _, one=one: one for name, one in made.items()})
    after = page(demo)
    assert "ZeroDivisionError" in after
    assert after.count("<svg") == "".join(demo_pages.values()).count("<svg")
    assert b"ZeroDivisionError" in _figure("overall", "svg", None, broken)
    assert _figure("overall", "png", None, broken).startswith(b"\x89PNG")


@pytest.mark.usefixtures("undrawn")
def test_words_that_fail_leave_the_other_sections(demo: dict[str, Any], monkeypatch: pytest.MonkeyPatch) -> None:
    before = plain(page(demo)).count("<h2>")
    own = tuple(f"page.{name}" for name in ("_compared", "cannot_tell"))
    said = (
        "hazard_words.term_words",
        "hazard_words.tension_line_words",
        "failing.retired_words",
        "readings.cars_words",
    )
    parts = (*said, *own)
    for part in (*parts, "team_words.todo_words"):
        monkeypatch.setattr(f"drivekit.show.{part}", failing)
    after = plain(page(demo))
    assert after.count("This part cannot be told: " + OURS) == len(parts) + 1
    assert after.count("<h2>") == before


@pytest.mark.usefixtures("undrawn")
def test_an_answer_that_fails_is_told_on_page_in_deck_and_at_the_end_of_a_study(
    demo: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("drivekit.show.words._levels_answer", failing)
    said = f"This question cannot be answered: {OURS}."
    assert headlines(demo)[0] == said
    assert said in plain(page(demo))
    assert f"This question cannot be answered: {OURS}" in plain(deck(demo))


@pytest.mark.usefixtures("undrawn")
def test_slides_that_fail_leave_the_other_slides(demo: dict[str, Any], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("drivekit.show.team_words.believed_words", failing)
    assert f"Some slides are left out: {OURS}." in plain(deck(demo))
    assert "How do belts fail?" in deck(demo)
