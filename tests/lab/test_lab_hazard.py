"""The hazard study in a workbook: each picture holds the study's numbers, and every control turned once fits anew."""

from __future__ import annotations

from collections.abc import Callable
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from drivekit import lab
from drivekit.lab.season_controls import ALL_ALIKE, EACH_CAR, tension_drawing
from drivekit.lab.season_study import Study, Words, study
from drivekit.show.paper import Picture
from drivekit.study.hazard_fit import HazardInput, hazard_block
from drivekit.study.study_input import Settings, StudyInput

Find = Callable[[Any, str], Any]

RUNS = "run,day,car,belt,idler,fate,cause\n"


def shown(box: Any) -> str:
    return unescape(box.shown.value)


def marks(picture: Picture | Words, size: str = "screen") -> dict[str, Any]:
    assert isinstance(picture, Picture)
    return {mark.get_gid(): mark for mark in picture.figure(size).findobj(lambda mark: bool(mark.get_gid()))}


def test_the_forest_of_a_workbook_holds_the_study_s_terms(studied: Study) -> None:
    drawn = marks(lab.picture(studied, "forest"))
    for term, entry in studied.findings["hazard"]["terms"].items():
        assert list(drawn[f"interval:{term}"].get_xdata()) == [entry["hr"]]


def test_each_term_is_said_under_the_forest(studied: Study) -> None:
    said = str(lab.said(studied, "terms"))
    assert said.startswith(f"{studied.findings['hazard']['failed']} failures in ")
    assert "belts on the toothed idler had" in said.lower()


def test_the_table_of_methods_holds_a_row_for_each_term(studied: Study) -> None:
    text = repr(lab.methods_table(studied))
    assert "as it stands | Breslow's ties | exact ties | Firth's penalty | age by age | precautions too" in text
    assert text.count("On the toothed idler v. the smooth") == 1
    assert isinstance(lab.picture(studied, "methods"), Picture)


@pytest.mark.parametrize("name", ["drift", "surprise", "influence", "risk"])
def test_each_check_has_its_picture_and_its_sentence(studied: Study, name: str) -> None:
    picture = lab.picture(studied, name)
    assert not isinstance(picture, Words)
    assert any(gid.startswith("dots:") for gid in marks(picture))
    assert picture.title in lab.said(studied, "checks")


def test_what_nobody_says_is_refused_with_what_is_said(studied: Study) -> None:
    with pytest.raises(ValueError, match='nothing is said under "weather"; there are headlines, further, '):
        lab.said(studied, "weather")


def test_the_picture_of_an_answer_is_the_standardised_one_where_there_is_one(studied: Study) -> None:
    for name, head in studied.findings["headline"].items():
        picture = lab.answer_picture(studied, name)
        assert not isinstance(picture, Words)
        if name != "tension":
            assert (picture.name == f"standardised_{name}") == (head["basis"] == "standardised")


def test_the_plain_curves_are_answered_by_themselves(studied: Study) -> None:
    said = str(lab.answer(studied, "idler", curves=True))
    horizon = studied.findings["settings"]["horizon_runs"]
    assert "made " in said
    assert f"first {horizon} runs" in said
    assert str(lab.answer(studied, "idler_support", curves=True)) == str(lab.answer(studied, "idler_support"))


def expected(studied: Study, *names: str, by_car: bool = True, form: str = "line", **settings: Any) -> Any:
    return hazard_block(HazardInput(StudyInput(studied.asked.table, Settings(**settings)), names, by_car, form))


def test_the_model_as_it_stands_is_the_study_s_own(studied: Study) -> None:
    block = expected(studied, "idler", "tension", "edge_lube")
    for term, entry in studied.findings["hazard"]["terms"].items():
        for name in ("coef", "hr", "lower", "upper"):
            assert block["terms"][term][name] == pytest.approx(entry[name], rel=1e-9)
    for name in ("rows", "rows_lost", "failed", "failures_per_term", "leads", "levels", "strata"):
        assert block[name] == studied.findings["hazard"][name]


def test_settings_taken_out_of_the_model_leave_the_forest(studied: Study, control: Find) -> None:
    box = lab.hazard_controls(studied)
    control(box, "Settings in the model").value = ("idler",)
    (term,) = expected(studied, "idler")["terms"].values()
    assert f"{term['hr']:.2f}" in shown(box)
    assert "Each 1,000 N more tension" not in shown(box)


def test_cars_that_share_one_hazard_are_fitted_together(studied: Study, control: Find) -> None:
    box = lab.hazard_controls(studied)
    control(box, "Belts are compared").value = ALL_ALIKE
    term = expected(studied, "idler", "tension", "edge_lube", by_car=False)["terms"]["idler[toothed]"]
    assert f"{term['hr']:.2f}" in shown(box)
    assert "each car by itself" not in shown(box)
    assert "all cars" in shown(box)


def test_fewer_causes_that_count_are_fewer_failures(studied: Study, control: Find) -> None:
    box = lab.hazard_controls(studied)
    control(box, "Failures that count").value = ("edge-split",)
    block = expected(studied, "idler", "tension", "edge_lube", failures=("edge-split",))
    assert f"{block['failed']} failures in {block['rows']} runs" in shown(box)
    assert block["failed"] < studied.findings["hazard"]["failed"]


