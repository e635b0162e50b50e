"""One row is one run: what counts at risk, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest

from drivekit.life.folds import common_horizon, fold, renumbered, two_sided_z


def test_a_belt_is_at_risk_in_the_group_it_ran_in_at_every_age_it_ran_and_at_no_other() -> None:
    # One belt came with two runs and had its idler changed for its fourth; another made run 3 alone and failed on it.
    age, at_risk, failed_at = fold([4, 3, 3], [False, False, True], [1, 0, 0], 2)
    assert age.tolist() == [3, 4]
    assert at_risk.tolist() == [[2, 0], [0, 1]]
    assert failed_at.tolist() == [[1, 0], [0, 0]]


def test_a_group_without_runs_is_counted_with_zeros() -> None:
    assert fold([1], [True], [0], 3)[1].tolist() == [[1], [0], [0]]


def test_an_age_of_a_million_runs_takes_no_more_room_than_its_rows() -> None:
    assert fold([1_000_000_000], [True], [0], 1)[1].shape == (1, 1)


def test_counts_cannot_be_changed_afterwards() -> None:
    _, at_risk, _ = fold([1], [True], [0], 1)
    with pytest.raises(ValueError, match="read-only"):
        at_risk[0, 0] = 2


@pytest.mark.parametrize(
    ("age", "failed", "group", "words"),
    [
        ([0], [False], [0], "age 0 is below 1"),
        ([1.5], [False], [0], "age must be one row of whole numbers"),
        ([[1]], [False], [0], "age must be one row of whole numbers"),
        ([1], [1], [0], "failed must be one row of true and false"),
        ([1], [False], [2], "group 2 is above the last code, 1"),
        ([1], [False], [-1], "group -1 is below 0"),
        ([1, 2], [False], [0, 0], "one row is one run: 2 ages, 1 failed and 2 groups differ"),
    ],
)
def test_what_is_no_run_table_is_refused_in_words(age: list, failed: list, group: list, words: str) -> None:
    with pytest.raises(ValueError, match=f"^{words}$"):
        fold(np.array(age), np.array(failed), np.array(group), 2)


def test_the_common_horizon_is_the_largest_age_at_which_every_group_has_five_runs() -> None:
    ages = [(1, 3, 9), (2, 5, 5), (3, 6, 4), (4, 5, 7), (5, 9, 4)]  # age, runs in group 0, in group 1
    age = np.repeat([a for a, *_ in ages for _ in range(2)], [n for _, *both in ages for n in both])
    group = np.repeat([0, 1] * len(ages), [n for _, *both in ages for n in both])
    # Age 3 has too few in one group, yet the largest age is asked for, not the end of the first stretch.
    assert common_horizon(age, group, 2) == 4
    assert common_horizon(age, group, 2, least=6) is None
    assert common_horizon(age, group, 2, least=4) == 5
    assert common_horizon(age, group, 3) is None
    assert common_horizon(age[group == 0], group[group == 0], 1) == 5


def test_the_normal_quantile_is_that_of_the_tables() -> None:
    from scipy.special import ndtri

    for confidence in (0.5, 0.8, 0.9, 0.95, 0.99, 0.999999):
        assert two_sided_z(confidence) == pytest.approx(float(-ndtri((1 - confidence) / 2)), rel=1e-13)
    assert two_sided_z(0.95) == pytest.approx(1.959963984540054, abs=1e-15)


@pytest.mark.parametrize("highest", [0, 3, 900, 10**9])
def test_whole_numbers_are_numbered_anew_in_their_order_however_far_apart_they_lie(highest: int) -> None:
    values = np.random.default_rng(highest).integers(0, highest + 1, 200)
    seen, at = renumbered(values)
    assert seen.tolist() == sorted(set(values.tolist()))
    assert seen[at].tolist() == values.tolist()
