"""The next move of idler and snout: by simulation of its own chances, by reach, and in words."""

import numpy as np
import pytest

from drivekit.decide.by_belt import ByBelt, by_belt
from drivekit.decide.next_move import NextMove, in_twenty, next_move

RNG = np.random.default_rng(5)
CODE = np.repeat(np.arange(6), 8)
TRIED = np.column_stack((np.ones(48), RNG.integers(-3, 5, 48), RNG.integers(2, 7, 48))).astype(float)
Y = 4 - 2 * TRIED[:, 1] - TRIED[:, 2] + RNG.normal(0, 1.5, 6)[CODE] + RNG.normal(0, 1, 48)


@pytest.fixture(scope="module")
def fit() -> ByBelt:
    found = by_belt(TRIED, Y, CODE)
    assert isinstance(found, ByBelt)
    return found


def test_the_chance_is_that_of_many_pairs_of_next_readings(fit: ByBelt) -> None:
    now = np.array([1.0, 0.0, 3.0])
    move = next_move(fit, now, 3, "B4", TRIED, (True, True))
    assert move.idler is not None
    settings = np.array([now, now + np.array([0, move.idler, move.snout])])
    mean, spread = fit.expected(settings, 3)
    drawn = np.random.default_rng(1).multivariate_normal(mean, spread + fit.noise_sd**2 * np.eye(2), 200_000)
    assert move.chance == pytest.approx(np.mean(abs(drawn[:, 1]) < abs(drawn[:, 0])), abs=0.004)
    assert (move.unmoved_c, move.expected_c) == pytest.approx(tuple(mean))
    assert abs(move.expected_c) < abs(move.unmoved_c) / 2


def test_where_the_next_reading_is_even_anyway_nothing_is_turned(fit: ByBelt) -> None:
    even = (fit.coefficients[0] + 4 * fit.coefficients[2] + fit.offsets[0]) / -fit.coefficients[1]
    move = next_move(fit, np.array([1.0, even, 4.0]), 0, "B1", TRIED, (True, True))
    assert (move.idler, move.snout) == (0, 0)
    assert move.unmoved_c == move.expected_c == pytest.approx(0, abs=1e-9)
    said = "Leave the screws where they are: of the settings tried so far none brings the next reading on belt B1"
    assert str(move).startswith(said)


def test_no_move_goes_beyond_what_was_tried_and_a_knob_of_unknown_sign_stays(fit: ByBelt) -> None:
    far = np.array([1.0, 4.0, 6.0])
    for turns in ((True, True), (True, False), (False, True)):
        move = next_move(fit, far, 2, "B3", TRIED, turns, aim_c=-60.0)
        assert move.idler == move.snout == 0, "the last settings that were tried that way"
        back = next_move(fit, far, 2, "B3", TRIED, turns, aim_c=60.0)
        assert back.idler == (-7 if turns[0] else 0)
        assert back.snout == (-4 if turns[1] else 0)


def test_another_aim_is_another_move(fit: ByBelt) -> None:
    now = np.array([1.0, 0.0, 4.0])
    even, lean = (next_move(fit, now, 1, "B2", TRIED, (True, False), aim_c=aim) for aim in (0.0, -4.0))
    assert even.idler is not None
    assert lean.idler is not None
    assert lean.idler - even.idler == 2
    assert "nearer to -4.0 °C than" in str(lean)


def test_a_fit_without_the_snout_has_one_knob() -> None:
    found = by_belt(TRIED[:, :2], Y, CODE)
    assert isinstance(found, ByBelt)
    assert next_move(found, TRIED[0, :2], 0, "B1", TRIED[:, :2], (True, False)).snout == 0


def test_a_move_is_said_with_the_belt_the_screws_and_a_count() -> None:
    move = NextMove(-2, 1, "B07", 0.4, -4.1, 0.81)
    assert str(move) == (
        "Turn the idler 2 flats more at the rear and both jack screws under the snout 1 flat in: the next reading on "
        "belt B07 is expected at +0.4 °C in place of -4.1 °C, and about 16 in 20 times it is nearer to even than "
        "without a move. A jack screw moves the tension too: read it again."
    )
    assert str(NextMove(None, reason="why")) == "No move is proposed: why."
    assert [in_twenty(share) for share in (0.001, 0.5, 0.999)] == [
        "fewer than 1 in 20",
        "about 10 in 20",
        "more than 19 in 20",
    ]
