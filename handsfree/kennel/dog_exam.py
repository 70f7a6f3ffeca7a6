"""One dog's exam within a round: the exam machine, and what can be said beside its questions.

"Park this one" and "how many left" are heard at every question. They reach the machine as events
that it knows, so that an exam of a round replays from its log like any other.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from handsfree.dialogue.actions import Ask, Listen, Speak, Tick, Tone
from handsfree.dialogue.events import Event, Heard, Key, Keyed, Opened, Stopped, Told
from handsfree.dialogue.machine import Exam
from handsfree.hearing.verdict import Outcome
from handsfree.interview.fading import Fade
from handsfree.kennel.looks import Looks
from handsfree.records.model import Dog, Person
from handsfree.records.store import Store
from handsfree.session.assembly import open_check
from handsfree.session.runner import Driven, Judge, Observer, Output, Steps
from handsfree.session.talks import Runs

__all__ = ["ROUTINE", "Examined", "examine"]

ROUTINE = "kennel"
ASIDE = "round_aside"
_PARK, _LEFT = "round_park", "round_left"
_TYPED = {
    "park": _PARK, "park this one": _PARK, "park it": _PARK, "park this dog": _PARK,
    "left": _LEFT, "dogs left": _LEFT, "how many left": _LEFT,
}  # fmt: skip
_ALWAYS_SAID = frozenset({"two_people", "no_muzzle", "gloves"})
"""Cautions that hang on the dog or on what was found: said for each dog."""

LEADS: Mapping[str, str] = {
    "same_day": "A vet today",
    "days": "A vet within days",
}
"""What is told at once at a dog. What cannot wait was said when it was found, and who was told is
asked next; the lesser levels stand in the record and the handover."""


@dataclass(frozen=True, kw_only=True)
class Examined:
    """What one dog's exam came to.

    Attributes:
        exam_id: The exam.
        outcome: ``complete``, or how it was left.
        parked: It was left by "park this one".
        cut_off: The program was told to end.
        values: The last value of each item.
        looked_s: How long the five looks took where they were said in one go.
        told: What need not be said again to this person.
    """

    exam_id: str
    outcome: str
    parked: bool
    cut_off: bool
    values: Mapping[str, object]
    looked_s: float | None
    told: frozenset[str]


class _WithAsides:
    """Who speaks and listens, with the round's own words open at each question."""

    def __init__(self, inner: Output) -> None:
        self._inner = inner

    def speak(self, action: Speak) -> None:
        self._inner.speak(action)

    def tone(self, action: Tone) -> None:
        self._inner.tone(action)

    def tick(self, action: Tick) -> None:
        self._inner.tick(action)

    def fade(self, action: Fade) -> None:
        self._inner.fade(action)

    def hush(self) -> None:
        self._inner.hush()

    def listen(self, action: Listen) -> None:
        listening = action.listening
        if listening.grammars and not listening.timed:
            listening = replace(listening, grammars=(*listening.grammars, ASIDE))
        self._inner.listen(replace(action, listening=listening))

    def pace(self, step: int) -> None:
        self._inner.pace(step)


class _InRound:
    """Runs the exam; the round's own words are turned into events that the machine knows."""

    def __init__(self, runner: Driven, left: Callable[[], str]) -> None:
        self._runner = runner
        self._left = left
        self._doubted = False
        self.parked = False
        self.cut_off = False

    @property
    def finished(self) -> str | None:
        return self._runner.finished

    @property
    def asked(self) -> Ask | None:
        return self._runner.asked

    @property
    def exam(self) -> Steps:
        return self._runner.exam

    def feed(self, event: Event) -> None:
        self.cut_off = self.cut_off or isinstance(event, Stopped)
        word = self._word(event)
        if word == _LEFT:
            event = Told(stream=event.stream, sample=event.sample, text=self._left())
        elif word == _PARK:
            self.parked = True
            event = Keyed(
                stream=event.stream, sample=event.sample, key=Key.COMMAND, text="stop"
            )  # fmt: skip
        self._runner.feed(event)

    def _word(self, event: Event) -> str | None:
        """Return the round's word that was said or typed; a doubtful one where it does no harm.

        The count of dogs is told on a doubtful word as well, a dog is put aside on the second.
        """
        if isinstance(event, Keyed):
            return _TYPED.get(event.text.strip().lower())
        if not isinstance(event, Heard) or event.verdict.outcome is Outcome.IGNORE:
            return None
        best = event.verdict.best
        value = None if best is None else best.meaning.value
        if event.verdict.outcome is Outcome.ACCEPT or value == _LEFT:
            self._doubted = False
            return str(value) if value in (_PARK, _LEFT) else None
        said_before, self._doubted = self._doubted, value == _PARK
        return _PARK if said_before and self._doubted else None


