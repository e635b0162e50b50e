"""The worked example of data/drives, solved by hand, line by line: three equal pulleys on a 3-4-5 triangle.

Crank (0, 0), blower (0, 480), idler (-180, 240) once seated, all of 100 mm pitch radius; the belt runs clockwise, up
over the idler and down the straight side. Every number below is worked out on paper from the numbers of the file.
"""

from __future__ import annotations

from math import asin, degrees, pi, sqrt

import pytest

from drivekit.drive.layout import Layout
from drivekit.drive.set_up import SetUp, set_up

# the file: belt of 170 teeth of 10 mm, EA chosen so that 5,000 N stretch 1,700 mm to the seated path
EA_N, LENGTH_M = 1021815.0642456, 1.7
SIDE_M = 0.3  # sqrt(180^2 + 240^2) = 300 mm
# tight: the 480 mm span and half the arcs of 249.809 mm on crank and blower, of 1,708.319 mm
SHARE = (480 + 249.809) / 1708.319


@pytest.fixture
def found(worked: Layout) -> SetUp:
    return set_up(worked, (4000,))


def test_line_1_the_seat(found: SetUp) -> None:
    # path = 2 x 300 + 480 + 2 pi x 100 = 1,708.319 mm = 1,700 x (1 + 5,000 / EA); idler at -130 - 50
    assert found.path.length_m == pytest.approx(1.08 + 0.2 * pi, abs=1e-9)
    assert pytest.approx(1.08 + 0.2 * pi, abs=1e-12) == LENGTH_M * (1 + 5000 / EA_N)
    assert found.seat is not None
    assert found.seat.travel_m == pytest.approx(0.05, abs=1e-9)
    assert (found.layout.pulleys[1].x_m, found.layout.pulleys[1].y_m) == pytest.approx((-0.18, 0.24), abs=1e-9)


def test_line_2_spans_wraps_and_teeth(found: SetUp) -> None:
    assert [span.length_m for span in found.path.spans] == pytest.approx([0.3, 0.3, 0.48], abs=1e-9)
    # the belt turns by 2 asin(180 / 300) = 73.740 degrees at the idler, by 180 - 36.870 at crank and blower
    wraps = [degrees(arc.wrap_rad) for arc in found.path.arcs]
    assert wraps == pytest.approx([143.1301, 73.7398, 143.1301], abs=1e-4)
    # teeth in mesh: wrap x 100 mm / 10 mm
    teeth = [pi - asin(0.6), 2 * asin(0.6), pi - asin(0.6)]
    assert [arc.teeth_in_mesh for arc in found.path.arcs] == pytest.approx([10 * one for one in teeth], rel=1e-7)


def test_line_3_a_turn_of_the_adjusters(found: SetUp) -> None:
    # path gained a travel: 2 x .6 = 1.2; a turn of M12x1.75 is 1.75 mm; EA x 1.2 x 1.75 / 1,700 = 1,262.2 N
    assert found.gain is not None
    assert found.gain.per_turn_n == pytest.approx(1262.24, abs=0.01)
    assert found.gain.per_flat_n == pytest.approx(210.37, abs=0.01)


def test_line_4_growth(found: SetUp) -> None:
    # 20e-6 x 500 mm x 100 C = 1 mm; sides sqrt(180^2 + 241^2) = 300.800598 mm and 481 mm: 1.800598 mm more path
    assert found.growth.computed_m == pytest.approx(0.001, rel=1e-12)
    assert found.growth.path_m == pytest.approx(sqrt(0.18**2 + 0.241**2) - SIDE_M + 0.001, abs=1e-9)
    # x EA / 1,700 mm = 1,082.27 N; .8 mm give 865.77 N, 1.2 mm give 1,298.83 N
    assert found.growth.tension_n == pytest.approx((865.77, 1082.27, 1298.83), abs=0.02)


def test_line_5_tensions_at_full_load(found: SetUp) -> None:
    # 200 kW at 50 m/s pull 4,000 N; .4 kg/m x 2,500 = 1,000 N for the belt itself; mean 5,000 + 1,082.27
    full = found.states[2].tensions
    assert (full.effective_n, full.own_n, full.mean_n) == pytest.approx((4000, 1000, 6082.27), abs=0.02)
    assert full.tight_n == pytest.approx(6082.27 + (1 - SHARE) * 4000 - 1000, abs=0.02)
    assert full.slack_n == pytest.approx(6082.27 - SHARE * 4000 - 1000, abs=0.02)
    assert full.tight_n + full.own_n == pytest.approx(6082.27 + (1 - SHARE) * 4000, abs=0.02)


