"""Belt life in a workbook: every control turned once shows what the study finds under that choice."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from drivekit import lab
from drivekit.lab.season_controls import comparison_drawing
from drivekit.lab.season_study import ALL_CARS, Study, Words, study
from drivekit.log.season import run_table
from drivekit.show.curves import comparison_picture
from drivekit.show.words import answer, curves_answer
from drivekit.study.comparisons import COMPARISONS
from drivekit.study.findings import one_comparison
from drivekit.study.study_input import Settings, StudyInput

IDLER, TENSION, GREASE = COMPARISONS[:3]
Find = Callable[[Any, str], Any]


FOOTING = (
    "These are the curves of the runs chosen here; the answer of workbook 00 holds car and other settings alike and "
    "asks all runs, over a horizon of its own, so its number is another."
)


def expected(studied: Study, name: str = "idler", car: str | None = None, **chosen: Any) -> str:
    """Ask the study itself under these choices."""
    table = run_table(studied.season)
    asked = StudyInput(table if car is None else table.where(table["car"] == car), Settings(**chosen))
    comparison = next(one for one in COMPARISONS if one.name == name)
    own = StudyInput(table, studied.settings)
    same = (
        car is None
        and all(getattr(asked, what) == getattr(own, what) for what in ("horizon", "tension_cuts"))
        and (set(asked.settings.failures), asked.settings.confidence) == (set(own.settings.failures), 0.95)
    )
    findings = studied.findings if same else one_comparison(studied.season, asked, comparison)
    picture = comparison_picture(findings, name)
    assert picture is not None
    said = curves_answer(findings, name) if same else answer(findings, name)
    return picture.svg() + f"<p>{said}</p><p>{FOOTING}</p>".replace("&", "&amp;")


def test_controls_stand_at_what_the_study_was_made_with(studied: Study, control: Find) -> None:
    box = lab.curves_controls(studied)
    assert control(box, "Setting compared").options == (
        "idler",
        "belt tension",
        "edge grease",
        "idler support",
        "belt width",
    )
    assert control(box, "Car").options == (ALL_CARS, "blue", "red")
    assert control(box, "Horizon, runs").value == studied.findings["settings"]["horizon_runs"]
    assert control(box, "Confidence").value == 0.95
    assert control(box, "Failures that count").value == studied.settings.failures
    cuts_kn = [cut / 1000 for cut in studied.findings["settings"]["tension_cuts_n"]]
    assert list(control(box, "Tension cuts, kN").value) == pytest.approx(cuts_kn)


@pytest.mark.parametrize(
    ("label", "value", "choice"),
    [
        ("Setting compared", "edge grease", {"name": "edge_lube"}),
        ("Car", "red", {"car": "red"}),
        ("Horizon, runs", 3, {"horizon": 3}),
        ("Confidence", 0.8, {"confidence": 0.8}),
        ("Failures that count", ("tooth-jump", "precaution"), {"failures": ("tooth-jump", "precaution")}),
    ],
)
def test_each_control_turned_once_draws_what_the_study_says_then(
    studied: Study, control: Find, label: str, value: Any, choice: dict[str, Any]
) -> None:
    box = lab.curves_controls(studied)
    before = expected(studied, horizon=studied.asked.horizon)
    control(box, label).value = value
    settled = {"horizon": studied.asked.horizon, "tension_cuts": studied.asked.tension_cuts} | choice
    after = box.shown.value
    assert unescape(after) == unescape(expected(studied, **settled))
    assert after != before
    picture, sentence = after.split("</svg>")
    assert picture != before.split("</svg>")[0] or sentence != before.split("</svg>")[1]


def test_moved_cuts_move_the_runs_between_the_levels_of_tension(studied: Study, control: Find) -> None:
    box = lab.curves_controls(studied)
    control(box, "Setting compared").value = "belt tension"
    before = box.shown.value
    assert unescape(before) == unescape(
        expected(studied, "tension", horizon=studied.asked.horizon, tension_cuts=studied.asked.tension_cuts)
    )
    control(box, "Tension cuts, kN").value = (7.0, 8.5)
    after = box.shown.value
    assert unescape(after) == unescape(
        expected(studied, "tension", horizon=studied.asked.horizon, tension_cuts=(7000.0, 8500.0))
    )
    assert "7,000 N" in after
    assert "7,000 N" not in before


def test_no_failure_that_counts_is_refused_in_its_sentence_alone(studied: Study, control: Find) -> None:
    box = lab.curves_controls(studied)
    control(box, "Failures that count").value = ()
    assert box.shown.value == "<p>no cause counts as a failure; name at least one.</p>"


def test_cuts_left_alone_stay_the_numbers_they_were(written: Callable[..., Path], control: Find) -> None:
    # Through kN and back some tensions come out as another number.
    assert 8000.1 / 1000 * 1000 != 8000.1
    tensions = (7900, 8000.1, 8200, 9000)
    runs = "run,day,car,belt,idler,tension_n,fate\n" + "".join(
        f"{number},2032-03-01,red,{belt},smooth,{tension},kept\n"
        for number, (belt, tension) in enumerate(zip("ABCD", tensions, strict=True), 1)
    )
    cut = study(str(written("belt\nA\nB\nC\nD\n", runs)), tension_cuts=(8000.1, 8200.0))
    box = lab.curves_controls(cut)
    control(box, "Setting compared").value = "belt tension"
    shown = box.shown.value
    assert "low: 2 belts" in re.sub("<[^>]+>", "", shown)


def test_a_study_under_rarer_choices_has_controls_too(folder: Path, control: Find) -> None:
    chosen = study(str(folder), confidence=0.85, horizon=40, tension_cuts=(2000.0, 15000.0))
    box = lab.curves_controls(chosen)
    assert control(box, "Confidence").value == 0.85
    assert control(box, "Horizon, runs").value == 40
    assert tuple(control(box, "Tension cuts, kN").value) == (2.0, 15.0)


def test_logs_without_tensions_or_with_one_tension_have_no_cuts_to_move(written: Callable[..., Path]) -> None:
    head = "run,day,car,belt,idler,tension_n,fate\n"
    runs = f"{head}1,2032-03-01,red,A,smooth,8000,kept\n2,2032-03-01,red,B,toothed,8000,kept\n"
    one = study(str(written("belt\nA\nB\n", runs)))
    assert "Tension cuts, kN" not in lab.curves_controls(one).widgets


def test_a_chosen_cut_without_any_tension_in_the_log_is_no_stumbling_block(written: Callable[..., Path]) -> None:
    runs = "run,day,car,belt,idler,fate\n1,2032-03-01,red,A,smooth,kept\n2,2032-03-01,red,B,toothed,kept\n"
    none = study(str(written("belt\nA\nB\n", runs)), tension_cuts=(7000.0, 9000.0))
    labels = ["Setting compared", "Car", "Failures that count", "Horizon, runs", "Confidence"]
    assert list(lab.curves_controls(none).widgets) == labels


def test_each_question_is_answered_as_the_page_answers_it(studied: Study, control: Find) -> None:
    box = lab.question_controls(studied)
    choice = control(box, "Question")
    for name in ("edge_lube", "tension", "idler_support", "idler"):
        choice.value = studied.findings["comparisons"][name]["question"]
        shown = unescape(box.shown.value)
        assert shown.endswith(f"<p>{lab.answer(studied, name)}</p>")
        picture = lab.answer_picture(studied, name)
        assert isinstance(picture, Words) or shown.startswith(unescape(picture.svg()))
    assert not isinstance(lab.answer_picture(studied, "idler"), Words)  # so that at least one picture was compared


def test_a_comparison_that_cannot_be_drawn_is_words(studied: Study, written: Callable[..., Path]) -> None:
    runs = "run,day,car,belt,idler,fate\n1,2032-03-01,red,A,smooth,kept\n"
    bare = study(str(written("belt\nA\n", runs)))
    said = lab.picture(bare, "edge_lube")
    assert isinstance(said, Words)
    assert str(said) == str(lab.answer(bare, "edge_lube"))
    assert "the log has no edge_lube column" in str(said)
    assert str(lab.picture(studied, "overall")) == str(lab.picture(studied, "overall"))


def test_drawing_under_the_studys_own_choices_is_the_studys_own_picture_of_curves(studied: Study) -> None:
    drawing = comparison_drawing(studied, IDLER)
    assert drawing.picture is not None
    own = lab.picture(studied, "idler")
    assert not isinstance(own, Words)
    assert str(drawing.picture) == str(own)
    assert f"<p>{drawing.sentences[0]}</p>".replace("&", "&amp;") in str(drawing)


def test_headlines_answer_the_three_planned_questions_in_order(studied: Study) -> None:
    said = lab.said(studied, "headlines")
    assert len(said) == 3
    assert list(said) == [str(answer(studied.findings, name)) for name in ("idler", "tension", "edge_lube")]


def test_what_nobody_planned_is_said_to_be_exploratory(studied: Study) -> None:
    said = lab.said(studied, "further")
    assert len(said) == 5
    assert all(sentence.startswith("Exploratory: ") for sentence in said)


def test_the_table_of_tests_holds_the_numbers_of_the_findings(studied: Study) -> None:
    lines = repr(lab.tests_table(studied)).splitlines()
    for comparison in (IDLER, TENSION, GREASE):
        test = studied.findings["life"][comparison.name]["logrank"]
        row = next(line for line in lines if line.startswith(comparison.said))
        assert row.split(" | ") == [
            comparison.said, f"{test['chi2']:.2f}", str(test["dof"]), f"{test['p']:.3f}", f"{test['p_holm']:.3f}",
            f"{test['p_exact']:.3f}",
        ]  # fmt: skip
    support = next(line for line in lines if line.startswith("idler support"))
    assert "nothing to compare it with" in support
