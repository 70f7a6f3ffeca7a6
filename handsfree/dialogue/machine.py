"""The exam machine: takes one event, returns the actions it leads to.

Pure: no audio, clock, file, database or engine is imported here or by its parts, so an exam replays
from its log. Here stands only which part takes which event.

How one question goes. ``asking`` finds the step that is due, says the echo of the last answer, the
region's words and the prompt, and listens. Hearing's verdict comes back to ``intake``: ``answers``
records a normal answer, to be echoed inside the next prompt; an unusual one, and every number, is
recorded as unconfirmed and read back (``read_back``), settled by yes, or by silence where that does
no harm. What was not understood climbs the ``ladder`` of four rungs (other words, the choices,
keys, leave it); an alarming answer that is doubted and never settled stays as possible
(``settling``). An ignored sound changes nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from handsfree.dialogue.actions import Action
from handsfree.dialogue.events import (
    Alarmed,
    Concluded,
    DeviceLost,
    DeviceRegained,
    Event,
    Heard,
    Keyed,
    Opened,
    Retracted,
    Silence,
    SpokenOut,
    Stopped,
    Ticked,
    Told,
    TooLoud,
)
from handsfree.dialogue.parts import Parts
from handsfree.dialogue.states import State
from handsfree.protocol.model import Protocol

__all__ = ["Exam"]


class Exam:
    """One exam of one dog. ``step`` is the whole interface.

    Args:
        protocol: What can be asked.
    """

    def __init__(self, protocol: Protocol) -> None:
        parts = self._parts = Parts(protocol)
        self._handlers: dict[type[Event], Callable[[Any], None]] = {
            Opened: parts.opening.opened,
            Heard: parts.intake.heard,
            Silence: parts.waiting.silence,
            SpokenOut: parts.waiting.spoken_out,
            Ticked: parts.waiting.ticked,
            Keyed: parts.keying.keyed,
            TooLoud: parts.room.too_loud,
            Retracted: parts.room.retracted,
            Alarmed: parts.alarms.alarmed,
            Concluded: parts.closing.concluded,
            Told: parts.room.told,
            DeviceLost: parts.pausing.device_lost,
            DeviceRegained: parts.pausing.device_regained,
            Stopped: parts.closing.stopped,
        }

    @property
    def state(self) -> State:
        """What the machine waits for."""
        return self._parts.desk.flow.state

    @property
    def said_once(self) -> frozenset[str]:
        """Cautions said and words explained so far, those of earlier dogs with them."""
        return self._parts.cautions.said | self._parts.desk.told_once

    def step(self, event: Event) -> tuple[Action, ...]:
        """Take one event and return what is to be done, in order; nothing once it is finished.

        Raises:
            RuntimeError: The event cannot come here: one before the exam is opened, or a second
                opening.
            CallerError: The opening names a routine that does not exist.
        """
        if self.state is State.FINISHED:
            return ()
        if (self.state is State.READY) is not isinstance(event, Opened):
            when = "not opened yet" if self.state is State.READY else "opened already"
            msg = f"the exam is {when} and cannot take {type(event).__name__}"
            raise RuntimeError(msg)
        self._parts.desk.begin(event)
        self._handlers[type(event)](event)
        return self._parts.desk.take()
