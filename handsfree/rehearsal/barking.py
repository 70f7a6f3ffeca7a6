"""Dogs that bark beside the voice: computed, the same for the same seed, however it is cut."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handsfree.audio.device import SAMPLE_RATE

__all__ = ["Barking"]

_PART_S = 20
_GAP_S = (0.15, 0.5)
"""Between two barks of one burst."""
_BARKS = (2, 7)
"""Barks of one burst, at least and at most."""
_BARK_S = 0.18
"""About how long one bark takes."""


class Barking:
    """Bursts of barks with quiet between them.

    Args:
        seed: Same seed, same barks.
        rms: Level of the barks while they sound, in units of the least significant bit.
        share: Share of the time in which they bark; 0 for none.
    """

    def __init__(self, *, seed: int, rms: float, share: float) -> None:
        self._seed = seed
        self._rms = rms
        self._share = share
        self._part = -1
        self._sound = np.zeros(0, dtype=np.float32)

    def at(self, start: int, count: int) -> NDArray[np.float32]:
        """Return the barks of these samples, shape (count,)."""
        out = np.zeros(count, dtype=np.float32)
        if self._share <= 0.0:
            return out
        done = 0
        while done < count:
            part, offset = divmod(start + done, _PART_S * SAMPLE_RATE)
            if part != self._part:
                self._part, self._sound = part, self._make(part)
            piece = self._sound[offset : offset + count - done]
            out[done : done + len(piece)] = piece
            done += len(piece)
        return out

    def _make(self, part: int) -> NDArray[np.float32]:
        from handsfree.hearing.training.sounds import bark

        random = np.random.default_rng((self._seed, part))
        sound = np.zeros(_PART_S * SAMPLE_RATE)
        barks = sum(_BARKS) / 2
        burst_s = barks * (_BARK_S + sum(_GAP_S) / 2)
        at = random.uniform(0.0, burst_s / self._share)
        while at < _PART_S:
            dog = random.integers(1 << 31)
            for _ in range(int(random.integers(*_BARKS, endpoint=True))):
                one = bark(np.random.default_rng(dog))
                start = round(at * SAMPLE_RATE)
                room = min(len(one), len(sound) - start)
                if room <= 0:
                    break
                level = max(float(np.sqrt(np.mean(one**2))), 1e-6)
                sound[start : start + room] += one[:room] * (self._rms / level)
                at += len(one) / SAMPLE_RATE + random.uniform(*_GAP_S)
            at += random.exponential(burst_s * (1.0 / self._share - 1.0))
        return sound.astype(np.float32)
