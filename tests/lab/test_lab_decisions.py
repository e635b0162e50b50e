"""Decisions in a workbook: every control decides anew, odds are scored honestly, and a meeting is planned."""

from __future__ import annotations

import shutil
from collections import Counter
from collections.abc import Callable
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from drivekit import lab
from drivekit.faults import Unusable
from drivekit.lab.decisions import belts_taken, drawn_plan
from drivekit.lab.season_study import Study, Words, study
from drivekit.show.decision_words import LOOKS_FIRST
from drivekit.study.next_season import next_trial_block

Find = Callable[[Any, str], Any]
DATA = Path(__file__).parents[2] / "data"


def shown(box: Any) -> str:
    return unescape(box.shown.value)


@pytest.fixture(scope="module")
def demo() -> Study:
    return study(str(DATA / "season-two"))


TURNED: list[tuple[Callable[[Study], Any], str, Any]] = [
    (lab.change_controls, "A failure costs so many planned changes", 20.0),
    (lab.change_controls, "Share of belts that may fail before", 0.3),
    (lab.belt_controls, "Car", "red"),
    (lab.belt_controls, "Runs it has made", 1),
    (lab.belt_controls, "The idler", "toothed"),
    (lab.belt_controls, "Tension, kN", 10.0),
    (lab.belt_controls, "Grease on the edges", "every-run"),
    (lab.spares_controls, "Runs ahead", 20),
    (lab.spares_controls, "Changed after, runs (0: never)", 2),
    (lab.trial_controls, "Failures a run with the other idler, as a multiple", 0.3),
    (lab.trial_controls, "or mean runs gained (0: by the multiple)", 1.0),
    (lab.trial_controls, "Share of tests that are to see it", 0.9),
    (lab.trial_controls, "Belts on the first idler fail like", "toothed"),
]


@pytest.mark.parametrize(("panel", "label", "value"), TURNED)
def test_a_control_that_is_turned_draws_and_says_its_decision_anew(
    studied: Study, control: Find, panel: Callable[[Study], Any], label: str, value: Any
) -> None:
    box = panel(studied)
    turned = control(box, label)
    before = turned.value
    turned.value = value
    first = shown(box)
    turned.value = before
    assert "<svg" in first
    assert "<svg" in shown(box)
    assert shown(box) != first


def test_a_control_put_back_says_what_the_study_said(demo: Study, control: Find) -> None:
    box = lab.change_controls(demo)
    cost = control(box, "A failure costs so many planned changes")
    cost.value = 20.0
    cost.value = 8.0
    for sentence in lab.said(demo, "change"):
        assert sentence in shown(box)


def test_beside_odds_of_a_described_belt_stands_that_looks_decide(demo: Study, control: Find) -> None:
    box = lab.belt_controls(demo)
    assert not isinstance(box, Words)
    for label, value in {"Car": "teal", "Runs it has made": 5, "The idler": "toothed", "Tension, kN": 8.0}.items():
        control(box, label).value = value
    control(box, "Grease on the edges").value = "none"
    assert box.drawing.sentences[0] == LOOKS_FIRST
    assert box.drawing.sentences[1].startswith("this belt (teal, 5 runs, toothed): one more run, about ")


def test_a_meeting_gives_the_belt_for_each_round(demo: Study) -> None:
    said = repr(lab.meeting_table(demo, (2, 4, 7), qualifying=2, eliminations=2)).splitlines()
    assert said[0].endswith(LOOKS_FIRST)
    assert [line.split(" | ")[0] for line in said[2:]] == [
        "qualifying 1", "qualifying 2", "elimination 1", "elimination 2",
    ]  # fmt: skip
    none = repr(lab.meeting_table(demo, (30,), qualifying=0, eliminations=1))
    assert "how belts fail is known from run 1 to run 16" in none


def test_where_a_meeting_s_belts_end_is_said_for_what_ends_them(demo: Study) -> None:
    overall = demo.findings["life"]["overall"]
    at_risk = dict(zip(overall["age"], overall["at_risk"], strict=True))
    assert at_risk[17] < 5 <= at_risk[16]
    for after, end in ((6, "6, where it is changed."), (20, "16, the last that 5 belts made.")):
        assert f"No belt is run beyond run {end}" in repr(lab.meeting_table(demo, (2, 4), change_after=after))


