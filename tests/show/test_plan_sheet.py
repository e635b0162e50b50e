"""The sheet of a plan and the card of a meeting: every belt and round on one page, cautions at its foot."""

import io
from typing import Any

import pytest
from pypdf import PdfReader

from drivekit.cautions import CAUTIONS
from drivekit.decide.next_trial import trial_plan
from drivekit.show.sheet import PLAN_RULES, meeting_card, plan_sheet

TWO = [("smooth", "toothed")]


def text_of(sheet: bytes) -> str:
    pages = PdfReader(io.BytesIO(sheet)).pages
    assert len(pages) == 1
    return " ".join(pages[0].extract_text().split())


def test_every_belt_stands_with_what_was_drawn_for_it_and_the_seed() -> None:
    plan = trial_plan({"amber": 6, "teal": 4}, TWO, 5)
    text = text_of(plan_sheet(plan, 5))
    assert f"{len(plan)} belts of the 500 that it takes, drawn by lot with seed 5" in text_of(plan_sheet(plan, 5, 500))
    assert "20 belts, drawn by lot with seed 5" in text
    for one in plan:
        assert f"{one.line} {one.belt} {one.arm[0]}" in text
    for words in ("Car amber", "Car teal", *PLAN_RULES, *CAUTIONS):
        assert words in text


def test_as_many_belts_as_a_sheet_holds_fit_with_grease_and_more_are_refused() -> None:
    arms = [*TWO, ("none", "install")]
    plan = trial_plan(dict.fromkeys(("amber", "teal", "violet"), 10), arms, 1)
    assert "toothed, grease install" in text_of(plan_sheet(plan, 1))
    with pytest.raises(ValueError, match="1 to 120 belts, not 124"):
        plan_sheet(trial_plan({"amber": 31}, arms, 1), 1)


def test_cars_that_do_not_fit_on_a_page_begin_another_and_the_cautions_stand_on_each() -> None:
    cars = {f"car {n}": 1 for n in range(40)}
    plan = trial_plan(cars, TWO, 1)
    pages = [" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(plan_sheet(plan, 1))).pages]
    assert len(pages) == 2
    assert all(text.count(caution) == 1 for text in pages for caution in CAUTIONS)
    assert all(f"{one.line} {one.belt} {one.arm[0]}" in " ".join(pages) for one in plan)
    assert [sum(f"Car {name} " in text for text in pages) for name in cars] == [1] * 40


def meeting(belts: int) -> dict[str, Any]:
    """A meeting of so many belts on hand, the second of which looks off, and as many rounds as can be planned."""
    hand = [{"belt": f"B{n}", "age": n, "off": {"edge_look": "split"} if n == 2 else {}} for n in range(1, belts + 1)]
    one = {"belt": "B1", "run": 3, "survive": 0.86}
    rounds = [
        *({"round": f"qualifying {n}", "ends": False, "instead": "B3", **one} for n in range(1, 5)),
        *({"round": f"elimination {n}", "ends": True, "instead": None, **one} for n in range(1, 4)),
        {"round": "elimination 4", "ends": True, "belt": None, "run": None, "survive": 0.0, "instead": None},
    ]
    said = {
        "level": "toothed",
        "change_after": 9,
        "used_to_run": 9,
        "from_run": 1,
        "all_rounds": {"survive": 0.3, "lower": 0.1, "upper": 0.5},
        "lost": 1.2,
    }
    return {"belts": hand, "rounds": rounds, **said}


def test_the_card_of_a_meeting_has_every_round_its_chance_in_counts_and_a_belt_that_is_off() -> None:
    text = text_of(meeting_card(meeting(5), "season-two (invented)"))
    for words in (
        "chances by season-two (invented)",
        "All 8 rounds without losing one to a belt: about 6 in 20 (2 to 10); 1.2 of them lost on average.",
        "Chances are of belts on the toothed idler of that age",
        "No belt is run beyond run 9, where it is changed.",
        "B1 1 run look:",
        "B2 2 runs OFF: a split edge",
        "qualifying 1 B1, run 3 about 17 in 20 B3",
        "elimination 1 B1, run 3 about 17 in 20 the meeting is over",
        *CAUTIONS,
    ):
        assert words in text
    assert text.count("OFF") == 1


def test_a_meeting_without_a_plan_or_with_too_many_belts_has_no_card() -> None:
    with pytest.raises(ValueError, match="there is no plan to print: at no age were 5 belts at risk"):
        meeting_card({"reason": "at no age were 5 belts at risk"}, "season-two")
    with pytest.raises(ValueError, match="does not fit on one page: name fewer belts"):
        meeting_card(meeting(20), "season-two")
