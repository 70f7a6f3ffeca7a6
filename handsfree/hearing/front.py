"""The way from the microphone to sound that can be judged: echo out, silence filled, all on tape.

Knows what we play and what the microphone gives; nothing of speech or grammars.
"""

from __future__ import annotations

import numpy as np

from handsfree.audio.device import SAMPLE_RATE, Block, Samples
from handsfree.hearing.echo import EchoCanceller, EchoWatch
from handsfree.hearing.likeness import LATEST_S, likeness
from handsfree.hearing.segment import FRAME_SAMPLES, OURS_DOWN_DB, Dither, level_dbfs
from handsfree.hearing.tape import Tape

__all__ = ["FrontEnd"]

DEAD_AT_START_S = 1.0
DEAD_LATER_S = 10.0
"""Exact zeros for so long mean a dead microphone; later on, some headsets gate pauses to zero."""

ECHO_TAIL_S = 0.4
"""Our own voice comes back for so long after it was played: delay of the device and the room."""
_HEARD_OF_US = 30
"""A reference below this many steps of 16 bits is silence."""


class FrontEnd:
    """One stream's sound, cleaned. Positions are the stream's own, whatever the canceller's lag.

    Args:
        echo: The canceller; None leaves our own voice in.

    Attributes:
        tape: The cleaned sound of the last ten seconds.
        position: The next sample expected from the stream; None before it begins.
        dead: The block taken last showed that the microphone is dead; told once.
    """

    def __init__(self, echo: EchoCanceller | None = None) -> None:
        self._echo = echo
        self._watch = EchoWatch()
        self._dither = Dither()
        self.tape = Tape()
        self._played = Tape()
        self.position: int | None = None
        self.dead = False
        self._last_of_us = -(10**9)
        self._zeros = 0
        self._ever_sound = False
        self._told_dead = False

    @property
    def echo_works(self) -> bool:
        """Whether our own voice is taken out so well that the microphone can be believed."""
        return self._echo is not None and self._watch.works

    def follows(self, block: Block) -> bool:
        """Whether ``block`` follows the one before it without a gap."""
        return self.position is not None and block.start == self.position

    def begin(self, start: int) -> int:
        """Begin anew at ``start``; return the position at which cleaned sound will begin."""
        self.position = start
        self.tape.reset(start)
        self._played.reset(start)
        return start

    def take(self, block: Block) -> tuple[int, Samples, Samples | None]:
        """Return the position of what is ready, the cleaned sound, and our own in it, if any."""
        self._watch_zeros(block.samples)
        self._played.add(block.reference)
        loud = np.flatnonzero(np.abs(block.reference.astype(np.int32)) > _HEARD_OF_US)
        if len(loud):
            self._last_of_us = block.start + int(loud[-1])
        self.position = block.start + len(block.samples)
        start, samples, ours = self.tape.end, block.samples, None
        if self._echo is not None:
            samples, ours = self._echo.process(samples, block.reference)
        samples = self._dither.fill(samples, start)
        self.tape.add(samples)
        return start, samples, ours

    def sounds_of_us(self, position: int) -> bool:
        """Whether our own voice can be heard at ``position``."""
        return position <= self._last_of_us + ECHO_TAIL_S * SAMPLE_RATE

    def watch(self, rise_db: float, *, person: bool) -> None:
        """Look at a frame during our own voice: is anything left of it?"""
        if self._echo is not None:
            self._watch.add(rise_db, person=person and rise_db > 0.0)

    def watch_muted(
        self, start: int, samples: Samples, ours: Samples | None, floor_db: float
    ) -> None:
        """Look at sound that nobody judges, because we speak: is anything left of our voice?"""
        if self._echo is None or ours is None or floor_db <= -119.0:
            return
        for at in range(0, len(samples) - FRAME_SAMPLES + 1, FRAME_SAMPLES):
            if self.sounds_of_us(start + at):
                frame = slice(at, at + FRAME_SAMPLES)
                least = max(floor_db, level_dbfs(ours[frame]) - OURS_DOWN_DB)
                self._watch.add(level_dbfs(samples[frame]) - least, person=False)

    def likeness(self, start: int, end: int) -> float:
        """Return how far the cleaned sound is what we played; see ``likeness``."""
        start = max(start, self.tape.begin)
        before = start - round(LATEST_S * SAMPLE_RATE)
        return likeness(self.tape.cut(start, end), self._played.cut(before, end))

    def _watch_zeros(self, samples: Samples) -> None:
        self.dead = False
        if np.any(samples):
            self._zeros, self._ever_sound, self._told_dead = 0, True, False
            return
        self._zeros += len(samples)
        limit_s = DEAD_LATER_S if self._ever_sound else DEAD_AT_START_S
        if not self._told_dead and self._zeros >= limit_s * SAMPLE_RATE:
            self._told_dead = self.dead = True
