"""Readings in place of values: what follows from them by hand, in a drive file, and where they cannot be."""

from __future__ import annotations

import re
from dataclasses import replace
from math import hypot, pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivekit.drive.drive_file import layout_from_text
from drivekit.drive.fitting import adjuster_gain, fitting_belts, seat, stiffness_by_turns
from drivekit.drive.layout import Layout
from drivekit.drive.measured import back_from, blower_power_from, centre_from, mass_from, square_flats
from drivekit.drive.path import belt_path
from drivekit.faults import Faulty
from tests.drive.conftest import DRIVES

TOOTHED = (DRIVES / "toothed-inside.toml").read_text()
MEASURED = {
    "mass_g_per_m = 745": "weighed_g = 1355.9",
    "back_mm = 2.6": "thickness_mm = 10.0",
    "power_kw = [14, 75, 210, 310, 430, 585, 770]": (
        "displacement_l = 8\nboost_kpa = [40, 100, 200, 250, 300, 350, 400]\nefficiency_percent = 80"
    ),
}


def faults(text: str) -> str:
    with pytest.raises(Faulty) as faulty:
        layout_from_text(text)
    return "\n".join(map(str, faulty.value.faults))


def test_a_belt_weighed_whole_by_hand() -> None:
    # 130 teeth of 14 mm are 1.82 m: 1,355.9 g on them are 745 g a metre
    assert mass_from(1.3559, 1.82) == pytest.approx(0.745, rel=1e-12)


def test_the_back_is_what_tooth_and_land_leave_of_the_thickness() -> None:
    assert back_from(0.010, 0.006, 0.0014) == pytest.approx(0.0026, abs=1e-15)
    with pytest.raises(ValueError, match=r"A belt 7.00 mm thick has no room for 6.00 mm of tooth and 1.40 mm of land"):
        back_from(0.007, 0.006, 0.0014)


def test_a_blower_s_power_by_hand() -> None:
    # 8 litres a turn, 200 turns a second against 400 kPa are 640 kW; four fifths of 800 kW
    assert blower_power_from(0.008, 12_000, 400e3, 0.8) == pytest.approx(800e3, rel=1e-12)
    with pytest.raises(ValueError, match="up to 100 percent, and 120 was given"):
        blower_power_from(0.008, 12_000, 400e3, 1.2)


def test_the_centre_of_the_worked_example_follows_from_its_two_spans(worked: Layout) -> None:
    # equal pulleys: the spans are the centres' distances, 300 mm both on the seat, between centres 480 mm apart
    left, right = centre_from((0, 0, -0.1), (0, 0.48, -0.1), -0.1, (0.3, 0.3))
    assert left == pytest.approx((-0.18, 0.24), abs=1e-12)
    assert right == pytest.approx((0.18, 0.24), abs=1e-12)


def test_centres_of_the_examples_follow_from_the_spans_of_their_paths(drive: Layout) -> None:
    drive, at = drive.at_travel(seat(drive, fitting_belts(drive)).travel_m), drive.sliding
    assert at is not None
    path = belt_path(drive)
    signed = [arc.turn * arc.radius_m for arc in path.arcs]
    before, after = ((drive.pulleys[i].x_m, drive.pulleys[i].y_m, signed[i]) for i in (at - 1, at + 1))
    left, _ = centre_from(before, after, signed[at], (path.spans[at - 1].length_m, path.spans[at].length_m))
    assert left == pytest.approx((drive.pulleys[at].x_m, drive.pulleys[at].y_m), abs=1e-12)


@given(st.floats(0.05, 0.4), st.floats(0.05, 0.4))
def test_a_centre_stands_as_far_off_as_its_spans_say(one: float, two: float) -> None:
    before, after, radius = (0.0, 0.0, -0.1), (0.1, 0.5, -0.08), 0.05
    try:
        places = centre_from(before, after, radius, (one, two))
    except ValueError:
        return
    for x, y in places:
        for (other_x, other_y, other), span in zip((before, after), (one, two), strict=True):
            assert hypot(x - other_x, y - other_y) == pytest.approx(hypot(span, radius - other), abs=1e-9)


def test_the_stiffness_of_a_drive_follows_from_two_readings_and_the_turns_between(drive: Layout) -> None:
    # turned on paper: the path over the belt's own length is its strain
    at, belt = seat(drive, fitting_belts(drive, tension_n=6000)), drive.belt
    there = drive.at_travel(at.travel_m)
    turn = adjuster_gain(there)
    way = 1 if turn.path_per_travel > 0 else -1
    tighter = belt_path(there.at_travel(way * 0.5 * turn.travel_per_turn_m)).length_m
    read_n = belt.stiffness_n * (tighter / belt.length_m - 1)
    assert stiffness_by_turns(drive, 6000, read_n, 0.5) == pytest.approx(belt.stiffness_n, rel=1e-8)


