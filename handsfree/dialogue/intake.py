"""Hearing's verdicts, handed to what is open; and what is doubtful, asked back, with an end to it.

An ignored sound changes nothing, but puts a running stopwatch in doubt. A doubtful stop or pause is
obeyed by falling silent; a doubtful skip or go-to never is. In menus the same doubtful word said
twice counts.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from handsfree.dialogue import vocabulary
from handsfree.dialogue.actions import Inquire, ToneName
from handsfree.dialogue.answers import BELIEVABLE
from handsfree.dialogue.events import Heard
from handsfree.dialogue.states import State
from handsfree.hearing.verdict import Candidate, Meaning, MeaningKind, Outcome, Verdict

if TYPE_CHECKING:
    from handsfree.dialogue.parts import Parts

__all__ = ["Intake"]

_TRIES = 2
"""Times that a menu asks back; then it goes its harmless way."""
_STAYS = {
    State.PAUSED: "Say resume, or stop.",
    State.ALARM: "To carry on, say keep going.",
    State.TELLING: "Say repeat, or done.",
}
"""States that wait: what is asked back there, and then nothing more."""


class Intake:
    """Takes verdicts."""

    def __init__(self, parts: Parts) -> None:
        self._parts = parts
        self._desk = parts.desk
        self._unsure_in: State | None = None
        self._unsure = 0
        self._unsure_of: Meaning | None = None

    def sure(self) -> None:
        """Something was understood: doubtful sounds are counted from the start again."""
        self._unsure_in = None
        self._unsure_of = None

    def heard(self, event: Heard) -> None:
        """Take a verdict."""
        verdict = event.verdict
        if verdict.outcome is Outcome.IGNORE:
            if self._desk.flow.state in (State.HOLDING, State.TIMING):
                self._parts.refill.ignored(verdict)
            return
        self._desk.patience.reset()
        best = verdict.best
        if verdict.outcome is Outcome.ASK_BACK or best is None:
            self._doubtful(verdict)
            return
        self.sure()
        if best.meaning.kind is MeaningKind.COMMAND:
            self._parts.steering.heard(str(best.meaning.value), verdict)
        else:
            self._answered(best.meaning, best.words, verdict)

    def _answered(self, meaning: Meaning, words: str, verdict: Verdict) -> None:
        parts, state = self._parts, self._desk.flow.state
        if state is State.ASKING:
            parts.taker.take_meaning(meaning, words, verdict)
        elif state is State.CONFIRMING:
            parts.read_back.heard(meaning, words, verdict)
        elif state in (State.PRESSING, State.HOLDING, State.TIMING):
            parts.refill.heard(meaning, verdict)
        elif state is State.COUNT_READY:
            if meaning.value == "start":
                parts.count.started(verdict.start)
        elif state is State.HELPER:
            if meaning.value in ("yes", "no"):
                parts.opening.settle_helper(there=meaning.value == "yes")
        elif state is State.TELLING:
            self._desk.emit(Inquire(meaning=meaning))
        elif state is State.GOTO:
            parts.menus.go_to(str(meaning.value))

    # doubtful

    def _doubtful(self, verdict: Verdict) -> None:
        best, state = verdict.best, self._desk.flow.state
        if best is not None and best.meaning.kind is MeaningKind.COMMAND:
            obeyed = vocabulary.OBEYED_WHEN_DOUBTFUL.get(str(best.meaning.value))
            if obeyed is not None and obeyed in vocabulary.open_in(state):
                self.sure()
                self._parts.steering.obey(obeyed)
                return
        answer = best if best and best.meaning.kind is MeaningKind.ANSWER else None
        if state is State.ASKING:
            self._parts.taker.take_doubtful(answer, verdict)
        elif state is State.CONFIRMING:
            self._parts.read_back.doubtful(answer, verdict)
        elif state is State.TIMING:
            self._parts.refill.doubtful(verdict)
        elif state is State.TELLING and answer is not None:
            self._desk.emit(Inquire(meaning=answer.meaning))  # an answer too many does no harm
        elif state is State.PRESSING and answer is not None and answer.meaning.value == "press":
            self._parts.refill.heard(answer.meaning, verdict)
        elif not self._said_twice(best):
            self._ask_back(state)

    def _said_twice(self, best: Candidate | None) -> bool:
        """Take a doubtful word that was said before as well; return whether it was taken."""
        if best is None or best.probability < BELIEVABLE:
            self._unsure_of = None
            return False
        if best.meaning != self._unsure_of:
            self._unsure_of = best.meaning
            return False
        state, value = self._desk.flow.state, str(best.meaning.value)
        if best.meaning.kind is MeaningKind.COMMAND:
            if value in vocabulary.NEVER_WHEN_DOUBTFUL or value not in vocabulary.open_in(state):
                return False
            self.sure()
            self._parts.steering.obey(value)
            return True
        if state is State.HELPER and value in ("yes", "no"):
            self.sure()
            self._parts.opening.settle_helper(there=value == "yes")
            return True
        return False

    def _ask_back(self, state: State) -> None:
        parts, desk = self._parts, self._desk
        if state in (State.HOLDING, State.RESTING, State.COUNTING, State.CONCLUDING):
            return
        self._unsure = self._unsure + 1 if self._unsure_in is state else 1
        self._unsure_in = state
        given_up = self._unsure > _TRIES
        if state in _STAYS:
            if not given_up:
                desk.tone(ToneName.NOT_HEARD)
                desk.say(_STAYS[state])
                parts.asking.listen_again(quiet=True)
            return
        desk.tone(ToneName.NOT_HEARD)
        if state is State.HELPER:
            if given_up:
                parts.opening.settle_helper(there=False)
            else:
                parts.opening.ask_helper("Yes or no?")
        elif state is State.GOTO:
            if given_up:
                parts.asking.reask("I stay here.")
            else:
                parts.menus.goto()
        elif state is State.OPTIONS:
            if given_up:
                parts.asking.reask("Back to the question.")
            else:
                parts.menus.options()
        elif given_up:
            parts.ladder.leave_out()
        else:
            word = "press" if state is State.PRESSING else "begin"
            desk.say(f"Say {word}, or skip.")
            parts.asking.listen_again()
