"""Whether a setting came together with time or car."""

from __future__ import annotations

import numpy as np
import pytest

from drivekit.life.overlap import ENOUGH, overlap, thirds


def rows(counts: list[list[int]]) -> tuple[np.ndarray, np.ndarray]:
    """Levels and parts with these counts, levels down and parts across."""
    table = np.array(counts)
    level, part = np.indices(table.shape)
    return np.repeat(level.ravel(), table.ravel()), np.repeat(part.ravel(), table.ravel())


def test_a_change_of_idler_in_mid_season_by_hand() -> None:
    # Smooth ran 20, 10 and no runs in the thirds, toothed none, 15 and 30: they share the middle third only.
    level, part = rows([[20, 10, 0], [0, 15, 30]])
    found = overlap(level, 2, part, 3)
    assert found.runs.tolist() == [[20, 10, 0], [0, 15, 30]]
    assert found.share == pytest.approx(np.array([[2 / 3, 1 / 3, 0], [0, 1 / 3, 2 / 3]]))
    assert found.common == pytest.approx(1 / 3)
    assert (found.apart, found.together, found.reason) == ((0, 1), True, None)


def test_levels_run_side_by_side_are_not_together_with_time_though_one_is_rare() -> None:
    level, part = rows([[200, 200, 200], [3, 2, 3]])
    found = overlap(level, 2, part, 3)
    assert found.common == pytest.approx(1 / 3 + 1 / 4 + 1 / 3)
    assert not found.together


def test_of_three_levels_the_two_least_run_side_by_side_decide() -> None:
    level, part = rows([[10, 10, 10], [12, 10, 8], [0, 0, 9]])
    found = overlap(level, 3, part, 3)
    assert found.apart == (1, 2)
    assert found.common == pytest.approx(8 / 30)
    assert found.together


def test_the_bound_that_two_thirds_stands_for_is_reached_by_the_hardest_season() -> None:
    """What was not run side by side fell in parts twice as hard for one level, in easy ones for the other."""
    counts = np.array([[20, 10, 0], [20, 0, 10]])
    level, part = rows(counts.tolist())
    found = overlap(level, 2, part, 3)
    assert found.common == pytest.approx(ENOUGH)
    assert not found.together  # at two thirds itself the bound still holds
    failures = counts @ np.array([1, 2, 1]) / counts.sum(axis=1)  # a run, where the second part is twice as hard
    assert failures[0] / failures[1] == pytest.approx(2 - found.common)
    worst = max(a / b for hard in np.ndindex(2, 2, 2) for a, b in [counts @ (1 + np.array(hard)) / counts.sum(axis=1)])
    assert worst == pytest.approx(2 - found.common)
    level, part = rows([[19, 11, 0], [19, 0, 11]])
    assert overlap(level, 2, part, 3).together


def test_one_car_cannot_come_together_with_anything() -> None:
    level, part = rows([[5], [9]])
    found = overlap(level, 2, part, 1)
    assert (found.common, found.together) == (1.0, False)


def test_runs_with_a_blank_are_not_counted_and_a_level_without_runs_leaves() -> None:
    found = overlap([0, -1, 2, -1], 3, [0, 1, 0, 1], 2)
    assert found.runs.tolist() == [[1, 0], [0, 0], [1, 0]]
    assert np.isnan(found.share[1]).all()
    assert (found.common, found.apart) == (1.0, (0, 2))


@pytest.mark.parametrize("level", [[0, 0, 0], [-1, -1, -1], [1, -1, 1]])
def test_fewer_than_two_levels_have_nothing_to_compare(level: list[int]) -> None:
    found = overlap(level, 2, [0, 1, 1], 2)
    assert (found.common, found.apart, found.together) == (None, None, False)
    assert found.reason == "fewer than two levels have a run"


def test_thirds_of_a_season_are_as_equal_as_can_be_in_the_order_of_the_runs() -> None:
    assert thirds(7).tolist() == [0, 0, 0, 1, 1, 2, 2]
    assert thirds(9).tolist() == [0, 0, 0, 1, 1, 1, 2, 2, 2]
    assert thirds(2).tolist() == [0, 1]
    assert thirds(1).tolist() == [0]
    assert thirds(0).tolist() == []


def test_columns_of_different_length_are_refused() -> None:
    with pytest.raises(ValueError, match="2 levels and 1 parts differ"):
        overlap([0, 1], 2, [0], 1)
