"""The answers are computed sentences in the crew's words."""

import copy

import pytest

from drivekit.show.words import INVENTED, answer, curves_answer, exploratory_answer, headlines, verdict
from tests.show.conftest import judged

FELL = "ith cars and other settings as they fell, "


def headed(found, name, **changes):
    changed = copy.deepcopy(found)
    changed["headline"][name] |= changes
    return judged(changed, "idler", "tension", "edge_lube")


def untold(found, name, **changes):
    changed = judged(headed(found, name, **changes))
    changed["claims"][name]["terms"] = dict.fromkeys(changed["claims"][name].get("terms", ()), "too few")
    return changed


def test_a_longer_life_is_said_with_its_interval_and_the_belts_behind_it(season):
    levels = {
        "smooth": {"belts": 31, "failed": 15, "runs": 200, "mean": 8.0},
        "toothed": {"belts": 48, "failed": 21, "runs": 400, "mean": 9.9},
    }
    told = {"estimate": 1.9, "lower": 0.6, "upper": 3.1, "levels": levels, "together": {"time": False, "car": False}}
    said = answer(headed(season, "idler", **told), "idler")
    assert str(said) == (
        f"W{FELL}belts on the toothed idler made 1.9 more of their first 12 runs than on the smooth (95 %: 0.6 to "
        "3.1); 21 of 48 failed, against 15 of 31."
    )
    assert said.verdict == "longer"


def test_a_shorter_life_is_said_as_fewer_runs(season):
    said = str(answer(headed(season, "idler", estimate=-1.9, lower=-3.1, upper=-0.6), "idler"))
    assert said.startswith(
        f"W{FELL}belts on the toothed idler made 1.9 fewer of their first 12 runs than on the smooth (95 %: 0.6 to 3.1 "
        "fewer); "
    )


def test_a_broad_interval_about_zero_is_too_few_belts_to_tell(season):
    said = answer(untold(season, "idler", estimate=0.4, lower=-1.5, upper=2.2), "idler")
    assert str(said).startswith(f"Too few belts to tell: w{FELL}belts on the toothed idler made 0.4 more of")
    assert "(95 %: 1.5 fewer to 2.2 more)" in str(said)
    assert said.verdict == "too few"


def test_a_narrow_interval_about_zero_is_no_difference_as_large_as_a_run(season):
    said = answer(untold(season, "idler", estimate=0.01, lower=-0.8, upper=0.8), "idler")
    assert str(said).startswith(
        f"No difference as large as a run: w{FELL}belts on the toothed idler made as many of their first 12 runs as on "
        "the smooth"
    )


def test_what_may_be_claimed_of_a_pair_is_looked_up_and_not_judged_again(season):
    season["claims"]["idler"]["pairs"]["toothed minus smooth"] = "shorter"
    assert verdict(season, "idler", "toothed minus smooth") == "shorter"
    assert verdict(season, "idler", "smooth minus toothed") == "no answer"
    assert verdict(season, "compound", "urethane minus rubber") == "no answer"


def test_an_interval_that_leaves_out_zero_without_the_test_is_a_hint(season):
    said = answer(untold(season, "idler", estimate=1.9, lower=0.6, upper=3.1), "idler")
    assert str(said).startswith(f"A hint, not proof: w{FELL}belts on the toothed idler made 1.9 more")
    assert "; one question in 20 looks like this by chance, and three were asked; " in str(said)
    assert (said.verdict, said.better) == ("hint", "")


def test_failures_told_apart_and_runs_not_are_said_in_one_sentence(season):
    said = answer(headed(season, "idler", estimate=0.4, lower=-1.5, upper=2.2), "idler")
    assert said.finding == (
        "With car, tension and grease alike, belts on the toothed idler had 60 % fewer failures a run than on the "
        "smooth (95 %: 28 to 78 % fewer), "
        "but how many of their first 12 runs that makes cannot be told (1.5 fewer to 2.2 more)"
    )
    assert (said.verdict, said.better) == ("longer", "toothed")


def test_a_question_told_without_a_level_told_says_so(season):
    changed = headed(season, "edge_lube", estimate=0.4, lower=-1.5, upper=2.2)
    claim = changed["claims"]["edge_lube"]
    claim["pairs"], claim["terms"] = dict.fromkeys(claim["pairs"], "too few"), dict.fromkeys(claim["terms"], "too few")
    assert str(answer(changed, "edge_lube")).startswith(
        "That grease on the edges matters is told, but not which is better. Too few belts to tell: "
    )


def test_a_question_that_cannot_be_asked_says_why(season):
    season["claims"]["tension"] = {"reason": "tension was nearly the same on all runs"}
    said = answer(season, "tension")
    assert said.finding == "What tension does to a belt's life cannot be told: tension was nearly the same on all runs"


