"""What is said before the team follows from the findings by its rules."""

import pytest

from drivekit.show.team_words import (
    asked_words,
    believed_words,
    belts_to_tell,
    doubts_words,
    next_words,
    todo_words,
)


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


def test_doubts_name_the_season_s_doing_the_precautions_and_what_is_too_few(season):
    said = doubts_words(season)
    assert said[0] == (
        "For the idler: the belts on the toothed idler came in as the season went on, so part of this may be the "
        "season's doing."
    )
    assert "20 belts came off as a precaution; if those were about to fail, the lives are too long." in said
    assert "For the idler there are too few belts: no difference seen is not the same as none." in said


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            {"estimate": 1.9, "lower": 0.6, "upper": 3.1},
            "Run belts on the toothed idler until it is tested turn about.",
        ),
        (
            {"estimate": -1.9, "lower": -3.1, "upper": -0.6},
            "Run belts on the smooth idler until it is tested turn about.",
        ),
        ({"estimate": 0.4, "lower": -1.5, "upper": 2.2}, "Leave the idler as it is: too few belts to tell."),
        (
            {"estimate": 0.1, "lower": -0.5, "upper": 0.6},
            "Do as suits with the idler: it makes no difference as large as a run.",
        ),
        (
            {"estimate": None, "reason": "one level"},
            "Write down the idler on every run sheet: without that nothing can be told.",
        ),
    ],
)
def test_what_to_do_follows_the_answer(season, change, said):
    season["headline"]["idler"] |= change
    assert todo_words(season)[0] == said


def test_a_best_tension_is_to_be_set_within_its_limits(alike_season):
    assert todo_words(alike_season)[1] == "Set belts to 8.0 kN, and keep them between 7.2 and 8.9 kN."


def test_belts_that_would_tell_a_difference_by_hand():
    # reach 1, difference 1, z = 1.959964, z of .8 = .841621: (2.801585 / 1.959964)^2 = 2.043215 times 50 belts
    head = {"estimate": 1.0, "lower": 0.0, "upper": 2.0, "confidence": 0.95}
    assert belts_to_tell(head, 50) == 103
    assert belts_to_tell(head | {"estimate": 0.2, "lower": -0.8, "upper": 1.2}, 50) is None
    assert belts_to_tell(head | {"estimate": 0.0, "lower": -1.0, "upper": 1.0}, 50) is None


def test_the_next_test_is_turn_about_where_the_season_came_between_and_counts_belts_where_too_few(season):
    said = next_words(season)
    assert said[0] == "Change the idler turn about through the whole season and on every car, not once."
    assert said[1].startswith("If the difference of 0.")
    assert "belts on the toothed idler and on the smooth is real, about " in said[1]
    season["headline"]["idler"] |= {"estimate": 1.9, "lower": 0.6, "upper": 3.1, "together": {}}
    assert next_words(season) == (
        "Nothing that was asked calls for a test: repeat the study on the next season's log.",
    )
