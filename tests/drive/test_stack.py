"""The idler's stack in its bracket, spacers that cock the idler, the shim under the manifold."""

import math
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivekit.drive.layout import Bracket, Spacer, StackPart
from drivekit.drive.stack import best_spacers, cocking, difference_m, pried, shim, stack_fit, tilt
from drivekit.units import INCH_M


def part(name: str, length_m: float, place: Any, tolerance_m: float = 0.0) -> StackPart:
    return StackPart(name=name, length_m=length_m, place=place, tolerance_m=tolerance_m)


# An invented stack: 8 + 60.2 + 7.6 = 75.8 mm in a gap of 76 mm.
PARTS = [
    part("front spacer", 8e-3, "front", 3e-5),
    part("idler", 60.2e-3, "idler", 4e-5),
    part("rear spacer", 7.6e-3, "rear"),
]


def test_a_stack_by_hand() -> None:
    # Clearance .200; worst .03 + .04 + .12 = .19; in quadrature sqrt(.0009 + .0016 + .0144) = .13
    stack = stack_fit(Bracket(76e-3, 1.2e-4, 1.5e-4), PARTS)
    assert stack.clearance_m == pytest.approx(2.0e-4, abs=1e-12)
    assert stack.worst_m == pytest.approx((1e-5, 3.9e-4), abs=1e-12)
    assert stack.likely_m == pytest.approx((7e-5, 3.3e-4), abs=1e-12)
    # sigma = .13 / 3; bind beyond .2 / (.13 / 3) = 4.615 sigma
    assert stack.chance_of_bind == pytest.approx(NormalDist().cdf(-4.615384615), rel=1e-8)
    assert stack.shim_m == pytest.approx(0.5e-4, abs=1e-12)
    assert stack.cut_m == 0.0
    # Rear parts 7.6, front parts 8.0: the idler stands .2 mm to the rear.
    assert stack.towards_front_m == pytest.approx(-2e-4, abs=1e-12)
    assert stack.verdict == "has play"
    assert str(stack) == (
        "The stack is 0.200 mm (0.0079 in) shorter than the gap; over the tolerances it has play "
        "(worst case +0.010 to +0.390 mm). Statistically +0.070 to +0.330 mm, a chance below 0.1 % to bind, if every "
        "part is normal about its size with its tolerance three sigma. Shim 0.050 mm (0.0020 in) for the 0.150 mm "
        "(0.0059 in) wanted. The idler stands 0.200 mm (0.0079 in) to the rear of the middle."
    )


def test_a_long_stack_binds_and_is_cut() -> None:
    stack = stack_fit(Bracket(75e-3, 0.0), PARTS)
    assert stack.verdict == "binds"
    # .8 mm too long, and .07 mm of tolerances to be clear of
    assert stack.cut_m == pytest.approx(8.7e-4, abs=1e-12)
    assert stack.chance_of_bind == pytest.approx(1.0)
    assert "Cut 0.870 mm" in str(stack)


def test_without_a_clearance_wanted_no_stack_within_its_tolerances_binds() -> None:
    loose = stack_fit(Bracket(76.5e-3, 1.2e-4), PARTS)
    assert loose.wanted_m == pytest.approx(1.9e-4)
    shimmed = stack_fit(Bracket(76.5e-3, 1.2e-4), [*PARTS, part("shim", loose.shim_m, "front")])
    assert shimmed.verdict == "has play"
    assert shimmed.shim_m == shimmed.cut_m == 0


def test_a_shim_that_would_make_it_bind_more_often_is_not_advised() -> None:
    # .2 mm of clearance closed to nothing: half of all such stacks would bind
    stack = stack_fit(Bracket(76e-3, 1.2e-4, 0.0), PARTS)
    assert stack.shim_m == 0
    assert "would leave a chance of 50.0 % to bind in place of a chance below 0.1 %" in str(stack)


