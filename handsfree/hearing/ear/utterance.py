"""What the head sees of one utterance: embeddings around its middle, and its length.

Sound long before the start and after the end is replaced by the quiet next to the utterance,
repeated, so that neither what was said before nor how long hearing waited changes the score; only
0.22 s after the end are needed. The level is taken out. Training and running share this module.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handsfree.hearing.ear.embedding import (
    EMBEDDING_SIZE,
    FLOOR_DB,
    FRAME_SAMPLES,
    HOP_FRAMES,
    SAMPLE_RATE_HZ,
    WINDOW_FRAMES,
    EmbeddingStream,
    Windows,
)

__all__ = ["AFTER_SAMPLES", "FEATURES", "WINDOWS", "utterance_features"]
__all__ += ["BEFORE_SAMPLES", "EDGE_SAMPLES", "FRAME_MIDDLE", "LEVEL_DB", "LOUD"]
__all__ += ["PATCH_FRAMES", "PATCH_SAMPLES", "SOFTEST"]

WINDOWS = 13  # 80 ms apart: centres from -480 to +480 ms
FEATURES = WINDOWS * EMBEDDING_SIZE + 1
BEFORE_SAMPLES = int(0.30 * SAMPLE_RATE_HZ)
AFTER_SAMPLES = int(0.22 * SAMPLE_RATE_HZ)
PATCH_FRAMES = WINDOW_FRAMES + HOP_FRAMES * (WINDOWS - 1)
PATCH_SAMPLES = PATCH_FRAMES * FRAME_SAMPLES + 512 - FRAME_SAMPLES
FRAME_MIDDLE = 256  # from a frame's first sample
EDGE_SAMPLES = int(0.05 * SAMPLE_RATE_HZ)  # a segmenter's bounds may be this far inside the word
LEVEL_DB, LOUD = 85.0, 0.9  # to which the utterance's loud frames are brought, and their quantile
SOFTEST = 6  # frames that stand in for the quiet beside an utterance that fills the patch


def _patch(stream: EmbeddingStream, start: int, end: int) -> NDArray[np.float32]:
    """Mel frames around the middle of the utterance, in dB, level taken out."""
    first = (start + end) // 2 - PATCH_SAMPLES // 2
    frames, known = stream.frames(first, PATCH_FRAMES)
    at = first + FRAME_SAMPLES * np.arange(PATCH_FRAMES) + FRAME_MIDDLE
    near = known & (at >= start - BEFORE_SAMPLES) & (at < end + AFTER_SAMPLES)
    if not near.any():
        return frames
    quiet = np.flatnonzero(near & ((at < start - EDGE_SAMPLES) | (at >= end + EDGE_SAMPLES)))
    if quiet.size < 4:  # the utterance fills the patch: its softest frames stand in
        quiet = np.flatnonzero(near)
        quiet = quiet[np.argsort(frames[quiet].mean(axis=1))[:SOFTEST]]
    away = np.flatnonzero(~near)
    there_and_back = np.concatenate([quiet, quiet[::-1]])
    frames[away] = frames[np.resize(there_and_back, away.size)]
    inside = near & (at >= start) & (at < end)
    loud = float(np.quantile(frames[inside if inside.any() else near].max(axis=1), LOUD))
    levelled = np.maximum(frames + np.float32(LEVEL_DB - loud), np.float32(FLOOR_DB))
    return np.asarray(levelled, np.float32)


def utterance_features(
    stream: EmbeddingStream, start: int, end: int, windows: Windows | None = None
) -> NDArray[np.float32]:
    """Embeddings around the middle of samples `start` to `end`, then its length in seconds.

    Shape (1249,): 13 windows of 96, earliest first, and the length; by the stream's own network
    unless another is given.
    """
    vectors = (windows or stream.embedder.embed)(_patch(stream, start, end))
    seconds = np.float32((end - start) / SAMPLE_RATE_HZ)
    return np.concatenate([vectors.ravel(), [seconds]]).astype(np.float32)