def examine(
    store: Store,
    dog: Dog,
    *,
    person: Person | None,
    driver: Runs,
    output: Output,
    engine: str,
    on: date,
    left: Callable[[], str],
    before: Sequence[str] = (),
    told: frozenset[str] = frozenset(),
    brief: bool = False,
    not_before: datetime | None = None,
    has_keys: bool = True,
    observers: Sequence[Observer] = (),
) -> Examined:
    """Run one dog's exam to its end, or until it is put aside.

    Args:
        store: The records.
        dog: Whose exam.
        person: Who leads it.
        driver: Runs it.
        output: Who speaks and listens.
        engine: What hears, for the record.
        on: The day.
        left: Says how many dogs are left.
        before: Said first: medicines due.
        told: What this person has been told once.
        brief: Short wording.
        not_before: Take up an exam of this dog that was begun since then and put aside; None
            begins a new one.
        has_keys: Keys can answer.
        observers: Told each event with its actions.
    """
    put_in: list[Looks] = []

    def around(exam_id: str, judge: Judge) -> Judge:
        looks = Looks(
            judge,
            lambda record: store.exams.record(exam_id, record),
            lambda: _told_of(store, exam_id),
        )
        put_in.append(looks)
        return looks

    check = open_check(
        store, dog, person=person, settings=store.settings.get(), routine=ROUTINE,
        output=_WithAsides(output), engine=engine, on=on, around_judge=around, has_keys=has_keys,
        resume=_can_resume(store, dog, not_before), observers=observers,
    )  # fmt: skip
    looks = put_in[0]
    if check.resumed:
        looks.taken_up(store.exams.prior(check.exam_id))
    carried = told - _ALWAYS_SAID - ({"may_bite"} if dog.has_bitten else set())

    def opened(stream: str, sample: int) -> Opened:
        return replace(
            check.opened(stream, sample), in_round=True, brief=brief,
            cautioned=tuple(sorted(carried)), asked_now=" ".join(before),
        )  # fmt: skip

    in_round = _InRound(check.runner, left)
    outcome = driver.run(in_round, opened)
    machine = check.runner.exam
    assert isinstance(machine, Exam)
    return Examined(
        exam_id=check.exam_id,
        outcome=outcome,
        parked=in_round.parked,
        cut_off=in_round.cut_off,
        values=dict(looks.values),
        looked_s=looks.looked_s,
        told=told | machine.said_once,
    )


def _can_resume(store: Store, dog: Dog, not_before: datetime | None) -> bool:
    if not_before is None:
        return False
    stopped = store.exams.resumable(dog.id)
    return stopped is not None and stopped.routine == ROUTINE and stopped.begun_at >= not_before


def _told_of(store: Store, exam_id: str) -> tuple[str, ...]:
    """Return what is told of a dog at once: what wants a vet, the most urgent first."""
    judged = store.results.of_exam(exam_id)[:1]
    fired = judged[0].body.get("fired", ()) if judged else ()
    said = [f"{LEADS[row['level']]}: {row['name']}." for row in fired if row["level"] in LEADS]
    return tuple(said[:2])
