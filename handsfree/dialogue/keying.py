"""Keys, pedal, button and typed answers, handed to what is open.

A whole check can be led this way: Enter is yes, a number picks a choice, a word is a value or a
command. A key that means nothing here is told so and changes nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from handsfree.dialogue.events import Key, Keyed
from handsfree.dialogue.numbers import typed_meaning
from handsfree.dialogue.states import State
from handsfree.hearing.verdict import Meaning, MeaningKind

if TYPE_CHECKING:
    from handsfree.dialogue.parts import Parts

__all__ = ["Keying", "typed_yes"]

_YES_OR_NO = {"1": True, "yes": True, "y": True, "2": False, "no": False, "n": False}
NO_MEANING = "That key has no meaning here."


def typed_yes(text: str) -> bool | None:
    """Return whether a typed line says yes or no; None where it says neither."""
    return _YES_OR_NO.get(text.strip().lower())


class Keying:
    """Takes keys."""

    def __init__(self, parts: Parts) -> None:
        self._parts = parts
        self._desk = parts.desk

    def keyed(self, event: Keyed) -> None:
        """Take a key."""
        parts = self._parts
        self._desk.patience.reset()
        parts.intake.sure()
        if event.key is Key.COMMAND:
            if not parts.steering.typed(event.text):
                self._no_meaning()
        elif event.key is Key.AGAIN:
            if self._desk.flow.state is State.CONFIRMING:
                parts.read_back.deny()
            elif not parts.steering.typed("repeat"):
                self._no_meaning()
        elif not (self._yes(event) if event.key is Key.YES else self._value(event)):
            self._no_meaning()

    def _yes(self, event: Keyed) -> bool:
        parts, state = self._parts, self._desk.flow.state
        if state is State.CONFIRMING:
            parts.read_back.yes()
        elif state in (State.PRESSING, State.HOLDING, State.TIMING):
            parts.refill.key(event)
        elif state is State.COUNT_READY:
            parts.count.started(event.sample)
        elif state in (State.PAUSED, State.OPTIONS):
            parts.steering.typed("resume")
        elif state is State.TELLING:
            parts.steering.typed("done")
        elif state is State.HELPER:
            parts.opening.settle_helper(there=True)
        elif state is State.ASKING:
            self._yes_at_question()
        elif state is not State.COUNTING and state is not State.RESTING:
            return False
        return True

    def _yes_at_question(self) -> None:
        turn = self._desk.turn
        assert turn is not None
        if "yes" in turn.step.question.values:
            yes = Meaning(kind=MeaningKind.ANSWER, value="yes")
            self._parts.taker.take_meaning(yes, "", None)
        else:
            self._parts.ladder.by_key()

    def _value(self, event: Keyed) -> bool:
        parts, state, turn = self._parts, self._desk.flow.state, self._desk.turn
        text = event.text.strip().lower()
        says_yes = typed_yes(text)
        if state is State.HELPER and says_yes is not None:
            parts.opening.settle_helper(there=says_yes)
        elif state is State.GOTO:
            parts.menus.go_to(text)
        elif state is State.CONFIRMING and says_yes is not None:
            if says_yes:
                parts.read_back.yes()
            else:
                parts.read_back.deny()
        elif state is State.COUNT_READY and text in ("start", "begin"):
            parts.count.started(event.sample)
        elif state in (State.ASKING, State.CONFIRMING) and turn is not None:
            meaning = typed_meaning(turn.step.question, event)
            if meaning is None:
                return False
            if state is State.CONFIRMING:
                parts.read_back.heard(meaning, event.text, None)
            else:
                turn.without.discard(str(meaning.value))  # typed on purpose
                parts.taker.take_meaning(meaning, event.text, None)
        else:
            return False
        return True

    def _no_meaning(self) -> None:
        """Say so and stay; at a question the choices are named with their keys."""
        state, desk = self._desk.flow.state, self._desk
        if state is State.ASKING:
            self._parts.ladder.by_key(NO_MEANING)
        elif state in (State.HOLDING, State.TIMING, State.COUNTING, State.CONCLUDING):
            return  # nothing may sound now
        else:
            desk.say(NO_MEANING)
            self._parts.asking.listen_again(quiet=True)
