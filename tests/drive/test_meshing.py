"""What a toothed and a smooth idler do to the belt."""

from __future__ import annotations

from dataclasses import replace
from math import pi, sin

import pytest

from drivekit.drive.layout import Layout
from drivekit.drive.meshing import tip_pressure
from drivekit.drive.set_up import set_up


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
