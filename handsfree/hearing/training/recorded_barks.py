"""Barks of recorded dogs, cut out of recordings and strung together anew.

No recording is shipped: whoever trains gives a folder of WAV files (mono, 16 bit, 16 kHz), one dog
each. Few dogs have to stand for many, so every bark comes at another speed, which moves its pitch
and its throat, in another tone, and at times from across a room.
"""

from __future__ import annotations

import wave
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.signal import fftconvolve, resample

from handsfree.errors import EngineError
from handsfree.hearing.training import sounds
from handsfree.hearing.training.clips import RATE_HZ, read_wav

__all__ = ["Dogs", "cut", "read_dogs"]

Sound = NDArray[np.float64]

_FRAME = RATE_HZ // 100
_BELOW_DB = 22.0
"""A frame belongs to a bark if it is not further below the loudest of its recording."""
_PAUSE, _LEAST, _MOST = 8, 6, 100
"""Frames of 10 ms: a pause that parts two barks, and how long a bark is."""
_BEFORE_S, _AFTER_S = 0.03, 0.1
_SLOWEST, _FASTEST = 0.65, 1.5
_GAPS_S = (0.05, 1.5)
_TILT_DB = 4.0
"""Per octave at most, up or down, from 1 kHz on."""
_TWO = 0.25
"""Share of stretches in which a second dog barks."""
_ROOMS = 0.4


def cut(sound: Sound) -> list[Sound]:
    """Return the barks of a recording, with a little of what is around each and soft edges."""
    spans = sound[: sound.size // _FRAME * _FRAME].reshape(-1, _FRAME)
    if not spans.any():
        return []
    level_db = 20 * np.log10(np.sqrt((spans**2).mean(1)) + 1e-6)
    loud = np.flatnonzero(level_db > level_db.max() - _BELOW_DB)
    found = []
    for group in np.split(loud, np.flatnonzero(np.diff(loud) > _PAUSE) + 1):
        first, last = int(group[0]), int(group[-1]) + 1
        if _LEAST <= last - first < _MOST:
            begin = max(0, first * _FRAME - int(_BEFORE_S * RATE_HZ))
            found.append(_softened(sound[begin : last * _FRAME + int(_AFTER_S * RATE_HZ)]))
    return found


def _softened(sound: Sound) -> Sound:
    edge = np.minimum(1.0, np.arange(sound.size) / (0.004 * RATE_HZ))
    return np.asarray(sound * edge * edge[::-1])


def read_dogs(folder: Path) -> Dogs:
    """Return the dogs of a folder.

    Raises:
        EngineError: A file is broken or of another rate or width, or there is no bark in any.
    """
    dogs = []
    for path in sorted(folder.glob("*.wav")):
        try:
            with wave.open(str(path), "rb") as file:
                shape = file.getframerate(), file.getnchannels(), file.getsampwidth()
        except (wave.Error, EOFError) as wrong:
            raise EngineError(f"{path.name} is no WAV file ({wrong}); take it out.") from None
        if shape != (RATE_HZ, 1, 2):
            raise EngineError(f"{path.name} is not mono of 16 bit and 16 kHz; convert it first.")
        if barks := cut(read_wav(path)):
            dogs.append(barks)
    if not dogs:
        raise EngineError(f"No bark was found in {folder}; put recordings of dogs (*.wav) there.")
    return Dogs(dogs)


class Dogs:
    """Barks of several dogs, and sounds made of them; peak 1.

    Args:
        dogs: The barks of each, one dog at least, one bark each at least.
    """

    def __init__(self, dogs: Sequence[Sequence[Sound]]) -> None:
        self._dogs = dogs

    def bark(self, rng: np.random.Generator) -> Sound:
        """Return one bark."""
        return self._heard(rng, self._bark(rng, self._dog(rng), self._speed(rng)))

    def barking(self, rng: np.random.Generator, count: int) -> Sound:
        """Return `count` samples of one dog or two that bark in turn or at once."""
        out = np.zeros(count)
        for _ in range(1 + int(rng.random() < _TWO)):
            dog, speed, loud = self._dog(rng), self._speed(rng), rng.uniform(0.4, 1.0)
            usual_s = np.exp(rng.uniform(*np.log(_GAPS_S)))
            at = int(rng.uniform(0, min(usual_s, count / RATE_HZ / 2)) * RATE_HZ)
            while at < count:
                one = self._bark(rng, dog, speed * rng.uniform(0.95, 1.05))
                end = min(count, at + one.size)
                out[at:end] += one[: end - at] * loud * rng.uniform(0.6, 1.0)
                gap_s = np.clip(usual_s * rng.uniform(0.5, 1.6), *_GAPS_S)
                at = end + int(gap_s * RATE_HZ)
        return self._heard(rng, out)[:count]

    def _dog(self, rng: np.random.Generator) -> Sequence[Sound]:
        return self._dogs[int(rng.integers(len(self._dogs)))]

    @staticmethod
    def _speed(rng: np.random.Generator) -> float:
        return float(np.exp(rng.uniform(np.log(_SLOWEST), np.log(_FASTEST))))

    @staticmethod
    def _bark(rng: np.random.Generator, dog: Sequence[Sound], speed: float) -> Sound:
        one = dog[int(rng.integers(len(dog)))]
        return sounds.unit(np.asarray(resample(one, int(one.size / speed))))

    @staticmethod
    def _heard(rng: np.random.Generator, sound: Sound) -> Sound:
        """The sound in another tone, in some in a room too."""
        spectrum = np.fft.rfft(sound)
        octaves = np.log2(np.maximum(np.fft.rfftfreq(sound.size, 1 / RATE_HZ), 100.0) / 1000)
        tilt_db = rng.uniform(-_TILT_DB, _TILT_DB) * octaves
        sound = np.fft.irfft(spectrum * 10 ** (tilt_db / 20), sound.size)
        if rng.random() < _ROOMS:
            sound = fftconvolve(sound, sounds.room(rng))[: sound.size + RATE_HZ // 5]
        return sounds.unit(sound)
