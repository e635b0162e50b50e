"""The sentences of the hazard study, to the letter."""

import pytest

from drivekit.show import hazard_words as said
from drivekit.show.words import answer, curves_answer


def test_failures_behind_each_term_are_counted_in_words(season):
    assert said.failures_words(season) == (
        "40 failures in 450 runs with every setting written: 10.0 for each of the 4 numbers asked of them.",
        "12 runs with a blank stayed out.",
    )


def test_too_few_failures_for_each_term_put_firth_first_and_say_why(season):
    season["hazard"] |= {"leads": "firth", "failed": 16, "failures_per_term": 4.0, "rows_lost": 0}
    assert said.failures_words(season)[1] == (
        "With fewer than 5 failures for each the usual fit makes differences too large, so the answers are those of "
        "Firth's penalised fit, which does not."
    )


def test_tension_that_is_not_told_has_no_best_place(season):
    assert not said.curved(season, "tension_kn")
    assert said.tension_words(season) == (
        "Too few belts to tell which tensions are better: none that was often run is told from the best."
    )
    assert said.term_words(season)[1].startswith("Too few belts to tell: each 1,000 N more tension")


def test_tension_that_bends_is_spoken_of_as_a_curve_and_never_by_the_line_s_ratio(alike_season):
    assert said.curved(alike_season, "tension_kn")
    assert said.tension_words(alike_season) == (
        "Belts lasted best near 8.0 kN; between 7.2 and 8.9 kN they did about as well, as far as these belts tell."
    )
    assert said.term_words(alike_season)[1] == "Tension is a curve here: no one ratio says what more of it does."


def test_a_best_place_at_an_end_of_what_was_often_run_is_said_as_that_end(alike_season):
    alike_season["tension_curve"]["run_n"] = {"estimate": 10000.0, "lower": 8900.0, "upper": 10000.0}
    assert said.best_words(alike_season) == (
        "belts lasted best at 10.0 kN, the tightest often run; between 8.9 and 10.0 kN they did about as well, as far "
        "as "
        "these belts tell"
    )


def test_a_told_line_without_a_bend_is_said_as_a_direction_and_not_beyond_what_was_run(alike_season):
    alike_season["tension_curve"] |= {
        "linear_vs_quadratic": {"chi2": 0.5, "dof": 1, "p": 0.5},
        "run_n": {"estimate": 6000.0, "lower": 6000.0, "upper": 7900.0},
    }
    assert said.tension_words(alike_season) == (
        "The looser belts ran, the longer they lasted, as far as 6.0 kN, the loosest often run."
    )
    assert (
        said.best_advice(alike_season) == "Set belts between 6.0 and 7.9 kN, the looser the better: tensions often run"
    )
    assert not said.curved(alike_season, "tension_kn")


def test_a_curve_that_is_only_hinted_at_says_so(alike_season):
    alike_season["claims"]["tension"] |= {"best": "hint", "claimed": False}
    assert said.tension_words(alike_season).startswith("A hint, not proof: belts lasted best near 8.0 kN; ")
    told = answer(alike_season, "tension")
    assert told.finding.startswith("A hint, not proof: with car, idler and grease alike, belts lasted best near 8.0 kN")
    assert told.finding.endswith("; one question in 20 looks like this by chance, and three were asked")
    assert told.verdict == "hint"


def test_a_curve_fitted_anew_under_controls_hints_at_the_most(alike_season):
    alike_season["claims"] = {}
    assert said.best_judged(alike_season) == "too few"
    alike_season["tension_curve"]["loglik"]["none"] = -95.0  # exp(-5.3) is below 1 in 20
    assert said.best_judged(alike_season) == "hint"


def test_a_log_without_tension_says_so(season):
    season["tension_curve"] = {"reason": "the log does not record belt tension"}
    assert said.tension_words(season) == (
        "What tension does along its range cannot be told: the log does not record belt tension."
    )


def test_the_answer_on_tension_is_the_curve_where_it_bends(alike_season):
    assert str(answer(alike_season, "tension")) == (
        "With car, idler and grease alike, belts lasted best near 8.0 kN; between 7.2 and 8.9 kN they did about as "
        "well, "
        "as far as these belts tell; 40 of 60 belts failed."
    )
    assert answer(alike_season, "tension").verdict == "best"
    assert "belts at middle tension made 2.1 more" in curves_answer(alike_season, "tension").finding


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
    assert answer(alike_season, "idler").finding.startswith("Belts on the toothed idler make 0.7 more")


