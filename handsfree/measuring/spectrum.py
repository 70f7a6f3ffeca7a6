"""Short-time band levels of a stretch of sound, the ground on which word onsets are sought.

Frames, bands, levels and the room's own floor live here, in NumPy alone. What counts as the
beginning of a word lives in ``onset``; where words may be lives in ``islands``.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["HOP", "RATE", "WINDOW", "Floor", "Frames", "floor_of", "frames_of", "smoothed"]

RATE = 16_000
"""Samples a second; every stream of the program has this rate."""

HOP = 32
"""Samples from one frame to the next: 2 ms."""

WINDOW = 128
"""Samples in a frame: 8 ms, weighted to about 4, so that a burst stays a burst."""

_EDGES_HZ = np.array([0, 250, 500, 875, 1250, 1750, 2375, 3125, 4000, 5250, 6500, 8001])

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Frames:
    """Levels of a stretch of sound.

    Attributes:
        start: Position of the first sample on the stream's clock.
        bands: Level of each band in dB re one step of 16-bit sound, shape (frames, bands).
        level: The same over all bands, shape (frames,).
    """

    start: int
    bands: FloatArray
    level: FloatArray

    def __len__(self) -> int:
        return len(self.level)

    def position(self, frame: int) -> int:
        """Return the sample position of a frame's middle."""
        return self.start + frame * HOP + WINDOW // 2

    def frame(self, position: int) -> int:
        """Return the frame whose middle is nearest to ``position``, kept within the stretch."""
        nearest = round((position - self.start - WINDOW // 2) / HOP)
        return int(min(max(nearest, 0), max(len(self) - 1, 0)))


@dataclass(frozen=True, kw_only=True)
class Floor:
    """The room without the word.

    Attributes:
        bands: Median level of each band, dB, shape (bands,).
        spread: Its robust standard deviation, dB, shape (bands,).
        level: Median broadband level, dB.
        high: Level that the room stays below in all but 2 % of its frames, dB.
    """

    bands: FloatArray
    spread: FloatArray
    level: float
    high: float


def frames_of(samples: NDArray[np.int16], start: int = 0) -> Frames:
    """Cut sound into overlapping frames and measure each band.

    Args:
        samples: Mono 16-bit sound at RATE, shape (n,); shorter than one frame gives no frames.
        start: Position of its first sample.
    """
    if len(samples) < WINDOW:
        return Frames(start=start, bands=np.empty((0, len(_EDGES_HZ) - 1)), level=np.empty(0))
    cut = np.lib.stride_tricks.sliding_window_view(samples.astype(np.float64), WINDOW)[::HOP]
    weights = np.hanning(WINDOW)
    power = np.abs(np.fft.rfft(cut * weights, axis=1)) ** 2
    power *= 2.0 / (WINDOW * float(np.sum(weights**2)))
    hertz = np.arange(power.shape[1]) * RATE / WINDOW
    columns = [
        power[:, (hertz >= low) & (hertz < high)].sum(axis=1)
        for low, high in itertools.pairwise(_EDGES_HZ)
    ]
    bands = 10.0 * np.log10(np.stack(columns, axis=1) + 0.05)
    level = 10.0 * np.log10(power.sum(axis=1) + 0.5)
    return Frames(start=start, bands=bands, level=level)


def smoothed(values: FloatArray, frames: int) -> FloatArray:
    """Return the running mean over ``frames`` frames around each, shortened at both ends.

    Args:
        values: Shape (n,) or (n, columns); the mean runs over the first axis.
        frames: Length of the mean; 1 or less gives ``values`` back.
    """
    if frames <= 1 or len(values) == 0:
        return values
    total = np.concatenate([np.zeros((1, *values.shape[1:])), np.cumsum(values, axis=0)])
    index = np.arange(len(values))
    low = np.maximum(index - frames // 2, 0)
    high = np.minimum(index + (frames + 1) // 2, len(values))
    width = (high - low).reshape((-1,) + (1,) * (values.ndim - 1))
    mean: FloatArray = (total[high] - total[low]) / width
    return mean


def floor_of(frames: Frames, quiet: NDArray[np.bool_]) -> Floor:
    """Return the room's floor from the frames marked ``quiet`` (all, where none is marked)."""
    chosen = quiet if bool(quiet.any()) else np.ones(len(frames), dtype=np.bool_)
    bands = frames.bands[chosen]
    level = frames.level[chosen]
    middle = np.median(bands, axis=0)
    spread = 1.4826 * np.median(np.abs(bands - middle), axis=0)
    return Floor(
        bands=middle,
        spread=np.maximum(spread, 1.5),
        level=float(np.median(level)),
        high=float(np.quantile(level, 0.98)),
    )
