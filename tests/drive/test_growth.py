"""Growth of engine and belt when hot, and the tension it adds."""

from __future__ import annotations

from dataclasses import replace
from math import pi, sqrt
from typing import Any

import pytest

from drivekit.drive.amounts import INCH_M
from drivekit.drive.growth import growth
from drivekit.drive.layout import EXPANSION_PER_C, Height, Layout
from drivekit.drive.path import belt_path


def test_an_engine_of_24_inches_grows_about_30_thousandths(mechanics: dict[str, Any]) -> None:
    part = Height("all", 24 * INCH_M, 55.0, material="aluminium-6061")
    assert part.growth_m / INCH_M == pytest.approx(mechanics["growth"]["inches"], abs=5e-4)


def test_growth_by_hand(worked: Layout) -> None:
    # 20e-6 x 500 mm x 100 C = 1 mm: blower at 481 mm, idler's upper side sqrt(180^2 + 241^2)
    seated = worked.at_travel(0.05)
    found = growth(seated)
    longer = sqrt(0.18**2 + 0.241**2) - 0.3 + 0.001
    assert found.computed_m == pytest.approx(0.001, rel=1e-12)
    assert found.engine_m == pytest.approx((0.0008, 0.001, 0.0012), rel=1e-12)
    assert found.path_m == pytest.approx(longer, abs=1e-14)
    assert found.tension_n[1] == pytest.approx(1021815.0642456 * longer / 1.7, rel=1e-9)
    assert found.belt_m == 0


def test_the_belt_s_own_growth_takes_tension_away(worked: Layout) -> None:
    warm = replace(worked, belt=replace(worked.belt, expansion_per_c=10e-6, warmer_c=50.0))
    # 10e-6 x 50 of strain x EA
    lost = growth(worked).tension_n[1] - growth(warm).tension_n[1]
    assert lost == pytest.approx(1021815.0642456 * 5e-4, rel=1e-9)
    assert growth(warm).belt_m == pytest.approx(1.7 * 5e-4, rel=1e-12)


def test_a_measured_range_rules_and_the_computed_growth_is_held_within_it(worked: Layout) -> None:
    measured = replace(worked, tension=replace(worked.tension, growth_low_m=0.0002, growth_high_m=0.0005))
    assert growth(measured).engine_m == (0.0002, 0.0005, 0.0005)
    unmeasured = replace(worked, tension=replace(worked.tension, growth_low_m=None, growth_high_m=None))
    assert growth(unmeasured).engine_m == pytest.approx((0.001, 0.001, 0.001))
    least_only = replace(worked, tension=replace(worked.tension, growth_low_m=0.002, growth_high_m=None))
    assert growth(least_only).engine_m == (0.002, 0.002, 0.002)


def test_a_cold_engine_adds_nothing(worked: Layout) -> None:
    cold = replace(worked, heights=(), tension=replace(worked.tension, growth_low_m=None, growth_high_m=None))
    assert growth(cold).tension_n == (0, 0, 0)


def test_small_growth_is_the_closed_form_of_the_blower_s_lift(drive: Layout) -> None:
    seated = drive.at_travel(0.06)
    blower = seated.place("blower")
    tiny = 1e-6
    longer = belt_path(seated.grown(tiny)).length_m - belt_path(seated).length_m
    assert longer / tiny == pytest.approx(belt_path(seated).length_per_move(blower, pi / 2), rel=1e-5)


def test_an_idler_bolted_to_the_blower_case_is_lifted_with_its_share(worked: Layout) -> None:
    crank, idler, blower = worked.pulleys
    carried = replace(worked, pulleys=(crank, replace(idler, growth_share=0.5), blower))
    assert carried.grown(0.001).pulleys[1].y_m == pytest.approx(0.2405, rel=1e-12)
    assert worked.grown(0.001).pulleys[1].y_m == 0.24


def test_expansion_is_callister_s() -> None:
    assert {name: round(value * 1e6, 1) for name, value in EXPANSION_PER_C.items()} == {
        "aluminium-6061": 23.6,
        "steel-1020": 11.7,
        "steel-a36": 11.7,
        "steel-4140": 12.3,
        "steel-4340": 12.3,
    }


def test_growth_says_itself(worked: Layout) -> None:
    assert str(growth(worked.at_travel(0.05))) == (
        "Hot, the engine grows 1.000 mm (0.0394 in) between crank and blower and the belt's path 1.80 mm, the belt "
        "itself 0.00 mm: that adds 1,082 N (243 lbf) (866 to 1,299 N) to every span."
    )