def test_the_curves_by_themselves_keep_their_own_horizon_and_say_their_footing(alike_season):
    assert str(curves_answer(alike_season, "idler")).startswith(
        "Too few belts to tell: with cars and other settings as they fell, belts on the toothed idler made 0.5 more of "
        "their first 12 runs than on the smooth (95 %: 0.9 fewer to 1.8 more); "
    )
    assert str(curves_answer(alike_season, "idler")).endswith(" Held alike it is 0.7 more of the first 6 runs.")


def test_how_strong_something_unrecorded_would_have_to_be_is_one_sentence_a_told_term(season, judge):
    (idler,) = said.unrecorded_words(season)
    assert idler == (
        "Could something nobody wrote down be behind the fewer failures on the toothed idler? Only if it came 3.1 "
        "times "
        "as often with those belts, and changed failures 3.1 times over; 1.4 times would be enough to leave it open."
    )
    idler, every_run = said.unrecorded_words(judge(season, "idler", "edge_lube"))
    assert "behind the fewer failures greased on every run?" in every_run
    assert said.unrecorded_words(judge(season)) == ()


def test_no_drift_is_said_plainly(season):
    assert said.drift_words(season) == "No ratio is seen to change as belts age."


@pytest.mark.parametrize(("p", "seen"), [(0.01, True), (0.02, False)])
def test_a_drift_with_age_is_named_where_it_stands_out_among_all_tests(season, judge, p, seen):
    season["hazard"]["ph_test"]["tension_kn"]["p"] = p
    named = 'As belts age the ratio changes for "each 1,000 N more tension": read it as a mean over the ages.'
    assert (said.drift_words(judge(season)) == named) is seen


def test_each_check_is_one_sentence_and_names_its_belt(season):
    assert said.surprise_words(season) == (
        "The largest surprise is belt B01: it failed where its runs and settings led to expect 0.02 failures."
    )
    assert said.influence_words(season) == (
        "Without belt B04, which moves it most, the answer for belts on the toothed idler would be 49 % fewer failures "
        "a run instead of 60 % fewer."
    )
    assert said.risk_words(season) == (
        "The runs were sorted by how likely the fit holds them to fail: from the least likely part to the most it "
        "expected 8.1, 12.9 and 19.0 failures, and 6, 12 and 22 came."
    )
    assert said._agreement_words(season) == (
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
    assert said.robust_words(season) == (
        "Runs of one belt go together: allowing for that changes no answer's margin by more than a quarter."
    )
    hazard["terms"]["tension_kn"]["robust_differs"] = True
    assert said.robust_words(season) == (
        'Runs of one belt go together: allowing for that changes the margin of "each 1,000 N more tension" by more '
        "than "
        "a quarter: read it with care."
    )


def test_where_no_ratio_has_a_margin_nothing_is_said_to_move_it(season):
    season["hazard"]["terms"] = {term: entry | {"coef": None} for term, entry in season["hazard"]["terms"].items()}
    assert said.robust_words(season).endswith("cannot be told, for no ratio has one.")


def test_other_methods_are_said_as_the_range_they_span(season):
    assert said.sensitivity_words(season, "idler[toothed]") == (
        "On the toothed idler v. the smooth: 52 to 64 % fewer failures a run, by 5 other methods."
    )


def test_interactions_are_called_exploratory(season):
    assert said.interaction_words(season) == (
        "Exploratory, not planned. Does the idler do more with other tension? As much as was seen would come up 1 time "
        "in 6 by chance. Does the idler do more with other grease on the edges? It cannot be told (too few belts "
        "failed "
        "in some combination of them)."
    )


@pytest.mark.parametrize("name", ["season", "alike_season"])
def test_no_sentence_calls_a_chance_small_enough_or_leaves_it_bare(request, name):
    found = request.getfixturevalue(name)
    every = [
        *said.failures_words(found),
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


def test_a_log_in_pounds_is_told_its_best_tension_in_pounds(alike_season):
    alike_season["log"]["units"] = "inch-pound"
    alike_season["tension_curve"]["run_n"] = {"estimate": 10000.0, "lower": 8900.0, "upper": 10000.0}
    # 10,000 / 4.4482 = 2,248 and 8,900 / 4.4482 = 2,001, to ten
    assert said.best_words(alike_season).startswith(
        "belts lasted best at 2,250 lbf, the tightest often run; between 2,000 and 2,250 lbf they did"
    )
