"""What happens when an answer is not understood, or the person refuses to give one.

The ladder has four rungs and an end: other words, the choices, keys, leave it. Leaving never erases
an alarming answer, nor one that stands from before.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from handsfree.dialogue import phrases
from handsfree.dialogue.actions import SpeechKind, Status, ToneName

if TYPE_CHECKING:
    from handsfree.dialogue.parts import Parts

__all__ = ["LAST_RUNG", "Ladder"]

LAST_RUNG = 3
"""Times that a question is asked anew before it is left."""
_LONG = 2
"""Sentences of a prompt that is not long."""
_SAID = {"dog_refused": "Left. Never force it.", "cannot_see": "Left: not seen."}


class Ladder:
    """Asks again, and leaves."""

    def __init__(self, parts: Parts) -> None:
        self._parts = parts
        self._desk = parts.desk

    def misheard(self, why: str = "") -> None:
        """Ask again: in other words, then with the choices, then by key; then leave it."""
        desk, turn = self._desk, self._desk.turn
        assert turn is not None
        turn.misheard += 1
        turn.attempt += 1
        desk.tone(ToneName.NOT_HEARD)
        if desk.once("not_heard") and not desk.brief:
            desk.say("That low tone means: say it again.", kind=SpeechKind.NOTICE)
        if turn.misheard > LAST_RUNG:
            self.leave_out()
        else:
            self._put(why, turn.misheard)

    def by_key(self, why: str = "") -> None:
        """Say the choices with their keys."""
        self._put(why, LAST_RUNG)

    def _put(self, why: str, rung: int) -> None:
        texts = self._rung(rung)
        # Many choices are long: they are spoken with gaps in which one can stop them.
        kind = SpeechKind.HELP if len(texts) > _LONG else SpeechKind.PROMPT
        self._parts.asking.put(why, *texts, kind=kind)

    def _rung(self, rung: int) -> tuple[str, ...]:
        desk, turn = self._desk, self._desk.turn
        assert turn is not None
        assert desk.opened is not None
        if turn.window_s is not None:
            return phrases.count_again(rung, has_keys=desk.opened.has_keys)
        if rung == 1:
            return (phrases.again(turn.step, turn.by_touch, brief=desk.brief),)
        if rung == 2:
            return phrases.choices(turn.step.question)
        if desk.opened.has_keys:
            return phrases.by_key(turn.step.question)
        return phrases.last_try(turn.step.question)

    def leave_out(self) -> None:
        """Nothing was understood: keep what stands, or store that the item was not observed."""
        self._leave("not_understood", "I leave that one open.")

    def refuse(self, reason: str) -> None:
        """The person leaves the question out, for this reason."""
        turn = self._desk.turn
        if turn is None:
            return
        touchable = turn.step.question.touch_prompt is not None
        if reason == "cannot_see" and touchable and not turn.by_touch:
            turn.by_touch = True
            self._parts.asking.put(phrases.prompt(turn.step, True))
            return
        self._parts.drop_stage("left out")
        said = _SAID.get(reason, "Left out.")
        self._leave(reason, said)

    def _leave(self, reason: str, said: str) -> None:
        desk, turn = self._desk, self._desk.turn
        assert turn is not None
        settling = self._parts.settling
        held = turn.pending if turn.pending and turn.pending.alarming else turn.doubt
        turn.pending = None
        if held is not None:
            settling.keep_possible(held)
            said = "I keep that as possible."
        elif turn.keeps and desk.progress.answers[turn.place].is_settled:
            desk.progress.reopened.discard(turn.place)
            said = "I keep what you said before."
        else:
            desk.record_missing(turn.step, Status.NOT_OBSERVED, reason)
        desk.turn = None
        if reason == "dog_refused":
            desk.say(said)
            self._parts.cautions.for_refusal()
            said = ""
        self._parts.asking.next(said)
