"""Threads against the standards' numbers; flats to height, lift and tilt; moves that leave no screw loose."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivekit.drive.screws import (
    FLATS_IN_A_TURN,
    INCH_THREADS,
    METRIC_PITCHES_MM,
    height,
    lift_and_tilt,
    next_move,
    split_move,
    thread,
)
from drivekit.units import INCH_M


@pytest.mark.parametrize(
    ("size", "coarse", "fine"),
    [
        ("1/4", 20, 28),
        ("5/16", 18, 24),
        ("3/8", 16, 24),
        ("7/16", 14, 20),
        ("1/2", 13, 20),
        ("9/16", 12, 18),
        ("5/8", 11, 18),
        ("3/4", 10, 16),
    ],
)
def test_threads_per_inch_are_those_of_asme_b1_1(size: str, coarse: int, fine: int) -> None:
    for per_inch, series in ((coarse, "UNC"), (fine, "UNF")):
        screw = thread(f"{size}-{per_inch}")
        assert screw.name == f"{size}-{per_inch} {series}"
        assert screw.pitch_m == pytest.approx(0.0254 / per_inch, rel=1e-12)


# Half the last printed digit.
@pytest.mark.parametrize(("name", "flat_in"), [("3/8-24", 0.00694), ("3/8-16", 0.01042), ("1/2-20", 0.00833)])
def test_one_flat_moves_a_sixth_of_a_pitch(name: str, flat_in: float) -> None:
    assert thread(name).flat_m / INCH_M == pytest.approx(flat_in, abs=5e-6)


# Tensile stress areas in square inches as printed in public tables of ASME B1.1.
@pytest.mark.parametrize(
    ("name", "area_in2", "half_digit"),
    [
        ("1/4-28", 0.0364, 5e-5),
        ("5/16-24", 0.0580, 1e-4),
        ("3/8-24", 0.0878, 5e-5),
        ("3/8-16", 0.0775, 5e-5),
        ("7/16-20", 0.1187, 5e-5),
        ("1/2-20", 0.1599, 1e-4),
        ("1/2-13", 0.142, 5e-4),
        ("5/8-18", 0.256, 5e-4),
        ("3/4-16", 0.373, 5e-4),
    ],
)
def test_stress_areas_of_inch_threads_are_those_of_the_tables(name: str, area_in2: float, half_digit: float) -> None:
    assert thread(name).stress_area_m2 / INCH_M**2 == pytest.approx(area_in2, abs=half_digit)


# Coarse stress areas in mm2 as tabled with ISO 898-1.
@pytest.mark.parametrize(
    ("name", "area_mm2"), [("M6", 20.1), ("M8", 36.6), ("M10", 58.0), ("M12", 84.3), ("M16", 157.0), ("M20", 245.0)]
)
def test_stress_areas_of_metric_threads_are_those_of_iso_898_1(name: str, area_mm2: float) -> None:
    assert thread(name).stress_area_m2 * 1e6 == pytest.approx(area_mm2, rel=2.5e-3)


def test_a_metric_name_without_pitch_means_the_coarse_one() -> None:
    assert thread("M10") == thread("M10x1.5")
    assert thread(" m10 x 1.25 ").name == "M10x1.25"
    assert thread("M10x1.25").pitch_m == pytest.approx(0.00125)
    assert str(thread("M10x1.5")) == (
        "M10x1.5: one turn moves 1.5000 mm (0.05906 in), one flat 0.2500 mm (0.00984 in)."
    )


@given(
    st.sampled_from(
        [*(f"{s}-{n}" for s, pair in INCH_THREADS.items() for n in pair)]
        + [f"M{d}x{p:g}" for d, ps in METRIC_PITCHES_MM.items() for p in ps]
    )
)
def test_every_thread_of_the_tables_can_be_read_and_six_flats_are_one_pitch(name: str) -> None:
    screw = thread(name)
    assert thread(screw.name) == screw
    assert screw.flat_m * FLATS_IN_A_TURN == pytest.approx(screw.pitch_m, rel=1e-12)
    assert screw.pitch_m < screw.diameter_m


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("3/8-20", '"3/8-20": a 3/8 in screw has 16 (UNC) or 24 (UNF) threads per inch.'),
        ("3/8-24 UNC", '"3/8-24 UNC": 24 threads per inch on 3/8 in is UNF.'),
        ("M10x2", '"M10x2": an M10 screw has a pitch of 1.5, 1.25, 1, 0.75 mm (the first is the coarse one).'),
        ("ten", '"ten" is no thread; write it like 3/8-24 (UNC or UNF) or M10x1.25.'),
    ],
)
def test_a_thread_that_is_none_is_refused_with_what_would_be_right(name: str, sentence: str) -> None:
    with pytest.raises(ValueError, match=f"^{re.escape(sentence)}$"):
        thread(name)


@pytest.mark.parametrize(("name", "start"), [("11/32-24", "1/4, 5/16"), ("M7", "M4, M5")])
def test_a_size_outside_the_tables_is_refused_with_the_sizes_there_are(name: str, start: str) -> None:
    with pytest.raises(ValueError, match=f"there are {start}"):
        thread(name)


FINE = thread("3/8-24")
flats = st.integers(0, 60)


def test_flats_turn_into_height_by_hand() -> None:
    # 9 flats are 1.5 turns; 1.5 / 24 in = .0625 in = 1.5875 mm
    assert height(FINE, 9) == pytest.approx(0.0015875, rel=1e-12)


def test_left_and_right_hand_ends_double_the_travel() -> None:
    assert height(FINE, 4, ends="left-right") == pytest.approx(2 * height(FINE, 4))


def test_two_jack_screws_lift_and_tilt_by_hand() -> None:
    # .25 in apart per .0417 in: left 6 flats = 1/24 in, right 0; middle 1/48 in; tan = (1/24) / 10
    both = lift_and_tilt(FINE, (6, 0), 10 * INCH_M)
    assert both.lift_m / INCH_M == pytest.approx(1 / 48, rel=1e-12)
    assert math.tan(both.tilt_rad) == pytest.approx(1 / 240, rel=1e-12)
    assert str(both) == (
        "left 6 flats, right 0 flats: lifted 0.529 mm (0.0208 in) midway, 0.239 degrees higher at the left."
    )


@given(flats, flats, st.floats(0.02, 0.6), st.floats(1.5, 4))
def test_a_drive_twice_the_size_tilts_the_same(one: int, two: int, apart_m: float, scale: float) -> None:
    larger = type(FINE)("scaled", FINE.diameter_m * scale, FINE.pitch_m * scale, metric=False)
    small, large = lift_and_tilt(FINE, (one, two), apart_m), lift_and_tilt(larger, (one, two), apart_m * scale)
    assert large.tilt_rad == pytest.approx(small.tilt_rad, abs=1e-12)
    assert large.lift_m == pytest.approx(small.lift_m * scale, abs=1e-12)


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