def test_a_stack_that_may_bind_says_so() -> None:
    stack = stack_fit(Bracket(75.85e-3), PARTS)
    assert stack.verdict == "may bind"
    assert 0 < stack.chance_of_bind < 0.01


def test_measured_parts_have_one_answer() -> None:
    measured = [part("idler", 60e-3, "idler"), part("washer", 2e-3, "front"), part("washer", 2e-3, "rear")]
    stack = stack_fit(Bracket(64e-3), measured)
    assert stack.worst_m == stack.likely_m == (stack.clearance_m, stack.clearance_m)
    assert stack.chance_of_bind == 0.0
    assert str(stack) == (
        "The stack fills the gap exactly; over the tolerances it has play (worst case +0.000 to +0.000 mm). "
        "The idler stands in the middle."
    )


def test_the_chance_to_bind_is_what_drawn_stacks_do() -> None:
    parts = [part("a", 10e-3, "front", 9e-5), part("b", 20e-3, "idler", 1.2e-4)]
    stack = stack_fit(Bracket(30.05e-3, 8e-5), parts)
    rng = np.random.default_rng(1)
    sizes = [part.length_m + part.tolerance_m / 3 * rng.standard_normal(200_000) for part in parts]
    gaps = 30.05e-3 + 8e-5 / 3 * rng.standard_normal(200_000)
    assert np.mean(gaps < sum(sizes)) == pytest.approx(stack.chance_of_bind, abs=4 * math.sqrt(0.25 / 200_000))
    assert 0.15 < stack.chance_of_bind < 0.25
    assert f"a chance of {100 * stack.chance_of_bind:.1f} % to bind" in str(stack)


@given(st.lists(st.floats(0, 1e-3), min_size=1, max_size=6))
def test_tolerances_in_quadrature_never_exceed_the_worst_case(tolerances: list[float]) -> None:
    stack = stack_fit(Bracket(0.1), [part("part", 0.01, "idler", one) for one in tolerances])
    assert stack.worst_m[0] <= stack.likely_m[0] + 1e-15
    assert stack.likely_m[1] <= stack.worst_m[1] + 1e-15


def test_swapping_front_and_rear_mirrors_the_idler() -> None:
    swap = {"front": "rear", "rear": "front", "idler": "idler"}
    mirrored = [part(one.name, one.length_m, swap[one.place], one.tolerance_m) for one in PARTS]
    assert stack_fit(Bracket(76e-3), mirrored).towards_front_m == pytest.approx(
        -stack_fit(Bracket(76e-3), PARTS).towards_front_m, abs=1e-15
    )


def test_a_measured_bracket_pries_by_its_stiffness() -> None:
    assert pried(1e-4, 5e6) == "A stack 0.100 mm (0.0039 in) too long pries the bracket with 500 N (112 lbf)."


def test_what_cannot_be_a_stack_is_refused_in_one_sentence() -> None:
    with pytest.raises(ValueError, match="The stack has no parts: list at least the idler"):
        stack_fit(Bracket(0.076), [])
    with pytest.raises(ValueError, match="The length of idler must be more than 0, not -1"):
        stack_fit(Bracket(0.076), [part("idler", -1.0, "idler")])
    with pytest.raises(ValueError, match="A tolerance is less than 0"):
        stack_fit(Bracket(0.076), [part("idler", 0.06, "idler", -1e-5)])
    with pytest.raises(ValueError, match="The excess of the stack must be more than 0"):
        pried(0.0, 5e6)


# Five invented spacers, a tenth of a millimetre apart.
SHELF = [Spacer(one, 2e-3 + one * 1e-4) for one in range(1, 6)]


def test_a_pair_of_spacers_cocks_the_idler_by_hand() -> None:
    # 2.3 mm front, 2.1 mm rear, 100 mm apart: atan(.002) = .11459 degrees
    set_up = cocking(2.3e-3, 2.1e-3, 0.1)
    assert math.degrees(set_up.angle_rad) == pytest.approx(0.114591, abs=5e-7)
    assert str(set_up) == ("the front stands 0.200 mm (0.0079 in) further out, which cocks the idler 0.115 degrees.")
    assert str(cocking(2e-3, 2e-3, 0.1)) == "the idler stands square."


