"""Resultants on the shafts, by hand and by laws of statics; what a toothed and a smooth idler do to the belt."""

from __future__ import annotations

from dataclasses import replace
from math import cos, pi, sin, sqrt

import pytest

from drivekit.drive.layout import Layout
from drivekit.drive.loads import states, tip_pressure
from drivekit.drive.path import belt_path
from drivekit.drive.set_up import set_up

# of the worked example: span of 480 mm and half the arcs, 2.49809 rad x 100 mm, on crank and blower, of 1,708.319 mm
TIGHT = (480 + 249.809) / 1708.319


def test_loads_on_the_triangle_by_hand(worked: Layout) -> None:
    layout = worked.at_travel(0.05)
    rest, _, full = states(layout, belt_path(layout), 1000.0)
    # headings: crank to idler (-.6, .8), idler to blower (.6, .8), blower to crank (0, -1)
    # at rest 5,000 N in every span: idler 5,000 x (1.2, 0), blower 5,000 x ((0, -1) - (.6, .8))
    assert (rest.load(1).x_n, rest.load(1).y_n) == pytest.approx((6000, 0), abs=1e-6)
    assert (rest.load(2).x_n, rest.load(2).y_n) == pytest.approx((-3000, -9000), abs=1e-6)
    assert rest.load(2).force_n == pytest.approx(3000 * sqrt(10), rel=1e-12)
    # full load: slack 6,000 - .42721 x 4,000 - 1,000 = 3,291.16 N from crank over idler to blower, tight 4,000 N more
    slack, tight = 5000 - TIGHT * 4000, 9000 - TIGHT * 4000
    assert full.span_n == pytest.approx((slack, slack, tight), rel=1e-6)
    assert (full.load(1).x_n, full.load(1).y_n) == pytest.approx((1.2 * slack, 0), abs=0.01)
    assert (full.load(2).x_n, full.load(2).y_n) == pytest.approx((-0.6 * slack, -0.8 * slack - tight), abs=0.01)
    # crank: slack leaves along (-.6, .8), tight arrives along (0, -1)
    assert (full.load(0).x_n, full.load(0).y_n) == pytest.approx((-0.6 * slack, 0.8 * slack + tight), abs=0.01)


def test_at_idle_the_blower_takes_its_idle_power(worked: Layout) -> None:
    layout = worked.at_travel(0.05)
    idle = states(layout, belt_path(layout), 1000.0)[1]
    # 4 kW at 10 m/s: 400 N of pull, 40 N for the belt itself
    assert idle.tensions.tight_n == pytest.approx(6000 + (1 - TIGHT) * 400 - 40, rel=1e-6)
    assert idle.tensions.slack_n == pytest.approx(6000 - TIGHT * 400 - 40, rel=1e-6)


def test_the_belt_pulls_all_pulleys_to_nothing_together(drive: Layout) -> None:
    layout = drive.at_travel(0.05)
    for state in states(layout, belt_path(layout), 700.0):
        assert sum(load.x_n for load in state.loads) == pytest.approx(0, abs=1e-6)
        assert sum(load.y_n for load in state.loads) == pytest.approx(0, abs=1e-6)


def test_an_idler_s_pull_is_twice_the_tension_times_the_sine_of_half_its_wrap(drive: Layout) -> None:
    layout = drive.at_travel(0.05)
    path = belt_path(layout)
    for state in states(layout, path, 700.0):
        idler = state.load(1)
        assert state.span_n[0] == state.span_n[1]
        assert idler.force_n == pytest.approx(2 * state.span_n[1] * sin(path.arcs[1].wrap_rad / 2), rel=1e-12)


def test_virtual_work_the_pull_against_a_move_is_tension_times_the_path_s_growth(drive: Layout) -> None:
    layout = drive.at_travel(0.05)
    path = belt_path(layout)
    rest = states(layout, path, 0.0)[0]
    for i, load in enumerate(rest.loads):
        for direction in (0.0, 1.1, 2.9):
            against = -(load.x_n * cos(direction) + load.y_n * sin(direction))
            assert against == pytest.approx(rest.span_n[0] * path.length_per_move(i, direction), abs=1e-6)


