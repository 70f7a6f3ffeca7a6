"""Taking answers: recorded first, then echoed inside the next prompt, or read back.

An answer is recorded before anything is said of it. What is settled how is decided in ``read_back``
and ``settling``, what happens when nothing was understood in ``ladder``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from handsfree.dialogue import phrases, vocabulary
from handsfree.dialogue.actions import Confirmed
from handsfree.dialogue.numbers import (
    RefusedError,
    count_to_rate,
    far_from_last,
    in_unit,
    unusual,
)
from handsfree.dialogue.turn import Answer, Held
from handsfree.hearing.verdict import Candidate, Meaning, Verdict
from handsfree.protocol.model import Kind

if TYPE_CHECKING:
    from handsfree.dialogue.parts import Parts

__all__ = ["BELIEVABLE", "AnswerTaker"]

BELIEVABLE = 0.5
"""A doubtful reading at least this probable is read back; below, the question is asked again."""


class AnswerTaker:
    """Takes answers to the open question."""

    def __init__(self, parts: Parts) -> None:
        self._parts = parts
        self._desk = parts.desk

    def listen(self, *, quiet: bool = False) -> None:
        """Open the microphone for the question's answers and the commands."""
        turn = self._desk.turn
        assert turn is not None
        question = turn.step.question
        if question.values and turn.without >= set(question.values):
            turn.without.clear()  # every value was denied: one of them must have been right
        self._desk.listen(question.grammar, commands=vocabulary.QUESTION, quiet=quiet)

    # taking

    def take_meaning(
        self, meaning: Meaning, words: str, verdict: Verdict | None, *, doubtful: bool = False
    ) -> None:
        """Take an answer that hearing accepted, or that was typed (no verdict)."""
        answer = self._as_answer(meaning, words, verdict)
        if answer is not None:
            self._take(answer, doubtful=doubtful)

    def take_doubtful(self, best: Candidate | None, verdict: Verdict) -> None:
        """Read back a doubtful answer that may well be right; else ask again.

        It may well be right if it is likely, was understood so twice running, or would alarm.
        """
        turn = self._desk.turn
        assert turn is not None
        said = None if best is None else best.meaning
        before, turn.doubtful_answer = turn.doubtful_answer, said
        if best is not None:
            alarming = best.meaning.value in turn.step.question.alarming
            if alarming or best.probability >= BELIEVABLE or said == before:
                self.take_meaning(best.meaning, best.words, verdict, doubtful=True)
                return
        self._parts.ladder.misheard()

    def take_measured(self, answer: Answer, said: str) -> None:
        """Record a number that was timed, not heard, and go on; ``said`` is its echo."""
        desk, settling = self._desk, self._parts.settling
        assert desk.turn is not None
        settling.settle_echo()
        settling.echo_later(desk.record(answer, desk.turn.step, Confirmed.UNCONFIRMED), said)
        desk.turn = None
        self._parts.asking.next()

    def _take(self, answer: Answer, *, doubtful: bool) -> None:
        desk, turn, settling = self._desk, self._desk.turn, self._parts.settling
        assert turn is not None
        step, question = turn.step, turn.step.question
        settling.settle_echo()
        alarming = answer.value in question.alarming
        usual = question.kind is Kind.CHOICE and (
            answer.value in question.normal or (not question.normal and not alarming)
        )
        if turn.doubt is None and not alarming:
            # The answer that had replaced an alarming one makes way: the alarm is in doubt again.
            turn.doubt = desk.progress.alarms.get(turn.place)
        # What would clear an alarm needs a yes of its own.
        clears = turn.doubt is not None and not alarming
        ref = desk.record(answer, step, Confirmed.UNCONFIRMED)
        if answer.by == "voice":
            settling.remember(answer.start, turn.place)
        if usual and not doubtful and not clears:
            settling.echo_later(ref, f"{phrases.echo(step, answer, brief=desk.brief)}.")
            desk.turn = None
            self._parts.asking.next()
            return
        turn.pending = Held(
            ref=ref,
            answer=answer,
            alarming=alarming,
            harmless=question.harmless and not (doubtful or clears or alarming),
        )
        self._parts.read_back.first(self._odd(answer))

    def _odd(self, answer: Answer) -> str:
        """Return what is said before an odd number is read back; empty for any other answer."""
        desk, turn = self._desk, self._desk.turn
        assert turn is not None
        assert desk.opened is not None
        if isinstance(answer.value, str):
            return ""
        if unusual(turn.step.question, answer.value):
            return "That would be unusual."
        if turn.step.item == "weight.kg" and far_from_last(answer.value, desk.opened.subject):
            return "That is far from the last weight."
        return ""

    def _as_answer(self, meaning: Meaning, words: str, verdict: Verdict | None) -> Answer | None:
        desk, turn = self._desk, self._desk.turn
        assert turn is not None
        assert desk.opened is not None
        assert desk.event is not None
        question = turn.step.question
        value: str | float = meaning.value
        unit = None
        said = ""
        method: tuple[tuple[str, str | float], ...] = ()
        if question.kind is Kind.CHOICE:
            if value not in question.values or value in turn.without:
                self._parts.ladder.misheard()
                return None
        else:
            try:
                if turn.window_s is not None:
                    amount = count_to_rate(question, meaning, turn.window_s)
                else:
                    amount = in_unit(question, meaning, desk.opened.units)
            except RefusedError as refused:
                self._parts.ladder.misheard(str(refused))
                return None
            value, method, said, unit = amount.value, amount.method, amount.said, question.unit
        return Answer(
            value=value,
            unit=unit,
            words=words,
            candidates=verdict.candidates if verdict else (),
            start=verdict.start if verdict else desk.event.sample,
            end=verdict.end if verdict else desk.event.sample,
            stream=desk.event.stream,
            by="voice" if verdict else "keys",
            method=(*method, *turn.method),
            said=said,
        )
