"""Numbers are said as a crew says them, and no finer than they are known."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivekit.show.phrases import (
    amount,
    by_run,
    chance,
    counted,
    decimal,
    listed,
    log_words,
    nearness,
    percent,
    spread,
    sure,
    wording,
    wording_of_term,
)


@pytest.mark.parametrize(
    ("value", "said"),
    [(1.9, "1.9"), (0.6, "0.6"), (-0.4, "-0.4"), (0.04, "0"), (-0.04, "0"), (20.26, "20.3"), (0.96, "1.0")],
)
def test_a_number_below_one_is_said_with_its_zero(value, said):
    assert decimal(value) == said


@pytest.mark.parametrize(
    ("lower", "upper", "said"),
    [
        (0.6, 3.1, "0.6 to 3.1"),
        (-3.1, -0.6, "0.6 to 3.1 fewer"),
        (-1.5, 2.2, "1.5 fewer to 2.2 more"),
        (0.0, 2.0, "0 to 2.0"),
    ],
)
def test_the_direction_of_an_interval_cannot_be_misread(lower, upper, said):
    assert spread(lower, upper) == said


@pytest.mark.parametrize(("estimate", "said"), [(1.9, "1.9 more of"), (-1.9, "1.9 fewer of"), (0.01, "as many of")])
def test_a_difference_says_more_or_fewer(estimate, said):
    assert amount(estimate) == said


@pytest.mark.parametrize(
    ("share", "said"), [(0.0, "0 %"), (0.004, "under 1 %"), (0.236, "24 %"), (0.997, "over 99 %"), (1.0, "100 %")]
)
def test_a_share_that_is_neither_none_nor_all_is_never_rounded_to_either(share, said):
    assert percent(share) == said


@pytest.mark.parametrize(
    ("p", "said"),
    [
        (1.0, "nearly every time"),
        (0.62, "6 times in 10"),
        (0.2, "2 times in 10"),
        (0.19, "1 time in 5"),
        (0.051, "1 time in 20"),
        (0.0247, "1 time in 40"),
        (0.0021, "1 time in 500"),
        (0.00049, "less than 1 time in 2,000"),
        (0.0, "less than 1 time in 2,000"),
    ],
)
def test_a_chance_is_said_as_odds(p, said):
    assert chance(p) == said


@given(st.floats(0, 1))
def test_odds_are_never_far_from_the_chance_they_stand_for(p):
    said = chance(p)
    if said.startswith("1 time in"):
        assert 1 / int(said.removeprefix("1 time in ").replace(",", "")) == pytest.approx(p, rel=0.35)
    elif said.endswith("times in 10"):
        assert int(said.split()[0]) / 10 == pytest.approx(p, abs=0.0501)


@pytest.mark.parametrize(
    ("age", "said"),
    [
        ({"estimate": 12, "lower": 9, "upper": 15}, "half had failed by run 12 (9 to 15)"),
        ({"estimate": 12, "lower": 9, "upper": None}, "half had failed by run 12 (run 9 or later)"),
        ({"estimate": 12, "lower": None, "upper": 15}, "half had failed by run 12 (run 15 or earlier)"),
        ({"estimate": 12, "lower": None, "upper": None}, "half had failed by run 12 (limits cannot be told)"),
        ({"estimate": 2, "lower": 2, "upper": 2}, "half had failed by run 2 (limits: the same run)"),
        ({"estimate": None, "lower": 9, "upper": None}, "half had not failed by run 21, the oldest"),
    ],
)
def test_a_limit_that_cannot_be_had_is_said(age, said):
    assert by_run({"median": age, "age": [21]}, "half") == said


def test_where_every_belt_went_is_said_and_adds_up():
    log = {"name": "two", "belts": 71, "runs": 490, "failed": 47, "censored": 21, "unused": 2, "unknown_age": 1}
    went = "47 failed, 21 still running or taken off early"
    assert log_words(log) == f"two: 71 belts and 490 runs; {went}, 2 never ran, 1 of unknown age stayed out."
    assert log_words(log | {"belts": 70}).endswith(f"{went}, 2 never ran or are of unknown age.")
    assert log_words(log | {"belts": 68, "unused": 0, "unknown_age": 0, "name": None}) == (
        f"The log: 68 belts and 490 runs; {went}."
    )


def test_what_is_only_rounding_is_given_no_number():
    assert nearness(4e-16) == "all agree to 9 digits or more"
    assert nearness(2.3e-7) == "the largest difference was 0.0000002"


def test_words_are_counted_and_listed_as_in_a_sentence():
    assert counted(1, "belt") == "1 belt"
    assert counted(2, "belt") == "2 belts"
    assert listed([]) == ""
    assert listed(["a"]) == "a"
    assert listed(["a", "b", "c"]) == "a, b and c"
    assert sure({"settings": {"confidence": 0.95}}) == "95 %"
    assert sure({"settings": {"confidence": 0.975}}) == "97.5 %"


def test_each_setting_and_level_is_spoken_of_as_the_findings_say(season):
    idler = wording(season, "idler")
    assert (idler.noun, idler.phrase("toothed"), idler.brief("smooth")) == (
        "the idler",
        "on the toothed idler",
        "on the smooth",
    )
    assert [wording(season, name).those(level) for name, level in (("idler", "smooth"), ("edge_lube", "none"))] == [
        "on the smooth",
        "belts never greased",
    ]


def test_a_level_without_a_phrase_is_spoken_of_by_its_name(season):
    assert wording(season, "width").phrase("85 mm") == "85 mm wide"
    assert wording(season, "compound").brief("cork") == "with compound cork"


def test_a_term_of_the_fit_tells_its_setting_and_level(season):
    told = {term: wording_of_term(season, term) for term in season["hazard"]["terms"]}
    assert {term: (words.held, level) for term, (words, level) in told.items()} == {
        "idler[toothed]": ("idler", "toothed"),
        "tension_kn": ("tension", ""),
        "edge_lube[install]": ("grease", "install"),
        "edge_lube[every-run]": ("grease", "every-run"),
    }
