"""Edge temperatures on idler flats: by hand, what is refused, and what steering hides."""

import json

import numpy as np
import pytest
from scipy.stats import t

from drivekit.decide.tracking import tracking

NET = np.array([1.0, -2.0, 2.0, 0.0, -1.0])
DIFFERENCE = np.array([-1.0, 5.0, -4.0, 2.0, 3.0])
BELT = np.array(["a", "a", "a", "a", "a"])


def test_a_car_by_hand() -> None:
    """The line of five readings is worked out line by line in test_line: -2.2 C a flat, even at .4545 flats."""
    fit = tracking(NET, DIFFERENCE, BELT)
    assert fit.n == 5
    assert fit.slope.estimate == pytest.approx(-2.2)
    assert fit.zero.estimate == pytest.approx(1 / 2.2)
    # The last run stood at -1 flat and read +3.0: of the whole flats -1 .. 3 from there, +1 (net 0, line at 1.0) and
    # +2 (net 1, line at -1.2) come nearest; 1.0 is nearer.
    assert fit.move.flats == 1
    assert fit.move.expected_c == pytest.approx(1.0)
    # Next reading at 0: s sqrt(1 + 1/5) = .8; at -1: s sqrt(1 + 1/5 + 1/10) = .8327
    law, stay = t(3, loc=1.0, scale=0.8), t(3, loc=3.2, scale=np.sqrt(1.6 / 3 * 1.3))
    assert fit.move.chance == pytest.approx(law.cdf(3) - law.cdf(-3), rel=1e-9)
    assert fit.move.chance_unmoved == pytest.approx(stay.cdf(3) - stay.cdf(-3), rel=1e-9)
    assert str(fit.move) == (
        "Turn 1 flat more at the front (net): the next reading is expected at +1.0 °C after +3.0 °C; the chance that "
        "it is nearer to even is 95 %, and 41 % without a move."
    )
    assert str(fit).startswith(
        "Over 5 runs, one net flat more at the front moves the edges' difference by -2.2 °C (-2.9 to -1.5); with the "
        "last run's difference and the belt held, it cannot be told: 4 runs leave 1 degrees of freedom beside 3 terms, "
        "and it takes 2. The belt runs even at 0.5 net flats (0.0 to 1.0). Turn 1 flat more at the front"
    )


def test_the_block_has_the_fixed_keys_and_is_plain() -> None:
    block = tracking(NET, DIFFERENCE, BELT).block()
    assert list(block)[:3] == ["n", "slope_c_per_flat", "zero_flats"]
    assert list(block["slope_c_per_flat"]) == ["estimate", "lower", "upper"]
    assert json.loads(json.dumps(block)) == block


def test_blank_runs_leave_and_are_not_counted() -> None:
    net = np.array([np.nan, 1, -2, 2, np.nan, 0, -1])
    difference = np.array([4.0, -1, 5, -4, 1, 2, 3])
    fit = tracking(net, difference, np.array(["a"] * 7))
    assert fit.n == 5
    assert fit.slope == tracking(NET, DIFFERENCE, BELT).slope


@pytest.mark.parametrize(
    ("net", "difference", "reason"),
    [
        ([1, 2, 3], [3.0, 2, 1], "3 runs with both known, and it takes 4"),
        ([2, 2, 2, 2, 2], [3.0, 2, 1, 4, 0], "all 5 runs were made at one setting (2)"),
        ([], [], "0 runs with both known, and it takes 4"),
    ],
)
def test_too_few_runs_or_one_setting_is_null_with_a_reason(
    net: list[int], difference: list[float], reason: str
) -> None:
    fit = tracking(np.array(net, float), np.array(difference, float), np.array(["a"] * len(net)))
    null = {"estimate": None, "lower": None, "upper": None, "reason": reason}
    assert fit.block()["slope_c_per_flat"] == null
    assert fit.block()["zero_flats"] == null
    assert fit.block()["move"] == {"reason": reason}
    move = f"No move is proposed: {reason}."
    assert str(fit) == f"What a flat does to the edges' difference cannot be told: {reason}. {move}"


def test_where_the_slope_spans_zero_no_even_setting_is_told_and_no_move_is_proposed() -> None:
    fit = tracking(np.array([0.0, 1, 2, 3, 4]), np.array([2.0, -3, 4, -1, 1]), BELT)
    reason = "the slope's limits span 0, so settings however far out are not ruled out"
    assert fit.block()["zero_flats"] == {"estimate": None, "lower": None, "upper": None, "reason": reason}
    assert fit.slope.estimate is not None
    assert fit.move.flats is None
    assert f"At how many flats the belt runs even cannot be told: {reason}. No move is proposed: {reason}." in str(fit)


