"""Threads against the standards' numbers: ASME B1.1, ISO 261, ISO 898-1."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivekit.drive.amounts import INCH_M
from drivekit.drive.threads import FLATS_IN_A_TURN, INCH_THREADS, METRIC_PITCHES_MM, thread


@pytest.mark.parametrize(
    ("size", "coarse", "fine"),
    [
        ("1/4", 20, 28),
        ("5/16", 18, 24),
        ("3/8", 16, 24),
        ("7/16", 14, 20),
        ("1/2", 13, 20),
        ("9/16", 12, 18),
        ("5/8", 11, 18),
        ("3/4", 10, 16),
    ],
)
def test_threads_per_inch_are_those_of_asme_b1_1(size: str, coarse: int, fine: int) -> None:
    for per_inch, series in ((coarse, "UNC"), (fine, "UNF")):
        screw = thread(f"{size}-{per_inch}")
        assert screw.name == f"{size}-{per_inch} {series}"
        assert screw.pitch_m == pytest.approx(0.0254 / per_inch, rel=1e-12)


# Half the last printed digit.
@pytest.mark.parametrize(("name", "flat_in"), [("3/8-24", 0.00694), ("3/8-16", 0.01042), ("1/2-20", 0.00833)])
def test_one_flat_moves_a_sixth_of_a_pitch(name: str, flat_in: float) -> None:
    assert thread(name).flat_m / INCH_M == pytest.approx(flat_in, abs=5e-6)


# Tensile stress areas in square inches as printed in public tables of ASME B1.1.
@pytest.mark.parametrize(
    ("name", "area_in2", "half_digit"),
    [
        ("1/4-28", 0.0364, 5e-5),
        ("5/16-24", 0.0580, 1e-4),
        ("3/8-24", 0.0878, 5e-5),
        ("3/8-16", 0.0775, 5e-5),
        ("7/16-20", 0.1187, 5e-5),
        ("1/2-20", 0.1599, 1e-4),
        ("1/2-13", 0.142, 5e-4),
        ("5/8-18", 0.256, 5e-4),
        ("3/4-16", 0.373, 5e-4),
    ],
)
def test_stress_areas_of_inch_threads_are_those_of_the_tables(name: str, area_in2: float, half_digit: float) -> None:
    assert thread(name).stress_area_m2 / INCH_M**2 == pytest.approx(area_in2, abs=half_digit)


# Coarse stress areas in mm2 as tabled with ISO 898-1.
@pytest.mark.parametrize(
    ("name", "area_mm2"), [("M6", 20.1), ("M8", 36.6), ("M10", 58.0), ("M12", 84.3), ("M16", 157.0), ("M20", 245.0)]
)
def test_stress_areas_of_metric_threads_are_those_of_iso_898_1(name: str, area_mm2: float) -> None:
    assert thread(name).stress_area_m2 * 1e6 == pytest.approx(area_mm2, rel=2.5e-3)


def test_a_metric_name_without_pitch_means_the_coarse_one() -> None:
    assert thread("M10") == thread("M10x1.5")
    assert thread(" m10 x 1.25 ").name == "M10x1.25"
    assert thread("M10x1.25").pitch_m == pytest.approx(0.00125)
    assert str(thread("M10x1.5")) == ("M10x1.5: one turn moves 1.500 mm (0.05906 in), one flat 0.2500 mm (0.00984 in).")


def test_the_pitch_diameter_of_3_8_16_is_that_of_asme_b1_1() -> None:
    assert thread("3/8-16 UNC").pitch_diameter_m / INCH_M == pytest.approx(0.3344, abs=5e-5)
    assert thread("M10x1.5").pitch_diameter_m * 1e3 == pytest.approx(9.026, abs=5e-4)


@given(
    st.sampled_from(
        [*(f"{s}-{n}" for s, pair in INCH_THREADS.items() for n in pair)]
        + [f"M{d}x{p:g}" for d, ps in METRIC_PITCHES_MM.items() for p in ps]
    )
)
def test_every_thread_of_the_tables_can_be_read_and_six_flats_are_one_pitch(name: str) -> None:
    screw = thread(name)
    assert thread(screw.name) == screw
    assert screw.flat_m * FLATS_IN_A_TURN == pytest.approx(screw.pitch_m, rel=1e-12)
    assert screw.pitch_m < screw.pitch_diameter_m < screw.diameter_m


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("3/8-20", '"3/8-20": a 3/8 in screw has 16 (UNC) or 24 (UNF) threads per inch.'),
        ("3/8-24 UNC", '"3/8-24 UNC": 24 threads per inch on 3/8 in is UNF.'),
        ("M10x2", '"M10x2": an M10 screw has a pitch of 1.5, 1.25, 1, 0.75 mm (the first is the coarse one).'),
        ("ten", '"ten" is no thread; write it like 3/8-24 (UNC or UNF) or M10x1.25.'),
    ],
)
def test_a_thread_that_is_none_is_refused_with_what_would_be_right(name: str, sentence: str) -> None:
    with pytest.raises(ValueError, match=f"^{re.escape(sentence)}$"):
        thread(name)


@pytest.mark.parametrize(("name", "start"), [("11/32-24", "1/4, 5/16"), ("M7", "M4, M5")])
def test_a_size_outside_the_tables_is_refused_with_the_sizes_there_are(name: str, start: str) -> None:
    with pytest.raises(ValueError, match=f"there are {start}"):
        thread(name)
