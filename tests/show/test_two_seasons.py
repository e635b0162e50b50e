"""Two seasons side by side, and a log beside its own when it was shorter: what moved is said, and what cannot be."""

from __future__ import annotations

import copy
import re
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest

from drivekit.log import read_season
from drivekit.show.decision_words import LOOKS_FIRST
from drivekit.show.deck import slides
from drivekit.show.page import pages, pictures
from drivekit.show.two_seasons import (
    belts_words,
    life_words,
    moved,
    moved_since,
    pooled_words,
    seasons_picture,
    setups_rows,
    watch_picture,
    watch_words,
)
from drivekit.study.findings import study

DATA = Path(__file__).parents[2] / "data"


@pytest.fixture(scope="module")
def found() -> dict[str, Any]:
    return study(read_season(DATA / "season-two"), against=read_season(DATA / "season-one"))


def alarmed(found: dict[str, Any], side: str) -> dict[str, Any]:
    """Give the findings of a season whose evidence crosses the line at run 300."""
    changed = copy.deepcopy(found)
    watch = changed["watch"]
    watch[side] = [value if run < 300 else 200.0 for run, value in zip(watch["run"], watch[side], strict=True)]
    watch[f"alarm_{side}_run"] = 300
    return changed


@pytest.mark.usefixtures("undrawn")
def test_the_page_of_two_seasons_is_still_one_of_some_1500_words_and_says_a_look_s_verdict_twice(
    found: dict[str, Any],
) -> None:
    text = re.sub("<style.*?</style>|<svg.*?</svg>|<[^>]*>", " ", pages(found)["findings.html"], flags=re.DOTALL)
    assert len(text.split()) < 1750
    assert text.count(LOOKS_FIRST) == 2  # with the odds, and among the cautions


def test_the_season_s_own_term_is_said_with_its_limits(found: dict[str, Any]) -> None:
    term = found["against"]["hazard"]["season_term"]
    said = life_words(found)
    assert f"{term['hr']:.2f} times the failures a run ({term['lower']:.2f} to {term['upper']:.2f})" in said[2]
    assert "too few belts to tell" in said[1]


def test_a_season_that_cannot_be_told_from_the_cars_says_why(found: dict[str, Any]) -> None:
    changed = copy.deepcopy(found)
    changed["against"]["hazard"]["season_term"] |= {"hr": None, "reason": "no car ran in both"}
    assert "With the settings alike, one season cannot be told from the other: no car ran in both." in life_words(
        changed
    )


def test_both_seasons_together_are_said_as_they_are_computed_and_claim_what_both_tell(found: dict[str, Any]) -> None:
    pooled = found["against"]["pooled"]
    head, said = pooled["headline"]["idler"], pooled_words(found)[0]
    assert f"make {head['estimate']:.1f} more of their first {head['horizon_runs']} runs" in said
    assert f"({100 * head['confidence']:g} %: {head['lower']:.1f} to {head['upper']:.1f})" in said
    assert pooled["claims"]["idler"]["claimed"]
    assert "hint" not in said
    doubted = copy.deepcopy(found)
    doubted["against"]["pooled"]["claims"]["idler"] |= {
        "claimed": False,
        "pairs": {"toothed minus smooth": "hint longer"},
    }
    assert pooled_words(doubted)[0].startswith("A hint, not proof")
    changed = copy.deepcopy(found)
    changed["against"]["pooled"] = {"reason": "no belt failed"}
    assert pooled_words(changed) == ["The two seasons give no answer together: no belt failed."]


@pytest.mark.parametrize(("by_chance", "differ"), [(0.2, False), (0.01, True)])
def test_seasons_that_differ_on_the_idler_are_to_be_read_each_by_itself(
    found: dict[str, Any], by_chance: float, differ: bool
) -> None:
    changed = copy.deepcopy(found)
    changed["against"]["hazard"]["interaction"]["p"] = by_chance
    assert pooled_words(changed)[0].startswith("On the idler the seasons differ: read each by itself") == differ


