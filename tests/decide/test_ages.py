"""How belts fail age by age, and seasons with other belts drawn: by hand, one belt at a time, and in processes."""

from concurrent.futures import ThreadPoolExecutor
from fractions import Fraction

import numpy as np
import pytest

from drivekit.decide.ages import hazards, mean_over_belts, percentiles, reach, redrawn, shares
from drivekit.life.curve import curve

# Belts 0 to 5 make 3, 3, 1, 2, 2 and 1 runs; belt 0 came with two runs on it. Belts 1, 2, 3 and 5 fail on their last.
BELT = np.array([0, 0, 0, 1, 1, 1, 2, 3, 3, 4, 4, 5])
AGE = np.array([3, 4, 5, 1, 2, 3, 1, 1, 2, 1, 2, 1])
FAILED = np.array([0, 0, 0, 0, 0, 1, 1, 0, 1, 0, 0, 1], bool)
IDLER = np.array([0, 0, 1, 0, 0, 0, 1, 1, 1, -1, 0, 0])


def test_ages_by_hand() -> None:
    # at risk 5, 3, 2, 1, 1 on runs 1 to 5; failed 2, 1, 1, 0, 0
    found = curve(AGE, FAILED, BELT)
    assert reach(found) == 1
    assert hazards(found, 5).tolist() == pytest.approx([2 / 5, 1 / 3, 1 / 2, 0, 0])
    by_hand = [1, Fraction(3, 5), Fraction(2, 5), Fraction(1, 5), Fraction(1, 5), Fraction(1, 5)]
    assert shares(found, found.survival, 5) == pytest.approx([float(share) for share in by_hand])


def test_a_curve_stands_still_over_ages_at_which_nobody_was_at_risk() -> None:
    found = curve([1, 1, 4, 4], [True, False, True, False], [0, 1, 2, 3])
    assert shares(found, found.survival, 5).tolist() == [1, 0.5, 0.5, 0.5, 0.25, 0.25]
    assert hazards(found, 5).tolist() == [0.5, 0, 0, 0.5, 0]


def test_no_age_with_five_belts_reaches_nowhere() -> None:
    assert reach(curve([1, 1, 2], [False, False, True], [0, 1, 1])) is None


def test_a_drawn_season_is_the_fold_of_the_runs_of_the_belts_drawn() -> None:
    drawn = redrawn(AGE, FAILED, BELT, IDLER, 2, generator=np.random.default_rng(4))
    assert drawn.shape == (999, 3, 5)
    weights = np.random.default_rng(4).multinomial(6, np.full(6, 1 / 6), size=999)
    for weight, season in zip(weights, drawn, strict=True):
        rows = np.concatenate([np.flatnonzero(belt == BELT) for belt in np.repeat(np.arange(6), weight)])
        for place, kept in enumerate((rows, rows[IDLER[rows] == 0], rows[IDLER[rows] == 1])):
            for run in range(1, 6):
                of_age = kept[AGE[kept] == run]
                share = FAILED[of_age].mean() if of_age.size else 0
                assert season[place, run - 1] == pytest.approx(share, abs=1e-15)


def test_drawn_seasons_are_the_same_whoever_works_them_out() -> None:
    alone = redrawn(AGE, FAILED, BELT, IDLER, 2, generator=np.random.default_rng(1))
    with ThreadPoolExecutor(2) as pool:
        helped = redrawn(AGE, FAILED, BELT, IDLER, 2, generator=np.random.default_rng(1), executor=pool)
    assert np.array_equal(alone, helped)
    assert len(alone) == 999


