"""What is said before the team follows from the findings by its rules."""

import pytest

from drivekit.show.team_words import (
    asked_words,
    believed_words,
    belts_to_tell,
    doubts_words,
    next_words,
    todo_words,
    untold_words,
)
from drivekit.show.words import answer


def test_the_questions_and_the_belts_behind_them_are_said(season):
    questions, counts = asked_words(season)
    assert questions == (
        "Does the toothed idler make belts last? How tight should a belt run? Does greasing the edges pay?"
    )
    assert counts.startswith("season-two: 87 belts and 612 runs; ")


def test_reasons_to_believe_are_the_failures_the_methods_one_belt_and_a_second_program(season):
    said = believed_words(season)
    assert said[0].startswith("40 failures in 450 runs")
    assert "On the toothed idler v. the smooth: 52 to 64 % fewer failures a run, by 5 other methods." in said
    assert "Without belt B04, which moves it most" in " ".join(said)
    assert said[-1] == (
        "The library lifelines was given the same runs and repeated 1 result; all agree to 9 digits or more."
    )
    season["second_opinion"]["largest_difference"] = 0.003
    assert believed_words(season)[-1].endswith("the largest difference was 0.003.")
    season["second_opinion"] = {"reason": "nothing failed"}
    assert believed_words(season)[-1] == "No second program could repeat it: nothing failed."


def test_doubts_name_the_season_s_doing_the_precautions_and_what_is_too_few(season, judge):
    said = doubts_words(season)
    assert said[0] == (
        "For the idler: the belts on the toothed idler came in as the season went on, so part of this may be the "
        "season's doing."
    )
    assert (
        "20 belts came off as a precaution and count as taken off early. If such belts were about to fail, the lives "
        "are too long, most of all where most came off."
    ) in said
    season["headline"]["idler"] |= {"estimate": 0.1, "lower": -2.0, "upper": 2.1}
    judge(season)["claims"]["idler"]["terms"] = {}
    said = doubts_words(season)
    assert "For the idler there are too few belts to tell: no difference seen is not the same as none." in said


def test_what_was_drawn_by_lot_was_not_chosen_and_what_has_no_answer_is_not_short_of_belts(season, judge):
    chosen = "were chosen by people for their own reasons, not drawn by lot: one kept for hard days looks "
    chosen += "worse than it is."
    assert f"Settings {chosen}" in untold_words(season)
    season["as_planned"] = {"belts": 60, "moved": 0, "settings": {"idler": {}}}
    assert f"Settings other than the idler {chosen}" in untold_words(season)
    season["headline"]["edge_lube"] = {"reason": "the log has no edge_lube column"}
    said = untold_words(judge(season, "idler"))
    assert "What grease on the edges did is not told at all: the answer says why." in said
    assert not any("grease" in line and "too few" in line for line in said)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            {"estimate": 1.9, "lower": 0.6, "upper": 3.1},
            "Run belts on the toothed idler until it is tested turn about; this speaks of their first 12 runs.",
        ),
        (
            {"estimate": -1.9, "lower": -3.1, "upper": -0.6},
            "Run belts on the smooth idler until it is tested turn about; this speaks of their first 12 runs.",
        ),
        ({"estimate": 0.4, "lower": -1.5, "upper": 2.2}, "Leave the idler as it is: too few belts to tell."),
        (
            {"estimate": 0.1, "lower": -0.5, "upper": 0.6},
            "Do as suits with the idler: over the first 12 runs it makes no difference as large as a run.",
        ),
        (
            {"estimate": None, "lower": None, "upper": None, "reason": "one level"},
            "Leave the idler as it is: it cannot be told from this log.",
        ),
    ],
)
def test_what_to_do_follows_the_answer(season, judge, change, said):
    season["headline"]["idler"] |= change
    judge(season, *(["idler"] if "Run" in said else []))["claims"]["idler"]["terms"] = {}
    assert todo_words(season)[0] == said


def test_a_hint_changes_nothing_but_is_to_be_tested(season, judge):
    season["headline"]["idler"] |= {"estimate": 1.9, "lower": 0.6, "upper": 3.1}
    found = judge(season)
    assert todo_words(found)[0] == "Leave the idler as it is until it is tested: there is a hint, not proof."
    assert any("belts on the toothed idler and on the smooth 4 times in 5" in said for said in next_words(found))


