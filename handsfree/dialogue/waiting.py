"""Silence, the clock, and the end of what was spoken. Silence never moves a check on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from handsfree.dialogue.actions import ToneName
from handsfree.dialogue.events import Silence, SpokenOut, Ticked
from handsfree.dialogue.patience import Wait
from handsfree.dialogue.states import State

if TYPE_CHECKING:
    from handsfree.dialogue.parts import Parts

__all__ = ["Waiting"]

_NOT_WAITING = {
    State.PAUSED,
    State.COUNTING,
    State.HOLDING,
    State.RESTING,
    State.CONCLUDING,
}
"""States in which silence is what is expected."""


class Waiting:
    """Takes silence and ticks."""

    def __init__(self, parts: Parts) -> None:
        self._parts = parts
        self._desk = parts.desk

    def silence(self, event: Silence) -> None:
        """The listening window passed without a word to us."""
        parts, desk, state = self._parts, self._desk, self._desk.flow.state
        if state in _NOT_WAITING:
            return
        if state is State.CONFIRMING and parts.read_back.silence_confirms():
            return
        if state is State.TELLING:
            parts.closing.done()
            return
        if state is State.TIMING:
            parts.refill.silent()
            return
        wait = desk.patience.silence(event)
        if state is State.ALARM:
            # Somebody may be on the phone: it was said that we wait, so nothing more sounds.
            return
        if wait is Wait.REPEAT:
            parts.asking.repeat()
        elif wait is Wait.SAY_WAITING:
            soft = "A soft tone says that I still wait." if desk.once("waiting") else ""
            desk.say("I am waiting. Answer when you are ready.", soft)
            parts.asking.listen_again(quiet=True)
        else:
            parts.asking.listen_again(quiet=True)

    def ticked(self, event: Ticked) -> None:
        """The sample clock moved on."""
        parts, desk, state = self._parts, self._desk, self._desk.flow.state
        assert desk.opened is not None
        if state is State.PAUSED:
            parts.pausing.ticked(event)
        elif state is State.COUNTING:
            parts.count.ticked(event)
        elif state in (State.RESTING, State.TIMING):
            parts.refill.ticked(event)
        elif state not in _NOT_WAITING:
            wait = desk.patience.tick(event, desk.opened.rate)
            if wait is Wait.TONE and state is not State.ALARM:
                desk.tone(ToneName.WAITING)
            elif wait is Wait.PAUSE:
                desk.patience.reset()
                if state is State.TELLING:
                    parts.closing.done()
                else:
                    parts.pausing.pause("no answer for ten minutes")

    def spoken_out(self, event: SpokenOut) -> None:
        """All that was to sound has been played."""
        if self._desk.flow.state is State.HOLDING:
            self._parts.refill.held(event)
        elif self._desk.flow.state is State.COUNTING:
            self._parts.count.spoken_out(event)
