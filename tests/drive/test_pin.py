"""The idler's pin: a cantilever and a beam on three supports, against stored values and a beam cut in elements."""

from __future__ import annotations

from dataclasses import replace
from math import pi
from typing import Any

import numpy as np
import pytest

from drivekit.drive.layout import Layout
from drivekit.drive.pin import cantilever, pin_bend, second_moment, three_supports


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
        "Under 6,000 N (1,349 lbf) a pin held at one side bends 0.010 mm (0.0004 in) at the belt and the idler leans "
        "0.017 degrees, so that one edge of the belt runs 0.018 mm (0.0007 in) longer than the other."
    )


def test_impossible_pins_get_one_sentence(toothed: Layout) -> None:
    assert toothed.idler is not None
    with pytest.raises(ValueError, match="60 mm of overhang does not lie within 50 mm"):
        three_supports(1000, 0.06, 0.06, 0.05, 4000)
    with pytest.raises(ValueError, match="needs its grip and how far out the outboard plate is"):
        pin_bend(replace(toothed.idler, grip_m=None), 1000, 0.075, 1.0)
    with pytest.raises(ValueError, match="The pin's diameter must be more than 0"):
        second_moment(0)
