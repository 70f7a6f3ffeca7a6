"""The few tones and the soft tick, as samples. When one sounds is decided elsewhere.

Each is short, quiet and unlike the others: one note or several, rising, level or falling. They are
computed, never recorded, so the same name always gives the same samples and a tick that we played
can be taken out of what the microphone heard.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np

from handsfree.audio.device import SAMPLE_RATE, Samples
from handsfree.audio.resample import to_int16

__all__ = ["TONE_NAMES", "fading", "tick", "tone"]

_A4, _C5, _E5, _A5, _E4, _C4 = 440.0, 523.25, 659.26, 880.0, 329.63, 261.63
"""Notes of one chord, equal temperament, in Hz."""

_Note = tuple[float, float]
"""Frequency in Hz (0 for a rest) and length in seconds."""

_TONES: dict[str, tuple[float, Sequence[_Note]]] = {
    "listening": (0.10, ((_A5, 0.09),)),
    "accepted": (0.12, ((_C5, 0.07), (_A5, 0.11))),
    "not_heard": (0.12, ((_E4, 0.10), (_C4, 0.16))),
    "waiting": (0.07, ((_A4, 0.45),)),
    "window_start": (0.14, ((_E5, 0.08), (0.0, 0.05), (_E5, 0.08), (0.0, 0.05), (_A5, 0.20))),
    "window_end": (0.14, ((_A5, 0.12), (_E5, 0.12), (_C5, 0.12), (_A4, 0.26))),
}
"""Name -> share of full scale, notes."""

TONE_NAMES = tuple(_TONES)


def _note(frequency_hz: float, length_s: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return one soft note, full scale 1.0: a sine, a little octave, no click at either end."""
    time = np.arange(round(length_s * SAMPLE_RATE)) / SAMPLE_RATE
    if frequency_hz == 0.0:
        return np.zeros(len(time))
    sound = np.sin(2 * np.pi * frequency_hz * time) + 0.2 * np.sin(4 * np.pi * frequency_hz * time)
    edge = min(0.015, length_s / 3)
    rise = np.clip(time / edge, 0.0, 1.0)
    fall = np.clip((length_s - time) / (length_s * 0.6), 0.0, 1.0)
    envelope = np.sin(np.pi / 2 * rise) ** 2 * np.sin(np.pi / 2 * fall) ** 2
    shaped: np.ndarray[tuple[int], np.dtype[np.float64]] = sound / 1.2 * envelope
    return shaped


@cache
def tone(name: str) -> Samples:
    """Return the tone ``name``, int16, shape (n,), read-only, at most 0.65 s.

    Raises:
        KeyError: There is no such tone; `TONE_NAMES` lists them.
    """
    loudness, notes = _TONES[str(name)]
    sound = to_int16(np.concatenate([_note(*note) for note in notes]) * loudness * 32_767)
    sound.setflags(write=False)
    return sound


@cache
def tick() -> Samples:
    """Return the soft tick, int16, shape (n,), read-only: 20 ms, about -32 dB of full scale.

    A decaying 1.6 kHz knock; quiet enough to count by without being taken for speech.
    """
    time = np.arange(round(0.020 * SAMPLE_RATE)) / SAMPLE_RATE
    rise = np.clip(time / 0.001, 0.0, 1.0)
    fall = np.clip((0.020 - time) / 0.004, 0.0, 1.0)
    knock = np.sin(2 * np.pi * 1_600 * time) * np.exp(-time / 0.005) * rise * fall
    sound = to_int16(knock * 0.035 * 32_767)
    sound.setflags(write=False)
    return sound


FALL_S = 0.12
"""How long a practice tone takes to go out: sudden enough to be a moment."""


def fading(length_s: float) -> Samples:
    """Return a low, level tone that has gone out after ``length_s``, int16, shape (n,)."""
    time = np.arange(round(length_s * SAMPLE_RATE)) / SAMPLE_RATE
    rise = np.clip(time / 0.05, 0.0, 1.0)
    fall = np.clip((length_s - time) / FALL_S, 0.0, 1.0)
    envelope = np.sin(np.pi / 2 * rise) ** 2 * np.sin(np.pi / 2 * fall) ** 2
    return to_int16(np.sin(2 * np.pi * _A4 * time) * envelope * 0.08 * 32_767)
