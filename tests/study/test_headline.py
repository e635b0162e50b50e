"""Which one answer to a planned question is put in words."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from drivekit.log.season import RunTable
from drivekit.study.belt_life import METHODS, headline_block
from drivekit.study.comparisons import COMPARISONS, Comparison
from drivekit.study.study_input import Settings, StudyInput

UNASKED = {"reason": "it was not asked for"}
OVERLAP = {"time": {"together": True}, "car": {"together": False}}
ASKED = StudyInput(RunTable({"age": np.ones(1, np.int64)}), Settings(horizon=9, confidence=0.9))


def block(levels: list[str], **missing: dict[str, Any]) -> dict[str, Any]:
    pairs = {}
    for later in range(1, len(levels)):
        for earlier in range(later):
            size = later - earlier / 4
            three = {"estimate": size, "lower": size - 1, "upper": size + 1}
            pairs[f"{levels[later]} minus {levels[earlier]}"] = {"se": 0.5, **three}
    curves = {
        level: {"belts": 10 + place, "failed": place, "runs": 100, "mean_to_horizon": {"estimate": 5.0 + place}}
        for place, level in enumerate(levels)
    }
    return {"levels": curves, "mean_difference": pairs | missing}


def comparison(name: str) -> Comparison:
    return next(one for one in COMPARISONS if one.name == name)


@pytest.mark.parametrize(
    ("name", "levels", "contrast"),
    [
        ("idler", ["smooth", "toothed"], "toothed minus smooth"),
        ("edge_lube", ["none", "install", "every-run"], "every-run minus none"),
        ("edge_lube", ["install", "every-run"], "every-run minus install"),
        ("tension", ["low", "middle", "high"], "middle minus low"),
        ("tension", ["middle", "high"], "high minus middle"),
        ("tension", ["low", "high"], "high minus low"),
    ],
)
def test_the_last_level_is_held_against_the_first_and_of_tension_the_middle(
    name: str, levels: list[str], contrast: str
) -> None:
    given = block(levels)
    head = headline_block(ASKED, comparison(name), given, OVERLAP, UNASKED)
    assert head["contrast"] == contrast
    for number in ("estimate", "lower", "upper"):
        assert head[number] == given["mean_difference"][contrast][number]
    assert (head["basis"], head["method"], head["horizon_runs"], head["confidence"]) == (
        "curves", METHODS["curves"], 9, 0.9,
    )  # fmt: skip
    assert list(head["levels"]) == levels
    assert head["levels"][levels[1]] == {"belts": 11, "failed": 1, "runs": 100, "mean": 6.0}
    assert head["together"] == {"time": True, "car": False}


def test_a_standardised_answer_with_limits_stands_in_its_place_with_its_own_horizon() -> None:
    alike = {"estimate": 2.0, "lower": 0.5, "upper": 3.0}
    standardised = {"mean_difference": {"toothed minus smooth": alike}, "horizon_runs": 7}
    head = headline_block(ASKED, comparison("idler"), block(["smooth", "toothed"]), OVERLAP, standardised)
    assert {name: head[name] for name in alike} == alike
    assert (head["basis"], head["method"], head["horizon_runs"]) == ("standardised", METHODS["standardised"], 7)
    assert "reason" not in head


def test_a_standardised_answer_without_limits_leaves_the_curves_their_place() -> None:
    alike = {"estimate": 2.0, "lower": None, "upper": None, "reason": "500 of 999 draws of belts gave no estimate"}
    standardised = {"mean_difference": {"toothed minus smooth": alike}, "horizon_runs": 7}
    head = headline_block(ASKED, comparison("idler"), block(["smooth", "toothed"]), OVERLAP, standardised)
    assert (head["basis"], head["horizon_runs"], head["estimate"]) == ("curves", 9, 1.0)
    assert "reason" not in head


def test_a_difference_that_cannot_be_had_says_why() -> None:
    why = {"estimate": None, "se": None, "lower": None, "upper": None, "reason": "the belts stop too early"}
    given = block(["smooth", "toothed"], **{"toothed minus smooth": why})
    head = headline_block(ASKED, comparison("idler"), given, OVERLAP, UNASKED)
    assert (head["estimate"], head["reason"]) == (None, "the belts stop too early")
    assert head["levels"]["smooth"]["belts"] == 10


@pytest.mark.parametrize(
    "given",
    [{"reason": "the log has no edge_lube column"}, block(["none"]) | {"mean_difference": {"reason": "one level"}}],
)
def test_a_comparison_that_cannot_be_made_is_its_reason_alone(given: dict[str, Any]) -> None:
    head = headline_block(ASKED, comparison("edge_lube"), given, {"reason": "none"}, UNASKED)
    assert head == {"reason": given.get("reason", "one level")}