def test_where_nothing_failed_the_draws_have_the_exact_limit_of_one_more_failure() -> None:
    # 20 belts make 4 runs each; the exact limit of the share that fails is (1 - p)^20 = 1 - c (Clopper, Pearson, 1934)
    belt, age = np.repeat(np.arange(20), 4), np.tile(np.arange(1, 5), 20)
    seeds = np.concatenate([
        redrawn(age, np.zeros(80, bool), belt, np.zeros(80, int), 1, generator=np.random.default_rng(seed))
        for seed in range(20)
    ])  # fmt: skip
    assert (seeds > 0).sum(axis=2).max() == 1
    assert (seeds > 0).mean(axis=0) == pytest.approx(np.full((2, 4), 1 / 8), abs=0.01)
    for confidence in (0.5, 0.9, 0.95):
        lower, upper = percentiles(seeds.sum(axis=2), confidence)
        assert lower.tolist() == [0, 0]
        assert upper == pytest.approx([1 - (1 - confidence) ** (1 / 20)] * 2, rel=0.05)


def test_one_more_failure_comes_before_the_first_of_its_group_only() -> None:
    belt, age = np.repeat(np.arange(12), 3), np.tile(np.arange(1, 4), 12)
    failed = (age == 2) & (belt == 5) | (age == 3) & (belt % 2 == 1)
    rows = (age < 3) | (belt != 5)
    idler = np.where(belt % 2 == 0, 0, 1)
    drawn = redrawn(age[rows], failed[rows], belt[rows], idler[rows], 2, generator=np.random.default_rng(1))
    weights = np.random.default_rng(1).multinomial(12, np.full(12, 1 / 12), size=999)
    on = weights[:, idler[age == 1] == 1].sum(axis=1)
    assert drawn[:, 2, 1] == pytest.approx(weights[:, 5] / np.maximum(on, 1))
    for group in (0, 2):  # those that failed first on run 2
        assert 0.4 < (drawn[:, group, 0] > 0).mean() < 0.6
    assert ((drawn[:, 1] > 0).sum(axis=1) <= 1).all()  # no belt of this idler failed
    assert (drawn[:, 1] > 0).any(axis=0).all()


def test_limits_leave_half_of_what_is_left_on_each_side() -> None:
    lower, upper = percentiles(np.arange(1.0, 1000.0), 0.95)
    assert (float(lower), float(upper)) == pytest.approx((25, 975))


def test_a_mean_over_belts_by_hand() -> None:
    value, belt = np.array([10.0, 20, 30, 40, 50, 60]), np.array([0, 0, 1, 2, 3, 4])
    rows = {"all": np.ones(6, bool), "few": belt < 2, "none": belt > 4}
    found = mean_over_belts(value, belt, rows, confidence=0.95, generator=np.random.default_rng(1))
    assert found["all"].estimate == 35
    assert found["all"].lower is not None
    assert found["all"].upper is not None
    assert 10 < found["all"].lower < 35 < found["all"].upper < 60
    assert (found["few"].estimate, found["few"].reason) == (20, "fewer than 3 belts made these runs")
    assert found["none"].estimate is None


def test_draws_of_very_many_belts_are_taken_in_parts_and_are_those_of_one_draw_belt_by_belt() -> None:
    belts = 600
    belt = np.repeat(np.arange(belts), 2)
    value, every = np.random.default_rng(3).normal(size=belt.size), {"": np.ones(belt.size, bool)}
    found = mean_over_belts(value, belt, every, confidence=0.9, generator=np.random.default_rng(5))[""]
    weights = np.random.default_rng(5).multinomial(belts, np.full(belts, 1 / belts), size=199)
    means = [(copies @ value.reshape(belts, 2)).sum() / (2 * copies.sum()) for copies in weights]
    lower, upper = percentiles(np.array(means), 0.9)
    assert (found.lower, found.upper) == pytest.approx((float(lower), float(upper)), abs=1e-12)
    age, failed, group = np.tile([1, 2], belts), np.tile([False, True], belts), belt % 2
    failed[[0, 2]] = True  # so that no run is before its group's first failure
    drawn = redrawn(age, failed, belt, group, 2, generator=np.random.default_rng(5))
    for hazards_drawn, copies in zip(drawn, weights, strict=True):
        for place, mask in enumerate((belt >= 0, group == 0, group == 1)):
            runs = np.bincount(age[mask], copies[belt][mask], 3)[1:]
            lost = np.bincount(age[mask & failed], copies[belt][mask & failed], 3)[1:]
            assert hazards_drawn[place].tolist() == (lost / runs).tolist()
