"""The idler's pin against stored values and a beam cut in elements; its bearings: ISO 76 and ISO 281 by hand."""

from __future__ import annotations

from dataclasses import replace
from math import inf, pi
from typing import Any

import numpy as np
import pytest

from drivekit.drive.idler import (
    bearing_check,
    cantilever,
    pin_bend,
    rated_life,
    second_moment,
    shear_give,
    three_supports,
)
from drivekit.drive.layout import Layout


def beam(nodes: list[float], held: list[int], load_at: int, force: float, stiff: float) -> tuple[float, float]:
    """Deflection and slope at a node, by cubic elements (exact for loads at nodes; a second program)."""
    k = np.zeros((2 * len(nodes), 2 * len(nodes)))
    for i, h in enumerate(np.diff(nodes)):
        k[2 * i : 2 * i + 4, 2 * i : 2 * i + 4] += (
            stiff
            / h**3
            * np.array(
                [
                    [12, 6 * h, -12, 6 * h],
                    [6 * h, 4 * h**2, -6 * h, 2 * h**2],
                    [-12, -6 * h, 12, -6 * h],
                    [6 * h, 2 * h**2, -6 * h, 4 * h**2],
                ]
            )
        )
    free = [i for i in range(2 * len(nodes)) if i not in held]
    pull = np.zeros(2 * len(nodes))
    pull[2 * load_at] = force
    moved = np.zeros(2 * len(nodes))
    moved[free] = np.linalg.solve(k[np.ix_(free, free)], pull[free])
    return float(moved[2 * load_at]), float(moved[2 * load_at + 1])


def test_cantilever_has_its_stored_deflection_and_slope(mechanics: dict[str, Any]) -> None:
    deflection, slope = cantilever(1000, 0.1, 200e9 * second_moment(0.025))
    assert deflection == pytest.approx(mechanics["cantilever"]["deflection_m"], rel=5e-8)
    assert slope == pytest.approx(mechanics["cantilever"]["slope_rad"], rel=5e-7)
    assert second_moment(0.025) == pytest.approx(pi * 0.025**4 / 64, rel=1e-14)


def test_cantilever_is_the_beam_cut_in_elements() -> None:
    assert cantilever(800, 0.07, 5000) == pytest.approx(beam([0, 0.03, 0.07], [0, 1], 2, 800, 5000), rel=1e-9)


@pytest.mark.parametrize(("overhang", "grip", "outboard"), [(0.05, 0.06, 0.11), (0.02, 0.1, 0.09), (0.08, 0.03, 0.1)])
def test_three_supports_are_the_beam_cut_in_elements(overhang: float, grip: float, outboard: float) -> None:
    found = three_supports(900, overhang, grip, outboard, 4000)
    nodes = [0, grip, grip + overhang, grip + outboard]
    assert found == pytest.approx(beam(nodes, [0, 2, 6], 2, 900, 4000), rel=1e-9)


def test_three_supports_by_hand() -> None:
    # grip and span 1, load 16 in the middle, EI 1: M = -16 x .5 x (1 - .25) / (2 x 2) = -1.5
    # deflection 16 / 48 - 1.5 x (2 x .5 - 3 x .25 + .125) / 6 = 1/3 - .09375; slope -1.5 x (2 - 3 + .75) / 6 = .0625
    assert three_supports(16, 0.5, 1, 1, 1) == pytest.approx((1 / 3 - 0.09375, 0.0625), rel=1e-12)


@pytest.mark.parametrize(("long", "more"), [(1.2, 0.351), (1.8, 0.156)])
def test_shear_adds_a_third_to_a_sixth_to_a_short_pin_and_does_not_turn_its_end(long: float, more: float) -> None:
    # f = 10 / 9 x 2.6 / E A against L^2 / 3 EI = 16 L^2 / 3 d^2 EA: more = 26 / 9 x 3 / 16 x (d / L)^2
    diameter = 0.03
    stiff = 200e9 * second_moment(diameter)
    slender, short = (
        cantilever(5000, long * diameter, stiff),
        cantilever(5000, long * diameter, stiff, shear_give(diameter, 200e9)),
    )
    assert short[0] / slender[0] - 1 == pytest.approx(26 / 9 * 3 / 16 / long**2, rel=1e-9)
    assert short[0] / slender[0] - 1 == pytest.approx(more, abs=0.03)
    assert short[1] == slender[1]


def test_three_supports_with_shear_are_those_of_a_beam_cut_in_elements() -> None:
    """A second program: two-node elements with shear (Przemieniecki's form), three pins, one load."""
    force, overhang, grip, outboard, stiff, give = 8000.0, 0.04, 0.05, 0.1, 6000.0, 2e-9
    spans = np.concatenate(
        (np.full(50, grip / 50), np.full(40, overhang / 40), np.full(60, (outboard - overhang) / 60))
    )
    size = 2 * (spans.size + 1)
    whole = np.zeros((size, size))
    for i, h in enumerate(spans):
        phi = 12 * stiff * give / h**2
        turned = np.array(
            [
                [12, 6 * h, -12, 6 * h],
                [6 * h, (4 + phi) * h**2, -6 * h, (2 - phi) * h**2],
                [-12, -6 * h, 12, -6 * h],
                [6 * h, (2 - phi) * h**2, -6 * h, (4 + phi) * h**2],
            ]
        )
        part = slice(2 * i, 2 * i + 4)
        whole[part, part] += stiff / (h**3 * (1 + phi)) * turned
    load = np.zeros(size)
    load[2 * 90] = force
    free = [at for at in range(size) if at not in (0, 2 * 50, 2 * 150)]
    moved = np.zeros(size)
    moved[free] = np.linalg.solve(whole[np.ix_(free, free)], load[free])
    assert three_supports(force, overhang, grip, outboard, stiff, give) == pytest.approx(
        (moved[2 * 90], moved[2 * 90 + 1]), rel=1e-6
    )


