"""How long the machine waits, and what it does meanwhile. Silence never moves a check on.

Two silences bring a repeat and one word that it waits; then a soft tone every half minute; after
ten minutes the check pauses and saves. Time is the sample clock's; a new stream starts it afresh.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from handsfree.dialogue.events import Event

__all__ = ["GIVE_UP_S", "LEAVE_S", "TONE_EVERY_S", "Patience", "Wait"]

TONE_EVERY_S = 30.0
GIVE_UP_S = 600.0
LEAVE_S = 3_600.0
"""Seconds after which a paused exam is closed as partial; until then it can be resumed."""


class Wait(Enum):
    """What is due while nobody answers."""

    REPEAT = "repeat"
    SAY_WAITING = "say_waiting"
    TONE = "tone"
    PAUSE = "pause"
    NOTHING = "nothing"


@dataclass
class Patience:
    """Counts silences, and the time since the second."""

    silences: int = 0
    tones: int = 0
    since: tuple[str, int] | None = None

    def reset(self) -> None:
        """Somebody answered, or a new question is open."""
        self.silences = 0
        self.tones = 0
        self.since = None

    def wait_from(self, event: Event) -> None:
        """Wait from here without a word: the ten minutes run, nothing is repeated."""
        self.silences = 2
        self.tones = 0
        self.since = (event.stream, event.sample)

    def silence(self, event: Event) -> Wait:
        """Count one silence and say what is due."""
        self.silences += 1
        if self.silences == 1:
            return Wait.REPEAT
        if self.silences == 2:
            self.since = (event.stream, event.sample)
            return Wait.SAY_WAITING
        return Wait.NOTHING

    def tick(self, event: Event, rate: int) -> Wait:
        """Say what is due now that the clock has moved on."""
        if self.since is None:
            return Wait.NOTHING
        stream, sample = self.since
        if stream != event.stream:
            self.since = (event.stream, event.sample)
            self.tones = 0
            return Wait.NOTHING
        waited_s = (event.sample - sample) / rate
        if waited_s >= GIVE_UP_S:
            return Wait.PAUSE
        if waited_s >= TONE_EVERY_S * (self.tones + 1):
            self.tones = int(waited_s // TONE_EVERY_S)
            return Wait.TONE
        return Wait.NOTHING