def test_line_6_goes_slack(found: SetUp) -> None:
    # at 50 m/s: 50 / .42721 x (6,082.27 - 1,000) = 594.8 kW
    assert found.slack.power_w / 1e3 == pytest.approx(594.82, abs=0.01)
    # need .42721 x 4,000 + 1,000 = 2,708.84; margin: 5,000 x .9 + 865.77 - it, 5,000 + 1,082.27 - it and so on
    margins = (found.margin.low_n, found.margin.expected_n, found.margin.high_n)
    assert margins == pytest.approx((2656.93, 3373.43, 4089.99), abs=0.03)
    # least to set: (2,708.84 - 865.77 + 500) / .9 = 2,603.41 N, so that 4,000 N lie above it
    assert found.guide.least_n == pytest.approx(2603.41, abs=0.03)
    assert str(found.guide).endswith("Belts lasted best near 4,000 N (899 lbf): above that least.")


def test_line_7_pulls_on_the_shafts(found: SetUp) -> None:
    rest, idle, full = found.states
    # at rest: idler 1.2 x 5,000; crank and blower 5,000 x sqrt(.6^2 + 1.8^2)
    assert [load.force_n for load in rest.loads] == pytest.approx([9486.83, 6000, 9486.83], abs=0.01)
    # at idle 4 kW at 10 m/s pull 400 N, 40 N for the belt: slack 6,082.27 - .42721 x 400 - 40, so idler 1.2 x that
    assert idle.load(1).force_n == pytest.approx(1.2 * 5871.39, abs=0.03)
    # full load: blower slack 3,373.44 x (-.6, -.8) and tight 7,373.44 x (0, -1)
    assert (full.load(2).x_n, full.load(2).y_n) == pytest.approx((-2024.07, -10072.20), abs=0.03)


def test_line_8_the_idler(found: SetUp) -> None:
    # hardest at idle: 7,045.67 N; EI = 200e9 x pi x .04^4 / 64 = 25,132.7 N m2; on 50 mm
    assert found.bend is not None
    assert found.bend.force_n == pytest.approx(7045.67, abs=0.03)
    # shear: 10 / 9 x 7,045.67 x .05 x 2.6 / (200e9 x pi x .02^2), a third more
    shear = 10 / 9 * 7045.67 * 0.05 * 2.6 / (200e9 * pi * 0.02**2)
    assert found.bend.deflection_m == pytest.approx(7045.67 * 0.05**3 / (3 * 25132.74) + shear, rel=1e-5)
    assert found.bend.slope_rad == pytest.approx(7045.67 * 0.05**2 / (2 * 25132.74), rel=1e-5)
    # one edge: slope x 50 mm x 1.2 longer
    assert found.bend.edge_m == pytest.approx(found.bend.slope_rad * 0.05 * 1.2, rel=1e-6)
    # two bearings of 12 kN: 24,000 / 7,045.67 = 3.41; 4,774.65 rpm as the crank
    assert found.bearing is not None
    assert found.bearing.safety == pytest.approx(3.4063, abs=1e-4)
    assert found.bearing.idler_rpm == pytest.approx(4774.648, abs=1e-3)


def test_line_9_the_belt_s_duty(found: SetUp) -> None:
    # 6 s at 50 m/s + 60 s at 10 m/s = 900 m; / 1.708319 m = 526.83 turns; three meetings a turn
    assert found.duty.turns == pytest.approx(526.83, abs=0.01)
    assert found.duty.meshes == pytest.approx(1580.50, abs=0.02)


def test_line_10_what_the_span_reads(found: SetUp) -> None:
    # the 480 mm span under 5,000 N: sqrt(5,000 / .4) / .96 = 116.46 Hz
    assert found.reading.note.frequency_hz == pytest.approx(116.462, abs=0.001)
    # a sag of 7.5 mm: half spans sqrt(240^2 + 7.5^2) stretch the belt by .23432 mm and so to 5,140.84 N
    half = sqrt(0.24**2 + 0.0075**2)
    pushed = 5000 + EA_N * (2 * half - 0.48) / 1.7
    assert found.reading.push.force_n == pytest.approx(2 * 0.0075 / half * pushed, rel=1e-6)
