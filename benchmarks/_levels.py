"""How loud a recording is: over all frequencies alike, or as ears weigh them."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from handsfree.audio.device import SAMPLE_RATE, Samples

__all__ = ["a_weighted", "a_weighting_db", "active_rms", "rms"]

Floats = NDArray[np.float64]

_POLES_HZ = 20.60, 107.7, 737.9, 12194.0
_AT_1_KHZ_DB = -2.0
"""IEC 61672-1, annex E: the corners of weighting A, and what it has at 1 kHz before it is set
to nought there. From memory; the test holds it against the standard's table."""
_FRAME = SAMPLE_RATE // 100


def a_weighting_db(frequencies_hz: ArrayLike) -> Floats:
    """Return weighting A of IEC 61672-1 at frequencies above 0 Hz, in dB."""
    square = np.square(np.asarray(frequencies_hz, np.float64))
    first, second, third, fourth = np.square(_POLES_HZ)
    gain = fourth * np.square(square)
    gain /= (square + first) * np.sqrt((square + second) * (square + third)) * (square + fourth)
    return np.asarray(20.0 * np.log10(gain) - _AT_1_KHZ_DB)


def a_weighted(sound: Samples | Floats) -> Floats:
    """Return the sound with its frequencies as weighting A has them, shape as given."""
    if len(sound) < 2:
        return np.zeros(len(sound))
    spectrum = np.fft.rfft(np.asarray(sound, np.float64))
    frequencies = np.fft.rfftfreq(len(sound), 1.0 / SAMPLE_RATE)
    spectrum[0] = 0.0
    spectrum[1:] *= 10.0 ** (a_weighting_db(frequencies[1:]) / 20.0)
    return np.fft.irfft(spectrum, len(sound))


def rms(sound: Samples | Floats) -> float:
    """Return the root of the mean square of all of it; of a recording of minutes too."""
    return float(np.linalg.norm(sound) / max(len(sound), 1) ** 0.5)


def active_rms(sound: Samples | Floats) -> float:
    """Return the rms of the frames of 10 ms within 30 dB of the loudest."""
    frames = sound[: len(sound) // _FRAME * _FRAME].astype(np.float64).reshape(-1, _FRAME)
    power = np.mean(np.square(frames), axis=1) if len(frames) else np.zeros(1)
    active = power[power > power.max() * 1e-3] if power.max() > 0 else power
    return float(np.sqrt(active.mean()))
