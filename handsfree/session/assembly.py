"""The one place where a check is put together: records, protocol, judging, machine, hearing, voice.

Live, WAV and rehearsal runs differ only in what they hand in here.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from handsfree import __version__
from handsfree.dialogue.events import Opened
from handsfree.dialogue.machine import Exam as Machine
from handsfree.errors import HeardError
from handsfree.hearing.engines import build
from handsfree.hearing.grammar import ListeningGrammar, compose
from handsfree.hearing.listener import Hearing
from handsfree.hearing.profile import VoiceProfile
from handsfree.hearing.verdict import Listening, Meaning
from handsfree.judging.differing import contested_of
from handsfree.judging.gather import history_of, judge_left, keep, telling_of
from handsfree.judging.result import spoken
from handsfree.judging.rules import read_table
from handsfree.measuring.placing import place
from handsfree.protocol.loader import load
from handsfree.protocol.model import Protocol
from handsfree.protocol.single import single_title
from handsfree.protocol.subject import Sight
from handsfree.records import Store
from handsfree.records.model import Dog, Exam, Outcome, Person, Settings, Versions
from handsfree.review.questions import answer
from handsfree.session.judging import ExamJudge
from handsfree.session.runner import ExamRunner, Judge, Observer, Output, Steps
from handsfree.session.storing import StoredExam
from handsfree.session.versions import grammars_hash

__all__ = ["Check", "open_check", "open_hearing", "sight_of"]

URGENT_ITEMS = ("watch.attitude", "watch.breathing", "now.gums")
"""Asked anew in the check after one that was left unfinished."""


@dataclass(frozen=True, kw_only=True)
class Check:
    """A check ready to be run by a driver."""

    exam_id: str
    runner: ExamRunner
    opened: Callable[[str, int], Opened]
    resumed: bool


def open_hearing(
    engine: str | None,
    *,
    models: Path | None = None,
    profile: VoiceProfile | None = None,
    composer: Callable[[Listening], ListeningGrammar] = compose,
) -> Hearing:
    """Return hearing with word onsets refined for the stopwatch.

    Args:
        engine: ``pocketsphinx``, ``vosk``, or None or ``auto`` for Vosk where a model is there.
        models: Folder of installed Vosk models.
        profile: Levels of this person at this microphone.
        composer: Makes what is listened for, where it is more than the grammar files hold.

    Raises:
        EngineError: No engine loads.
    """
    from handsfree.hearing.models import current

    return build(
        None if engine in (None, "auto") else engine,
        vosk_model=current(models) if models is not None and engine != "pocketsphinx" else None,
        refine=place,
        profile=profile,
        composer=composer,
    )


def open_check(
    store: Store,
    dog: Dog,
    *,
    person: Person | None,
    settings: Settings,
    routine: str,
    output: Output,
    engine: str,
    on: date,
    observers: Sequence[Observer] = (),
    around_judge: Callable[[str, Judge], Judge] = lambda _exam_id, judge: judge,
    helper: bool = False,
    has_keys: bool = True,
    resume: bool = True,
    rate: int = 16_000,
    protocol: Protocol | None = None,
    machine: Steps | None = None,
) -> Check:
    """Begin a check, or take up the one that was stopped, and return it ready to run.

    Args:
        store: The records.
        dog: Whose check.
        person: Who leads it.
        settings: Numbers, units and sight where the person has none of their own.
        routine: Routine id; a resumed check keeps its own.
        output: Who speaks and listens.
        engine: Name and version of what hears, for the record.
        on: The day.
        observers: Told each event with its actions (screen, rehearsal).
        around_judge: Puts something between the exam and judging, given the exam's key.
        helper: A sighted person is there.
        has_keys: Keys can answer.
        resume: Take up a check stopped within the hour.
        rate: Samples a second of the clock.
        protocol: The protocol; loaded if not given.
        machine: What is run in place of the exam machine: a measurement taken in another way.
    """
    protocol = protocol or load()
    lag = store.profiles.lag(person.id if person else None)
    table = read_table()
    exam, resumed = _begin_or_resume(
        store,
        dog,
        person,
        routine=routine,
        engine=engine,
        resume=resume,
        rules=table.version,
        routines=protocol.routines,
    )
    judge_left(store, dog_id=dog.id, but=exam.id)  # for questions about the past
    subject = store.subject(dog.id, on)
    prior = store.exams.prior(exam.id) if resumed else ()
    telling = replace(
        telling_of(store, dog.id, table),
        cannot_see=sight_of(person, settings) is not Sight.FULL,
    )
    judge = ExamJudge(
        subject,
        history_of(store, dog.id, before=exam.id),
        on=on,
        table=table,
        speak=lambda judgement: spoken(judgement, telling),
        keep=lambda judgement: keep(store, exam.id, judgement, telling),
        prior=prior,
        contested=lambda: contested_of(store, exam.id),
        only=single_title(exam.routine),
    )
    runner = ExamRunner(
        machine or Machine(protocol),
        recorder=StoredExam(store, exam.id),
        judge=around_judge(exam.id, judge),
        output=output,
        observers=observers,
        past=lambda meaning: _from_the_past(store, dog, meaning, on),
    )

    def opened(stream: str, sample: int) -> Opened:
        return Opened(
            stream=stream,
            sample=sample,
            subject=subject,
            routine=exam.routine,
            sight=sight_of(person, settings),
            helper=helper or bool(person and person.helper),
            has_keys=has_keys,
            person=person.name if person else "",
            vet_number=settings.vet_number,
            prior=prior,
            carried=URGENT_ITEMS if exam.follows else (),
            brief=bool(person and person.brief),
            asked_now=_first_words(exam, settings),
            units=settings.units.value,
            lag_s=lag.median_s if lag else None,
            lag_spread_s=lag.spread_s if lag else None,
            rate=rate,
        )

    return Check(exam_id=exam.id, runner=runner, opened=opened, resumed=resumed)


def _first_words(exam: Exam, settings: Settings) -> str:
    words = []
    if exam.follows:
        words.append("The last check was left unfinished, so I begin anew.")
    if settings.vet_number is None:
        words.append("No vet's number is stored yet.")
    return " ".join(words)


def _begin_or_resume(
    store: Store,
    dog: Dog,
    person: Person | None,
    *,
    routine: str,
    engine: str,
    resume: bool,
    rules: str,
    routines: Container[str],
) -> tuple[Exam, bool]:
    person_id = person.id if person else None
    if resume:
        stopped = store.exams.resumable(dog.id)
        while stopped is not None and stopped.routine not in routines:
            # A single measurement that broke off is not taken up again, nor does it hide a check.
            store.exams.finish(stopped.id, Outcome.PARTIAL)
            stopped = store.exams.resumable(dog.id)
        if stopped is not None:
            return store.exams.resume(stopped.id, person_id=person_id), True
    exam = store.exams.begin(
        dog.id,
        person_id=person_id,
        routine=routine,
        versions=Versions(
            protocol=load().version,
            grammars=grammars_hash(),
            engine=engine,
            rules=rules,
            program=__version__,
        ),
    )
    return exam, False


def _from_the_past(store: Store, dog: Dog, meaning: Meaning, on: date) -> str:
    try:
        return answer(store, dog, meaning, on)
    except HeardError as error:
        return str(error)


def sight_of(person: Person | None, settings: Settings) -> Sight:
    """Return how much the person sees: their own setting, else the installation's."""
    return (person.sight if person else None) or settings.sight
