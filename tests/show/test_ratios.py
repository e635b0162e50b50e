"""Hazard ratios are said so that their direction cannot be misread, and the right estimate leads."""

import math

import pytest

from drivekit.show.phrases import Ratio, change, leading, ratio_of, ratio_said, ratio_verdict, span, term_name

IDLER = "idler[toothed]"


@pytest.mark.parametrize(
    ("ratio", "said"),
    [
        (0.6, "40 % fewer"),
        (1.29, "29 % more"),
        (2.0, "2.0 times as many"),
        (2.71, "2.7 times as many"),
        (37.2, "37 times as many"),
        (1.002, "as many"),
        (0.001, "over 99 % fewer"),
    ],
)
def test_a_ratio_of_failures_is_said_as_so_many_fewer_or_more(ratio, said):
    assert change(ratio) == said


@pytest.mark.parametrize(
    ("lower", "upper", "said"),
    [
        (0.17, 0.85, "15 to 83 % fewer"),
        (1.1, 1.6, "10 to 60 % more"),
        (2.5, 6.0, "2.5 to 6.0 times as many"),
        (0.64, 2.65, "36 % fewer to 2.6 times as many"),
        (0.8, 1.2, "20 % fewer to 20 % more"),
        (0.301, 0.302, "70 % fewer"),
        (None, 0.4, "up to 60 % fewer, no limit below"),
        (1.5, None, "from 50 % more, no limit above"),
        (None, None, "no limit on either side"),
    ],
)
def test_the_limits_of_a_ratio_keep_their_direction(lower, upper, said):
    assert span(lower, upper) == said


def test_a_term_is_named_by_its_level_and_the_one_it_is_held_against(season):
    names = [term_name(season, term) for term in season["hazard"]["terms"]]
    assert names == [
        "On the toothed idler v. the smooth",
        "Each 1,000 N more tension",
        "Greased when fitted v. never greased",
        "Greased on every run v. never greased",
    ]


def test_the_usual_estimate_leads_where_failures_are_many_enough(season):
    found = leading(season["hazard"], IDLER)
    entry = season["hazard"]["terms"][IDLER]
    assert (found.hr, found.lower, found.upper, found.firth) == (entry["hr"], entry["lower"], entry["upper"], False)
    assert ratio_said(season, found) == (
        "Belts on the toothed idler had 60 % fewer failures a run than on the smooth (95 %: 28 to 78 % fewer)."
    )


def test_firth_s_estimate_leads_where_failures_are_too_few_and_is_said_with_its_reason(season, judge):
    season["hazard"] |= {"leads": "firth", "failures_per_term": 4.0}
    judge(season, "idler")
    found = leading(season["hazard"], IDLER)
    assert found.hr == pytest.approx(0.42)
    assert found.firth
    assert ratio_said(season, found).endswith(
        "; by Firth's penalised fit, because there are fewer than 5 failures for each term."
    )


def test_firth_answers_for_a_level_that_never_failed(season, judge):
    hazard = season["hazard"]
    why = "no run with edge grease install ended in a failure"
    term = "edge_lube[install]"
    hazard["terms"][term] = dict.fromkeys(hazard["terms"][term]) | {"reason": why}
    found = leading(judge(season)["hazard"], term)
    assert found.firth
    assert ratio_said(season, found).endswith(f"; by Firth's penalised fit, because {why}.")


def test_a_term_that_nothing_answers_for_is_said_with_its_reason(season, judge):
    hazard = season["hazard"]
    term, why = "edge_lube[every-run]", "the log does not record edge grease"
    hazard["terms"][term] = dict.fromkeys(hazard["terms"][term]) | {"reason": why}
    hazard["sensitivity"]["firth"][term] = {"coef": None, "se": None, "reason": why}
    found = leading(judge(season)["hazard"], term)
    assert ratio_verdict(season, found) == "no answer"
    assert ratio_said(season, found) == (
        "What being greased on every run does to failures a run cannot be told: the log does not record edge grease."
    )


def test_limits_that_span_one_leave_it_open(season):
    said = ratio_said(season, leading(season["hazard"], "tension_kn"))
    assert said == (
        "Too few belts to tell: each 1,000 N more tension went with 10 % fewer failures a run (95 %: 29 % fewer to 14 "
        "% more)."
    )


def test_what_may_be_claimed_of_a_ratio_is_looked_up(season):
    season["claims"]["idler"]["terms"][IDLER] = "hint fewer"
    found = leading(season["hazard"], IDLER)
    assert ratio_verdict(season, found) == "hint fewer"
    assert ratio_said(season, found).startswith("A hint, not proof: belts on the toothed idler had 60 % fewer failures")


def test_a_ratio_of_a_question_that_cannot_be_asked_gives_its_reason(season):
    season["claims"]["tension"] = {"reason": "tension was nearly the same on all runs"}
    assert ratio_said(season, leading(season["hazard"], "tension_kn")) == (
        "What more tension does to failures a run cannot be told: tension was nearly the same on all runs."
    )


@pytest.mark.parametrize(
    ("lower", "upper", "judged"),
    [(0.2, 0.9, "hint fewer"), (1.1, 2.0, "hint more"), (0.5, 1.5, "too few"), (None, 0.9, "hint fewer")],
)
def test_a_ratio_fitted_anew_under_controls_hints_at_the_most(season, lower, upper, judged):
    season["claims"] = {}
    assert ratio_verdict(season, Ratio(IDLER, 1.0, lower, upper)) == judged
    season["hazard"]["levels"]["idler"]["toothed"]["failed"] = 4
    assert ratio_verdict(season, Ratio(IDLER, 1.0, lower, upper)) == "too few"


def test_an_effect_without_limits_gets_them_from_its_error():
    found = ratio_of(IDLER, {"coef": math.log(0.5), "se": 0.5}, 1.96)
    assert found.hr == pytest.approx(0.5)
    assert found.lower == pytest.approx(0.5 * math.exp(-0.98))
    assert found.upper == pytest.approx(0.5 * math.exp(0.98))


def test_two_times_as_many_is_held_with_as_and_not_than(season):
    season["claims"]["edge_lube"]["terms"]["edge_lube[install]"] = "more"
    said = ratio_said(season, Ratio("edge_lube[install]", 2.5, 1.2, 5.2))
    assert said == (
        "Belts greased when fitted had 2.5 times as many failures a run as belts never greased (95 %: 20 % more to 5.2 "
        "times as many)."
    )
