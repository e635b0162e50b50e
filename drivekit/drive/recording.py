"""The note of a span from a recording of its plucks: a WAV file in, a frequency with its scatter out.

A pluck is where the sound rises well above the quiet of the recording. What the quiet holds too, hum and fans, comes
off: the spectrum of a pluck (Hann window, zeros added) is divided by that of the quiet. A note is then told from its
harmonics by its comb: of all candidates the one whose first harmonics stand highest together, in the mean of their
logarithms, and whose own peak stands out; a half of it has every other harmonic missing, a double leaves half of them.
A stiff span's harmonics lie a little above the multiples, k f sqrt(1 + B k^2), so each is looked for up to 4 % above.
The peak is placed by a parabola through its logarithms (Smith and Serra 1987, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO

import numpy as np
from numpy.typing import NDArray

__all__ = ["Recording", "heard", "note_of"]

Floats = NDArray[np.float64]

LOW_HZ, HIGH_HZ = 20.0, 400.0
FEWEST, MOST_APART = 3, 0.02
_WINDOW_S, _LONGEST_S, _SHORTEST_S = 0.02, 1.0, 0.25
_LOUD, _STRONG, _CLEAR, _HARMONICS = 3.0, 0.2, 3.0, 5


@dataclass(frozen=True, slots=True)
class Recording:
    """The notes of the plucks that agree, their mean and scatter, or why there is no note."""

    plucks_hz: tuple[float, ...]
    left_out_hz: tuple[float, ...]
    frequency_hz: float | None
    reason: str = ""

    @property
    def scatter(self) -> float:
        """Largest less smallest, by their mean."""
        return (max(self.plucks_hz) - min(self.plucks_hz)) / (sum(self.plucks_hz) / len(self.plucks_hz))

    def __str__(self) -> str:
        if self.frequency_hz is None:
            return f"The recording gives no note: {self.reason}."
        bad = ""
        if self.left_out_hz:
            away = ", ".join(f"{one:.1f} Hz" for one in self.left_out_hz)
            bad = f" Left out, since far from the others: {away}."
        return (
            f"{len(self.plucks_hz)} plucks agree on {self.frequency_hz:.1f} Hz, largest less smallest "
            f"{100 * self.scatter:.1f} % of it, which is {200 * self.scatter:.1f} % in tension.{bad}"
        )


def heard(content: bytes) -> Recording:
    """Read a WAV file and find the note of the span that is plucked in it.

    Parameters
    ----------
    content : bytes
        The file: some quiet first, then three plucks or more, a second or two apart.
    """
    from scipy.io import wavfile

    try:
        rate, samples = wavfile.read(BytesIO(content))
    except (ValueError, EOFError, OSError):
        return Recording((), (), None, "it is no WAV file; save it as one, uncompressed")
    sound = np.asarray(samples, float)
    return note_of(sound if sound.ndim == 1 else sound.mean(axis=1), float(rate))


def note_of(sound: Floats, rate_hz: float) -> Recording:
    """Find the note that at least three plucks agree on.

    Parameters
    ----------
    sound : ndarray of float, shape (n,)
        Samples.
    rate_hz : float
        Samples a second.
    """
    if rate_hz < 4 * HIGH_HZ or sound.size < rate_hz * 2 * _SHORTEST_S or not np.ptp(sound):
        return Recording((), (), None, "it is silent, too short or of too few samples a second")
    starts, quiet = _plucks(sound - sound.mean(), rate_hz)
    if len(starts) < FEWEST:
        return Recording((), (), None, f"{len(starts)} plucks stand out of its hum and noise, and it takes {FEWEST}")
    found = [_note(part, quiet, rate_hz) for part in starts]
    notes = np.array([one for one in found if one is not None])
    if notes.size < FEWEST:
        return Recording((), (), None, f"only {notes.size} of its {len(starts)} plucks have a clear note")
    near = np.abs(notes / np.median(notes) - 1) <= MOST_APART
    kept, away = tuple(notes[near].tolist()), tuple(notes[~near].tolist())
    if len(kept) < FEWEST or 2 * len(kept) <= notes.size:
        said = ", ".join(f"{one:.1f}" for one in notes)
        return Recording(kept, away, None, f"its plucks do not agree ({said} Hz): pluck again")
    return Recording(kept, away, float(np.mean(kept)))


def _plucks(sound: Floats, rate_hz: float) -> tuple[list[Floats], Floats]:
    """Give each pluck's sound up to the next one, and the quiet before the first."""
    step = int(rate_hz * _WINDOW_S)
    level = np.sqrt((sound[: sound.size // step * step].reshape(-1, step) ** 2).mean(axis=1))
    loud = max(_LOUD * float(np.quantile(level, 0.1)), _STRONG * float(level.max()))
    firsts: list[int] = []
    # a pluck is over only once it fell to half of where it began: sound beats about any threshold
    armed = level[0] < loud
    for at, here in enumerate(level.tolist()):
        if armed and here > loud:
            firsts.append(at)
            armed = False
        armed = armed or here < loud / 2
    ends = [*firsts[1:], level.size][-len(firsts) :] if firsts else []
    parts = [
        sound[at * step : min(end * step, int(at * step + _LONGEST_S * rate_hz))]
        for at, end in zip(firsts, ends, strict=True)
    ]
    quiet = sound[: firsts[0] * step] if firsts else sound
    return [part for part in parts if part.size >= _SHORTEST_S * rate_hz], quiet


def _spectrum(sound: Floats, rate_hz: float) -> Floats:
    """Power in steps of a quarter of a hertz."""
    power: Floats = np.abs(np.fft.rfft(sound * np.hanning(sound.size), int(4 * rate_hz))) ** 2 / sound.size
    return power


def _note(pluck: Floats, quiet: Floats, rate_hz: float) -> float | None:
    """Find the note of one pluck, or None where none stands out."""
    from scipy.ndimage import maximum_filter1d, median_filter

    power = _spectrum(pluck, rate_hz)[: int(4 * HIGH_HZ * (_HARMONICS + 1))]
    floor = median_filter(power, 401) + 1e-12 * power.max()
    if quiet.size >= _SHORTEST_S * rate_hz:
        floor = np.maximum(floor, maximum_filter1d(_spectrum(quiet, rate_hz)[: power.size], 9))
    height = np.log(np.maximum(power / floor, 1e-3))
    candidates = np.arange(int(4 * LOW_HZ), int(4 * HIGH_HZ))
    total = np.zeros(candidates.size)
    for harmonic in range(1, _HARMONICS + 1):
        low, high = candidates * harmonic, np.ceil(candidates * harmonic * (1.04 if harmonic > 1 else 1.0)).astype(int)
        best = np.array([height[a : b + 1].max() for a, b in zip(low, high, strict=True)])
        total += np.minimum(best, 12.0)
    own = height[candidates]
    peaks = (own >= height[candidates - 1]) & (own >= height[candidates + 1]) & (own > _CLEAR)
    if not peaks.any():
        return None
    place = int(candidates[peaks][np.argmax(total[peaks])])
    before, at, after = np.log(power[place - 1 : place + 2] + 1e-300)
    bend = before - 2 * at + after
    return (place + (0.5 * (before - after) / bend if bend < 0 else 0.0)) / 4