def test_a_width_of_zero_is_no_answer(season):
    said = answer(untold(season, "idler", estimate=0.0, lower=0.0, upper=0.0, horizon_runs=3), "idler")
    assert said.finding == "Too few belts to tell what the idler does: no belt could lose one of its first 3 runs"
    said = answer(untold(season, "idler", estimate=0.0, lower=0.0, upper=0.0, horizon_runs=1), "idler")
    assert said.finding == "Too few belts to tell what the idler does: every belt makes its first run"


def test_nor_is_it_one_between_the_other_levels(season):
    pairs = season["headline"]["edge_lube"]["pairs"]
    assert answer(season, "edge_lube").further
    for contrast in pairs:
        if contrast != season["headline"]["edge_lube"]["contrast"]:
            pairs[contrast] |= {"estimate": 0.0, "lower": 0.0, "upper": 0.0}
    assert not answer(season, "edge_lube").further


def test_a_hint_in_failures_a_run_is_the_answers_hint_too(season):
    said = answer(judged(headed(season, "idler", estimate=0.6, lower=-0.1, upper=1.3)), "idler")
    assert said.verdict == "hint"
    assert said.finding == (
        "A hint, not proof: with car, tension and grease alike, belts on the toothed idler had 60 % fewer failures a "
        "run than on the smooth (95 %: "
        "28 to 78 % fewer), but how many of their first 12 runs that makes cannot be told (0.1 fewer to 1.3 more); one "
        "question in 20 looks like this by chance, and three were asked"
    )


def test_what_is_asked_again_or_was_not_planned_says_so_in_its_hint(season):
    again = untold(season, "idler", estimate=1.9, lower=0.6, upper=3.1)
    again["claims"]["idler"] = {"reason": "asked again", "pairs": again["claims"]["idler"]["pairs"]}
    assert "; it is asked again here, of these runs alone; " in str(answer(again, "idler"))
    support = season["life"]["more"]["idler_support"]
    support["claims"]["pairs"]["three-point minus single"] = "hint longer"
    said = str(exploratory_answer(season, "idler_support"))
    assert said.startswith("Exploratory: a hint, not proof: belts on an idler held at three points made")
    assert "; nobody planned to ask it; " in said


def test_a_setting_that_came_with_the_season_carries_the_warning_in_its_sentence(season):
    said = str(answer(headed(season, "idler", together={"time": True, "car": False}), "idler"))
    assert said.endswith(
        "; but the belts on the toothed idler came in as the season went on, so part of this may be the season's doing."
    )


@pytest.mark.parametrize(
    ("thirds", "when"),
    [
        ([9, 5, 1], "ran mostly early in the season"),
        ([1, 9, 1], "ran mostly in mid-season"),
        ([0, 0, 0], "did not run evenly over the season"),
    ],
)
def test_the_warning_says_when_the_level_was_run(season, thirds, when):
    changed = headed(season, "idler", together={"time": True, "car": True})
    changed["overlap"]["idler"]["time"]["levels"]["toothed"] = thirds
    assert answer(changed, "idler").warning == (
        f"but the belts on the toothed idler {when}, and not on all cars alike, "
        "so part of this may be the season's or the cars' doing"
    )


def test_a_setting_that_came_with_a_car_says_so(season):
    said = answer(untold(season, "tension", together={"time": False, "car": True}), "tension")
    expected = "but the belts at middle tension did not run on all cars alike, so part of this may be the cars' doing"
    assert said.warning == expected
    assert expected in said.title


def test_of_three_levels_the_headline_pair_comes_first_and_its_neighbours_in_a_second_sentence(season):
    said = str(answer(season, "tension"))
    pairs = season["life"]["tension"]["mean_difference"]
    middle = (
        f"A hint, not proof: w{FELL}belts at middle tension made 2.1 more of their first 12 runs than at low (95 %: "
        "0.7 "
        "to 3.4)"
    )
    assert said.startswith(middle)
    assert pairs["high minus middle"]["estimate"] == pytest.approx(-0.719, abs=0.001)
    high = "Belts at high tension made 0.7 fewer than at middle (2.1 fewer to 0.7 more: too few belts to tell)"
    assert f". {high}" in said
    assert said.count(". ") == 1


def test_a_block_with_a_reason_is_answered_with_it(season):
    changed = copy.deepcopy(season)
    changed["headline"]["edge_lube"] = {"reason": "the log has no edge_lube column"}
    changed["life"]["edge_lube"] = {"reason": "the log has no edge_lube column"}
    said = answer(changed, "edge_lube")
    assert str(said) == (
        "What grease on the edges does to a belt's life cannot be told: the log has no edge_lube column."
    )
    assert said.verdict == "no answer"


