"""Whether a sound is what we played, heard again.

Two things must come together, for each alone also happens by chance. All frequencies come at one
delay: the generalised cross-correlation with phase transform (Knapp and Carter, IEEE Trans. ASSP
24, 1976; from memory); but a soft rest of our own under a person's word does that as well. And the
bands run as loud and soft as what we played; but many a short word does so beside some piece of a
prompt.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handsfree.audio.device import SAMPLE_RATE, Samples

__all__ = ["LATEST_S", "likeness"]

LATEST_S = 0.5
"""The longest delay that is looked at."""
_SHORTEST = SAMPLE_RATE // 20
_FAINT = 1e-3
"""Frequencies this far below the mean power count for less: there is only noise."""
_HOP = SAMPLE_RATE // 100
_WINDOW = 2 * _HOP
_EDGES = np.searchsorted(
    np.fft.rfftfreq(_WINDOW, 1.0 / SAMPLE_RATE), (120, 300, 550, 900, 1400, 2000, 2900, 4200, 7000)
)
_HANN = np.hanning(_WINDOW + 1)[:_WINDOW]
_QUIET = 1e4
"""Added to the power of each band: what lies below a quiet room is no course of anything."""


def likeness(heard: Samples, played: Samples) -> float:
    """Return by how many standard deviations the best delay stands out, times how alike it runs.

    Chance gives up to 5 times 0.5; what a canceller that has lost the room leaves of our own voice
    mostly 10 times 0.7 and more. Less than 50 ms tells nothing: 0.

    Args:
        heard: The sound, shape (n,).
        played: What we played from ``LATEST_S`` before it on to its end.
    """
    if len(heard) < _SHORTEST or len(played) <= len(heard):
        return 0.0
    course = _course(heard, played)
    return _sharpness(heard, played) * course if course > 0.0 else 0.0


def _sharpness(heard: Samples, played: Samples) -> float:
    """Return how far the best delay stands out of all, in standard deviations."""
    before = len(played) - len(heard)
    size = 1 << (len(played) + len(heard)).bit_length()
    cross = np.fft.irfft(_even(heard, size) * np.conj(_even(played, size)), size)
    spread = float(np.sqrt(np.mean(np.square(cross))))
    # A sound that comes at once lies ``before`` samples further back than it was played.
    return float(np.abs(cross[-before:]).max()) / spread if spread > 0.0 else 0.0


def _even(sound: Samples, size: int) -> NDArray[np.complex128]:
    """Return the spectrum with all frequencies but the faint made as strong as each other."""
    spectrum = np.fft.rfft(sound.astype(np.float64), size)
    power = np.square(spectrum.real) + np.square(spectrum.imag)
    return np.asarray(spectrum / np.sqrt(power + _FAINT * float(np.mean(power)) + 1e-9))


def _course(heard: Samples, played: Samples) -> float:
    """Return the best correlation, over the delays, of how the levels of the bands run."""
    theirs, ours = _levels(heard), _levels(played)
    theirs = theirs - theirs.mean(axis=0)
    best = 0.0
    for at in range(len(ours) - len(theirs) + 1):
        piece = ours[at : at + len(theirs)]
        piece = piece - piece.mean(axis=0)
        size = float(np.sqrt(np.sum(piece**2) * np.sum(theirs**2)))
        best = max(best, float(np.sum(piece * theirs)) / size if size > 1e-6 else 0.0)
    return best


def _levels(sound: Samples) -> NDArray[np.float64]:
    """Return the level of eight bands each 10 ms in dB, shape (m, 8)."""
    frames = np.lib.stride_tricks.sliding_window_view(sound.astype(np.float64), _WINDOW)[::_HOP]
    spectra = np.fft.rfft(frames * _HANN, axis=1)
    power = np.square(spectra.real) + np.square(spectra.imag)
    energy = np.add.reduceat(power[:, : _EDGES[-1]], _EDGES[:-1], axis=1) / np.diff(_EDGES)
    levels: NDArray[np.float64] = 10.0 * np.log10(energy + _QUIET)
    return levels
