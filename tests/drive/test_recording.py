"""The note of a recorded span: synthetic plucks of a stiff string at known tension, with noise and hum."""

from __future__ import annotations

import io

import numpy as np
import pytest
from scipy.io import wavfile

from drivekit import span
from drivekit.drive.recording import Recording, heard, note_of

RATE = 8000
MASS, LENGTH, BENDING = 0.745, 0.56, 0.2


def plucked(
    tension_n: float, seed: int, *, noise_db: float | None = None, hum_hz: float = 0.0, plucks: int = 4
) -> np.ndarray:
    """One second of quiet, then a pluck each 1.5 s: harmonics k f sqrt(1 + B k^2), each dying faster; noise, hum."""
    rng = np.random.default_rng(seed)
    first = span.clamped_frequency(tension_n, LENGTH, MASS, BENDING)
    stiff = np.pi**2 * BENDING / (tension_n * LENGTH**2)
    at = np.arange(int(1.5 * RATE)) / RATE
    sound = [np.zeros(RATE)]
    for _ in range(plucks):
        one = np.zeros(at.size)
        for k in range(1, 7):
            hz = first * k * np.sqrt((1 + stiff * k**2) / (1 + stiff))
            one += rng.uniform(0.4, 1) / k * np.exp(-at * (2 + k)) * np.sin(2 * np.pi * hz * at + rng.uniform(0, 6))
        sound.append(one)
    whole = np.concatenate(sound)
    power = np.mean(whole[RATE : RATE + RATE // 2] ** 2) if plucks else 1e-4
    if noise_db is not None:
        whole += rng.normal(0, np.sqrt(power / 10 ** (noise_db / 10)), whole.size)
    if hum_hz:
        whole += 0.5 * np.sqrt(power) * np.sin(2 * np.pi * hum_hz * np.arange(whole.size) / RATE)
    return whole


@pytest.mark.parametrize("noise_db", [None, 20.0, 10.0, 5.0])
@pytest.mark.parametrize("tension_n", [5000.0, 8300.0, 11_000.0])
def test_the_note_of_a_stiff_span_is_found_in_noise(tension_n: float, noise_db: float | None) -> None:
    true = span.clamped_frequency(tension_n, LENGTH, MASS, BENDING)
    for seed in range(3):
        found = note_of(plucked(tension_n, seed, noise_db=noise_db), RATE)
        assert found.frequency_hz == pytest.approx(true, rel=0.005), str(found)
        assert found.scatter < 0.01


@pytest.mark.parametrize("hum_hz", [49.3, 61.1, 101.7])
def test_hum_beside_the_plucks_is_not_taken_for_their_note(hum_hz: float) -> None:
    true = span.clamped_frequency(8300, LENGTH, MASS, BENDING)
    assert note_of(plucked(8300, 1, noise_db=20, hum_hz=hum_hz), RATE).frequency_hz == pytest.approx(true, rel=0.005)


def test_hum_alone_is_refused() -> None:
    found = note_of(hum(52.4), RATE)
    assert found.frequency_hz is None
    assert str(found).startswith("The recording gives no note: 0 plucks stand out of its hum and noise")


def hum(hz: float) -> np.ndarray:
    at = np.arange(6 * RATE) / RATE
    return np.sin(2 * np.pi * hz * at) + np.random.default_rng(1).normal(0, 0.1, at.size)


def test_one_bad_pluck_is_left_out_and_said() -> None:
    good, bad = plucked(8300, 2, noise_db=20, plucks=3), plucked(5200, 3, noise_db=20, plucks=1)
    found = note_of(np.concatenate((good, bad[RATE:])), RATE)
    assert len(found.plucks_hz) == 3
    assert found.left_out_hz == pytest.approx((span.clamped_frequency(5200, LENGTH, MASS, BENDING),), rel=0.01)
    assert "Left out, since far from the others: " in str(found)


def test_plucks_that_do_not_agree_give_no_note() -> None:
    parts = [plucked(tension, 4, noise_db=20, plucks=1)[RATE:] for tension in (5000, 7000, 9000)]
    found = note_of(np.concatenate((plucked(5000, 4, noise_db=20, plucks=0), *parts)), RATE)
    assert found.frequency_hz is None
    assert "its plucks do not agree" in str(found)


def test_two_plucks_are_too_few() -> None:
    assert "2 plucks stand out of its hum and noise, and it takes 3" in str(note_of(plucked(8300, 1, plucks=2), RATE))


def test_a_wav_file_in_one_or_two_channels_is_read_and_another_file_is_refused() -> None:
    sound = plucked(8300, 5, noise_db=20)
    whole = (sound / np.abs(sound).max() * 30_000).astype(np.int16)
    notes = []
    for samples in (whole, np.column_stack((whole, whole))):
        file = io.BytesIO()
        wavfile.write(file, RATE, samples)
        notes.append(heard(file.getvalue()))
    assert notes[0] == notes[1]
    assert notes[0].frequency_hz == pytest.approx(span.clamped_frequency(8300, LENGTH, MASS, BENDING), rel=0.005)
    assert "it is no WAV file" in str(heard(b"nothing"))
    assert heard(b"") == Recording((), (), None, "it is no WAV file; save it as one, uncompressed")


def test_silence_is_refused() -> None:
    assert "silent" in str(note_of(np.zeros(RATE * 5), RATE))