def test_with_180_degrees_of_wrap_the_snout_feels_the_sum_of_both_spans(worked: Layout) -> None:
    crank, _, blower = worked.pulleys
    two = replace(worked, pulleys=(crank, blower), slide=None)
    rest, _, full = states(two, belt_path(two), 1000.0)
    assert rest.load(1).force_n == pytest.approx(2 * 5000, rel=1e-12)
    assert full.load(1).force_n == pytest.approx(7000 + 3000, rel=1e-9)
    assert belt_path(two).arcs[1].wrap_rad == pytest.approx(pi, rel=1e-14)


def test_a_slack_belt_pulls_nothing(worked: Layout) -> None:
    loose = replace(worked, tension=replace(worked.tension, set_n=1000.0)).at_travel(0.05)
    full = states(loose, belt_path(loose), 0.0)[2]
    assert full.tensions.slack_n < 0
    assert full.span_n[0] == 0
    assert full.load(1).force_n == 0


def test_tight_and_slack_follow_the_order_wherever_it_starts(toothed: Layout) -> None:
    layout = toothed.at_travel(0.05)
    turned = replace(layout, pulleys=layout.pulleys[2:] + layout.pulleys[:2])
    before = {load.pulley: load.force_n for load in states(layout, belt_path(layout), 500.0)[2].loads}
    after = {load.pulley: load.force_n for load in states(turned, belt_path(turned), 500.0)[2].loads}
    assert after == pytest.approx(before, rel=1e-12)


def test_tip_pressure_by_hand() -> None:
    # 5,000 N of tension around 60 degrees: R = 5,000 N; chord 2 x .05 x .5 = 50 mm; x 80 mm x a third
    assert tip_pressure(5000, pi / 3, 0.05, 0.08, 1 / 3) == pytest.approx(5000 / (0.05 * 0.08 / 3), rel=1e-12)
    # the same from the tension: T / (r w share)
    wrap, tension = 0.7, 4000
    assert tip_pressure(2 * tension * sin(wrap / 2), wrap, 0.06, 0.07, 0.4) == pytest.approx(
        tension / (0.06 * 0.07 * 0.4), rel=1e-12
    )


def test_pressure_without_a_wrap_is_refused() -> None:
    with pytest.raises(ValueError, match="Pressure needs a wrap"):
        tip_pressure(5000, 0, 0.05, 0.08, 0.4)


def test_duty_of_the_triangle_by_hand(worked: Layout) -> None:
    duty = set_up(worked).duty
    # 6 s at 50 m/s and 60 s at 10 m/s: 900 m of belt over a path of 1.70832 m; three toothed pulleys inside
    turns = 900 / (1.08 + 0.2 * pi)
    assert duty.turns == pytest.approx(turns, rel=1e-9)
    assert (duty.forward, duty.backward) == (3, 0)
    assert duty.meshes == pytest.approx(3 * turns, rel=1e-9)
    assert duty.rubs == 0
    assert duty.tip_pressure_pa is None


def test_a_smooth_idler_rubs_where_a_toothed_one_meshes(toothed: Layout, smooth: Layout, outside: Layout) -> None:
    mesh, rub, back = (set_up(layout).duty for layout in (toothed, smooth, outside))
    assert mesh.idlers[0][3] is not None
    assert rub.idlers[0][3] is None
    assert (mesh.rubs, mesh.tip_pressure_pa) == (0, None)
    assert rub.rubs == pytest.approx(rub.turns)
    assert rub.meshes == pytest.approx(2 * rub.turns)
    assert rub.tip_pressure_pa == pytest.approx(
        # the hardest state is at rest: static tension over face radius, width and share
        smooth.tension.set_n / (0.05 * 0.075 * 5 / 14),
        rel=1e-9,
    )
    # outside, the back rides on it: no tips are pressed, and the belt bends backward once a turn
    assert (back.forward, back.backward, back.tip_pressure_pa) == (2, 1, None)


def test_a_run_twice_as_long_doubles_every_meeting(worked: Layout) -> None:
    engine = replace(worked.engine, full_load_s=12.0, idle_time_s=120.0)
    once, twice = set_up(worked).duty, set_up(replace(worked, engine=engine)).duty
    assert twice.meshes == pytest.approx(2 * once.meshes, rel=1e-12)


def test_duty_says_itself(smooth: Layout) -> None:
    said = str(set_up(smooth).duty)
    assert said.startswith(
        "The idler, smooth and inside the loop, has no teeth in mesh. Each turn bends the belt 3 times forward and 0 "
        "backward"
    )
    assert "presses on the tips of the teeth with 6.20 MPa." in said