def test_no_move_goes_beyond_the_settings_that_were_tried() -> None:
    # Even at 8 flats, but nobody went beyond 3.
    net = np.array([0.0, 3, 1, 2, 0])
    fit = tracking(net, np.array([8.1, 5.0, 6.9, 6.0, 8.0]), BELT)
    assert fit.zero.estimate == pytest.approx(8, abs=0.5)
    assert (fit.move.flats, fit.move.at_the_edge) == (3, True)
    assert "the last setting that was tried that way" in str(fit.move)


def test_an_even_last_reading_asks_for_no_move() -> None:
    fit = tracking(np.append(NET, 0.0), np.append(DIFFERENCE, 0.0), np.append(BELT, "a"))
    assert str(fit.move) == "No move is proposed: the last reading was even."


def test_a_last_reading_nearer_to_even_than_readings_scatter_asks_for_another_reading() -> None:
    close = tracking(np.append(NET, 0.0), np.append(DIFFERENCE, 0.05), np.append(BELT, "a"))
    assert close.move.chance is not None
    assert close.move.chance < 0.5
    assert str(close.move).endswith(
        "The last reading is nearer to even than readings usually come: read once more before a screw is turned."
    )
    assert "read once more" not in str(tracking(NET, DIFFERENCE, BELT))


def test_swapping_front_and_rear_mirrors_everything() -> None:
    fit, mirrored = tracking(NET, DIFFERENCE, BELT), tracking(-NET, -DIFFERENCE, BELT)
    assert mirrored.slope.estimate == pytest.approx(fit.slope.estimate)
    assert mirrored.zero.lower == pytest.approx(-(fit.zero.upper or 0))
    assert mirrored.move.flats == -(fit.move.flats or 0)
    assert mirrored.move.chance == pytest.approx(fit.move.chance)


def steered_season(seed: int, runs: int = 400) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Invent a car whose crew answers every reading with flats, on belts that each walk by themselves."""
    rng = np.random.default_rng(seed)
    belt = np.arange(runs) // 8
    own = rng.normal(0, 4, belt.max() + 1)
    net, difference = np.zeros(runs), np.zeros(runs)
    for run in range(runs):
        if run:
            net[run] = np.round(net[run - 1] + difference[run - 1] / 3)
        difference[run] = -1.0 * net[run] + own[belt[run]] + rng.normal(0, 1)
    return net, difference, belt.astype(str)


def test_steering_hides_the_slope_and_the_second_fit_finds_it() -> None:
    net, difference, belt = steered_season(3)
    fit = tracking(net, difference, belt)
    assert fit.slope.upper is not None
    assert fit.slope.lower is not None
    # The truth is -1 C a flat: the plain fit leaves it out, the second one holds it.
    assert fit.slope.lower > -0.9
    assert fit.steered.lower is not None
    assert fit.steered.upper is not None
    assert fit.steered.lower < -1.0 < fit.steered.upper
    assert fit.steered.upper - fit.steered.lower < 0.3
    assert fit.steered_n == 399


def test_the_steered_fit_takes_the_run_before_even_when_its_flats_are_blank() -> None:
    net = np.array([0.0, np.nan, 1, 3, 2, 0, 4, 1])
    difference = np.array([3.0, 2, 1, -1, np.nan, 3, -2, 2])
    # Rows 3, 4, 7 and 8 (from 1) have flats, a difference, and a difference before them.
    fit = tracking(net, difference, np.array(["a"] * 8))
    assert fit.steered_n == 4
    assert fit.n == 6
    alone = tracking(np.array([1.0]), np.array([2.0]), np.array(["a"]))
    assert alone.steered.reason == "no run follows a run whose difference is known"


def test_snout_lift_is_fitted_where_it_varies() -> None:
    assert tracking(NET, DIFFERENCE, BELT, lift_flats=NET).lift.estimate == pytest.approx(-2.2)
    assert tracking(NET, DIFFERENCE, BELT).lift.reason == "the snout's flats are not in the log"
    assert "one setting" in tracking(NET, DIFFERENCE, BELT, lift_flats=np.full(5, 6.0)).lift.reason


def test_arrays_of_different_runs_are_refused() -> None:
    with pytest.raises(ValueError, match="must be listed for the same runs"):
        tracking(NET, DIFFERENCE[:4], BELT)
