"""The shape of an echo canceller, and whether one works here.

A canceller is believed only after it has been seen to work: ``EchoWatch`` looks at what is left
while we speak, and as long as that is too much, hearing stays deaf while we speak (half duplex).
"""

from __future__ import annotations

from collections import deque
from typing import Protocol

from handsfree.audio.device import Samples

__all__ = ["EchoCanceller", "EchoWatch"]


class EchoCanceller(Protocol):
    """One stream's canceller."""

    def process(self, samples: Samples, reference: Samples) -> tuple[Samples, Samples]:
        """Return what is ready: the sound without our own, and what was taken off it.

        Both are of one length, in the order of what went in, and not shifted against it.
        """
        ...


class EchoWatch:
    """Whether the echo is cancelled: what stands out of the room while our own voice sounds.

    Attributes:
        works: Half a prompt or more went by with next to nothing left. False at first.
    """

    ENOUGH_FRAMES = 80
    """Frames of our own voice that are looked at before a judgement: 0.8 s."""
    MOST_LEFT = 0.15
    """Share of them in which something may stand out: a person may be speaking in some."""
    KEPT_FRAMES = 250

    def __init__(self) -> None:
        self.works = False
        self._stood_out: deque[bool] = deque(maxlen=self.KEPT_FRAMES)

    def add(self, rise_db: float, *, person: bool) -> None:
        """Take in a frame during which our own voice sounded.

        Args:
            rise_db: How far the cleaned sound stands above the room.
            person: Someone is known to be speaking: the frame tells nothing.
        """
        if person:
            return
        self._stood_out.append(rise_db > 3.0)
        if len(self._stood_out) >= self.ENOUGH_FRAMES:
            left = sum(self._stood_out) / len(self._stood_out)
            self.works = left <= (self.MOST_LEFT * (2.0 if self.works else 1.0))

    def reset(self) -> None:
        """Begin anew: another stream, another place."""
        self.works = False
        self._stood_out.clear()