@pytest.mark.parametrize("form", ["parabola", "spline"])
def test_tension_as_a_curve_has_no_one_ratio_and_moves_the_others(studied: Study, control: Find, form: str) -> None:
    box = lab.hazard_controls(studied)
    control(box, "Tension enters as").value = form
    block = expected(studied, "idler", "tension", "edge_lube", form=form)
    assert block["terms"]["tension_kn"]["reason"] == "tension enters as a curve here, which no one ratio can say"
    assert f"{block['terms']['idler[toothed]']['hr']:.2f}" in shown(box)
    assert "cannot tell: tension" in " ".join(shown(box).split())


def test_a_parabola_is_the_one_of_the_tension_curve(studied: Study) -> None:
    block = expected(studied, "idler", "tension", "edge_lube", form="parabola")
    assert block["failures_per_term"] == block["failed"] / 5


def test_a_choice_that_cannot_be_fitted_is_one_sentence(studied: Study, control: Find) -> None:
    box = lab.hazard_controls(studied)
    control(box, "Settings in the model").value = ()
    assert shown(box) == "<p>no setting is in the model; choose at least one.</p>"
    control(box, "Settings in the model").value = ("idler",)
    control(box, "Failures that count").value = ("tooth-loss",)
    assert shown(box) == "<p>nothing failed in the runs that have every setting written.</p>"
    with pytest.raises(ValueError, match='"wave" is no form of tension; the forms are line, parabola, spline'):
        expected(studied, "idler", "tension", form="wave")


@pytest.mark.parametrize("form", ["parabola", "spline"])
def test_a_curve_of_tension_where_nothing_failed_is_refused_like_a_line(studied: Study, form: str) -> None:
    block = expected(studied, "idler", "tension", form=form, failures=("tooth-loss",))
    assert block == {"reason": "nothing failed in the runs that have every setting written"}


def test_the_curve_of_tension_is_fitted_anew_under_each_control(studied: Study, control: Find) -> None:
    box = lab.tension_controls(studied)
    first = None
    for label, value in (
        ("Shape drawn with its limits", "line"),
        ("Shape drawn with its limits", "spline"),
        ("Other settings in the model", ()),
        ("Belts are compared", ALL_ALIKE),
        ("Failures that count", ("edge-split",)),
    ):
        control(box, label).value = value
        assert "<svg" in shown(box), value
        assert shown(box) != first
        first = shown(box)


def test_the_curve_of_a_workbook_is_the_study_s(studied: Study) -> None:
    picture = lab.picture(studied, "tension_curve")
    assert not isinstance(picture, Words)
    causes = studied.settings.failures
    again = tension_drawing(studied, "curve", ("idler", "edge grease"), EACH_CAR, causes).picture
    assert not isinstance(again, Words)
    assert again.svg() == picture.svg()
    assert str(lab.said(studied, "tension")).startswith(picture.title)


def test_a_log_without_tension_or_grease_says_so_where_they_would_stand(written: Callable[[str, str], Path]) -> None:
    runs = RUNS + "".join(
        f"{4 * age + belt},2032-03-{age + 1:02d},red,b{belt},{'toothed' if belt % 2 else 'smooth'},"
        f"{'broke,tooth-jump' if (belt, age) in {(0, 2), (1, 5), (2, 3), (3, 4)} else 'kept,'}\n"
        for age in range(6)
        for belt in range(4)
        if age <= {0: 2, 1: 5, 2: 3, 3: 4}[belt]
    )
    found = study(str(written("belt\nb0\nb1\nb2\nb3\n", runs)))
    assert str(lab.picture(found, "tension_curve")) == (
        "What tension does along its range cannot be told: the log does not record belt tension."
    )
    assert str(lab.tension_controls(found)) == "The log does not record belt tension."
    said = marks(lab.picture(found, "forest"))["interval:edge_lube[install]:said"].get_text()
    assert " ".join(said.split()) == "cannot tell: the log does not record edge grease"
    for what in lab.SAID:
        assert str(lab.said(found, what)).strip(), what
    assert "Write down tension on every run sheet: without that nothing can be told." in str(lab.said(found, "to do"))


def test_a_log_in_which_nothing_failed_is_answered_with_that(written: Callable[[str, str], Path]) -> None:
    runs = RUNS + "".join(
        f"{run},2032-03-0{run},red,b{run % 2},{'toothed' if run % 2 else 'smooth'},kept,\n" for run in range(1, 7)
    )
    found = study(str(written("belt\nb0\nb1\n", runs)))
    why = "The settings cannot be studied all at once: nothing failed in the runs that have every setting written."
    for name in ("forest", "methods", "drift", "surprise", "influence", "risk"):
        assert str(lab.picture(found, name)) == why, name
    for what in ("terms", "checks", "unrecorded", "interactions"):
        assert str(lab.said(found, what)) == why, what
    assert str(lab.methods_table(found)) == why
    assert str(lab.picture(found, "drift")) == why
    assert "nothing failed" in str(lab.said(found, "reasons"))
    assert "Settings were chosen by people for their own reasons, not drawn by lot" in str(lab.said(found, "doubts"))
    for name in ("idler", "tension", "edge_lube"):
        assert str(lab.answer_picture(found, name)).strip()


def test_workbook_09_says_question_reasons_doubts_deeds_and_tests(studied: Study) -> None:
    assert str(lab.said(studied, "question")).startswith("Does the toothed idler make belts last?")
    assert len(lab.said(studied, "to do")) == 3
    assert lab.said(studied, "reasons")[0].startswith(f"{studied.findings['hazard']['failed']} failures")
    assert lab.said(studied, "to test")
    assert "Settings were chosen by people" in str(lab.said(studied, "doubts"))
