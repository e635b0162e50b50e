"""What moved between two studies of a log that grows: within the limits an answer had, out of them, or not held."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest

from drivekit.show.deck import slides
from drivekit.show.page import pages
from drivekit.show.two_seasons import moved, moved_since

Findings = dict[str, Any]
HEAD = {"contrast": "toothed minus smooth", "horizon_runs": 9, "basis": "standardised", "confidence": 0.95}


def findings(
    estimate: float, lower: float, upper: float, *, runs: int, at_risk: list[int], told: bool, half: int
) -> Findings:
    """Findings of one question, as small as they may be."""
    comparisons = {
        "idler": {
            "title": "The idler",
            "question": "Does it?",
            "said": "idler",
            "noun": "the idler",
            "held": "idler",
            "phrases": {
                "toothed": ["on the toothed idler", "on the toothed"],
                "smooth": ["on the smooth", "on the smooth"],
            },
            "further": "",
            "terms": {},
            "step": "",
        }
    }
    ages = list(range(1, len(at_risk) + 1))
    median = {"estimate": half, "lower": half - 1, "upper": half + 2}
    return {
        "comparisons": comparisons,
        "log": {"runs": runs, "belts": at_risk[0], "failed": 2, "sha256": str(runs)},
        "settings": {"failures": ["tooth-jump"], "confidence": 0.95, "tension_cuts_n": None, "costs": [1, 8]},
        "life": {"overall": {"age": ages, "at_risk": at_risk, "failed_at": [0] * len(ages), "median": median}},
        "headline": {"idler": HEAD | {"estimate": estimate, "lower": lower, "upper": upper}},
        "claims": {"idler": {"claimed": told}},
        "change_out": {"levels": {"all": {"best_runs": {"estimate": 4, "lower": 3, "upper": 5}}}},
    }


OLD = findings(1.5, -0.5, 2.5, runs=30, at_risk=[10, 8], told=False, half=8)
NEW = findings(1.0, 0.2, 1.8, runs=50, at_risk=[14, 12, 3], told=True, half=8)
WHAT = "The idler, belts on the toothed idler against those on the smooth:"


def test_by_hand_each_answer_is_held_against_the_limits_it_had() -> None:
    assert moved(OLD, NEW) == {
        "log": "Since the study before, of 30 runs, 10 belts and 2 failures, the log has grown by 20 runs and 4 belts.",
        "idler": f"{WHAT} 1.0 more of the first 9 runs (0.2 to 1.8); in the study before, 1.5 more of the first 9 runs "
        "(0.5 fewer to 2.5 more): moved by 0.5, within the limits it had. It is told now and was not.",
        "median": "The run by which half of all belts had failed: run 8 (7 to 10); in the study before, run 8 (7 to "
        "10): it has not moved.",
        "change_out": "The change that costs least, of all belts: run 4 (3 to 5); in the study before, run 4 (3 to 5): "
        "it has not moved.",
    }


def test_an_answer_that_left_the_limits_it_had_is_said_to_have() -> None:
    far = findings(2.6, 1.0, 4.0, runs=50, at_risk=[14, 12], told=True, half=11)
    said = moved(OLD, far)
    assert "moved by 1.1, out of the limits it had." in said["idler"]
    assert "moved by 3 runs, out of the limits it had." in said["median"]


@pytest.mark.parametrize(
    ("then", "now", "said"),
    [
        (True, True, "had."),
        (True, False, " It was told and is not now."),
        (False, False, " It is told neither now nor then."),
    ],
)
def test_whether_it_is_told_is_said_where_it_turned_or_never_was(then: bool, now: bool, said: str) -> None:
    old, new = OLD | {"claims": {"idler": {"claimed": then}}}, NEW | {"claims": {"idler": {"claimed": now}}}
    assert moved(old, new)["idler"].endswith(said)


@pytest.mark.parametrize(
    ("key", "value"), [("horizon_runs", 8), ("contrast", "smooth minus toothed"), ("basis", "curves")]
)
def test_answers_of_other_questions_are_not_held_against_each_other(key: str, value: object) -> None:
    old = deepcopy(OLD)
    old["headline"]["idler"][key] = value
    said = moved(old, NEW)["idler"]
    assert said.endswith("asked otherwise and not held against each other.")
    assert "moved" not in said


def test_a_study_that_was_asked_otherwise_is_said_once_and_nothing_is_compared() -> None:
    old = OLD | {"settings": OLD["settings"] | {"failures": ["sold"], "confidence": 0.9}}
    assert list(moved(old, NEW)) == ["log", "settings"]
    assert moved(old, NEW)["settings"] == (
        "Asked otherwise then, the answers are not held against each other: the causes that count as failures and the "
        "confidence differ."
    )


def test_a_log_that_is_another_one_or_the_same_is_told() -> None:
    assert moved(NEW, OLD)["log"].startswith("The log is not that of the study before grown longer (then 50 runs, ")
    assert moved(OLD, OLD)["log"] == "The log is the same as in the study before."


def test_answers_that_were_not_had_or_are_not_are_said_so() -> None:
    bare = OLD | {"headline": {"idler": {"reason": "one level"}}, "claims": {}, "change_out": {"reason": "few"}}
    assert moved(bare, NEW)["idler"].endswith("; in the study before, not answered.")
    assert moved(bare, NEW)["change_out"].endswith("run 4 (3 to 5); in the study before, none yet.")
    assert moved(OLD, NEW | bare)["idler"] == "The idler: one level."


def test_on_six_logs_every_pair_gives_its_sentences_on_page_and_in_the_notes(six_logs: dict[str, Findings]) -> None:
    for old in six_logs.values():
        for new in six_logs.values():
            for sentence in moved({name: block for name, block in old.items() if name != "comparisons"}, new).values():
                assert sentence.endswith(".")
                assert not {"None", "nan", "inf"} & set(sentence.replace(".", " ").split())
    grown = six_logs["season-two"] | {"since": six_logs["first runs"]}
    said = moved_since(grown)
    assert said["log"].startswith("Since the study before, of 60 runs, ")
    text = pages(grown)["findings.html"]
    assert "What moved since the study before?" in text
    notes = [note for slide in slides(grown) for note in slide.notes]
    assert set(said.values()) <= set(notes)
    assert "What moved" not in pages(six_logs["season-two"])["findings.html"]
    assert moved_since(six_logs["season-two"]) == {}