@given(st.floats(-0.7, 0.7), st.floats(0.01, 0.5))
def test_cocking_leads_back_to_the_difference(angle_rad: float, apart_m: float) -> None:
    assert cocking(difference_m(angle_rad, apart_m), 0.0, apart_m).angle_rad == pytest.approx(angle_rad, abs=1e-12)


def test_the_best_pair_comes_from_the_spacers_on_hand() -> None:
    # Wanted .21 mm in 100 mm: the nearest difference is .2; of 3-1, 4-2, 5-3 the thinnest pair is 3-1.
    best = best_spacers(SHELF, 0.0021, 0.1)
    assert (best.front, best.rear) == ("3", "1")
    back = best_spacers(SHELF, -0.0021, 0.1)
    assert (back.front, back.rear) == ("1", "3")
    assert str(best).startswith("Spacer 3 at the front and 1 at the rear: the front stands 0.200 mm")


@given(st.lists(st.integers(0, 40), min_size=2, max_size=7), st.floats(-0.05, 0.05))
def test_no_pair_on_hand_is_nearer_than_the_best(tenths: list[int], angle_rad: float) -> None:
    shelf = [Spacer(place, tenth * 1e-4) for place, tenth in enumerate(tenths)]
    best = best_spacers(shelf, angle_rad, 0.1)
    wanted = 0.1 * math.tan(angle_rad)
    every = [abs(a.length_m - b.length_m - wanted) for a in shelf for b in shelf if a is not b]
    assert abs(best.difference_m - wanted) <= min(every) + 2e-9
    assert best.front != best.rear


def test_one_spacer_is_no_pair() -> None:
    with pytest.raises(ValueError, match="A pair needs two spacers, and there is 1 on hand"):
        best_spacers(SHELF[:1], 0.0, 0.1)
    with pytest.raises(ValueError, match=r"Spacer 9 is -1\.00 mm thick"):
        best_spacers([*SHELF, Spacer(9, -1e-3)], 0.0, 0.1)


# Common practice, no source: .4 degree from a shim of .085 to .089 in, so a base of 12.2 to 12.7 in.
@pytest.mark.parametrize(("shim_in", "base_in"), [(0.085, 12.2), (0.089, 12.7)])
def test_four_tenths_of_a_degree_is_the_shim_that_practice_knows(shim_in: float, base_in: float) -> None:
    assert math.degrees(tilt(shim_in * INCH_M, base_in * INCH_M).tilt_rad) == pytest.approx(0.4, abs=0.0025)
    assert shim(math.radians(0.4), base_in * INCH_M).shim_m / INCH_M == pytest.approx(shim_in, abs=5e-4)


def test_a_manifold_says_its_shim_and_tilt() -> None:
    # sin = .087 / 12.5 = .00696: .39878 degree
    assert str(tilt(0.087 * INCH_M, 12.5 * INCH_M)) == (
        "A shim of 2.210 mm (0.0870 in) under the rear end of a manifold's base of 317.5 mm (12.50 in) tips it 0.399 "
        "degrees: the front ends up that much higher if its top is machined level on the shim and the shim taken out, "
        "that much lower if the shim stays."
    )
    with pytest.raises(ValueError, match=r"A shim of 400\.00 mm does not fit under a base of 300\.0 mm"):
        tilt(0.4, 0.3)
    with pytest.raises(ValueError, match="No shim tips a manifold by 60 degrees"):
        shim(math.radians(60), 0.3)


def test_a_base_on_a_shim_half_as_thick_as_it_is_long_stands_at_thirty_degrees() -> None:
    """The base is the slope itself, so its sine is shim / base, not its tangent."""
    assert math.degrees(tilt(0.15, 0.3).tilt_rad) == pytest.approx(30.0, rel=1e-12)
