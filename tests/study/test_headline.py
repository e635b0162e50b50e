"""Which one answer to a planned question is put in words, and by which limits."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from drivekit.log.season import RunTable
from drivekit.study.belt_life import comparison_block
from drivekit.study.claims import METHODS, exploratory_headline, headline_block
from drivekit.study.comparisons import COMPARISONS, Comparison
from drivekit.study.study_input import Settings, StudyInput

UNASKED = {"reason": "it was not asked for"}
OVERLAP = {"time": {"together": True}, "car": {"together": False}}
TENSIONS = {"low": 6000.0, "middle": 8000.0, "high": 10000.0}


def comparison(name: str) -> Comparison:
    return next(one for one in COMPARISONS if one.name == name)


def asked(name: str, lives: dict[str, list[tuple[int, bool]]], horizon: int | None = 9) -> StudyInput:
    """Ask about belts of one setting: for each level how many runs each made, and whether it failed then."""
    one = comparison(name)
    rows = [
        (belt, age, failed and age == runs, TENSIONS[level] if one.number else level)
        for belt, (level, runs, failed) in enumerate((level, *life) for level, each in lives.items() for life in each)
        for age in range(1, runs + 1)
    ]
    belt, age, failed, level = zip(*rows, strict=True)
    marked = np.array(failed)
    values = {
        "belt": np.array(belt).astype(object),
        "age": np.array(age),
        "fate": np.where(marked, "broke", "kept").astype(object),
        "cause": np.where(marked, "tooth-loss", None),
        "idler": np.full(marked.size, "smooth", object),
    }
    values[one.column] = np.array(level, float if one.number else object)
    settings = Settings(horizon=horizon, confidence=0.9, tension_cuts=(7000.0, 9000.0))
    return StudyInput(RunTable(values), settings)


LIVES = [(runs, runs < 9) for runs in (2, 3, 4, 5, 6, 8, 9, 10, 10)]


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
    given = asked(name, dict.fromkeys(levels, LIVES))
    block = comparison_block(given, comparison(name))
    head = headline_block(given, comparison(name), block, OVERLAP, UNASKED)
    assert head["contrast"] == contrast
    assert list(head["pairs"]) == list(block["mean_difference"])
    for pair, found in head["pairs"].items():
        for number in ("estimate", "lower", "upper"):
            assert found[number] == block["mean_difference"][pair][number]
    assert [head[number] for number in ("estimate", "lower", "upper")] == list(head["pairs"][contrast].values())
    assert (head["basis"], head["method"], head["horizon_runs"], head["confidence"]) == (
        "curves", METHODS["curves"], 9, 0.9,
    )  # fmt: skip
    assert head["levels"][levels[0]]["mean"] == block["levels"][levels[0]]["mean_to_horizon"]["estimate"]
    assert head["to_horizon"][levels[1]] == {"failed": 6, "estimate": head["levels"][levels[1]]["mean"]}
    assert head["together"] == {"time": True, "car": False}


def test_where_a_belt_ran_in_both_groups_the_error_by_belt_stands_beside_the_fixed_one_and_is_put_in_words() -> None:
    apart = asked("idler", {"smooth": 2 * LIVES, "toothed": 2 * LIVES})
    late = np.isin(apart.table["belt"], [4, 5, 8]) & (apart.table["age"] > 3)
    moved = {"idler": np.where(late, "toothed", apart.table["idler"]).astype(object)}
    given = StudyInput(RunTable(dict(apart.table.values) | moved), apart.settings)
    block = comparison_block(given, comparison("idler"))
    head = headline_block(given, comparison("idler"), block, OVERLAP, UNASKED)
    fixed = block["mean_difference"]["toothed minus smooth"]
    by_belt = fixed["by_belt"]
    means = [block["levels"][level]["mean_to_horizon"]["se"] for level in ("smooth", "toothed")]
    assert fixed["se"] == pytest.approx(np.hypot(*means))
    assert by_belt["se"] != pytest.approx(fixed["se"], rel=0.005)
    assert by_belt["upper"] - fixed["estimate"] == pytest.approx(1.6448536 * by_belt["se"])
    assert (head["estimate"], head["lower"], head["upper"]) == (
        fixed["estimate"], by_belt["lower"], by_belt["upper"],
    )  # fmt: skip
    assert (head["basis"], head["method"]) == ("curves", METHODS["curves by belt"])


def test_a_standardised_answer_with_limits_stands_in_its_place_with_its_own_horizon() -> None:
    alike = {"estimate": 2.0, "lower": 0.5, "upper": 3.0}
    standardised = {
        "mean_difference": {"toothed minus smooth": alike},
        "horizon_runs": 6,
        "levels": {"smooth": {"mean": 4.0}, "toothed": {"mean": 6.0}},
    }
    given = asked("idler", {"smooth": LIVES, "toothed": LIVES})
    block = comparison_block(given, comparison("idler"))
    head = headline_block(given, comparison("idler"), block, OVERLAP, standardised)
    assert {name: head[name] for name in alike} == alike
    assert (head["basis"], head["method"], head["horizon_runs"]) == ("standardised", METHODS["standardised"], 6)
    assert head["to_horizon"]["smooth"] == {"failed": 4, "estimate": 4.0}  # on runs 2, 3, 4 and 5
    assert "reason" not in head


def test_a_standardised_answer_without_limits_leaves_the_curves_their_place() -> None:
    alike = {"estimate": 2.0, "lower": None, "upper": None, "reason": "500 of 999 draws of belts gave no estimate"}
    standardised = {"mean_difference": {"toothed minus smooth": alike}, "horizon_runs": 7}
    given = asked("idler", {"smooth": LIVES, "toothed": LIVES})
    head = headline_block(
        given, comparison("idler"), comparison_block(given, comparison("idler")), OVERLAP, standardised
    )
    assert (head["basis"], head["horizon_runs"], head["estimate"]) == ("curves", 9, 0.0)


def test_a_level_in_which_hardly_anything_failed_has_limits_that_hold() -> None:
    given = asked("idler", {"smooth": LIVES, "toothed": [(12, False)] * 9})
    block = comparison_block(given, comparison("idler"))
    head = headline_block(given, comparison("idler"), block, OVERLAP, UNASKED)
    fixed = block["mean_difference"]["toothed minus smooth"]
    assert head["basis"] == "beta products"
    assert head["estimate"] == fixed["estimate"]
    assert head["lower"] < fixed["lower"]
    assert head["to_horizon"]["toothed"] == {"failed": 0, "estimate": 9.0}


def test_a_horizon_that_hides_the_failures_on_its_own_run_moves_one_further_unless_it_was_chosen() -> None:
    lives = {"smooth": [(4, True)] * 8, "toothed": [(15, False)] * 8}
    for chosen, horizon in ((None, 5), (4, 4)):
        given = asked("idler", lives, chosen)
        head = headline_block(
            given, comparison("idler"), comparison_block(given, comparison("idler")), OVERLAP, UNASKED
        )
        assert head["horizon_runs"] == horizon


def test_a_difference_that_cannot_be_had_says_why() -> None:
    given = asked("idler", {"smooth": LIVES, "toothed": [(3, False), (4, False)]})
    block = comparison_block(given, comparison("idler"))
    head = headline_block(given, comparison("idler"), block, OVERLAP, UNASKED)
    assert head["estimate"] is None
    assert "beyond run 4" in head["reason"]
    assert head["levels"]["smooth"]["belts"] == 9


@pytest.mark.parametrize(
    "given", [{"reason": "the log has no edge_lube column"}, {"mean_difference": {"reason": "one level"}}]
)
def test_a_comparison_that_cannot_be_made_is_its_reason_alone(given: dict[str, Any]) -> None:
    nothing = asked("edge_lube", {"none": LIVES})
    head = headline_block(nothing, comparison("edge_lube"), given, {"reason": "none"}, UNASKED)
    assert head == {"reason": given.get("reason", "one level")}
    assert exploratory_headline(nothing, comparison("edge_lube"), given) == head


def test_an_exploratory_answer_takes_the_pair_with_the_closest_limits() -> None:
    lives = {"none": LIVES, "install": LIVES[:7], "every-run": LIVES * 2}
    given = asked("edge_lube", lives)
    block = comparison_block(given, comparison("edge_lube"))
    head = exploratory_headline(given, comparison("edge_lube"), block)
    se = {pair: found["se"] for pair, found in block["mean_difference"].items()}
    assert head["contrast"] == min(se, key=se.__getitem__) == "every-run minus none"
    assert head["basis"] == "curves"
