"""What cannot wait: it interrupts, and no question follows until the person says to go on.

An alarm for an answer that is being read back waits for the yes or no, and is dropped with a no: an
alarm for a misheard word helps nobody. Each rule is raised once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from handsfree.dialogue import vocabulary
from handsfree.dialogue.actions import Hush, SpeechKind
from handsfree.dialogue.events import Alarmed
from handsfree.dialogue.states import State

if TYPE_CHECKING:
    from handsfree.dialogue.parts import Parts

__all__ = ["Alarms"]

NO_NUMBER = "Call a vet or emergency clinic now."


class Alarms:
    """Raises alarms."""

    def __init__(self, parts: Parts) -> None:
        self._parts = parts
        self._desk = parts.desk
        self._waiting: list[tuple[Alarmed, int | None]] = []
        self._raised: set[str] = set()
        self._now: Alarmed | None = None
        self._told = False
        """The person said that the vet was told."""

    def alarmed(self, event: Alarmed) -> None:
        """Judging found something; only the highest level interrupts."""
        state, turn = self._desk.flow.state, self._desk.turn
        if event.level != "now" or event.rule in self._raised:
            return
        if state in (State.CONCLUDING, State.TELLING):
            return  # the result says it first
        self._raised.add(event.rule)
        pending = turn.pending if turn is not None else None
        if state in (State.PAUSED, State.ALARM, State.HELPER) or pending is not None:
            self._waiting.append((event, pending.ref if pending is not None else None))
        else:
            self._raise(event)

    def forget(self, ref: int) -> None:
        """The answer ``ref`` is denied or undone: what waited because of it is dropped."""
        dropped = {event.rule for event, because in self._waiting if because == ref}
        self._raised -= dropped
        self._waiting = [(e, because) for e, because in self._waiting if because != ref]

    def raise_waiting(self) -> bool:
        """Raise the next alarm that waited; return whether there was one."""
        if not self._waiting:
            return False
        self._raise(self._waiting.pop(0)[0])
        return True

    def _raise(self, event: Alarmed) -> None:
        desk = self._desk
        desk.emit(Hush())
        self._parts.drop_stage("interrupted")
        desk.flow.move("alarm")
        self._now = event
        desk.patience.wait_from(event)
        desk.note("alarm", rule=event.rule, level=event.level)
        self.say(full=desk.once("alarm"))

    def say(self, *, full: bool = True) -> None:
        """Say it: what, whom to call, what not to do, and how to go on. No question.

        After the first one it is known how to go on (``full`` says it all the same).
        """
        desk, alarm = self._desk, self._now
        assert alarm is not None
        assert desk.opened is not None
        number = desk.opened.vet_number
        call = f"Call the vet now: {number}." if number else NO_NUMBER
        if self._told:
            call = "Tell the vet this as well."
        desk.ask("alarm")
        desk.say(alarm.say, call, alarm.avoid, kind=SpeechKind.ALARM)
        desk.say(
            "I wait. When you have called, say: I called the vet." if full else "I wait.",
            "To carry on, say keep going.",
        )
        desk.listen(commands=vocabulary.ALARM, quiet=True)

    def come_back(self) -> None:
        """After a pause: say it again, and wait again."""
        desk = self._desk
        assert desk.event is not None
        desk.flow.move("alarm")
        desk.patience.wait_from(desk.event)
        self.say()

    def go_on(self) -> None:
        """The person says to go on in spite of it."""
        self._desk.note("went_on", rule=self._now.rule if self._now else "")
        self._parts.asking.reask("Going on.")

    def told_someone(self) -> None:
        """The person says that the vet was told; it is stored with its time."""
        desk = self._desk
        self._told = True
        desk.note("told", whom="vet", rule=self._now.rule if self._now else "")
        desk.say("Noted. Do as they say.", "To carry on, say keep going.")
        desk.listen(commands=vocabulary.ALARM, quiet=True)
