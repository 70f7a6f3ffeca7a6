"""What is to be played, and when: a queue, sounds mixed in at a position, ducking, a soft stop.

Every duplex pulls its output from one of these. Positions are samples on the stream's clock. It is
thread-safe, because a live stream pulls from the sound driver's thread. No device here.
"""

from __future__ import annotations

import threading

import numpy as np
from numpy.typing import NDArray

from handsfree.audio.device import SAMPLE_RATE, Samples
from handsfree.audio.resample import to_int16

__all__ = ["FADE_SAMPLES", "Mixer"]

FADE_SAMPLES = SAMPLE_RATE // 50
"""How long a stop fades and a new gain takes: 20 ms, short of a click and of a wait."""


Floats = NDArray[np.float64]


class Mixer:
    """Mixes queued and placed sounds into one output.

    Args:
        position: Where the clock stands now.
    """

    def __init__(self, *, position: int = 0) -> None:
        self._lock = threading.Lock()
        self._position = position
        self._queue_end = position
        self._sounds: list[tuple[int, Samples]] = []
        self._gain = 1.0
        self._target = 1.0
        self._step = 0.0

    @property
    def position(self) -> int:
        """The position of the sample that will be pulled next."""
        return self._position

    def play(self, samples: Samples, *, at: int | None = None) -> int:
        """Queue ``samples`` behind what is queued, or mix them in at position ``at``.

        A position that has passed means now: the whole sound is played, late, and the result says
        so. What is placed does not move the queue.

        Returns:
            The position at which all of it will have been played: one past its last sample.
        """
        with self._lock:
            if at is None:
                start = max(self._queue_end, self._position)
                self._queue_end = start + len(samples)
            else:
                start = max(at, self._position)
            if len(samples):
                self._sounds.append((start, samples))
            return start + len(samples)

    def playing(self) -> bool:
        """Whether anything is still to be pulled."""
        with self._lock:
            return bool(self._sounds)

    def stop(self) -> None:
        """Drop everything, fading out what sounds at the moment."""
        with self._lock:
            rest = self._mix(self._position, FADE_SAMPLES)
            fade = 0.5 + 0.5 * np.cos(np.pi * (np.arange(FADE_SAMPLES) + 1) / FADE_SAMPLES)
            faded = to_int16(rest * fade)
            # Trailing zeros are nothing to play.
            audible = np.flatnonzero(faded)
            faded = faded[: audible[-1] + 1] if len(audible) else faded[:0]
            self._sounds = [(self._position, faded)] if len(faded) else []
            self._queue_end = self._position + len(faded)

    def duck(self, gain_db: float) -> None:
        """Set the gain of all that is played from now on; it moves there without a click."""
        with self._lock:
            self._target = float(10.0 ** (gain_db / 20.0))
            self._step = (self._target - self._gain) / FADE_SAMPLES

    def pull(self, count: int) -> Samples:
        """Return the next ``count`` samples and move the clock on."""
        with self._lock:
            start = self._position
            self._position += count
            if not self._sounds:
                self._gain = self._target
                return np.zeros(count, dtype=np.int16)
            mixed = self._mix(start, count)
            self._sounds = [
                (at, sound) for at, sound in self._sounds if at + len(sound) > self._position
            ]
            if self._gain != self._target:
                mixed = mixed * self._ramp(count)
            elif self._gain != 1.0:
                mixed = mixed * self._gain
            return to_int16(mixed)

    def _ramp(self, count: int) -> Floats:
        low, high = sorted((self._gain, self._target))
        ramp: Floats = np.clip(self._gain + self._step * np.arange(1, count + 1), low, high)
        near = abs(float(ramp[-1]) - self._target) <= abs(self._step) / 2
        self._gain = self._target if near else float(ramp[-1])
        return ramp

    def _mix(self, start: int, count: int) -> Floats:
        mixed = np.zeros(count)
        for at, sound in self._sounds:
            first, last = max(at, start), min(at + len(sound), start + count)
            if first < last:
                mixed[first - start : last - start] += sound[first - at : last - at]
        return mixed
