"""Speech embeddings of a running stream: 96 numbers for each 0.78 s of sound.

Sound becomes mel frames (one each 10 ms, each made once) in a ring buffer on the stream's sample
clock. The embedding network is fully convolutional: given a longer stretch of frames it gives a
window each 80 ms in one pass, the same numbers as window by window and about six times cheaper. So
embeddings are made on demand, aligned to the very 10 ms that the utterance asks for, and an
utterance costs one pass when it ends. Nothing here knows phrases.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handsfree.hearing.ear.tflite import EarUnavailable, Network, available, network_file

__all__ = [
    "EMBEDDING_SIZE",
    "FRAME_SAMPLES",
    "MEL_BANDS",
    "SAMPLE_RATE_HZ",
    "WINDOW_FRAMES",
    "WINDOW_SAMPLES",
    "EarUnavailable",
    "Embedder",
    "EmbeddingStream",
    "Embeddings",
    "Windows",
    "available",
]

SAMPLE_RATE_HZ = 16000
FRAME_SAMPLES = 160  # hop of the mel frames
_FRAME_SPAN = 512  # samples that one frame looks at
MEL_BANDS = 32
WINDOW_FRAMES = 76  # frames that one embedding looks at
HOP_FRAMES = 8  # the network's own hop, 80 ms
WINDOW_SAMPLES = (WINDOW_FRAMES - 1) * FRAME_SAMPLES + _FRAME_SPAN
EMBEDDING_SIZE = 96
# The mel network clamps each call at 80 dB below its own maximum; lifting all frames to this level
# makes the result the same however the stream is cut (30 LSB of noise lie near 38 dB).
FLOOR_DB = 25.0
_CHUNKS = (64, 8, 1)  # frames a call, largest first


class Windows:
    """An embedding network: mel frames in, windows of 96 numbers out.

    Args:
        file: The network.
    """

    def __init__(self, file: Path) -> None:
        self._file = file
        self._networks: dict[int, Network] = {}

    def __call__(self, frames: NDArray[np.float32]) -> NDArray[np.float32]:
        """Embeddings of mel frames in dB, shape (n, 96), one each 8 frames; all in one pass.

        Frames past the last whole window are left out; fewer than 76 give an empty result.

        Raises:
            EarUnavailable: The network cannot run here.
        """
        count = (len(frames) - WINDOW_FRAMES) // HOP_FRAMES + 1
        if count < 1:
            return np.empty((0, EMBEDDING_SIZE), np.float32)
        length = WINDOW_FRAMES + HOP_FRAMES * (count - 1)
        if length not in self._networks:
            if len(self._networks) >= 8:  # a few lengths recur; others must not pile up
                self._networks.pop(next(iter(self._networks)))
            self._networks[length] = Network(self._file, (1, length, MEL_BANDS, 1))
        scaled = frames[:length] / 10.0 + 2.0  # the scale that the network was trained on
        return self._networks[length](scaled[None, :, :, None]).reshape(count, EMBEDDING_SIZE)


class Embedder:
    """The package's two networks; holds no stream. Raises `EarUnavailable` where they can't run."""

    def __init__(self) -> None:
        self._mel = {
            n: Network(network_file("melspectrogram"), (1, _FRAME_SPAN + (n - 1) * FRAME_SAMPLES))
            for n in _CHUNKS
        }
        self.embed = Windows(network_file("embedding_model"))

    def frames(self, samples: NDArray[np.int16]) -> NDArray[np.float32]:
        """Mel frames in dB, shape (n, 32); frame k looks at samples 160 k to 160 k + 511."""
        sound = np.asarray(samples, np.float32)
        left = max(0, (sound.size - _FRAME_SPAN) // FRAME_SAMPLES + 1)
        done = 0
        out = np.empty((left, MEL_BANDS), np.float32)
        while left:
            n = next(size for size in _CHUNKS if size <= left)
            begin = done * FRAME_SAMPLES
            piece = sound[begin : begin + _FRAME_SPAN + (n - 1) * FRAME_SAMPLES]
            out[done : done + n] = self._mel[n](piece[None, :]).reshape(n, MEL_BANDS)
            done, left = done + n, left - n
        return np.maximum(out, FLOOR_DB, out=out)


@dataclass(frozen=True, kw_only=True)
class Embeddings:
    """Embeddings with their place on the sample clock.

    Attributes:
        vectors: Shape (n, 96).
        centres: Sample at the middle of each window, shape (n,).
    """

    vectors: NDArray[np.float32]
    centres: NDArray[np.int64]


class EmbeddingStream:
    """Mel frames of the last seconds of one stream, and embeddings made from them when asked.

    Args:
        embedder: The networks; made here where none is given.
        keep_s: Seconds that are kept.
    """

    def __init__(self, embedder: Embedder | None = None, *, keep_s: float = 8.0) -> None:
        self._embedder = embedder or Embedder()
        self._keep = int(keep_s * SAMPLE_RATE_HZ) // FRAME_SAMPLES
        self._start_over(0)

    def _start_over(self, position: int) -> None:
        self._pending = np.empty(0, np.int16)
        self._ring = np.full((self._keep, MEL_BANDS), FLOOR_DB, np.float32)
        self._made = 0  # frames made since `_origin`
        self._origin = position  # sample at which frame 0 starts

    @property
    def embedder(self) -> Embedder:
        """The networks in use."""
        return self._embedder

    @property
    def end(self) -> int:
        """The next sample that is expected: all before it has been fed."""
        return self._origin + self._made * FRAME_SAMPLES + self._pending.size

    @property
    def begin(self) -> int:
        """The first sample of the oldest frame that is still kept."""
        return self._origin + max(0, self._made - self._keep) * FRAME_SAMPLES

    def feed(self, block: NDArray[np.int16], position: int) -> None:
        """Take in samples that start at `position` on the stream's clock (16 kHz, mono, int16).

        A position other than `end` means that sound was lost: what came before is forgotten, so
        that no window ever spans a gap.
        """
        if block.dtype != np.int16 or block.ndim != 1:
            msg = f"a block must be one row of int16, not {block.dtype} of shape {block.shape}"
            raise ValueError(msg)
        if position != self.end:
            self._start_over(position)
        self._pending = np.concatenate([self._pending, block])
        new = self._embedder.frames(self._pending)
        if not len(new):
            return
        self._pending = self._pending[len(new) * FRAME_SAMPLES :]
        kept = new[-self._keep :]
        first = self._made + len(new) - len(kept)
        self._ring[np.arange(first, first + len(kept)) % self._keep] = kept
        self._made += len(new)

    def frames(self, start: int, count: int) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
        """`count` mel frames from the one nearest to sample `start`, and which of them are known.

        Frames too old, not yet heard or lost read as silence and are marked unknown.
        """
        first = round((start - self._origin) / FRAME_SAMPLES)
        index = np.arange(first, first + count)
        known = (index >= max(0, self._made - self._keep)) & (index < self._made)
        out = np.full((count, MEL_BANDS), FLOOR_DB, np.float32)
        out[known] = self._ring[index[known] % self._keep]
        return out, known

    def embeddings(self, start: int, end: int) -> Embeddings:
        """Every window, one each 80 ms, that lies within samples `start` to `end` and is known."""
        start = max(start, self.begin)
        last = self._origin + self._made * FRAME_SAMPLES
        count = max(0, min(end, last) - start) // FRAME_SAMPLES
        frames, _ = self.frames(start, count)
        vectors = self._embedder.embed(frames)
        first = self._origin + round((start - self._origin) / FRAME_SAMPLES) * FRAME_SAMPLES
        hop = HOP_FRAMES * FRAME_SAMPLES
        centres = first + WINDOW_SAMPLES // 2 + hop * np.arange(len(vectors), dtype=np.int64)
        return Embeddings(vectors=vectors, centres=centres)
