"""A comparison is one record: a setting that it plans, fits and standardises is asked, said, drawn and moved."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from html import unescape
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from drivekit import lab
from drivekit.folder import _findings_text
from drivekit.lab.season_study import Study, sentence
from drivekit.log.season import read_season
from drivekit.show.page import pages, pictures
from drivekit.show.phrases import leading
from drivekit.show.words import answer
from drivekit.study.comparisons import COMPARISONS, Comparison
from drivekit.study.findings import schema, study
from drivekit.study.study_input import Settings

IDLER, TENSION, GREASE, SUPPORT, COMPOUND, WIDTH, *_ = COMPARISONS
ASKED = replace(COMPOUND, planned=True, fitted=True, standardised=True)
RECORDS = (IDLER, TENSION, GREASE, ASKED, replace(SUPPORT, planned=True), WIDTH)
QUESTIONS = [one.question for one in RECORDS[:5]]

Find = Callable[[Any, str], Any]


@pytest.fixture(scope="module")
def five() -> Study:
    """Study a demo season with two more planned questions, of which the compound's is asked in every way."""
    season = read_season(Path(__file__).parents[2] / "data" / "season-two")
    return Study(season, Settings(), study(season, comparisons=RECORDS), RECORDS)


def test_its_question_and_its_answer_stand_on_the_page_and_in_the_team_s_words(five: Study) -> None:
    text = unescape(re.sub("<[^>]+>", "", "".join(pages(five.findings).values())))
    said = answer(five.findings, "compound")
    assert ASKED.question in text
    assert " ".join(said.finding.split()) in " ".join(text.replace("\N{NO-BREAK SPACE}", " ").split())
    assert re.search(r"belts of urethane make .* than belts of rubber", said.finding)
    assert "with car, idler, tension and grease alike" in said.finding.lower()
    assert "compound" in answer(five.findings, "idler").finding
    assert str(lab.said(five, "question")).startswith(" ".join(QUESTIONS))
    assert len(lab.said(five, "to do")) == 5


def test_its_terms_are_in_the_fit_and_have_a_row_in_the_forest(five: Study) -> None:
    hazard = five.findings["hazard"]
    assert list(hazard["terms"])[-2:] == ["compound[urethane]", "compound[other]"]
    assert hazard["terms"]["compound[urethane]"]["hr"] > 0
    assert set(hazard["interactions"]) == {"idler x tension", "idler x edge_lube", "idler x compound"}
    drawn = (
        lab.picture(five, "forest")
        .figure("screen")
        .findobj(lambda mark: mark.get_gid() == "interval:compound[urethane]")
    )
    assert [list(mark.get_xdata()) for mark in drawn] == [[leading(hazard, "compound[urethane]").hr]]
    begins = ("Belts of urethane had", "A hint, not proof: belts of", "Too few belts to tell: belts of urethane had")
    assert any(said.startswith(begins) for said in lab.said(five, "terms"))


def test_its_standardised_lives_are_drawn(five: Study) -> None:
    drawn = pictures(five.findings)["standardised_compound"]
    assert "all of rubber" in drawn.subtitle
    assert "all of urethane" in drawn.subtitle
    assert five.findings["headline"]["compound"]["basis"] == "standardised"


def test_a_control_takes_it_out_of_the_model_and_another_asks_its_question(five: Study, control: Find) -> None:
    box = lab.hazard_controls(five)
    settings = control(box, "Settings in the model")
    assert settings.value == ("idler", "belt tension", "edge grease", "belt compound")
    settings.value = ("idler", "belt compound")
    moved = unescape(box.shown.value)
    assert "elts of urethane had" in moved
    assert "greased" not in moved
    box = lab.question_controls(five)
    question = control(box, "Question")
    assert list(question.options) == [one.question for one in RECORDS]
    question.value = ASKED.question
    assert unescape(box.shown.value).endswith(f"<p>{sentence(five.findings, 'compound')}</p>")


@pytest.mark.parametrize("asked", [2, 3, 4, 5])
def test_two_to_five_questions_stand_side_by_side_on_the_first_screen(five: Study, asked: int) -> None:
    headline = dict(list(five.findings["headline"].items())[:asked])
    standardised = {name: block for name, block in five.findings["standardised"].items() if name in headline}
    first = pages(five.findings | {"headline": headline, "standardised": standardised})["findings.html"].partition(
        "<section"
    )[0]
    assert f'<div class="answers" style="--across: {asked}">' in first
    assert re.findall('<p class="asked">(.*?)</p>', first) == QUESTIONS[:asked]
    assert first.count("<article>") == first.count("<figure>") == asked


def test_the_schema_follows_the_records(five: Study) -> None:
    written = json.loads(_findings_text(five.findings, {}))
    jsonschema.validate(written, schema(RECORDS))
    for part in ("life", "standardised", "claims"):
        less = {**written, part: {name: block for name, block in written[part].items() if name != "compound"}}
        jsonschema.validate(less, schema())
        with pytest.raises(jsonschema.ValidationError, match="'compound' is a required property"):
            jsonschema.validate(less, schema(RECORDS))
    shipped = files("drivekit.study").joinpath("findings.schema.json").read_text(encoding="utf-8")
    assert schema() == json.loads(shipped)


@pytest.mark.parametrize(
    ("record", "asked", "why"),
    [
        (WIDTH, {"fitted": True}, "width cannot be in the hazard fit: it has neither levels nor a number"),
        (TENSION, {"standardised": True}, "tension cannot be standardised: it is not planned, or has no levels in the"),
        (
            COMPOUND,
            {"standardised": True, "fitted": True},
            "compound cannot be standardised: it is not planned, or has",
        ),
        (
            COMPOUND,
            {"standardised": True, "planned": True},
            "compound cannot be standardised: it is not planned, or has",
        ),
    ],
)
def test_a_record_that_asks_for_what_cannot_be_is_refused(record: Comparison, asked: dict[str, bool], why: str) -> None:
    with pytest.raises(ValueError, match=why):
        replace(record, **asked)