def test_a_slide_counted_the_other_way_tells_the_same_stiffness(toothed: Layout) -> None:
    slide = toothed.slide
    assert slide is not None
    back = replace(slide, direction_rad=slide.direction_rad + pi, least_m=-slide.most_m, most_m=-slide.least_m)
    found = stiffness_by_turns(replace(toothed, slide=back), 6000, 7000, 0.5)
    assert found == pytest.approx(stiffness_by_turns(toothed, 6000, 7000, 0.5), rel=1e-9)


def test_a_lean_in_flats_by_hand() -> None:
    # .3 mm over 120 mm is .0025; at 90 mm between the adjusters .225 mm; flats of .45 mm: half a flat
    assert square_flats(0.3e-3, 0.12, 0.09, 0.45e-3) == pytest.approx(0.5, rel=1e-12)
    with pytest.raises(ValueError, match="The base of the straightedge must be more than 0"):
        square_flats(0.3e-3, 0.0, 0.09, 0.45e-3)


def test_a_file_with_readings_is_the_drive_that_follows_from_them() -> None:
    text = TOOTHED
    for value, readings in MEASURED.items():
        text = text.replace(value, readings)
    usual, found = layout_from_text(TOOTHED), layout_from_text(text)
    assert found.belt.mass_kg_per_m == pytest.approx(0.745, rel=1e-12)
    assert found.belt.back_m == pytest.approx(usual.belt.back_m, abs=1e-15)
    assert found.blower.power_w[-1] == pytest.approx(800e3, rel=1e-12)
    path, idler = belt_path(usual), usual.pulleys[1]
    spans = "\n".join(
        f"span_{name}_mm = {path.spans[at].length_m * 1e3!r}" for name, at in (("before", 0), ("after", 1))
    )
    placed = layout_from_text(TOOTHED.replace("x_mm = -120\ny_mm = 290", f'{spans}\nstands = "left"')).pulleys[1]
    assert (placed.x_m, placed.y_m) == pytest.approx((idler.x_m, idler.y_m), abs=1e-9)
    turned = "loose_lbf = 1300\ntight_lbf = 1800\ntighter_turns = 1"
    stiff = layout_from_text(TOOTHED.replace("stiffness_n = 2.1e6", turned)).belt.stiffness_n
    assert stiff == pytest.approx(stiffness_by_turns(usual, 1300 * 4.4482216152605, 1800 * 4.4482216152605, 1))


@pytest.mark.parametrize(
    ("value", "readings", "said"),
    [
        ("mass_g_per_m = 745", "weighed_g = 1", r'weighed_g: fault: "1" gives 0.5495 g/m, .*; .* between 1 and 5000'),
        ("mass_g_per_m = 745", "", "mass_g_per_m or mass_lb_per_ft or weighed_g: mass of one metre"),
        ("mass_g_per_m = 745", "mass_g_per_m = 745\nweighed_g = 900", "keep the value or the readings, not both"),
        ("back_mm = 2.6", "thickness_mm = 7", "A belt 7.00 mm thick has no room"),
        ("stiffness_n = 2.1e6", "loose_n = 8000\ntight_n = 7000\ntighter_turns = 1", "second reading is not above"),
        ("stiffness_n = 2.1e6", "loose_n = 8000\ntight_n = 9000", "tighter_turns: fault: is missing"),
        ("stiffness_n = 2.1e6", "loose_n = 50\ntight_n = 50000\ntighter_turns = 0.01", "which no belt has"),
        ("x_mm = -120\ny_mm = 290", 'span_before_mm = 30\nspan_after_mm = 290\nstands = "left"', "do not meet"),
        ("x_mm = -120\ny_mm = 290", 'span_before_mm = 300\nspan_after_mm = 290\nstands = "up"', "is no stands"),
        ("power_kw = [14, 75, 210, 310, 430, 585, 770]", ("displacement_l = 8\nboost_kpa = [40, 400]\n"
         "efficiency_percent = 80"), "It has 2 values for 7 speeds"),
    ],
)  # fmt: skip
def test_readings_that_cannot_be_are_a_fault_at_their_key(value: str, readings: str, said: str) -> None:
    assert re.search(said, faults(TOOTHED.replace(value, readings)))
