"""One tension for log and drive: by hand, there and back, and the same of both rooms."""

from __future__ import annotations

from math import hypot
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drivekit import span
from drivekit.drive.span_tension import tension_from_frequency, tension_from_push
from drivekit.log.season import read_season


def test_a_ringing_span_by_hand() -> None:
    # 4 x .2 kg/m x (.3 m)^2 x (100 Hz)^2 = .8 x .09 x 10,000 = 720 N; 4 x .5 x .09 x 3,600 = 648 N
    given_hz, mass = np.array([100.0, 60.0]), np.array([0.2, 0.5])
    assert span.string_tension(given_hz, np.array([0.3, 0.3]), mass) == pytest.approx([720, 648], rel=1e-14)


def test_a_pushed_span_by_hand() -> None:
    # 100 N in the middle of 320 mm giving way 1 mm: each half pulls T / 160 a millimetre, two of them 100 N
    assert span.rough_push_tension(100.0, 1.0, 320.0) == 8000.0
    # checked by a separate program: 538 N, 8.75 mm, 559.7 mm: 8,603 N by the rough form
    assert span.rough_push_tension(538.0, 8.75, 559.7) == pytest.approx(8603, abs=0.5)
    # a 3-4-5 triangle: half spans of 4 pushed down by 3 are 5 long, so 2 longer together, and carry F x 5 / 6
    assert span.pushed_tension(60.0, 3.0, 8.0) == 50.0
    assert span.stretch(3.0, 8.0) == 2.0
    assert span.at_rest(50.0, 3.0, 8.0, 100.0, 20.0) == 40.0


@given(st.floats(200, 20_000), st.floats(0.1, 0.9), st.floats(0.2, 1.2), st.floats(0.01, 1.0))
def test_every_note_gives_its_tension_back(tension: float, length: float, mass: float, bending: float) -> None:
    note = span.clamped_frequency(tension, length, mass, bending)
    assert span.clamped_tension(note, length, mass, bending) == pytest.approx(tension, rel=1e-6)
    assert span.string_tension(span.string_frequency(tension, length, mass), length, mass) == pytest.approx(tension)
    # a stiff span rings higher, the more so the more its ends are held
    hinged = span.hinged_tension(note, length, mass, bending)
    assert tension < hinged < span.string_tension(note, length, mass)


def test_log_and_drive_read_the_same_tension(tmp_path: Path) -> None:
    (tmp_path / "belts.csv").write_text("belt,mass_g_per_m,stiffness_n,teeth,pitch_mm\nA1,745,2100000,130,14\n")
    (tmp_path / "runs.csv").write_text(
        "run,day,car,belt,idler,span_hz,span_mm,push_n,push_mm,fate\n"
        "1,2026-03-01,blue,A1,smooth,94.3,559.7,,,kept\n"
        "2,2026-03-01,blue,A1,smooth,,559.7,538,8.75,kept\n"
    )
    note = tension_from_frequency(94.3, 0.5597, 0.745).string_n
    push = tension_from_push(538, 8.75e-3, 0.5597, stiffness_n=2.1e6, belt_m=1.82)
    assert push.rest_n is not None
    assert push.pushed_n == pytest.approx(538 * hypot(0.5597 / 2, 8.75e-3) / (2 * 8.75e-3))
    assert read_season(tmp_path).runs["tension_n"].tolist() == pytest.approx([note, push.rest_n], rel=1e-12)