def test_both_seasons_together_answer_for_tension_by_the_curve_of_both(found: dict[str, Any]) -> None:
    pooled = found["against"]["pooled"]
    best, (_, said, _) = pooled["tension_curve"]["run_n"]["estimate"], pooled_words(found)
    assert pooled["claims"]["tension"]["best"] == "hint"
    assert said.startswith("A hint, not proof: with car, idler and grease alike, ")
    assert f"belts lasted best near {best / 1000:.1f} kN" in said
    assert f"{pooled['failed']} of {len(pooled['tension_curve']['belts_n'])} belts failed" in said
    unbent = copy.deepcopy(found)
    unbent["against"]["pooled"]["claims"]["tension"]["best"] = "too few"
    head = pooled["headline"]["tension"]
    assert f"belts at middle tension make {head['estimate']:.1f} more of their first 12 runs" in pooled_words(unbent)[1]


def test_belts_of_both_logs_are_named(found: dict[str, Any]) -> None:
    changed = copy.deepcopy(found)
    why = "it had 4 runs at the end of the earlier log and brings 5"
    changed["against"]["belts"] = {"one": ["A", "B"], "apart": [{"belt": "C", "why": why}]}
    assert belts_words(changed) == [
        "2 belts went on from the earlier log: A and B.",
        f"C stands in both logs and is taken as two belts: {why}.",
    ]


def test_a_watch_that_told_nothing_says_how_far_it_came_and_one_that_told_says_from_when(found: dict[str, Any]) -> None:
    watch = found["watch"]
    most = max(*watch["worse"], *watch["better"])
    assert f"the evidence reached {most:.2g}, and {watch['alarm']:.0f} is asked" in watch_words(found)[1]
    for side, more in (("worse", "more"), ("better", "fewer")):
        changed = alarmed(found, side)
        sentence = f"From run 300 on it is told: {more} failures than season-one leads to expect."
        assert watch_words(changed)[1].startswith(sentence)
        picture = watch_picture(changed)
        assert picture is not None
        assert picture.title == watch_words(changed)[1]


def test_the_picture_of_the_watch_draws_counts_evidence_and_the_line_it_must_cross(found: dict[str, Any]) -> None:
    picture, watch = watch_picture(found), found["watch"]
    assert picture is not None
    drawn = {artist.get_gid(): artist for artist in picture.figure().findobj() if artist.get_gid()}
    assert drawn["curve:seen"].get_ydata().tolist() == watch["observed_by_run"]
    assert drawn["curve:expected"].get_ydata().tolist() == pytest.approx(watch["expected_by_run"])
    assert drawn["curve:more failures"].get_ydata().tolist() == pytest.approx([max(0.01, e) for e in watch["worse"]])
    assert drawn["rule:alarm"].get_ydata()[0] == watch["alarm"]


def test_the_lives_of_both_seasons_stand_in_one_picture(found: dict[str, Any]) -> None:
    picture = seasons_picture(found)
    assert picture is not None
    drawn = {artist.get_gid() for artist in picture.figure().findobj() if artist.get_gid()}
    assert {"curve:earlier", "curve:later"} <= drawn


def test_shares_of_the_set_ups_add_up(found: dict[str, Any]) -> None:
    rows = {row[0]: row[1:] for row in setups_rows(found)}
    for season in (0, 1):
        shares = [int(rows[f"idler: {level}"][season].split()[0]) for level in ("smooth", "toothed")]
        assert sum(shares) == 100


@pytest.mark.usefixtures("undrawn")
def test_the_page_has_the_section_only_with_an_earlier_season(found: dict[str, Any]) -> None:
    heading = "How does this season stand beside the earlier one?"
    assert heading in pages(found)["findings.html"]
    alone = {name: block for name, block in found.items() if name not in ("against", "watch")}
    assert heading not in pages(alone)["findings.html"]
    assert {"seasons", "watch"} == set(pictures(found)) - set(pictures(alone))


def test_a_watch_that_cannot_be_had_is_a_reason_and_no_picture(found: dict[str, Any]) -> None:
    changed = {**found, "watch": {"reason": "the earlier season saw 2 failures, and its rates take 5 at least"}}
    assert watch_picture(changed) is None
    assert watch_words(changed) == [
        "There is no watch over this season: the earlier season saw 2 failures, and its rates take 5 at least."
    ]


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


@pytest.mark.usefixtures("undrawn")
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
