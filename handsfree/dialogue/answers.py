"""Taking answers: what is believed, what is read back, and the ladder when it is not understood.

An answer is recorded before anything is said of it. The ladder has an end; a doubted alarming
answer is kept as possible and never dropped. Which question comes next is not decided here.
"""

from __future__ import annotations

from collections.abc import Callable

from handsfree.dialogue import phrases, vocabulary
from handsfree.dialogue.actions import Confirmed, SpeechKind, Status, ToneName
from handsfree.dialogue.desk import Answer, Desk, Pending
from handsfree.dialogue.events import Keyed
from handsfree.dialogue.numbers import RefusedError, count_to_rate, in_unit, typed_meaning, unusual
from handsfree.dialogue.states import State
from handsfree.hearing.verdict import Candidate, Meaning, MeaningKind, Verdict
from handsfree.protocol.model import Kind

__all__ = ["AnswerTaker"]

Place = tuple[str, str | None]

BELIEVABLE = 0.5
"""A doubtful reading at least this probable is read back; below, the question is asked again."""


class AnswerTaker:
    """Takes answers for the machine."""

    def __init__(
        self,
        desk: Desk,
        go_on: Callable[..., None],
        corrected: Callable[[], None],
    ) -> None:
        self._desk = desk
        self._next = go_on
        self._corrected = corrected
        self._echo: tuple[str, ...] = ()
        self._tentative: int | None = None
        self._last: tuple[int, Place] | None = None
        self._doubts: dict[Place, int] = {}

    # echo and undoing

    def take_echo(self) -> tuple[str, ...]:
        """Return the last normal answer as it is echoed, once."""
        echo, self._echo = self._echo, ()
        return echo

    def settle_echo(self) -> None:
        """The person went on after the echo: the answer stands."""
        if self._tentative is not None:
            self._desk.confirm(self._tentative)
            self._tentative = None

    def doubted_at(self, place: Place) -> int | None:
        """Return the alarming answer at ``place`` that is undone but not settled, if any."""
        return self._doubts.get(place)

    def retractable(self, start: int) -> Place | None:
        """Return where the utterance that began at ``start`` was taken, or None."""
        if self._last is None or self._last[0] != start:
            return None
        place = self._last[1]
        return place if place in self._desk.progress.answers else None

    def undo(self, place: Place, reason: str) -> None:
        """Take back the answer at ``place``; an alarming one stays as possible meanwhile."""
        desk = self._desk
        settled = desk.progress.answers[place]
        self._tentative = None if self._tentative == settled.ref else self._tentative
        self._echo = ()
        self._corrected()
        step = next(s for s in desk.progress.steps if (s.item, s.side) == place)
        if settled.status is Status.OBSERVED and settled.value in step.question.alarming:
            self._doubts[place] = settled.ref
            desk.confirm(settled.ref, Confirmed.POSSIBLE)
        else:
            desk.record_missing(step, Status.NOT_OBSERVED, reason)

    def leave_open(self) -> None:
        """The question is left unfinished: keep what could alarm, drop what was denied."""
        turn = self._desk.turn
        if turn is None:
            return
        if turn.doubted is not None:
            self._keep_possible(turn.doubted)
        elif turn.pending is not None and turn.pending.alarming:
            self._keep_possible(turn.pending.ref)
        turn.pending = None

    def _keep_possible(self, ref: int) -> None:
        turn = self._desk.turn
        self._desk.confirm(ref, Confirmed.POSSIBLE)
        if turn is not None:
            place = (turn.step.item, turn.step.side)
            self._doubts.pop(place, None)
            self._desk.progress.reopened.discard(place)
            turn.doubted = None

    # listening

    def listen(self, *, quiet: bool = False) -> None:
        """Open the microphone for the question's answers and the commands."""
        turn = self._desk.turn
        assert turn is not None
        question = turn.step.question
        strict = frozenset(question.normal) if turn.doubted is not None else frozenset[str]()
        self._desk.listen(
            question.grammar, commands=vocabulary.QUESTION, strict=strict, quiet=quiet
        )

    def listen_confirm(self, *, quiet: bool = False) -> None:
        """Open the microphone for yes, no, or another answer."""
        turn = self._desk.turn
        assert turn is not None
        question = turn.step.question
        grammars = ["confirm"]
        if question.kind is Kind.CHOICE and not {"yes", "no"} & set(question.values):
            grammars.append(question.grammar)
        strict = frozenset(question.normal) if turn.pending and turn.pending.alarming else None
        self._desk.listen(
            *grammars, commands=vocabulary.CONFIRM, strict=strict or frozenset(), quiet=quiet
        )

    # answers

    def heard_command(self, verdict: Verdict) -> None:
        """A command was heard: a refusal can be retracted; the echo before it stands."""
        turn = self._desk.turn
        word = str(verdict.candidates[0].meaning.value)
        if turn is not None and word in vocabulary.REFUSALS:
            self._last = (verdict.start, (turn.step.item, turn.step.side))
        if word != "back":
            self.settle_echo()

    def take_meaning(self, meaning: Meaning, words: str, verdict: Verdict | None) -> None:
        """Take an answer that hearing accepted, or that was typed (no verdict)."""
        answer = self._as_answer(meaning, words, verdict)
        if answer is not None:
            self.take(answer)

    def take_doubtful(self, best: Candidate | None, verdict: Verdict) -> None:
        """Read back a doubtful answer that may well be right or would alarm; else ask again."""
        turn = self._desk.turn
        assert turn is not None
        question = turn.step.question
        if best is not None and str(best.meaning.value) not in turn.without:
            alarming = best.meaning.value in question.alarming
            if alarming or best.probability >= BELIEVABLE:
                answer = self._as_answer(best.meaning, best.words, verdict)
                if answer is not None:
                    self.take(answer, doubtful=True)
                return
        self.misheard()

    def take_measured(self, answer: Answer, said: str) -> None:
        """Record a number that was timed, not heard, and go on; ``said`` is its echo."""
        desk = self._desk
        assert desk.turn is not None
        self.settle_echo()
        self._tentative = desk.record(answer, desk.turn.step, Confirmed.UNCONFIRMED)
        self._echo = (said,)
        self._next()

    def take(self, answer: Answer, *, doubtful: bool = False) -> None:
        """Record an answer, then echo it or read it back."""
        desk, turn = self._desk, self._desk.turn
        assert turn is not None
        step, question = turn.step, turn.step.question
        place = (step.item, step.side)
        self.settle_echo()
        alarming = answer.value in question.alarming
        usual = (
            question.kind is Kind.CHOICE
            and not alarming
            and (not question.normal or answer.value in question.normal)
        )
        ref = desk.record(answer, step, Confirmed.UNCONFIRMED)
        if answer.by == "voice":
            self._last = (answer.start, place)
        if usual and not doubtful:
            self._doubts.pop(place, None)
            self._tentative = ref
            self._echo = (f"{phrases.echo(step, answer.value, answer.unit)}.",)
            turn.pending = None
            self._next()
            return
        turn.pending = Pending(
            ref=ref, answer=answer, alarming=alarming, harmless=question.harmless and not doubtful
        )
        turn.asked_back = 0
        turn.doubtful_reply = None
        desk.flow.move("read_back")
        if isinstance(answer.value, float) and unusual(question, answer.value):
            desk.say("That would be unusual.", kind=SpeechKind.READ_BACK)
        self._say_read_back(phrases.read_back(step, answer.value, answer.unit))

    def _as_answer(self, meaning: Meaning, words: str, verdict: Verdict | None) -> Answer | None:
        desk, turn = self._desk, self._desk.turn
        assert turn is not None
        assert desk.opened is not None
        assert desk.event is not None
        question = turn.step.question
        method: tuple[tuple[str, str | float], ...] = ()
        value: str | float = meaning.value
        unit = None
        if question.kind is Kind.CHOICE:
            if value not in question.values:
                self.misheard()
                return None
        else:
            try:
                if turn.window_s is not None:
                    value, method = count_to_rate(question, meaning, turn.window_s)
                else:
                    value, method = in_unit(question, meaning, desk.opened.units)
            except RefusedError as refused:
                self.misheard(str(refused))
                return None
            unit = question.unit
        return Answer(
            value=value,
            unit=unit,
            words=words,
            candidates=verdict.candidates if verdict else (),
            start=verdict.start if verdict else desk.event.sample,
            end=verdict.end if verdict else desk.event.sample,
            by="voice" if verdict else "keys",
            method=(*method, *turn.method),
        )

    # reading back

    def read_back_again(self) -> None:
        """Read back once more, as a plain yes-or-no question."""
        turn = self._desk.turn
        assert turn is not None
        assert turn.pending is not None
        answer = turn.pending.answer
        if self._desk.flow.state is not State.CONFIRMING:
            self._desk.flow.move("read_back")
        self._say_read_back(
            phrases.confirm_again(turn.step, answer.value, answer.unit, turn.asked_back)
        )

    def _say_read_back(self, text: str) -> None:
        desk, turn = self._desk, self._desk.turn
        assert turn is not None
        assert turn.pending is not None
        desk.ask("confirm", read_back=turn.pending.answer)
        desk.say(*self.take_echo(), text, kind=SpeechKind.READ_BACK)
        self.listen_confirm()

    def confirm_heard(self, meaning: Meaning, words: str, verdict: Verdict | None) -> None:
        """Take yes, no, or another answer in place of the one read back."""
        desk, turn = self._desk, self._desk.turn
        assert turn is not None
        pending = turn.pending
        assert pending is not None
        place = (turn.step.item, turn.step.side)
        if meaning.value == "yes":
            if verdict is not None:
                self._last = (verdict.start, place)
            turn.pending = None
            self._doubts.pop(place, None)
            desk.confirm(pending.ref)
            self._next()
        elif meaning.value == "no":
            self._deny()
        elif meaning.value == pending.answer.value:
            self.confirm_heard(Meaning(kind=MeaningKind.ANSWER, value="yes"), words, verdict)
        else:
            self._corrected()
            self._doubt(pending)
            turn.pending = None
            turn.attempt += 1
            self.take_meaning(meaning, words, verdict)

    def _deny(self) -> None:
        turn = self._desk.turn
        assert turn is not None
        assert turn.pending is not None
        pending = turn.pending
        self._corrected()
        self._doubt(pending)
        if isinstance(pending.answer.value, str):
            turn.without.add(pending.answer.value)
        turn.pending = None
        self._desk.progress.reopened.add((turn.step.item, turn.step.side))
        self.misheard()

    def _doubt(self, pending: Pending) -> None:
        turn = self._desk.turn
        assert turn is not None
        if pending.alarming:
            turn.doubted = pending.ref

    def confirm_doubtful(self, best: Candidate | None) -> None:
        """The answer to a read-back was not understood; the same doubtful word twice counts."""
        turn = self._desk.turn
        assert turn is not None
        assert turn.pending is not None
        said = None if best is None or best.probability < BELIEVABLE else best.meaning
        if said is not None and said == turn.doubtful_reply:
            self.confirm_heard(said, best.words if best else "", None)
            return
        turn.doubtful_reply = said
        turn.asked_back += 1
        if turn.asked_back <= 3:
            self._desk.tone(ToneName.NOT_HEARD)
            self.read_back_again()
            return
        if turn.pending.alarming:
            self._keep_possible(turn.pending.ref)
            turn.pending = None
            self._next("I keep that as possible.")
        else:
            turn.pending = None
            self._leave_out()

    def silence_confirms(self) -> bool:
        """Whether this silence settles a harmless answer."""
        turn = self._desk.turn
        if turn is None or turn.pending is None or not turn.pending.harmless:
            return False
        if turn.pending.alarming or not isinstance(turn.pending.answer.value, str):
            return False
        self._desk.confirm(turn.pending.ref)
        turn.pending = None
        self._next()
        return True

    # the ladder

    def misheard(self, why: str = "") -> None:
        """Ask again: in other words, then with the choices, then by key; then leave it."""
        desk, turn = self._desk, self._desk.turn
        assert turn is not None
        turn.misheard += 1
        turn.attempt += 1
        desk.tone(ToneName.NOT_HEARD)
        if turn.misheard == 1:
            self._put(why, phrases.again(turn.step, by_touch=turn.by_touch))
        elif turn.misheard == 2:
            self._put(why, phrases.choices(turn.step.question))
        elif turn.misheard == 3:
            self._put(why, phrases.by_key(turn.step.question))
        else:
            self._leave_out()

    def by_key(self) -> None:
        """Say the choices with their keys."""
        turn = self._desk.turn
        assert turn is not None
        self._put("", phrases.by_key(turn.step.question))

    def _put(self, why: str, text: str) -> None:
        desk = self._desk
        desk.flow.move("ask")
        desk.ask("question")
        desk.say(*self.take_echo(), why, text, kind=SpeechKind.PROMPT)
        self.listen()

    def _leave_out(self) -> None:
        desk, turn = self._desk, self._desk.turn
        assert turn is not None
        if turn.doubted is not None:
            self._keep_possible(turn.doubted)
            self._next("I keep that as possible.")
            return
        desk.record_missing(turn.step, Status.NOT_OBSERVED, "not_understood")
        self._next("I leave that one open.")

    def refuse(self, reason: str) -> None:
        """The person leaves the question out, for this reason."""
        desk, turn = self._desk, self._desk.turn
        assert turn is not None
        self.settle_echo()
        doubted = turn.doubted
        if doubted is None and turn.pending is not None and turn.pending.alarming:
            doubted = turn.pending.ref
        turn.pending = None
        if doubted is not None:
            self._keep_possible(doubted)
            self._next("I keep that as possible.")
            return
        desk.record_missing(turn.step, Status.NOT_OBSERVED, reason)
        said = {"dog_refused": "Left. Never force it.", "cannot_see": "Left: not seen."}
        self._next(said.get(reason, "Left out."))

    # keys

    def take_typed(self, event: Keyed) -> None:
        """Take a typed choice number, value token, or number with a unit."""
        turn = self._desk.turn
        assert turn is not None
        if turn.pending is not None:
            turn.pending = None
        meaning = typed_meaning(turn.step.question, event)
        if meaning is None:
            self.misheard("That key has no meaning here.")
            return
        self.take_meaning(meaning, event.text, None)

    def yes_key(self, event: Keyed) -> bool:
        """Take the yes key as an answer where the question has a plain yes; else return False."""
        turn = self._desk.turn
        assert turn is not None
        if "yes" not in turn.step.question.values:
            return False
        self.take_meaning(Meaning(kind=MeaningKind.ANSWER, value="yes"), "", None)
        return True
