"""Screws: flats to height, two screws to lift and tilt, and moves that leave no screw loose."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivekit.drive.amounts import INCH_M
from drivekit.drive.screws import (
    flats_for_height,
    flats_for_lift_and_tilt,
    height,
    lift_and_tilt,
    next_move,
    split_move,
)
from drivekit.drive.threads import thread

FINE = thread("3/8-24")
flats = st.integers(0, 60)


def test_flats_turn_into_height_by_hand() -> None:
    # 9 flats are 1.5 turns; 1.5 / 24 in = .0625 in = 1.5875 mm
    up = height(FINE, 9)
    assert up.turns == 1.5
    assert up.height_m == pytest.approx(0.0015875, rel=1e-12)
    assert str(up) == "9 flats (1.50 turns) from first touch: 1.587 mm (0.0625 in)."


def test_left_and_right_hand_ends_double_the_travel() -> None:
    assert height(FINE, 4, ends="left-right").height_m == pytest.approx(2 * height(FINE, 4).height_m)
    assert flats_for_height(FINE, 0.0015875, ends="left-right").flats == pytest.approx(4.5)


def test_two_jack_screws_lift_and_tilt_by_hand() -> None:
    # .25 in apart per .0417 in: left 6 flats = 1/24 in, right 0; middle 1/48 in; tan = (1/24) / 10
    both = lift_and_tilt(FINE, (6, 0), 10 * INCH_M)
    assert both.lift_m / INCH_M == pytest.approx(1 / 48, rel=1e-12)
    assert math.tan(both.tilt_rad) == pytest.approx(1 / 240, rel=1e-12)
    assert str(both) == (
        "left 6 flats, right 0 flats: lifted 0.529 mm (0.0208 in) midway, 0.239 degrees higher at the left."
    )


@given(flats, flats, st.floats(0.02, 0.6))
def test_lift_and_tilt_lead_back_to_the_flats(one: int, two: int, apart_m: float) -> None:
    there = lift_and_tilt(FINE, (one, two), apart_m)
    back = flats_for_lift_and_tilt(FINE, there.lift_m, there.tilt_rad, apart_m)
    assert back.exact == pytest.approx((one, two), abs=1e-8)
    assert back.whole == (one, two)
    assert back.given.tilt_rad == pytest.approx(there.tilt_rad, abs=1e-15)


@given(flats, flats, st.floats(0.02, 0.6), st.floats(1.5, 4))
def test_a_drive_twice_the_size_tilts_the_same(one: int, two: int, apart_m: float, scale: float) -> None:
    larger = type(FINE)("scaled", FINE.diameter_m * scale, FINE.pitch_m * scale, metric=False)
    small, large = lift_and_tilt(FINE, (one, two), apart_m), lift_and_tilt(larger, (one, two), apart_m * scale)
    assert large.tilt_rad == pytest.approx(small.tilt_rad, abs=1e-12)
    assert large.lift_m == pytest.approx(small.lift_m * scale, abs=1e-12)


def test_a_lift_too_small_for_its_tilt_would_leave_a_screw_loose_and_is_refused() -> None:
    with pytest.raises(ValueError, match=r"The right screw would stand 3 flats short of first touch, that is loose;"):
        flats_for_lift_and_tilt(FINE, 0.0, 6 * FINE.flat_m / 0.2, 0.2)


def test_going_up_the_straight_screw_goes_first_and_the_other_follows_to_touch() -> None:
    move = next_move((4, 6), (7, 8), straight="right")
    assert [(step.screw, step.flats, step.stands) for step in move.steps] == [("right", 2, 8), ("left", 3, 7)]
    assert str(move) == (
        "Right screw 2 flats in, to 8: it sets the height; then left screw 3 flats in, to 7: stop at touch, then count."
    )


def test_going_down_the_other_screw_is_cleared_first_and_brought_back_to_touch() -> None:
    move = next_move((7, 8), (4, 6), names=("front", "rear"))
    assert [(step.screw, step.flats, step.stands) for step in move.steps] == [
        ("rear", -3, 5),
        ("front", -3, 4),
        ("rear", 1, 6),
    ]


@given(flats, flats, flats, flats, st.sampled_from(["left", "right"]))
def test_every_move_ends_where_it_was_wanted(a: int, b: int, c: int, d: int, straight: str) -> None:
    move = next_move((a, b), (c, d), straight=straight)
    stands = {"left": a, "right": b}
    for step in move.steps:
        stands[step.screw] += step.flats
        assert stands[step.screw] == step.stands
    assert (stands["left"], stands["right"]) == (c, d)
    if (a, b) == (c, d):
        assert str(move) == "Nothing to turn: both screws stand where they are wanted."


def test_a_move_that_would_leave_a_screw_loose_is_refused() -> None:
    with pytest.raises(ValueError, match="The left screw would stand 1 flat short of first touch"):
        next_move((2, 2), (-1, 3))
    with pytest.raises(ValueError, match='"top" is neither screw'):
        next_move((2, 2), (3, 3), straight="top")


@pytest.mark.parametrize(
    ("last", "change", "wanted"),
    [((4, 4), 4, (6, 2)), ((4, 4), -3, (3, 6)), ((4, 1), 6, (9, 0)), ((0, 0), -2, (0, 2)), ((3, 5), 0, (3, 5))],
)
def test_a_net_change_is_shared_so_that_the_mean_stays(
    last: tuple[int, int], change: int, wanted: tuple[int, int]
) -> None:
    assert split_move(last, change) == wanted


@given(flats, flats, st.integers(-30, 30))
def test_a_shared_move_makes_the_whole_change_and_leaves_no_screw_loose(front: int, rear: int, change: int) -> None:
    to_front, to_rear = split_move((front, rear), change)
    assert (to_front - to_rear) - (front - rear) == change
    assert min(to_front, to_rear) >= 0


@pytest.mark.parametrize("apart_m", [0.0, -0.1, math.nan])
def test_a_distance_that_is_none_is_refused_in_one_sentence(apart_m: float) -> None:
    with pytest.raises(ValueError, match="he distance between the screws"):
        lift_and_tilt(FINE, (1, 1), apart_m)
