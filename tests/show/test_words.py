"""The answers are computed sentences in the crew's words."""

import copy

import pytest

from drivekit.show.words import INVENTED, answer, differences, exploratory_answer, headlines, verdict


def headed(found, name, **changes):
    changed = copy.deepcopy(found)
    changed["headline"][name] |= changes
    return changed


def test_a_longer_life_is_said_with_its_interval_and_the_belts_behind_it(season):
    levels = {
        "smooth": {"belts": 31, "failed": 15, "runs": 200, "mean": 8.0},
        "toothed": {"belts": 48, "failed": 21, "runs": 400, "mean": 9.9},
    }
    told = {"estimate": 1.9, "lower": 0.6, "upper": 3.1, "levels": levels, "together": {"time": False, "car": False}}
    said = answer(headed(season, "idler", **told), "idler")
    assert str(said) == (
        "Belts on the toothed idler made 1.9 more of their first 12 runs than on the smooth (95 %: 0.6 to 3.1); "
        "21 of 48 failed, against 15 of 31."
    )
    assert said.verdict == "longer"


def test_a_shorter_life_is_said_as_fewer_runs(season):
    said = str(answer(headed(season, "idler", estimate=-1.9, lower=-3.1, upper=-0.6), "idler"))
    assert said.startswith(
        "Belts on the toothed idler made 1.9 fewer of their first 12 runs than on the smooth (95 %: 0.6 to 3.1 fewer); "
    )


def test_a_broad_interval_about_zero_is_too_few_belts_to_tell(season):
    said = answer(headed(season, "idler", estimate=0.4, lower=-1.5, upper=2.2), "idler")
    assert str(said).startswith("Too few belts to tell: belts on the toothed idler made 0.4 more of")
    assert "(95 %: 1.5 fewer to 2.2 more)" in str(said)
    assert said.verdict == "too few"


def test_a_narrow_interval_about_zero_is_no_difference_as_large_as_a_run(season):
    said = answer(headed(season, "idler", estimate=0.01, lower=-0.8, upper=0.8), "idler")
    assert str(said).startswith(
        "No difference as large as a run: belts on the toothed idler made as many of their first 12 runs as on the "
        "smooth"
    )


@pytest.mark.parametrize(
    ("lower", "upper", "judged"),
    [
        (0.1, 2.0, "longer"),
        (-2.0, -0.1, "shorter"),
        (-0.99, 0.99, "no difference"),
        (-1.0, 0.5, "too few"),
        (-0.5, 1.0, "too few"),
        (0.0, 3.0, "too few"),
        (None, 3.0, "no answer"),
    ],
)
def test_the_rule_for_too_few_belts(lower, upper, judged):
    assert verdict({"estimate": 0.5, "lower": lower, "upper": upper}) == judged


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
    said = answer(headed(season, "tension", together={"time": False, "car": True}), "tension")
    expected = "but the belts at middle tension did not run on all cars alike, so part of this may be the cars' doing"
    assert said.warning == expected
    assert expected in said.title


def test_of_three_levels_the_headline_pair_comes_first_and_its_neighbours_in_a_second_sentence(season):
    said = str(answer(season, "tension"))
    pairs = season["life"]["tension"]["mean_difference"]
    middle = "Belts at middle tension made 2.1 more of their first 12 runs than at low (95 %: 0.7 to 3.4)"
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


def standardised(found):
    """Let the grease answer be one that holds the other settings alike, over another horizon."""
    changed = headed(
        found,
        "edge_lube",
        basis="standardised",
        horizon_runs=9,
        estimate=1.0,
        lower=0.2,
        upper=1.9,
        together={"time": False, "car": True},
    )
    pairs = {
        "install minus none": {"estimate": 0.2, "lower": -0.9, "upper": 1.2},
        "every-run minus none": {"estimate": 1.0, "lower": 0.2, "upper": 1.9},
        "every-run minus install": {"estimate": 0.8, "lower": -0.6, "upper": 1.9},
    }
    changed["standardised"] = {"edge_lube": {"mean_difference": pairs}}
    return changed


def test_a_standardised_answer_says_what_it_holds_alike_and_never_mixes_horizons(season):
    said = str(answer(standardised(season), "edge_lube"))
    assert said.startswith(
        "With car, idler and tension alike, belts greased on every run make 1.0 more of their first 9 runs than belts "
        "never greased (95 %: 0.2 to 1.9); "
    )
    assert "Belts greased when fitted make 0.2 more than belts never greased (0.9 fewer to 1.2 more: too few" in said


def test_a_standardised_answer_no_longer_warns_of_the_car_but_still_of_the_season(season):
    changed = standardised(season)
    assert answer(changed, "edge_lube").warning == ""
    changed["headline"]["edge_lube"]["together"] = {"time": True, "car": True}
    assert answer(changed, "edge_lube").warning.endswith("so part of this may be the season's doing")


def test_every_pair_of_a_setting_stands_on_the_footing_of_its_headline(season):
    changed = standardised(season)
    assert differences(changed, "edge_lube")["install minus none"]["estimate"] == 0.2
    del changed["standardised"]
    assert list(differences(changed, "edge_lube")) == ["every-run minus none"]
    assert differences(season, "tension") == {
        **season["life"]["tension"]["mean_difference"],
        "middle minus low": season["headline"]["tension"],
    }