def test_what_was_not_written_is_to_be_written(season):
    why = {"reason": "the log has no edge_lube column"}
    season["headline"]["edge_lube"] = season["life"]["edge_lube"] = season["claims"]["edge_lube"] = why
    assert todo_words(season)[2] == (
        "Write down grease on the edges on every run sheet: without that nothing can be told."
    )


def test_a_best_tension_is_to_be_set_within_its_limits(alike_season):
    assert todo_words(alike_season)[1] == (
        "Set belts between 7.2 and 8.9 kN: tensions often run, and none told from the best; this speaks of their "
        f"first {alike_season['life']['overall']['age'][-1]} runs."
    )


def test_belts_that_would_tell_a_run_s_difference_by_hand():
    # reach 1, z = 1.959964, z of .8 = .841621: (2.801585 / 1.959964)^2 = 2.043215 times 50 belts, whatever was seen
    head = {"estimate": 1.0, "lower": 0.0, "upper": 2.0, "confidence": 0.95}
    assert belts_to_tell(head, 50) == 103
    assert belts_to_tell(head | {"estimate": 0.2, "lower": -0.8, "upper": 1.2}, 50) == 103
    assert belts_to_tell(head | {"lower": -4.0, "upper": 6.0}, 50) is None


def test_the_next_test_is_turn_about_where_the_season_came_between_and_counts_belts_once(season, judge):
    season["headline"]["idler"] |= {"estimate": 0.1, "lower": -2.0, "upper": 2.1}
    season["life"]["overall"]["belts"] = 60
    said = next_words(judge(season))
    assert said[0] == "Change the idler turn about through the whole season and on every car, not once."
    assert said[1].startswith(
        "To tell a run's difference between belts on the toothed idler and on the smooth 4 times in"
    )
    assert said[1].endswith("; this season had 60.")
    season["headline"]["idler"] |= {"lower": -0.3, "upper": 1.0}
    assert next_words(judge(season))[1] == (
        "A run's difference between belts on the toothed idler and on the smooth would most likely have shown; a "
        "smaller "
        "one takes more."
    )


def test_where_hardly_a_run_could_be_lost_belts_are_to_be_run_longer(season, judge):
    season["headline"]["idler"] |= {"estimate": 0.0, "lower": -0.3, "upper": 0.3, "horizon_runs": 3, "together": {}}
    claim = judge(season)["claims"]["idler"]
    claim |= {"pairs": {"toothed minus smooth": "too few"}, "terms": {}}
    assert next_words(season)[0] == (
        "Let belts on the toothed idler and on the smooth run longer: hardly one could lose a run of its first 3 runs."
    )


def test_nothing_is_to_be_tested_where_all_is_told(season, judge):
    for head in season["headline"].values():
        head |= {"estimate": 1.9, "lower": 0.6, "upper": 3.1, "together": {}}
    assert next_words(judge(season, "idler", "tension", "edge_lube")) == (
        "Nothing that was asked calls for a test: repeat the study on the next season's log.",
    )


def test_of_three_levels_the_pair_that_is_told_leads_and_no_level_is_advised_beyond_what_it_beats(season, judge):
    claim = judge(season, "edge_lube")["claims"]["edge_lube"]
    claim["terms"] = {}
    claim["pairs"] = dict.fromkeys(claim["pairs"], "too few") | {"install minus none": "shorter"}
    said = answer(season, "edge_lube")
    assert said.better == "none"
    assert "belts greased when fitted made" in said.finding
    assert any(
        line.startswith("Run belts never greased rather than greased when fitted") for line in todo_words(season)
    )
    claim["pairs"]["every-run minus none"] = "shorter"
    assert any(
        line.startswith(("Run belts never greased;", "Run belts never greased until")) for line in todo_words(season)
    )


def test_where_nothing_could_be_answered_no_test_is_ruled_out(season):
    for name in season["headline"]:
        season["headline"][name] = {"reason": "one level"}
    assert next_words(season) == ("What to test cannot be told, for nothing could be answered.",)
