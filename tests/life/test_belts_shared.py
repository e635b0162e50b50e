"""The error by belt of a difference between groups that share belts: by hand, by leaving belts out, by simulation."""

import numpy as np
import pytest

from drivekit.life.belts_shared import influence
from drivekit.life.curve import curve, difference
from drivekit.life.folds import Estimate


def lives(generator, n_belts, *, late=False, kind=None):
    """Runs of belts (age, failed, belt, group); each has a hazard of its own, and some change their group."""
    rows = []
    for belt in range(n_belts):
        own, group = generator.gamma(2.0, 0.5), belt % 2
        change = generator.integers(2, 6) if kind == "swapped" else 99
        for age in range(1 + (generator.integers(0, 3) if late else 0), 13):
            failed = generator.random() < 1 - np.exp(-0.02 * age * own)
            rows.append((age, failed, belt, group ^ (age > change)))
            if failed or generator.random() < 0.06:
                break
    age, failed, belt, group = np.array(rows).T
    return age, failed.astype(bool), belt, group


def test_three_belts_by_hand():
    # belt 0 fails on run 1, belt 1 on run 2, belt 2 runs on: S = 2/3, 1/3; the mean to 3 is 1 + 2/3 + 1/3 = 2
    age, failed, belt = (
        np.array([1, 1, 2, 1, 2]),
        np.array([True, False, True, False, False]),
        np.array([0, 1, 1, 2, 2]),
    )
    found = curve(age, failed, belt)
    assert found.mean_to(3).estimate == pytest.approx(2)
    # at run 1 the area is 2/3 + 1/3 = 1 and -1 (f - 1/3) / 2; at run 2 it is 1/3 and -1/3 (f - 1/2) / 1
    expected = [-1 / 3, 1 / 6 - 1 / 6, 1 / 6 + 1 / 6]
    assert influence(found, 3, age, failed, belt, 4) == pytest.approx([*expected, 0])


def test_of_belts_watched_from_their_first_run_in_one_group_it_is_greenwoods_error():
    age, failed, belt, _ = lives(np.random.default_rng(4), 40)
    found = curve(age, failed, belt)
    moved = influence(found, 9, age, failed, belt, 40)
    assert moved.sum() == pytest.approx(0, abs=1e-12)
    assert np.linalg.norm(moved) == pytest.approx(found.mean_to(9).se, rel=1e-12)


def test_it_is_how_far_the_mean_moves_with_the_weight_of_a_belt_with_late_entry_and_ties():
    age, failed, belt, _ = lives(np.random.default_rng(5), 30, late=True)
    found, copies = curve(age, failed, belt), 100_000
    moved = influence(found, 8, age, failed, belt, 30)
    for one in range(30):
        weight = np.where(belt == one, copies + 1, copies)
        at = [np.bincount(age[rows], weights=weight[rows], minlength=13)[1:] for rows in (age > 0, failed)]
        survival = np.cumprod(np.append(1.0, 1 - at[1] / at[0]))
        assert (survival[:8].sum() - found.mean_to(8).estimate) * copies == pytest.approx(moved[one], abs=1e-4)


def test_where_all_at_risk_failed_and_nobody_ran_nothing_more_can_move():
    age, failed, belt = np.array([2, 4, 4]), np.array([False, True, True]), np.array([0, 0, 1])
    found = curve(age, failed, belt)
    assert influence(found, 6, age, failed, belt, 2).tolist() == [0, 0]
    assert influence(found, 1, age, failed, belt, 2).tolist() == [0, 0]


def test_groups_without_a_shared_belt_have_the_root_of_their_summed_squares():
    age, failed, belt, group = lives(np.random.default_rng(6), 60)
    found = [curve(age[at], failed[at], belt[at]) for at in (group == 0, group == 1)]
    means = [each.mean_to(9) for each in found]
    moved = [influence(found[g], 9, age[group == g], failed[group == g], belt[group == g], 60) for g in (0, 1)]
    by_belt = float(np.linalg.norm(moved[1] - moved[0]))
    told, plain = difference(*means, 0.9, by_belt), difference(*means, 0.9)
    assert (told.estimate, told.se) == pytest.approx((plain.estimate, plain.se), rel=1e-12)
    assert (told.lower, told.upper) == pytest.approx((plain.lower, plain.upper), rel=1e-12)
    null = Estimate(reason="no belt got that far")
    assert difference(means[0], null, 0.9, by_belt) == null


def test_over_seasons_with_swapped_belts_it_is_the_spread_of_the_difference():
    generator, told, seen = np.random.default_rng(7), [], []
    for _ in range(400):
        age, failed, belt, group = lives(generator, 80, kind="swapped")
        each = []
        for g in (0, 1):
            at = group == g
            found = curve(age[at], failed[at], belt[at])
            each.append((found.mean_to(8), influence(found, 8, age[at], failed[at], belt[at], 80)))
        (earlier, before), (later, after) = each
        seen.append(later.estimate - earlier.estimate)
        told.append(np.linalg.norm(after - before))
    assert np.sqrt(np.mean(np.square(told))) == pytest.approx(np.std(seen), rel=0.08)