def test_a_pin_held_at_three_points_leans_less_than_one_held_at_one(toothed: Layout) -> None:
    assert toothed.idler is not None
    three = pin_bend(toothed.idler, 8000, 0.075, 1.0)
    one = pin_bend(replace(toothed.idler, support="single"), 8000, 0.075, 1.0)
    assert abs(three.slope_rad) < abs(one.slope_rad)
    assert three.deflection_m < one.deflection_m


def test_the_edge_s_difference_by_hand(worked: Layout) -> None:
    assert worked.idler is not None
    # I = pi .04^4 / 64 = 1.2566e-7, EI = 25,133 N m2; slope 6,000 x .05^2 / 2 EI = 2.984e-4; x 50 mm x 1.2
    bend = pin_bend(worked.idler, 6000, 0.05, 1.2)
    slope = 6000 * 0.05**2 / (2 * 200e9 * pi * 0.04**4 / 64)
    assert bend.slope_rad == pytest.approx(slope, rel=1e-12)
    assert bend.edge_m == pytest.approx(slope * 0.05 * 1.2, rel=1e-12)
    assert str(bend) == (
        "Under 6,000 N (1,349 lbf) a pin held at one side bends at least 0.013 mm (0.0005 in) at the belt and the "
        "idler leans at least 0.017 degrees, so that one edge of the belt runs at least 0.018 mm (0.0007 in) longer "
        "than the other."
    )


def test_impossible_pins_get_one_sentence(toothed: Layout) -> None:
    assert toothed.idler is not None
    with pytest.raises(ValueError, match=r"60\.0 mm of overhang does not lie within 50\.0 mm"):
        three_supports(1000, 0.06, 0.06, 0.05, 4000)
    with pytest.raises(ValueError, match="needs its grip and how far out the outboard plate is"):
        pin_bend(replace(toothed.idler, grip_m=None), 1000, 0.075, 1.0)
    with pytest.raises(ValueError, match="The pin's diameter must be more than 0"):
        second_moment(0)


def test_rated_life_is_iso_281_s(mechanics: dict[str, Any]) -> None:
    # (30 / 5)^3 = 216 million turns; at 1,500 rpm 216e6 / 1,500 / 60 = 2,400 h
    assert rated_life(30e3, 5e3) / 1e6 == pytest.approx(mechanics["bearing"]["million_turns"], rel=1e-12)
    assert rated_life(30e3, 5e3) / 1500 / 60 == pytest.approx(mechanics["bearing"]["hours"], rel=1e-12)
    assert rated_life(30e3, 5e3, kind="roller") == pytest.approx(6 ** (10 / 3) * 1e6, rel=1e-12)


def test_two_bearings_share_the_pull_by_hand(worked: Layout) -> None:
    assert worked.idler is not None
    # 2 x 12,000 N / 6,000 N = 4; life (20,000 / 3,000)^3 million turns; 50 m/s on a radius of .1 m
    found = bearing_check(worked.idler, 0.1, 6000, 50)
    assert found.safety == pytest.approx(4.0, rel=1e-12)
    assert found.idler_rpm == pytest.approx(50 / (2 * pi * 0.1) * 60, rel=1e-12)
    assert found.life_turns == pytest.approx((20 / 3) ** 3 * 1e6, rel=1e-12)
    assert found.life_s == pytest.approx((20 / 3) ** 3 * 1e6 / found.idler_rpm * 60, rel=1e-12)
    assert (found.safe, found.slow_enough) == (True, True)


def test_too_much_pull_and_too_much_speed_are_told(worked: Layout) -> None:
    assert worked.idler is not None
    found = bearing_check(worked.idler, 0.05, 13_000, 50)
    assert (found.safe, found.slow_enough) == (False, False)
    assert str(found).startswith(
        "The idler turns at 9,549 rpm under up to 13,000 N (2,923 lbf); static safety 1.8 is too little (ISO 76; 2 or "
        "more under shocks); that speed is beyond the bearings' limit of 9,000 rpm. (Rated life"
    )


def test_rollers_want_more_safety_and_a_missing_rating_is_no_verdict(worked: Layout) -> None:
    assert worked.idler is not None
    roller = bearing_check(replace(worked.idler, bearing_kind="roller"), 0.1, 10_000, 50)
    assert (roller.safety, roller.safety_wanted, roller.safe) == (pytest.approx(2.4), 3.0, False)
    bare = replace(worked.idler, bearing_static_n=None, bearing_dynamic_n=None, bearing_limit_rpm=None)
    unrated = bearing_check(bare, 0.1, 6000, 50)
    assert (unrated.safe, unrated.slow_enough, unrated.life_s) == (None, None, None)
    assert str(unrated) == "The idler turns at 4,775 rpm under up to 6,000 N (1,349 lbf)."


def test_a_slack_belt_strains_no_bearing(worked: Layout) -> None:
    assert worked.idler is not None
    assert bearing_check(worked.idler, 0.1, 0.0, 50).safety == inf


def test_a_bearing_of_no_kind_is_refused() -> None:
    with pytest.raises(ValueError, match="A bearing is ball or roller, not plain"):
        rated_life(1000, 100, kind="plain")
