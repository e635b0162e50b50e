"""The sheet of a plan: every belt with what was drawn for it, on one page, cautions at its foot."""

import io

import pytest
from pypdf import PdfReader

from drivekit.cautions import CAUTIONS
from drivekit.decide.trial_plan import trial_plan
from drivekit.show.plan_sheet import MOST_BELTS, plan_sheet

TWO = [("smooth", "toothed")]


def text_of(sheet: bytes) -> str:
    pages = PdfReader(io.BytesIO(sheet)).pages
    assert len(pages) == 1
    return " ".join(pages[0].extract_text().split())


def test_every_belt_stands_with_what_was_drawn_for_it_and_the_seed() -> None:
    plan = trial_plan(20, ("amber", "teal"), (3, 2), TWO, 5)
    text = text_of(plan_sheet(plan, 5, CAUTIONS))
    assert "20 belts, drawn by lot with seed 5" in text
    for one in plan:
        assert f"{one.place} {one.belt} {one.arm[0]}" in text
    for words in ("Car amber", "Car teal", *CAUTIONS):
        assert words in text


def test_as_many_belts_as_a_sheet_holds_fit_with_grease_and_more_are_refused() -> None:
    arms = [*TWO, ("none", "install")]
    plan = trial_plan(MOST_BELTS, ("amber", "teal", "violet"), (1, 1, 1), arms, 1)
    assert "toothed, install" in text_of(plan_sheet(plan, 1, CAUTIONS))
    with pytest.raises(ValueError, match="1 to 120 belts, not 124"):
        plan_sheet(trial_plan(124, ("amber",), (1,), arms, 1), 1, CAUTIONS)


def test_a_sheet_that_would_run_off_its_page_is_refused() -> None:
    cars = tuple(f"car {n}" for n in range(30))
    with pytest.raises(ValueError, match="does not fit on one page"):
        plan_sheet(trial_plan(60, cars, (1,) * 30, TWO, 1), 1, CAUTIONS)