def test_belts_are_counted_even_where_no_answer_can_be_given(findings_of):
    assert str(answer(findings_of("one level"), "idler")) == (
        "What the idler does to a belt's life cannot be told: every run was made on one idler, smooth: nothing to "
        "compare it with; failed: 8 of 12 on the smooth."
    )


def test_a_comparison_nobody_planned_is_called_exploratory(season):
    said = str(exploratory_answer(season, "idler_support"))
    assert said.startswith("Exploratory: ")
    assert "belts on an idler held at three points made" in said
    assert str(exploratory_answer(season, "compound")) == (
        "Exploratory: compound cannot be compared: the log has no compound column."
    )


def test_invented_data_are_called_invented_where_the_headlines_are_printed(season):
    assert len(headlines(season)) == 4
    assert headlines(season)[-1] == INVENTED
    changed = copy.deepcopy(season)
    changed["log"]["invented"] = False
    assert INVENTED not in headlines(changed)


def test_no_headline_holds_a_bare_chance_or_claims_significance(demo, awkward):
    for found in (demo, awkward):
        for sentence in headlines(found):
            low = sentence.lower()
            assert "significan" not in low
            assert "p =" not in low
            assert "nan" not in low
            assert "none " not in low.replace("none failed", "")
            assert sentence.endswith(".")
            assert ".." not in sentence


def test_the_words_of_the_demo_are_those_of_its_numbers(demo):
    head = demo["headline"]["idler"]
    said = str(answer(demo, "idler"))
    size, more = f"{abs(head['estimate']):.1f}".removeprefix("0"), "more" if head["estimate"] > 0 else "fewer"
    assert f"make {size} {more} of their first {head['horizon_runs']} runs" in said
    toothed, smooth = (head["levels"][level] for level in ("toothed", "smooth"))
    assert f"{toothed['failed']} of {toothed['belts']} failed, against {smooth['failed']} of {smooth['belts']}" in said


def standardised(found, **changes):
    """Let the grease answer be one that holds the other settings alike, over another horizon."""
    changed = copy.deepcopy(found)
    changed["headline"]["edge_lube"] |= {
        "basis": "standardised",
        "horizon_runs": 9,
        "estimate": 1.0,
        "lower": 0.2,
        "upper": 1.9,
        "together": {"time": False, "car": True},
    } | changes
    pairs = {
        "install minus none": {"estimate": 0.2, "lower": -0.9, "upper": 1.2},
        "every-run minus none": {"estimate": 1.0, "lower": 0.2, "upper": 1.9},
        "every-run minus install": {"estimate": 0.8, "lower": -0.6, "upper": 1.9},
    }
    changed["standardised"]["edge_lube"] = {"mean_difference": pairs, "levels": {}, "horizon_runs": 9}
    return judged(changed, "edge_lube")


def test_a_standardised_answer_says_what_it_holds_alike_and_never_mixes_horizons(season):
    said = str(answer(standardised(season), "edge_lube"))
    assert said.startswith(
        "With car, idler and tension alike, belts greased on every run make 1.0 more of their first 9 runs than belts "
        "never greased (95 %: 0.2 to 1.9); "
    )
    assert "Belts greased when fitted make 0.2 more than belts never greased (0.9 fewer to 1.2 more: too few" in said


def test_a_standardised_answer_no_longer_warns_of_the_car_but_still_of_the_season(season):
    assert answer(standardised(season), "edge_lube").warning == ""
    both = standardised(season, together={"time": True, "car": True})
    assert answer(both, "edge_lube").warning.endswith("so part of this may be the season's doing")


@pytest.mark.parametrize(
    ("alike", "curve", "judged_as"),
    [
        ((0.2, 1.9), (0.6, 3.1), "longer"),
        ((-1.9, -0.2), (0.6, 3.1), "too few"),
        ((-0.9, 0.8), (0.6, 3.1), "too few"),
        ((0.2, 1.9), (-0.5, 0.6), "too few"),
        ((0.2, 1.9), (-2.0, 3.0), "too few"),
    ],
)
def test_the_curves_alone_claim_nothing_that_the_answer_does_not(season, alike, curve, judged_as):
    changed = standardised(season, lower=alike[0], upper=alike[1])
    changed["claims"]["edge_lube"]["terms"] = {}
    pair = changed["life"]["edge_lube"]["mean_difference"]["every-run minus none"]
    pair |= {"lower": curve[0], "upper": curve[1]}
    said = curves_answer(changed, "edge_lube")
    assert said.verdict == judged_as
    assert f"ith {FELL[4:]}" in said.finding
    assert said.further == "Held alike it is 1.0 more of the first 9 runs"
