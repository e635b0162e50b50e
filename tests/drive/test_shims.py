"""Spacers that cock the idler, and the shim under the manifold."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivekit.drive.amounts import INCH_M
from drivekit.drive.shims import Spacer, best_spacers, cocking, difference_m, shim, tilt

# Five invented spacers, a tenth of a millimetre apart.
SHELF = [Spacer(str(one), 2e-3 + one * 1e-4) for one in range(1, 6)]


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
    shelf = [Spacer(str(place), tenth * 1e-4) for place, tenth in enumerate(tenths)]
    best = best_spacers(shelf, angle_rad, 0.1)
    wanted = 0.1 * math.tan(angle_rad)
    every = [abs(a.thickness_m - b.thickness_m - wanted) for a in shelf for b in shelf if a is not b]
    assert abs(best.difference_m - wanted) <= min(every) + 2e-9
    assert best.front != best.rear


def test_one_spacer_is_no_pair() -> None:
    with pytest.raises(ValueError, match="A pair needs two spacers, and there is 1 on hand"):
        best_spacers(SHELF[:1], 0.0, 0.1)
    with pytest.raises(ValueError, match="Spacer 9 is -1 mm thick"):
        best_spacers([*SHELF, Spacer("9", -1e-3)], 0.0, 0.1)


# Common practice, no source: .4 degree from a shim of .085 to .089 in, so a base of 12.2 to 12.7 in.
@pytest.mark.parametrize(("shim_in", "base_in"), [(0.085, 12.2), (0.089, 12.7)])
def test_four_tenths_of_a_degree_is_the_shim_that_practice_knows(shim_in: float, base_in: float) -> None:
    assert math.degrees(tilt(shim_in * INCH_M, base_in * INCH_M).tilt_rad) == pytest.approx(0.4, abs=0.0025)
    assert shim(math.radians(0.4), base_in * INCH_M).shim_m / INCH_M == pytest.approx(shim_in, abs=5e-4)


def test_a_manifold_says_its_shim_and_tilt() -> None:
    # sin = .087 / 12.5 = .00696: .39878 degree
    assert str(tilt(0.087 * INCH_M, 12.5 * INCH_M)) == (
        "A shim of 2.210 mm (0.0870 in) under one end of a base of 317.5 mm (12.50 in) tips it 0.399 degrees."
    )
    with pytest.raises(ValueError, match="A shim of 400 mm does not fit under a base of 300 mm"):
        tilt(0.4, 0.3)
    with pytest.raises(ValueError, match="No shim tips a manifold by 60 degrees"):
        shim(math.radians(60), 0.3)
