"""Settling an answer that was read back: yes, no, another answer, silence, or not understood.

Every way out ends: after three replies that were not understood the answer is left, and an alarming
one is kept as possible.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from handsfree.dialogue import phrases, vocabulary
from handsfree.dialogue.actions import SpeechKind, ToneName
from handsfree.dialogue.answers import BELIEVABLE
from handsfree.dialogue.ladder import LAST_RUNG
from handsfree.dialogue.states import State
from handsfree.dialogue.turn import Held, Turn
from handsfree.hearing.verdict import Candidate, Meaning, Verdict
from handsfree.protocol.model import Kind

if TYPE_CHECKING:
    from handsfree.dialogue.parts import Parts

__all__ = ["ReadBack"]


class ReadBack:
    """Reads back and takes what is said to it."""

    def __init__(self, parts: Parts) -> None:
        self._parts = parts
        self._desk = parts.desk

    def first(self, before: str = "") -> None:
        """Read the pending answer back."""
        turn, pending = self._open()
        turn.asked_back = 0
        turn.doubtful_reply = None
        self._say(before, phrases.read_back(turn.step, pending.answer))

    def again(self) -> None:
        """Read back once more, as a plain yes-or-no question."""
        turn, pending = self._open()
        assert self._desk.opened is not None
        self._say(
            phrases.confirm_again(
                turn.step, pending.answer, turn.asked_back, has_keys=self._desk.opened.has_keys
            )
        )

    def _say(self, *texts: str) -> None:
        desk = self._desk
        _, pending = self._open()
        if desk.flow.state is not State.CONFIRMING:
            desk.flow.move("read_back")
        desk.ask("confirm", read_back=pending.answer)
        desk.say(*self._parts.settling.take_echo(), *texts, kind=SpeechKind.READ_BACK)
        self.listen()

    def listen(self, *, quiet: bool = False) -> None:
        """Open the microphone for yes, no, or another answer."""
        turn, pending = self._open()
        question = turn.step.question
        grammars = ["confirm"]
        if question.kind is Kind.CHOICE and not {"yes", "no"} & set(question.values):
            grammars.append(question.grammar)
        # A yes that clears an alarm needs more than others; every other answer is read back anew.
        clears = turn.doubt is not None and not pending.alarming
        self._desk.listen(
            *grammars,
            commands=vocabulary.CONFIRM,
            strict=frozenset({"yes"}) if clears else frozenset(),
            quiet=quiet,
        )

    # what is said to it

    def heard(self, meaning: Meaning, words: str, verdict: Verdict | None) -> None:
        """Take yes, no, or another answer in place of the one read back."""
        _, pending = self._open()
        if meaning.value == "yes" or meaning.value == pending.answer.value:
            self.yes(verdict)
        elif meaning.value == "no":
            self.deny()
        else:
            self._replace(meaning, words, verdict, doubtful=False)

    def yes(self, verdict: Verdict | None = None) -> None:
        """It is right."""
        turn, pending = self._open()
        if verdict is not None:
            self._parts.settling.remember(verdict.start, turn.place)
        self._desk.confirm(pending.ref)
        self._desk.tone(ToneName.ACCEPTED)
        if self._desk.once("accepted") and not self._desk.brief:
            self._desk.say("That tone means: stored.")
        self._desk.turn = None
        self._parts.asking.next()

    def deny(self) -> None:
        """It is wrong: the value leaves the grammar, and the question is asked in other words."""
        turn, pending = self._open()
        if isinstance(pending.answer.value, str):
            turn.without.add(pending.answer.value)
        self._drop()
        self._parts.ladder.misheard()

    def silence_confirms(self) -> bool:
        """Whether this silence settles a harmless answer."""
        turn = self._desk.turn
        if turn is None or turn.pending is None or not turn.pending.harmless:
            return False
        self._desk.confirm(turn.pending.ref)
        self._desk.turn = None
        self._parts.asking.next()
        return True

    def doubtful(self, best: Candidate | None, verdict: Verdict) -> None:
        """The reply was not understood; the same doubtful word twice counts as said."""
        turn, pending = self._open()
        said = None if best is None or best.probability < BELIEVABLE else best.meaning
        if best is not None and said is not None and said == turn.doubtful_reply:
            if said.value in ("yes", "no", pending.answer.value):
                self.heard(said, best.words, verdict)
            else:
                self._replace(said, best.words, verdict, doubtful=True)
            return
        turn.doubtful_reply = said
        turn.asked_back += 1
        if turn.asked_back <= LAST_RUNG:
            self._desk.tone(ToneName.NOT_HEARD)
            self.again()
        else:
            self._parts.ladder.leave_out()

    def _replace(
        self, meaning: Meaning, words: str, verdict: Verdict | None, *, doubtful: bool
    ) -> None:
        turn, _ = self._open()
        self._drop()
        turn.attempt += 1
        turn.misheard += 1
        if turn.misheard > LAST_RUNG:
            self._parts.ladder.leave_out()
        else:
            self._parts.taker.take_meaning(meaning, words, verdict, doubtful=doubtful)

    def _drop(self) -> None:
        """The pending answer is no longer believed; an alarming one stays in doubt."""
        turn, pending = self._open()
        self._parts.alarms.forget(pending.ref)
        if pending.alarming:
            turn.doubt = pending
        turn.pending = None
        self._desk.progress.reopened.add(turn.place)

    def _open(self) -> tuple[Turn, Held]:
        turn = self._desk.turn
        assert turn is not None
        assert turn.pending is not None
        return turn, turn.pending
