"""The mel frames of one utterance, as the phone network sees them: cut out, the level taken out.

Training and running share this module.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handsfree.hearing.ear.embedding import (
    FLOOR_DB,
    FRAME_SAMPLES,
    SAMPLE_RATE_HZ,
    EmbeddingStream,
)

__all__ = [
    "AFTER_SAMPLES",
    "BEFORE_SAMPLES",
    "LEVEL_DB",
    "LOUD",
    "STEP_SAMPLES",
    "placed_frames",
    "utterance_frames",
]

BEFORE_SAMPLES = int(0.30 * SAMPLE_RATE_HZ)
AFTER_SAMPLES = int(0.22 * SAMPLE_RATE_HZ)
_FRAME_MIDDLE = 256  # from a frame's first sample
STEP_SAMPLES = 2 * FRAME_SAMPLES
"""Samples from one output of the network to the next."""
LEVEL_DB = 85.0
"""To which an utterance's loud frames are brought."""
LOUD = 0.9
"""The quantile of the frames' loudest bands that counts as loud."""


def utterance_frames(stream: EmbeddingStream, start: int, end: int) -> NDArray[np.float32]:
    """Mel frames from 0.30 s before sample `start` to 0.22 s after `end`, in dB, shape (n, 32).

    What is not yet heard is left out. The loud frames of the utterance are brought to one level.
    """
    return placed_frames(stream, start, end)[0]


def placed_frames(stream: EmbeddingStream, start: int, end: int) -> tuple[NDArray[np.float32], int]:
    """Return the frames of ``utterance_frames``, and the sample at which the first begins."""
    first = start - BEFORE_SAMPLES
    count = max(1, (end + AFTER_SAMPLES - first) // FRAME_SAMPLES)
    frames, known = stream.frames(first, count)
    at = first + FRAME_SAMPLES * np.arange(count) + _FRAME_MIDDLE
    inside = known & (at >= start) & (at < end)
    judged = inside if inside.any() else known
    if not judged.any():
        return frames[:0], start
    loud = float(np.quantile(frames[judged].max(axis=1), LOUD))
    levelled = np.maximum(frames[known] + np.float32(LEVEL_DB - loud), np.float32(FLOOR_DB))
    begin = first + FRAME_SAMPLES * int(known.argmax())
    return np.asarray(levelled, np.float32), begin
