"""The climb: to a maximum where there is one, and none where there is none."""

import numpy as np
import pytest

from drivekit.life.newton import top


def test_it_climbs_to_the_logit_of_a_share_with_its_information():
    def coin(at):
        p = 1 / (1 + np.exp(-at[0]))
        return float(3 * np.log(p) + np.log(1 - p)), np.array([3 - 4 * p]), np.array([[4 * p * (1 - p)]])

    found = top(coin, np.array([0.0]))
    assert found.at[0] == pytest.approx(np.log(3), abs=1e-12)
    assert found.information[0, 0] == pytest.approx(3 / 4, abs=1e-12)
    assert found.loglik == pytest.approx(3 * np.log(3 / 4) + np.log(1 / 4), abs=1e-12)
    # a start so far off that a whole step overshoots is halved back
    assert top(coin, np.array([6.0])).at[0] == pytest.approx(np.log(3), abs=1e-10)


def test_a_rise_without_end_is_given_up():
    def always(at):
        p = 1 / (1 + np.exp(-at[0]))
        return float(np.log(p)), np.array([1 - p]), np.array([[p * (1 - p)]])

    assert top(always, np.array([0.0])) is None


def test_a_flat_direction_has_no_single_maximum():
    def ridge(at):
        gap = at[0] + at[1] - 1
        return -(gap**2), np.full(2, -2 * gap), np.full((2, 2), 2.0)

    assert top(ridge, np.zeros(2)) is None
