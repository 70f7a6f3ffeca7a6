"""The last seconds of one stream, by position. Kept in memory alone, and never written out."""

from __future__ import annotations

import numpy as np

from handsfree.audio.device import SAMPLE_RATE, Samples

__all__ = ["Tape"]


class Tape:
    """A ring of samples on the stream's clock.

    Args:
        keep_s: Seconds that are kept.
    """

    def __init__(self, keep_s: float = 10.0) -> None:
        self._ring = np.zeros(int(keep_s * SAMPLE_RATE), np.int16)
        self.begin = self.end = 0

    def reset(self, position: int) -> None:
        """Forget all and go on at ``position``."""
        self.begin = self.end = position

    def add(self, samples: Samples) -> None:
        """Take in the samples that follow."""
        size = len(self._ring)
        kept = samples[-size:]
        at = self.end + len(samples) - len(kept)
        self._ring[np.arange(at, at + len(kept)) % size] = kept
        self.end += len(samples)
        self.begin = max(self.begin, self.end - size)

    def cut(self, start: int, end: int) -> Samples:
        """Return what is kept of samples ``start`` to ``end``."""
        start, end = max(start, self.begin), min(end, self.end)
        if end <= start:
            return np.zeros(0, np.int16)
        return self._ring[np.arange(start, end) % len(self._ring)]
