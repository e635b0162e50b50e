"""Next season's test: Schoenfeld 1981, the loop against the hazard fit, seasons lived belt by belt, laws, a plan."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivekit.decide._trial import likelihood, trial_seasons
from drivekit.decide.ages import redrawn
from drivekit.decide.next_trial import (
    NextSeason,
    belts_needed,
    gain_runs,
    power,
    ratio_of_gain,
    schoenfeld_failures,
    smallest_effect,
    trial_plan,
)
from drivekit.life.cox import fit
from drivekit.life.riskset import RiskSets

HAZARD = np.array([0.03, 0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4])
OTHER = np.full(8, 0.04)
SEASON = NextSeason(HAZARD, OTHER, (3, 2), 0.95, 7)
TWO, FOUR = [("smooth", "toothed")], [("smooth", "toothed"), ("none", "install")]


def test_failures_that_schoenfeld_1981_asks_for() -> None:
    # 80 % power, 5 % two-sided, arms of one size: 65.3 at a ratio of 2, 190.9 at 1.5
    assert schoenfeld_failures(2) == schoenfeld_failures(0.5) == 66
    assert schoenfeld_failures(1.5) == 191
    with pytest.raises(ValueError, match="above 0 and not 1; 1 was given"):
        schoenfeld_failures(1)


def test_the_loop_has_the_likelihood_of_the_hazard_fit() -> None:
    rng = np.random.default_rng(2)
    at_risk = np.array([[[9, 7, 4], [8, 7, 6]], [[5, 4, 2], [6, 5, 3]]])
    failed_at = rng.binomial(at_risk, 0.4)
    rows = [
        (age + 1, k < failed_at[car, arm, age], float(arm), car)
        for car in range(2)
        for arm in range(2)
        for age in range(3)
        for k in range(at_risk[car, arm, age])
    ]
    age, failed, arm, car = (np.array(column) for column in zip(*rows, strict=True))
    found = fit(RiskSets.of(age, failed, arm[:, None], car))
    loglik, slope, curve = likelihood(at_risk, failed_at, found.coef[0])
    null = likelihood(at_risk, failed_at, 0.0)[0]
    at_zero = fit(RiskSets.of(age, failed, np.zeros((age.size, 0)), car)).loglik
    assert slope == pytest.approx(0, abs=1e-8)
    assert curve == pytest.approx(1 / found.se[0] ** 2)
    assert loglik - null == pytest.approx(found.loglik - at_zero)


def lived(rng: np.random.Generator, ratio: float) -> tuple[bool, int, int]:
    """Live one season of 24 belts on two cars belt by belt, and analyse its run table."""
    age, failed, arm, car = [], [], [], []
    for belt in range(24):
        for run in range(1, 9):
            chance = 1 - (1 - HAZARD[run - 1]) ** (ratio if belt % 2 else 1)
            gone = rng.random() < chance
            age.append(run), failed.append(gone), arm.append([float(belt % 2)]), car.append(int(belt >= 14))
            if gone or rng.random() < OTHER[run - 1]:
                break
    rows = np.array(age), np.array(failed), np.array(arm), np.array(car)
    more = fit(RiskSets.of(*rows)).loglik - fit(RiskSets.of(rows[0], rows[1], np.zeros((len(age), 0)), rows[3])).loglik
    return 2 * more >= 3.841458820694124, sum(failed), len(age)


def test_seasons_lived_belt_by_belt_tell_as_often() -> None:
    rng = np.random.default_rng(4)
    seen = np.mean([lived(rng, 0.35) for _ in range(700)], axis=0)
    found = power(NextSeason(HAZARD, OTHER, (7, 5), 0.95, 1), 24, 0.35)
    assert found.belts == 24
    assert found.told == pytest.approx(seen[0], abs=0.055)
    assert (found.failures, found.runs) == pytest.approx(seen[1:], rel=0.02)


def test_a_difference_that_is_not_there_is_told_about_as_often_as_said() -> None:
    assert power(SEASON, 60, 1.0).told == pytest.approx(0.05, abs=0.012)


def test_the_belts_needed_bring_the_power_wanted_and_about_schoenfelds_failures() -> None:
    belts, curve = belts_needed(SEASON, 0.5, 0.8)
    assert belts is not None
    assert len(curve) == 6
    found = power(NextSeason(HAZARD, OTHER, (3, 2), 0.95, 99), belts, 0.5)
    assert found.told == pytest.approx(0.8, abs=0.015)
    assert found.failures == pytest.approx(schoenfeld_failures(0.5), rel=0.1)
    more, _ = belts_needed(SEASON, 0.5, 0.9)
    assert more is not None
    assert more > belts


def test_the_smallest_effect_is_told_with_the_power_wanted() -> None:
    belt, age = np.repeat(np.arange(40), 3), np.tile([1, 2, 3], 40)
    drawn = redrawn(age, (age == 3) & (belt % 3 > 0), belt, np.zeros(120, int), 1, generator=np.random.default_rng(1))
    season = NextSeason(np.array([0.05, 0.1, 0.6]), np.zeros(3), (1,), 0.95, 3)
    found = smallest_effect(season, drawn[:, 0], 80)
    assert found.estimate is not None
    assert found.lower is not None
    assert found.upper is not None
    assert found.lower <= found.estimate <= found.upper < 1
    assert power(season, 80, found.estimate).told == pytest.approx(0.8, abs=0.02)
    assert smallest_effect(season, drawn[:, 0], 8).reason == (
        "with 8 belts not even a fiftieth of the failures would be told from all of them"
    )
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("drivekit.decide.next_trial.MOST_LIVED", 400)
        many = smallest_effect(season, drawn[:, 0], 1000).estimate
    assert many is not None
    assert power(season, 1000, many).told == pytest.approx(0.8, abs=0.02)
    none = NextSeason(np.zeros(3), np.zeros(3), (1,), 0.95, 3)
    assert smallest_effect(none, drawn[:, 0], 80).reason == "no failure was seen, so that none can be foreseen"


def test_too_small_a_difference_is_beyond_any_season() -> None:
    assert belts_needed(SEASON, 0.98) == (None, ())


def test_one_arm_without_failures_ends_the_search_for_a_ratio() -> None:
    tally = np.zeros(3, np.int64)
    trial_seasons(
        np.random.default_rng(1), 50, np.array([[20, 20]]), np.array([0.5, 0.5]), np.zeros(2), 1e-9, 3.84, tally
    )
    assert tally[0] == 50


def test_a_gain_in_runs_and_its_ratio_lead_to_each_other() -> None:
    # S: 1, .5, .25 against 1, sqrt(.5), .5: out of three runs 1.75 against 1 + .7071 + .5
    assert gain_runs(np.array([0.5, 0.5, 0.3]), 0.5) == pytest.approx(np.sqrt(0.5) + 0.5 - 0.75)
    assert ratio_of_gain(HAZARD, gain_runs(HAZARD, 0.6)) == pytest.approx(0.6)
    assert ratio_of_gain(HAZARD, 50.0) is None


@given(st.floats(0.05, 0.9), st.floats(0.05, 0.9))
def test_the_nearer_to_no_difference_the_more_failures_it_takes(one: float, other: float) -> None:
    far, near = sorted((one, other))
    assert schoenfeld_failures(far) <= schoenfeld_failures(near)


def test_a_seed_gives_the_same_seasons_and_another_others() -> None:
    one, again = (power(replace(SEASON, seasons=3000), 30, 0.5) for _ in range(2))
    assert one == again
    assert one != power(replace(SEASON, seasons=3000, seed=8), 30, 0.5)


@pytest.mark.parametrize(("belts", "ratio"), [(1, 0.5), (20, 0.0)])
def test_what_is_no_test_is_refused(belts: int, ratio: float) -> None:
    with pytest.raises(ValueError, match="a test needs 2 belts or more and a ratio above 0"):
        power(SEASON, belts, ratio)


def test_every_block_stays_on_one_car_and_holds_every_arm_once() -> None:
    plan = trial_plan({"amber": 6, "teal": 2}, FOUR, 5)
    assert Counter(one.car for one in plan) == {"amber": 24, "teal": 8}
    for block in range(1, 9):
        within = [one for one in plan if one.block == block]
        assert len({one.car for one in within}) == 1
        assert sorted(one.arm for one in within) == [
            ("smooth", "install"), ("smooth", "none"), ("toothed", "install"), ("toothed", "none"),
        ]  # fmt: skip
    assert [one.line for one in plan if one.car == "teal"] == ["1a", "1b", "1c", "1d", "2a", "2b", "2c", "2d"]
    assert len({one.belt for one in plan}) == 32


def test_either_idler_comes_first_about_as_often() -> None:
    first = Counter(one.arm for seed in range(200) for one in trial_plan({"amber": 5}, TWO, seed)[::2])
    assert first["smooth",] == pytest.approx(500, abs=50)
    assert first.total() == 1000


def test_a_seed_draws_the_same_plan_again_and_another_one_another() -> None:
    one, again, other = (trial_plan({"amber": 10, "teal": 10}, TWO, seed) for seed in (3, 3, 4))
    assert one == again != other


@pytest.mark.parametrize(
    ("blocks", "settings"),
    [({"amber": 0}, TWO), ({}, TWO), ({"amber": 4}, [("x",)]), ({"amber": 1}, [range(3), range(9)])],
)
def test_what_makes_no_plan_is_refused(blocks: dict[str, int], settings: list[tuple[str, ...]]) -> None:
    with pytest.raises(ValueError, match="a plan needs a block of belts, and 2 to 26 arms"):
        trial_plan(blocks, settings, 1)