def test_a_meeting_is_written_as_a_card_and_nothing_else_is_replaced(demo: Study, tmp_path: Path) -> None:
    file = tmp_path / "card.pdf"
    said = lab.meeting_card(demo, (2, 4, 7), str(file), change_after=6)
    assert said[-1] == f"The card to print is {file}."
    assert said[1:3] == (
        "Chances are of belts of that age, all on one car set up alike.",
        "No belt is run beyond run 6, where it is changed.",
    )
    assert file.read_bytes().startswith(b"%PDF")
    with pytest.raises(Unusable, match=r"name a file that ends in \.pdf"):
        lab.meeting_card(demo, (2,), str(tmp_path / "runs.csv"))


def test_meeting_controls_follow_the_belts_on_hand(demo: Study, control: Find) -> None:
    box = lab.meeting_controls(demo)
    control(box, "Runs on belt 1").value = 6
    first = shown(box)
    control(box, "Elimination rounds ahead").value = 1
    assert first.count("elimination") == 3
    assert shown(box).count("elimination") == 1
    for label, value, words in (
        ("Changed after, runs (0: never)", 8, "beyond run 8, where it is changed"),
        ("Chances are of", "toothed", "belts on the toothed idler"),
    ):
        assert words not in shown(box)
        control(box, label).value = value
        assert words in shown(box)


def test_a_gain_in_runs_is_sized_as_the_ratio_that_brings_it(demo: Study, control: Find) -> None:
    box = lab.trial_controls(demo)
    ratio, gain = "Failures a run with the other idler, as a multiple", "or mean runs gained (0: by the multiple)"
    control(box, ratio).value = 0.6
    by_ratio = box.drawing.sentences
    control(box, ratio).value = 0.8
    assert box.drawing.sentences != by_ratio
    control(box, gain).value = next_trial_block(demo.decided, 0.6)["gain_runs"]
    assert box.drawing.sentences == by_ratio
    control(box, "Belts on the first idler fail like").value = "toothed"
    control(box, gain).value = 6.9
    assert shown(box) == "<p>No belt gains 6.9 of its first 14 runs, however few fail.</p>"


def test_odds_are_scored_on_the_season_that_followed(demo: Study) -> None:
    said = lab.scored_odds(demo, str(DATA / "season-one"))
    assert said[0].startswith("Odds by season-one, scored on ")
    assert said[0].endswith(
        (
            "the odds were better than saying the same of every belt.",
            "the odds did not beat saying the same of every belt.",
        )
    )
    assert "Brier" in said[1]


def test_an_invented_season_does_not_score_a_real_one(studied: Study) -> None:
    for earlier in ("", "nowhere", str(DATA / "season-one")):
        assert lab.scored_odds(studied, earlier) == Words(
            ("Odds are scored with an earlier season's log: name it in the first cell.",)
        )


def test_a_season_scored_on_itself_beats_the_base_rate(studied: Study, folder: Path) -> None:
    assert "better than saying the same" in lab.scored_odds(studied, str(folder))[0]


def test_an_earlier_log_is_read_by_the_map_of_this_one(studied: Study, folder: Path, tmp_path: Path) -> None:
    mapped, columns = tmp_path / folder.name, tmp_path / "map.toml"
    shutil.copytree(folder, mapped)
    runs = (mapped / "runs.csv").read_text(encoding="utf-8")
    (mapped / "runs.csv").write_text(runs.replace("idler,", "Rolle,", 1), encoding="utf-8")
    columns.write_text('[runs]\nRolle = "idler"\n', encoding="utf-8")
    own = study(str(mapped), columns=str(columns))
    assert lab.scored_odds(own, str(mapped)) == lab.scored_odds(studied, str(folder))


def test_the_plan_has_blocks_for_each_meetings_new_belts_of_each_car(demo: Study) -> None:
    first_runs = {belt: place for place, belt in reversed([*enumerate(demo.asked.belt.tolist())])}
    table, taken = demo.asked.table, Counter[tuple[str, str]]()
    for place in first_runs.values():
        taken[table["car"][place], table["meeting"][place]] += 1
    belts, blocks = len(first_runs), sum((new + 1) // 2 for new in taken.values())
    wanted = min(demo.findings["next_trial"]["belts"], (3 * belts + 1) // 2)
    plan = drawn_plan(demo, belts_taken(demo), 1000)
    assert len(plan) == 2 * -(-wanted * blocks // belts) > wanted
    assert sum(one.arm == ("smooth",) for one in plan) * 2 == len(plan)
    assert len(drawn_plan(demo, belts_taken(demo), 41)) == 40
    assert len({one.arm for one in drawn_plan(demo, belts_taken(demo), 120, grease=True)}) == 4
    assert "Drawn with seed 1" in repr(lab.plan_table(demo))
