"""Tension of a span from its note and from a push, and back; stiff spans against a beam cut in elements."""

from __future__ import annotations

from math import pi, sqrt
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.linalg import eigh

from drivekit.drive.span_tension import (
    frequency_of,
    push_force,
    reading_error,
    readings,
    tension_from_frequency,
    tension_from_push,
)
from drivekit.span import clamped_frequency


def beam_frequency(tension: float, length: float, mass: float, bending: float, *, clamped: bool) -> float:
    """Lowest frequency of a beam under tension, cut in cubic elements with consistent mass (a second program).

    The elements are finer at the ends, where a clamped belt bends within some sqrt(EI / T).
    """
    near = min(0.2 * length, 10 * sqrt(bending / tension))
    ends = np.linspace(0, near, 41)
    at = np.concatenate([ends, np.linspace(near, length - near, 61)[1:-1], length - ends[::-1]])
    size = 2 * at.size
    k, m = np.zeros((size, size)), np.zeros((size, size))
    for i, h in enumerate(np.diff(at)):
        turn = np.array([1, h, 1, h])
        scale = np.outer(turn, turn)
        stiff = np.array([[12, 6, -12, 6], [6, 4, -6, 2], [-12, -6, 12, -6], [6, 2, -6, 4]])
        pulled = np.array([[36, 3, -36, 3], [3, 4, -3, -1], [-36, -3, 36, -3], [3, -1, -3, 4]])
        inert = np.array([[156, 22, 54, -13], [22, 4, 13, -3], [54, 13, 156, -22], [-13, -3, -22, 4]])
        four = slice(2 * i, 2 * i + 4)
        k[four, four] += scale * (bending / h**3 * stiff + tension / (30 * h) * pulled)
        m[four, four] += scale * (mass * h / 420 * inert)
    held = {0, size - 2} | ({1, size - 1} if clamped else set())
    free = [i for i in range(size) if i not in held]
    lowest = eigh(k[np.ix_(free, free)], m[np.ix_(free, free)], eigvals_only=True, subset_by_index=(0, 0))[0]
    return float(sqrt(lowest) / (2 * pi))


def test_tension_of_a_string_by_hand(mechanics: dict[str, Any]) -> None:
    # 4 x .2 kg/m x (.3 m)^2 x (100 Hz)^2 = .8 x .09 x 10,000 = 720 N; 4 x .5 x .09 x 3,600 = 648 N
    for mass, length, frequency, tension in mechanics["string"]["values"]:
        assert tension_from_frequency(frequency, length, mass).string_n == pytest.approx(tension, rel=1e-14)
        assert frequency_of(tension, length, mass) == pytest.approx(frequency, rel=1e-14)


def test_bending_stiffness_with_hinged_ends_by_hand() -> None:
    # 648 N less pi^2 x .5 N m2 / .09 m2 = 54.831 N
    assert tension_from_frequency(60, 0.3, 0.5, 0.5).hinged_n == pytest.approx(648 - pi**2 * 0.5 / 0.09, rel=1e-14)


@pytest.mark.parametrize("tension", [50.0, 8300.0])
@pytest.mark.parametrize("bending", [0.02, 2.0])
def test_stiff_spans_ring_as_a_beam_cut_in_elements_does(tension: float, bending: float) -> None:
    length, mass = 0.34, 0.5
    hinged = beam_frequency(tension, length, mass, bending, clamped=False)
    clamped = beam_frequency(tension, length, mass, bending, clamped=True)
    assert frequency_of(tension, length, mass, bending, ends="hinged") == pytest.approx(hinged, rel=2e-6)
    assert frequency_of(tension, length, mass, bending, ends="clamped") == pytest.approx(clamped, rel=2e-6)


def test_a_clamped_beam_without_tension_has_the_known_first_note() -> None:
    # (4.730041)^2 = 22.37329, first root of cos x cosh x = 1 (Timoshenko, Young and Weaver)
    expected = 4.730040744862704**2 / (2 * pi * 0.3**2) * sqrt(0.5 / 0.5)
    assert clamped_frequency(0.0, 0.3, 0.5, 0.5) == pytest.approx(expected, rel=1e-10)


@given(st.floats(400, 20000), st.floats(0.15, 0.8), st.floats(0.1, 1.0), st.floats(0.001, 0.2))
def test_reading_back_the_note_gives_the_tension(tension: float, length: float, mass: float, bending: float) -> None:
    string = tension_from_frequency(frequency_of(tension, length, mass), length, mass)
    assert string.string_n == pytest.approx(tension, rel=1e-12)
    hinged = tension_from_frequency(frequency_of(tension, length, mass, bending, ends="hinged"), length, mass, bending)
    assert hinged.hinged_n == pytest.approx(tension, rel=1e-6)
    clamped = tension_from_frequency(
        frequency_of(tension, length, mass, bending, ends="clamped"), length, mass, bending
    )
    assert clamped.clamped_n == pytest.approx(tension, rel=1e-6)
    # a stiff belt rings higher than a string, the more so the firmer its ends are held
    assert clamped.string_n > hinged.string_n > tension * (1 - 1e-12)


def test_one_percent_in_length_and_frequency_by_hand() -> None:
    assert reading_error(0.01, 0.0) == pytest.approx(0.0201, rel=1e-12)
    assert reading_error(0.0, 0.01) == pytest.approx(0.0201, rel=1e-12)
    assert reading_error(0.01, 0.01) == pytest.approx(0.04060401, rel=1e-12)
    assert reading_error(-0.01, 0.0) == pytest.approx(-0.0199, rel=1e-12)
    assert tension_from_frequency(100, 0.3, 0.2).per_percent_n == pytest.approx(720 * 0.0201, rel=1e-12)


def test_readings_are_put_together_and_said() -> None:
    near = readings([8200, 8300, 8400])
    assert (near.mean_n, near.spread, near.agree) == (8300, pytest.approx(200 / 8300), True)
    assert str(near).endswith("3 readings, mean 8,300 N (1,866 lbf), largest less smallest 2.4 % of it: they agree.")
    far = readings([7000, 8300, 8400])
    assert not far.agree
    assert "find out why, and read again" in str(far)


def test_impossible_readings_get_one_sentence() -> None:
    with pytest.raises(ValueError, match="One reading says nothing of how well it repeats"):
        readings([8300])
    with pytest.raises(ValueError, match=r"15.0 Hz is too low a note: the belt's stiffness alone gives 39.6 Hz"):
        tension_from_frequency(15, 0.3, 0.5, 0.5)
    with pytest.raises(ValueError, match="The frequency must be more than 0, not 0"):
        tension_from_frequency(0, 0.3, 0.5)
    with pytest.raises(ValueError, match="string, hinged or clamped, not glued"):
        frequency_of(100, 0.3, 0.5, ends="glued")  # type: ignore[arg-type]


def test_a_span_tension_says_itself() -> None:
    assert str(tension_from_frequency(60, 0.3, 0.5, 0.02)) == (
        "A free span of 300.0 mm at 60.0 Hz has a tension of 648 N (146 lbf) as a string; the belt's stiffness makes "
        "that 646 N with hinged, 597 N with clamped ends. 1 % wrong in length or in frequency makes 13 N."
    )


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


def test_a_push_says_itself() -> None:
    assert str(tension_from_push(500, 0.04, 0.6)) == (
        "500 N (112 lbf) that pushes a span of 600.0 mm by 40.000 mm (1.5748 in) means 1,875 N (422 lbf) by force x "
        "span / 4 deflection, exactly 1,892 N while pushed; the belt's stretch is not taken off, so at rest it is less."
    )
