"""The sentences of the hazard study, to the letter."""

import pytest

from drivekit.show import hazard_words as said
from drivekit.show.words import answer, curves_answer


def test_failures_behind_each_term_are_counted_in_words(season):
    assert said.failures_words(season["hazard"]) == (
        "40 failures in 450 runs with every setting written stand behind 4 terms: 10.0 for each.",
        "12 runs with a blank stayed out.",
    )


def test_too_few_failures_for_each_term_put_firth_first_and_say_why(season):
    hazard = season["hazard"] | {"leads": "firth", "failed": 16, "failures_per_term": 4.0, "rows_lost": 0}
    assert said.failures_words(hazard)[1] == (
        "With fewer than 5 failures for each term the usual fit makes differences too large, so the answers are those "
        "of Firth's penalised fit, which does not."
    )


def test_tension_without_a_bend_is_said_to_show_none(season):
    assert not said.tension_is_curved(season)
    assert said.tension_words(season) == (
        "The belts do not show a bend in what tension does: one as large would come up 5 times in 10 by chance; so "
        "where they lasted best cannot be told."
    )
    assert said.term_words(season)[1].startswith("Too few belts to tell: each 1,000 N more tension")


def test_tension_that_bends_is_spoken_of_as_a_curve_and_never_by_the_line_s_ratio(alike_season):
    assert said.tension_is_curved(alike_season)
    assert said.tension_words(alike_season) == (
        "Belts lasted best near 8.0 kN (95 %: 7.2 to 8.9); a bend as large would come up 1 time in 90 by chance, and a "
        "straight line alone says nothing here because the curve bends."
    )
    assert said.term_words(alike_season)[1] == "Tension is a curve here: no one ratio says what more of it does."


def test_a_bend_without_a_lowest_point_gives_its_reason(alike_season):
    alike_season["tension_curve"]["best_n"] = {
        "estimate": None,
        "lower": None,
        "upper": None,
        "reason": "the curve is lowest outside the values met",
    }
    assert said.tension_words(alike_season).startswith(
        "Where belts lasted best cannot be told (the curve is lowest outside the values met); a bend as large"
    )
    told = answer(alike_season, "tension")
    assert told.finding == (
        "With car, idler and grease alike, failures bend with tension, but where belts lasted best cannot be told (the "
        "curve is lowest outside the values met)"
    )
    assert told.verdict == "too few"


def test_a_log_without_tension_says_so(season):
    season["tension_curve"] = {"reason": "the log does not record belt tension"}
    assert said.tension_words(season) == (
        "What tension does along its range cannot be told: the log does not record belt tension."
    )


def test_the_answer_on_tension_is_the_curve_where_it_bends(alike_season):
    assert str(answer(alike_season, "tension")) == (
        "With car, idler and grease alike, belts lasted best near 8.0 kN (95 %: 7.2 to 8.9); 40 of 60 belts failed."
    )
    assert answer(alike_season, "tension").verdict == "best"
    assert curves_answer(alike_season, "tension").finding.startswith("Belts at middle tension made 2.1 more")


def test_a_tension_that_changed_over_the_season_carries_the_warning_on_its_curve_too(alike_season):
    alike_season["headline"]["tension"]["together"] = {"time": True, "car": True}
    assert answer(alike_season, "tension").warning == (
        "but tension was not alike over the season, so part of this may be the season's doing"
    )


def test_a_standardised_answer_names_what_it_holds_alike_and_keeps_the_season_s_warning(alike_season):
    assert answer(alike_season, "idler").title == (
        "With car, tension and grease alike, belts on the toothed idler make 0.7 more of their first 6 runs than on "
        "the smooth (95 %: 0.2 to 1.3); but the belts on the toothed idler came in as the season went on, so part of "
        "this may be the season's doing."
    )


def test_what_the_log_does_not_record_is_not_said_to_be_held_alike(alike_season):
    why = {"reason": "the log does not record it"}
    for term in ("tension_kn", "edge_lube[install]", "edge_lube[every-run]"):
        for fit in (alike_season["hazard"]["terms"], alike_season["hazard"]["sensitivity"]["firth"]):
            fit[term] = dict.fromkeys(fit[term]) | why
    assert answer(alike_season, "idler").finding.startswith("With car alike, belts on the toothed idler make")
    alike_season["overlap"]["idler"]["car"]["columns"] = ["red"]
    assert answer(alike_season, "idler").finding.startswith("Belts on the toothed idler made 0.7 more")


