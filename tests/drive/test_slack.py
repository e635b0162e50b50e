"""When the slack side goes slack: stored values, by hand, laws, and agreement with the invented seasons."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivekit.drive.fitting import growth
from drivekit.drive.layout import Blower, Layout
from drivekit.drive.limits import tension_limits
from drivekit.drive.path import belt_path
from drivekit.drive.set_up import set_up
from drivekit.drive.slack import (
    belt_speed,
    belt_tensions,
    blower_power,
    blower_rpm,
    goes_slack,
    margin,
    slack_tension,
    tension_guide,
    tight_share,
)
from drivekit.log.demo_truth import TRUTH
from drivekit.units import POUND_N


def tightened(layout: Layout, set_n: float) -> Layout:
    return replace(layout, tension=replace(layout.tension, set_n=set_n))


def test_stored_values_of_speed_pull_and_least_tension(toothed: Layout, mechanics: dict[str, Any]) -> None:
    stored = mechanics["slack"]
    # 8,000 / 60 turns a second x 48 teeth x 14 mm
    assert belt_speed(toothed, 8000) == pytest.approx(stored["speed_m_per_s"], rel=1e-12)
    at = belt_tensions(stored["least_set_n"], 0.0, 700e3, 89.6, 0.5, 0.5)
    assert at.effective_n == pytest.approx(stored["effective_n"], abs=1)
    assert at.effective_n / POUND_N == pytest.approx(stored["effective_lbf"], abs=0.5)
    assert at.own_n == pytest.approx(0.5 * 89.6**2, rel=1e-14)
    # it is just at the edge: half of 7,812 and 4,014 N
    assert at.slack_n == pytest.approx(0, abs=1)
    assert stored["least_set_n"] / POUND_N == pytest.approx(stored["least_set_lbf"], abs=0.6)
    # snout near 180 degrees of wrap: twice the static tension at rest, the two contact tensions at speed
    assert 2 * stored["least_set_n"] / POUND_N == pytest.approx(stored["snout_at_rest_lbf"], abs=5)
    assert (at.tight_n + at.slack_n) / POUND_N == pytest.approx(stored["snout_at_speed_lbf"], abs=5)


@given(
    st.floats(0, 2e4), st.floats(-500, 3000), st.floats(0, 9e5), st.floats(1, 120), st.floats(0, 1), st.floats(0.2, 0.8)
)
def test_the_mean_over_the_length_stays_and_the_difference_is_the_pull(
    set_n: float, grown: float, power: float, speed: float, m: float, share: float
) -> None:
    at = belt_tensions(set_n, grown, power, speed, m, share)
    mean = share * at.tight_n + (1 - share) * at.slack_n + at.own_n
    assert mean == pytest.approx(set_n + grown, rel=1e-9, abs=1e-5)
    assert at.tight_n - at.slack_n == pytest.approx(power / speed, rel=1e-9, abs=1e-6)
    # a belt without mass needs nothing for itself: contact and total are one
    weightless = belt_tensions(set_n, grown, power, speed, 0.0, share)
    assert weightless.own_n == 0
    assert weightless.slack_n - at.slack_n == pytest.approx(m * speed**2, rel=1e-9, abs=1e-6)


def test_a_demo_belt_goes_slack_where_the_example_drives_do(toothed: Layout, smooth: Layout, outside: Layout) -> None:
    for layout in (toothed, smooth, outside):
        found = set_up(layout)
        least = slack_tension(found.layout, found.growth.tension_n[1])
        assert least == pytest.approx(TRUTH.slack_below_n, rel=0.05)
    assert belt_speed(toothed, toothed.engine.crank_rpm) == pytest.approx(TRUTH.speed_m_s, rel=1e-9)
    assert toothed.belt.mass_kg_per_m == pytest.approx(TRUTH.mass_kg_m, rel=1e-12)
    assert toothed.belt.stiffness_n == pytest.approx(TRUTH.stiffness_n_per_mm * 75, rel=1e-12)
    found = set_up(toothed)
    assert found.states[2].tensions.power_w == pytest.approx(TRUTH.full_load_w, rel=1e-9)
    assert tight_share(found.layout) == pytest.approx(TRUTH.tight_share, abs=5e-4)
    assert found.growth.tension_n[1] == pytest.approx(TRUTH.growth_n, rel=0.01)
    assert found.gain is not None
    assert found.gain.per_turn_n == pytest.approx(TRUTH.turn_n, rel=0.01)
    # the lowest tension the invented crews set goes slack in every example, the best one in none
    assert goes_slack(tightened(toothed, TRUTH.lowest_n), TRUTH.growth_n).power_w < TRUTH.full_load_w
    assert goes_slack(tightened(toothed, TRUTH.best_n), TRUTH.growth_n).power_w > TRUTH.full_load_w


# of the worked example: span of 480 mm and half the arcs, 2.49809 rad x 100 mm, on crank and blower, of 1,708.319 mm
TIGHT = (480 + 249.809) / 1708.319


def test_the_tight_side_s_share_of_the_length(toothed: Layout, smooth: Layout, outside: Layout, worked: Layout) -> None:
    assert tight_share(worked.at_travel(0.05)) == pytest.approx(TIGHT, rel=1e-6)
    # checked by a separate program on the three examples: .447, .447, .511
    shares = [tight_share(set_up(layout).layout) for layout in (toothed, smooth, outside)]
    assert shares == pytest.approx([0.447, 0.447, 0.511], abs=5e-4)


def test_the_share_is_that_of_an_elastic_belt_cut_into_pieces(outside: Layout) -> None:
    """A second program: pieces of belt as springs between marks, the pull handed over evenly along two arcs."""
    found = set_up(outside)
    full, layout = found.states[2], found.layout
    crank, blower, count = layout.place("crank"), layout.place("blower"), len(layout.pulleys)
    tight = (1 - tight_share(layout)) * full.tensions.effective_n
    pieces, tension = [], tight
    for step in range(count):  # from the blower on, the way the belt runs
        place = (blower + step) % count
        arc = found.path.arcs[place]
        to = {blower: tight, crank: tight - full.tensions.effective_n}.get(place, tension)
        start = tension if place != blower else tight - full.tensions.effective_n
        cuts = np.linspace(start, to, 401)
        pieces += [(arc.radius_m * arc.wrap_rad / 400, at) for at in (cuts[1:] + cuts[:-1]) / 2]
        tension = to
        pieces.append((found.path.spans[place].length_m, tension))
    # on fixed centres the stretch beyond that of the mean adds up to nothing
    assert sum(length * more for length, more in pieces) == pytest.approx(0, abs=1e-6 * full.tensions.effective_n)


def test_goes_slack_by_hand(worked: Layout) -> None:
    # at 50 m/s: v / share x (set + growth - m v^2) = 50 / .42721 x (5,000 + 1,000 - 1,000) = 585.2 kW
    worked = worked.at_travel(0.05)
    point = goes_slack(worked, 1000.0)
    assert point.power_w == pytest.approx(50 / TIGHT * 5000, rel=1e-6)
    assert point.crank_rpm is not None
    assert point.curve_power_w is not None
    # along the curve: there the slack side has nothing left
    speed = belt_speed(worked, point.crank_rpm)
    assert point.curve_power_w == pytest.approx(blower_power(worked.blower)(point.crank_rpm), rel=1e-9)
    assert 6000 - TIGHT * point.curve_power_w / speed - 0.4 * speed**2 == pytest.approx(0, abs=0.01)


def test_at_the_slack_tension_full_load_leaves_nothing(drive: Layout) -> None:
    drive = set_up(drive).layout
    least = slack_tension(drive, 300.0)
    power = blower_power(drive.blower)(blower_rpm(drive, drive.engine.crank_rpm))
    point = goes_slack(tightened(drive, least), 300.0)
    assert point.power_w == pytest.approx(power, rel=1e-12)
    assert point.crank_rpm == pytest.approx(drive.engine.crank_rpm, rel=1e-9)


def test_a_belt_that_stays_tight_says_so_and_nothing_is_carried_beyond_the_curve(worked: Layout) -> None:
    point = goes_slack(tightened(worked, 40_000.0), 0.0)
    assert point.crank_rpm is None
    assert str(point).endswith("along the blower's curve it stays tight up to 8,000 rpm, where it ends.")
    with pytest.raises(ValueError, match="known up to 8,000 rpm of the blower, not at 8,001 rpm"):
        blower_power(worked.blower)(8001)


def test_the_power_curve_runs_through_its_table_and_through_nothing_at_standstill(toothed: Layout) -> None:
    power = blower_power(toothed.blower)
    assert [power(rpm) for rpm in toothed.blower.speed_rpm] == pytest.approx(list(toothed.blower.power_w), rel=1e-14)
    assert power(0) == 0
    between = [power(rpm) for rpm in range(0, 12001, 100)]
    assert between == sorted(between)
    # a table that starts at standstill needs no start added
    assert blower_power(Blower((0.0, 100.0), (5.0, 10.0)))(0) == 5.0


def test_the_blower_turns_faster_by_the_teeth(toothed: Layout) -> None:
    assert blower_rpm(toothed, 8000) == pytest.approx(8000 * 48 / 40, rel=1e-12)


def test_margin_by_hand(worked: Layout) -> None:
    # need at full load: .42721 x 200 kW / 50 m/s + .4 x 2,500 = 1,708.8 + 1,000; readings off by 10 % of 5,000
    worked, need = worked.at_travel(0.05), TIGHT * 4000 + 1000
    found = margin(worked, (800.0, 1000.0, 1200.0))
    assert (found.low_n, found.expected_n, found.high_n) == pytest.approx(
        (5300 - need, 6000 - need, 6700 - need), rel=1e-6
    )
    assert str(found).endswith("2,591 to 3,991 N: as wanted.")
    assert str(
        margin(replace(worked, tension=replace(worked.tension, margin_n=2800)), (800.0, 1000.0, 1200.0))
    ).endswith("less than the 2,800 N wanted.")
    assert str(margin(tightened(worked, 2000), (800.0, 1000.0, 1200.0))).endswith("it may go slack.")


def test_tension_guide_by_hand(worked: Layout) -> None:
    # least (2,708.8 - 800 + 500) / .9 = 2,676.5 N; most (limit 9,000 - .57279 x 4,000 - 1,200) / 1.1 = 5,008.0 N
    limited = replace(worked, belt=replace(worked.belt, tension_limit_n=9000.0)).at_travel(0.05)
    limits = tension_limits(limited, belt_path(limited), 1200.0, None)
    del limits["the bearings' static safety"]
    guide = tension_guide(limited, (800.0, 1000.0, 1200.0), (4000, 3500, 4500), limits)
    assert guide.least_n == pytest.approx((TIGHT * 4000 + 700) / 0.9, rel=1e-6)
    assert guide.slack_n == pytest.approx(TIGHT * 4000, rel=1e-6)
    assert guide.limit_n == pytest.approx((7800 - (1 - TIGHT) * 4000) / 1.1, rel=1e-6)
    assert str(guide).endswith("Belts lasted best near 4,000 N (899 lbf) (3,500 to 4,500 N): above that least.")
    assert guide.limited_by == "the belt maker's limit"
    low = tension_guide(limited, (800.0, 1000.0, 1200.0), (2500,))
    assert str(low).endswith("Belts lasted best near 2,500 N (562 lbf): below that least.")
    assert "no tension does both" in str(tension_guide(limited, (800.0, 1000.0, 1200.0), (), {"the clamp": 2000.0}))
    assert "no more than 2,000 N (450 lbf) by the clamp, with" in str(
        tension_guide(limited, (0.0, 0.0, 0.0), (), {"the belt": 3000.0, "the clamp": 2000.0})
    )


def test_at_the_guide_s_least_tension_the_worst_case_keeps_the_margin(drive: Layout) -> None:
    drive = set_up(drive).layout
    hot = growth(drive).tension_n
    least = tension_guide(drive, hot).least_n
    assert margin(tightened(drive, least), hot).low_n == pytest.approx(drive.tension.margin_n, abs=1e-6)


def test_a_belt_at_rest_carries_no_power() -> None:
    with pytest.raises(ValueError, match=r"A belt at rest carries no power, and 5\.0 kW was asked of it"):
        belt_tensions(5000, 0, 5000, 0, 0.5, 0.5)
    with pytest.raises(ValueError, match="0 or more"):
        belt_tensions(5000, 0, 5000, -1, 0.5, 0.5)


def test_tensions_say_themselves(worked: Layout) -> None:
    assert str(belt_tensions(5000, 1000, 200e3, 50, 0.4, 0.5)) == (
        "At 200 kW and 50.0 m/s the belt pulls 4,000 N (899 lbf), turning itself takes 1,000 N (225 lbf), and the "
        "slack side keeps 3,000 N (674 lbf)."
    )
    assert "the slack side goes slack" in str(belt_tensions(2000, 0, 200e3, 50, 0.4, 0.5))
    assert str(goes_slack(worked, -4900.0)).startswith("At 4,775 rpm of the crank the belt is slack without any load")
