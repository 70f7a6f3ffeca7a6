"""The shape of a sound device: one full-duplex stream with one sample clock.

Live hardware, a WAV file and the rehearsal's virtual room all have this shape, so the driver never
knows which it has. No sound library is imported here.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

__all__ = ["BLOCK_SAMPLES", "SAMPLE_RATE", "Block", "DeviceInfo", "Duplex", "Samples"]

SAMPLE_RATE = 16_000
"""Samples per second on every stream, in and out, mono."""

BLOCK_SAMPLES = 320
"""Samples per block: 20 ms."""

Samples = NDArray[np.int16]
"""Mono 16-bit sound at SAMPLE_RATE, shape (n,)."""


@dataclass(frozen=True, kw_only=True)
class Block:
    """One block from the microphone.

    Attributes:
        start: Position of its first sample on the stream's clock. A jump against the block before
            is a gap: that many samples were lost.
        samples: int16, shape (n,).
        reference: What our own voice played during these samples, int16, shape (n,); zeros when
            it was silent. The echo canceller's reference.
        overflow: Samples known to be lost just before this block.
    """

    start: int
    samples: Samples
    reference: Samples
    overflow: int = 0


class Duplex(Protocol):
    """A full-duplex stream. All positions are samples on its own clock."""

    stream_id: str
    """Unique for each opened stream: no interval ever crosses two of them."""

    def read(self, timeout_s: float) -> Block | None:
        """Return the next microphone block, or None if none came within ``timeout_s``.

        Raises:
            DeviceError: The stream is lost.
        """
        ...

    def play(self, samples: Samples, *, at: int | None = None) -> int:
        """Queue ``samples`` behind what is queued, or mix them in at position ``at``.

        Returns:
            The position at which the last of them will have been played: one past it.
        """
        ...

    def playing(self) -> bool:
        """Whether queued sound is still to be played."""
        ...

    def stop_playing(self) -> None:
        """Drop all queued sound, with a short fade."""
        ...

    def duck(self, gain_db: float) -> None:
        """Set the gain of what is played (0 = as is)."""
        ...

    def position(self) -> int:
        """The clock now: one past the last sample read or about to be read."""
        ...

    def close(self) -> None:
        """Stop and release the device; never raises."""
        ...


@dataclass(frozen=True, kw_only=True)
class DeviceInfo:
    """One listed device: ``index`` for opening, ``name`` for people, channel counts."""

    index: int
    name: str
    inputs: int
    outputs: int
    default: bool = field(default=False)