def test_the_curves_by_themselves_keep_their_own_horizon_and_words(alike_season, season):
    assert curves_answer(alike_season, "idler") == answer(season, "idler")


def test_how_strong_something_unrecorded_would_have_to_be_is_one_sentence_a_term(season):
    idler, every_run, spanning = said.unrecorded_words(season)
    assert idler == (
        "Something unrecorded could explain belts on the toothed idler away only if it went both with them and with "
        "failing less, 3.1 times as often each; 1.4 times would bring the limit to no difference."
    )
    assert every_run == (
        "Something unrecorded could explain belts greased on every run away only if it went both with them and with "
        "failing less, 2.4 times as often each; 1.2 times would bring the limit to no difference."
    )
    assert spanning == (
        "For belts greased when fitted the limits reach no difference already: there is none to explain."
    )


def test_no_drift_is_said_with_how_often_chance_brings_the_largest(season):
    assert said.drift_words(season) == (
        "No ratio is seen to change with the belts' age: the largest drift, that of \"on the toothed idler v. the "
        'smooth", would come up 3 times in 10 by chance.'
    )


def test_a_drift_with_age_is_named(season):
    season["hazard"]["ph_test"]["tension_kn"]["p"] = 0.01
    assert said.drift_words(season) == (
        'Seen to change with the belts\' age: "each 1,000 N more tension" (1 time in 100 by chance); take its ratio '
        "as a mean over the ages."
    )


def test_each_check_is_one_sentence_and_names_its_belt(season):
    hazard = season["hazard"]
    assert said.surprise_words(hazard) == (
        "The largest surprise is belt B01: it failed where its runs and settings led to expect 0.02 failures."
    )
    assert said.influence_words(season) == (
        "Without belt B04, which moves it most, the answer for belts on the toothed idler would be 49 % fewer failures "
        "a run instead of 60 % fewer."
    )
    assert said.risk_words(hazard) == (
        "Failures seen for failures foreseen, by parts of the runs from the lowest risk to the highest: 6 for 8.1, 12 "
        "for 12.9 and 22 for 19.0."
    )
    assert said.agreement_words(hazard, 0.95) == (
        "Of 347 pairs of a belt that failed and one of the same age on the same car that ran on, the one that failed "
        "had the higher risk in 67 % (95 %: 55 to 77 %); a coin would give 50 %."
    )


def test_one_belt_that_turns_the_answer_round_is_said_to(season):
    season["hazard"]["checks"]["without_belt"]["coef"]["idler[toothed]"][3] = 0.3
    assert said.influence_words(season).endswith(
        "would be 35 % more failures a run instead of 60 % fewer: that one belt turns it round."
    )


def test_errors_by_belt_that_differ_are_named(season):
    hazard = season["hazard"]
    assert said.robust_words(season) == "Errors reckoned by belt are within a quarter of the usual ones."
    hazard["terms"]["tension_kn"]["robust_differs"] = True
    assert said.robust_words(season) == (
        'Errors reckoned by belt differ by more than a quarter from the usual ones for "each 1,000 N more tension": '
        "read it with care."
    )


def test_other_methods_are_said_as_the_range_they_span(season):
    assert said.sensitivity_words(season, "idler[toothed]") == (
        "On the toothed idler v. the smooth: 52 to 64 % fewer failures a run, by 5 other methods."
    )


def test_interactions_are_called_exploratory(season):
    assert said.interaction_words(season) == (
        "Exploratory, not planned: that the idler's effect changes with tension at least so much would come up 1 time "
        "in 6 by chance; whether the idler does more with other grease on the edges cannot be told (too few belts "
        "failed in some combination of them)."
    )


@pytest.mark.parametrize("name", ["season", "alike_season"])
def test_no_sentence_calls_a_chance_small_enough_or_leaves_it_bare(request, name):
    found = request.getfixturevalue(name)
    hazard = found["hazard"]
    every = [
        *said.failures_words(hazard),
        *said.term_words(found),
        said.tension_words(found),
        said.drift_words(found),
        *said.unrecorded_words(found),
        said.interaction_words(found),
    ]
    for sentence in every:
        assert "significan" not in sentence
        assert "p =" not in sentence
        assert "None" not in sentence
        assert sentence.endswith(".")
