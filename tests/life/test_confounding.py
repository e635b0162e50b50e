"""Whether a setting came together with time or car, and how strong an unrecorded cause would have to be."""

from __future__ import annotations

from math import log, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivekit.life.confounding import ENOUGH, e_value, overlap, thirds, unrecorded


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


def test_a_hazard_ratio_of_four_by_hand() -> None:
    # sqrt 4 = 2, so that the risk ratio is (1 - 1/4) / (1 - 1/sqrt 2), and E = RR + sqrt(RR (RR - 1)).
    risk_ratio = 0.75 / (1 - 1 / sqrt(2))
    assert risk_ratio == pytest.approx(2.560660171779821, abs=1e-12)
    assert e_value(4.0) == pytest.approx(risk_ratio + sqrt(risk_ratio * (risk_ratio - 1)), abs=1e-12)


def test_the_example_of_the_evalue_package_for_a_common_outcome() -> None:
    """R package EValue 4.1.3, help of evalues.HR: HR .56 (.46 to .69), common outcome.

    Its help names the example and its own tests the conversion; the values here are the formula worked out apart:
    RR = (1 - .5^sqrt(1 / .56)) / (1 - .5^sqrt(.56)) = 1.4924, and 1.2928 for .69.
    """
    found = unrecorded(0.56, 0.46, 0.69)
    assert (1 - 0.5 ** sqrt(1 / 0.56)) / (1 - 0.5 ** sqrt(0.56)) == pytest.approx(1.4924, abs=5e-5)
    assert (1 - 0.5 ** sqrt(1 / 0.69)) / (1 - 0.5 ** sqrt(0.69)) == pytest.approx(1.2928, abs=5e-5)
    assert found == pytest.approx((2.35, 1.91), abs=0.005)


@given(st.floats(0.01, 100))
def test_halving_and_doubling_the_hazard_are_equally_hard_to_explain_away(ratio: float) -> None:
    assert e_value(ratio) == pytest.approx(e_value(1 / ratio), rel=1e-12)
    assert e_value(ratio) >= 1


@given(st.floats(1, 50), st.floats(1.001, 3))
def test_a_larger_ratio_needs_a_stronger_cause(ratio: float, more: float) -> None:
    assert e_value(ratio * more) > e_value(ratio)


@given(st.floats(1.0, 20.0))
def test_a_cause_as_strong_as_the_e_value_just_explains_the_ratio_away(ratio: float) -> None:
    """Ding and VanderWeele, Epidemiology 2016: two risk ratios of E can together bias by E^2 / (2 E - 1) at most."""
    root = sqrt(ratio)
    risk_ratio = (1 - 0.5**root) / (1 - 0.5 ** (1 / root))
    e = e_value(ratio)
    assert e * e / (2 * e - 1) == pytest.approx(risk_ratio, rel=1e-9)


def test_no_effect_needs_no_cause() -> None:
    assert e_value(1.0) == 1
    assert unrecorded(1.0, 0.8, 1.25) == (1.0, 1.0)


@pytest.mark.parametrize(
    ("ratio", "lower", "upper", "nearer"),
    [(0.5, 0.3, 0.8, 0.8), (2.0, 1.2, 3.0, 1.2), (0.5, None, 0.8, 0.8), (2.0, 1.2, None, 1.2)],
)
def test_the_limit_nearer_to_one_decides(ratio: float, lower: float | None, upper: float | None, nearer: float) -> None:
    assert unrecorded(ratio, lower, upper) == (e_value(ratio), e_value(nearer))


@pytest.mark.parametrize(
    ("ratio", "lower", "upper"),
    [(0.5, 0.2, 1.3), (2.0, 0.9, 4.0), (0.5, 0.2, 1.0), (0.5, None, 1.3), (2.0, 0.9, None), (0.5, 0.2, None)],
)
def test_an_interval_that_spans_one_needs_no_cause_at_all(
    ratio: float, lower: float | None, upper: float | None
) -> None:
    assert unrecorded(ratio, lower, upper)[1] == 1


@pytest.mark.parametrize("ratio", [0.0, -1.0, float("nan")])
def test_what_is_no_hazard_ratio_is_refused(ratio: float) -> None:
    with pytest.raises(ValueError, match="a hazard ratio is above 0"):
        e_value(ratio)


@pytest.mark.parametrize("ratio", [1e300, 1e-300])
def test_a_limit_far_out_still_has_its_number(ratio: float) -> None:
    # For a large ratio the risk ratio nears sqrt(HR) / log 2, and the E-value twice that.
    assert e_value(ratio) == pytest.approx(2 * 1e150 / log(2), rel=1e-9)
