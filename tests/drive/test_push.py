"""Tension from a push, and what a turn of the adjusters gains."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivekit.drive.fitting import fit
from drivekit.drive.layout import Layout
from drivekit.drive.path import belt_path
from drivekit.drive.push import adjuster_gain, push_force, tension_from_push


def test_push_by_hand() -> None:
    # a span of 600 mm pushed by 40 mm: halves sqrt(300^2 + 40^2) = 302.6549 mm, sin = 40 / 302.6549
    found = tension_from_push(500, 0.04, 0.6)
    assert found.rough_n == pytest.approx(500 * 0.6 / 0.16, rel=1e-14)
    assert found.pushed_n == pytest.approx(500 * sqrt(0.0916) / 0.08, rel=1e-14)
    # the exact form again as rough x sqrt(1 + (2 d / L)^2)
    assert found.pushed_n == pytest.approx(found.rough_n * sqrt(1 + (2 * 0.04 / 0.6) ** 2), rel=1e-14)
    assert found.rest_n is None


def test_the_stretch_of_the_push_comes_off_by_hand() -> None:
    # 2 x 300.006 - 600: 6 mm push on 600 mm stretches 2 sqrt(.3^2 + .006^2) - .6 = .00011999 m over 1.8 m of belt
    stretch = 2 * sqrt(0.3**2 + 0.006**2) - 0.6
    found = tension_from_push(300, 0.006, 0.6, stiffness_n=2e6, belt_m=1.8)
    assert found.rest_n == pytest.approx(found.pushed_n - 2e6 * stretch / 1.8, rel=1e-14)


@given(st.floats(200, 20000), st.floats(0.001, 0.02), st.floats(0.2, 0.8), st.floats(1e4, 5e6))
def test_the_push_for_a_tension_reads_back_as_that_tension(
    tension: float, sag: float, span: float, stiff: float
) -> None:
    push = push_force(tension, sag, span, stiffness_n=stiff, belt_m=1.8)
    assert tension_from_push(push, sag, span, stiffness_n=stiff, belt_m=1.8).rest_n == pytest.approx(tension, rel=1e-9)


def test_for_a_small_push_the_rough_form_is_the_exact_one() -> None:
    found = tension_from_push(10, 1e-5, 0.5)
    assert found.rough_n == pytest.approx(found.pushed_n, rel=1e-8)


def test_impossible_pushes_get_one_sentence() -> None:
    with pytest.raises(ValueError, match="The deflection must be more than 0, not 0"):
        tension_from_push(100, 0, 0.5)
    with pytest.raises(
        ValueError, match=r"Pushing by 40.0 mm stretches the belt by more than the 757 N it then carries"
    ):
        tension_from_push(200, 0.04, 0.6, stiffness_n=2e6, belt_m=1.8)


def test_a_turn_of_the_adjusters_by_hand(worked: Layout) -> None:
    # M12x1.75, one hand: 1.75 mm a turn; d path / d travel = 2 x .6 = 1.2 on the 3-4-5 triangle
    gain = adjuster_gain(worked.at_travel(0.05))
    assert gain.travel_per_turn_m == pytest.approx(0.00175, rel=1e-14)
    assert gain.path_per_travel == pytest.approx(1.2, rel=1e-12)
    by_hand = 1021815.0642456 * 1.2 * 0.00175 / 1.7
    assert gain.per_turn_n == pytest.approx(by_hand, rel=1e-12)
    assert gain.per_flat_n == pytest.approx(by_hand / 6, rel=1e-12)


def test_left_and_right_hand_ends_double_what_a_turn_gains(worked: Layout) -> None:
    assert worked.adjusters is not None
    doubled = replace(worked, adjusters=replace(worked.adjusters, ends="left-right"))
    assert adjuster_gain(doubled).per_turn_n == pytest.approx(2 * adjuster_gain(worked).per_turn_n, rel=1e-14)


def test_a_flat_gained_is_the_flat_by_which_the_path_grew(drive: Layout) -> None:
    seated = drive.at_travel(fit(drive, tension_n=5000).travel_m)
    gain = adjuster_gain(seated)
    flat = gain.travel_per_turn_m / 6
    # half a flat either way, so that the path's own bend drops out
    longer = belt_path(seated.at_travel(flat / 2)).length_m - belt_path(seated.at_travel(-flat / 2)).length_m
    assert gain.per_flat_n == pytest.approx(drive.belt.stiffness_n * longer / drive.belt.length_m, rel=1e-5)


def test_without_adjusters_nothing_can_be_told(worked: Layout) -> None:
    with pytest.raises(ValueError, match="worked example has no adjusters on a slide"):
        adjuster_gain(replace(worked, adjusters=None))


def test_push_and_gain_say_themselves(worked: Layout) -> None:
    assert str(tension_from_push(500, 0.04, 0.6)) == (
        "500 N (112 lbf) that pushes a span of 600.0 mm by 40.000 mm (1.5748 in) means 1,875 N (422 lbf) (force x span "
        "/ 4 deflection; exactly 1,892 N while pushed)."
    )
    assert str(adjuster_gain(worked.at_travel(0.05))) == (
        "A turn of every adjuster moves the idler 1.750 mm and gains 1,262 N (284 lbf); a flat gains 210 N (47 lbf)."
    )
