"""From the records to judging: stored answers as findings, earlier exams as the dog's past.

The only module of judging that knows the records. It writes results and what was said of care.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, get_args

from handsfree.errors import DataError
from handsfree.judging.body import body_of
from handsfree.judging.care import CareFact
from handsfree.judging.differing import (
    Contested,
    contested_of,
    judged,
    marks_of,
    settled_instead,
)
from handsfree.judging.engine import judge
from handsfree.judging.model import Finding, Judgement, PastExam, Status
from handsfree.judging.past import Past
from handsfree.judging.result import Telling, spoken
from handsfree.judging.rules import Table, read_table
from handsfree.protocol.single import single_title

if TYPE_CHECKING:
    from handsfree.protocol.subject import Subject
    from handsfree.records import Answer, Store

__all__ = [
    "ExamCase",
    "care_facts",
    "exam_case",
    "finding_of",
    "findings_of",
    "history_of",
    "judge_anew",
    "judge_case",
    "judge_exam",
    "judge_left",
    "judge_shared",
    "keep",
    "note_care",
    "telling_of",
]


def finding_of(answer: Answer) -> Finding:
    """One stored answer as judging sees it."""
    status: Status = next(s for s in get_args(Status) if s == answer.status.value)
    return Finding(
        item=answer.item,
        side=answer.side,
        status=status,
        value=answer.value,
        unit=answer.unit,
        certainty=answer.confirmed.value,
        reason=answer.reason or "",
        on=answer.at.date(),
    )


def findings_of(answers: Iterable[Answer]) -> tuple[Finding, ...]:
    """Stored answers of one exam as findings."""
    return tuple(finding_of(answer) for answer in answers)


def history_of(store: Store, dog_id: str, *, before: str | None = None) -> tuple[PastExam, ...]:
    """A dog's earlier exams, oldest first, with weights entered by hand among them.

    Args:
        store: The records.
        dog_id: The dog.
        before: Exam whose past is meant: only earlier ones count. None: all.
    """
    exams = sorted(store.exams.of_dog(dog_id), key=lambda exam: exam.begun_at)
    limit = None if before is None else store.exams.get(before).begun_at
    answers = store.exams.dog_answers(dog_id)
    instead = settled_instead(store, dog_id)
    past = [
        PastExam(
            exam_id=exam.id,
            on=exam.begun_at.date(),
            findings=findings_of(instead.get(a.id, a) for a in answers.get(exam.id, ())),
        )
        for exam in exams
        if exam.id != before and (limit is None or exam.begun_at < limit)
    ]
    for weight in store.weights.of_dog(dog_id):
        if weight.exam_id is None and (limit is None or weight.at < limit):
            found = Finding(item="weight.kg", value=weight.weight_kg, unit="kg")
            past.append(PastExam(exam_id="", on=weight.at.date(), findings=(found,)))
    return tuple(sorted(past, key=lambda exam: exam.on))


@dataclass(frozen=True, kw_only=True)
class ExamCase:
    """All that judging one stored exam needs."""

    subject: Subject
    findings: tuple[Finding, ...]
    past: Past
    on: date
    unfinished: bool
    only: str = ""
    """What alone was measured, as spoken; empty for a check."""


def exam_case(store: Store, exam_id: str) -> ExamCase:
    """Gather one stored exam with the dog as it was on that day.

    Raises:
        CallerError: There is no such exam.
    """
    exam = store.exams.get(exam_id)
    on = exam.begun_at.date()
    outcome = None if exam.outcome is None else exam.outcome.value
    return ExamCase(
        subject=store.subject(exam.dog_id, on),
        findings=findings_of(store.exams.answers(exam_id)),
        past=Past.of(history_of(store, exam.dog_id, before=exam_id)),
        on=on,
        unfinished=outcome != "complete",
        only=single_title(exam.routine),
    )


def judge_exam(store: Store, exam_id: str, table: Table) -> Judgement:
    """Judge one stored exam, with the dog and its past as they were on that day.

    Where another's answer of the day differs, the worse counts until a person settles it.

    Raises:
        CallerError: There is no such exam.
    """
    return judge_case(exam_case(store, exam_id), contested_of(store, exam_id), table)


def judge_case(case: ExamCase, contested: Sequence[Contested], table: Table) -> Judgement:
    """Judge a gathered exam with what differs from another's answers of the day."""

    def one(findings: Sequence[Finding]) -> Judgement:
        return judge(
            findings,
            case.subject,
            case.past,
            on=case.on,
            table=table,
            unfinished=case.unfinished,
            only=case.only,
        )

    return judged(case.findings, contested, one, table.catalogue)


def telling_of(store: Store, dog_id: str, table: Table) -> Telling:
    """What wording a result of this dog needs."""
    settings = store.settings.get()
    return Telling(
        catalogue=table.catalogue,
        dog=store.dogs.get(dog_id).name,
        vet_number=settings.vet_number,
        places={lump.key: lump.place for lump in store.lumps.of_dog(dog_id)},
    )


def keep(store: Store, exam_id: str, judgement: Judgement, telling: Telling) -> str:
    """Store a judgement beside earlier ones of the same exam; return its key."""
    body = body_of(judgement) | {
        "spoken": list(spoken(judgement, telling)),
        "seen": store.results.stored(exam_id),
    }
    marks = marks_of(contested_of(store, exam_id))
    if marks:
        body |= {"differs": marks, "borrowed": list(judgement.borrowed)}
    return store.results.keep(
        exam_id, rules=judgement.rules_version, level=judgement.level.value, body=body
    )


def judge_left(
    store: Store, *, dog_id: str | None = None, since: datetime | None = None, but: str = ""
) -> tuple[str, ...]:
    """Judge exams that broke off on what they have; returns those that were judged.

    However it ended, by the end of input, a lost device or a killed process: what was answered
    is judged when it is next looked at, so that no finding is lost with it.

    Args:
        store: The records.
        dog_id: Only of this dog.
        since: Only exams begun since then.
        but: An exam that is running here.
    """
    done = []
    for dog, exam_id in store.results.left(dog_id=dog_id, since=since, but=but):
        table = read_table()
        with store.transaction():  # no answer comes in between
            keep(store, exam_id, judge_exam(store, exam_id, table), telling_of(store, dog, table))
        done.append(exam_id)
    return tuple(done)


def judge_anew(store: Store, exam_ids: Sequence[str], table: Table) -> tuple[str, ...]:
    """Judge again those exams whose answers differ in another way than when last judged.

    Nothing is stored where all is as it was, so stations that share do not answer one another
    with ever new judgements. Returns the exams that were judged.
    """
    again = []
    for exam_id in exam_ids:
        last = store.results.of_exam(exam_id)[:1]
        before = last[0].body.get("differs", []) if last else []
        if marks_of(contested_of(store, exam_id)) != before:
            dog_id = store.exams.get(exam_id).dog_id
            keep(
                store, exam_id, judge_exam(store, exam_id, table), telling_of(store, dog_id, table)
            )
            again.append(exam_id)
    return tuple(again)


def judge_shared(store: Store, table: Table) -> tuple[str, ...]:
    """Judge again what sharing brought other answers for; returns the exams that were judged."""
    waiting = store.settling.waiting()
    again: list[str] = []
    for dog_id, begin, end in store.settling.days_of(waiting):
        exams = [exam.id for exam in store.exams.of_dog(dog_id, since=begin) if exam.begun_at < end]
        again += judge_anew(store, exams, table)
    store.settling.done(waiting)
    return tuple(again)


def care_facts(store: Store, dog_id: str) -> tuple[CareFact, ...]:
    """What was said of a dog's care, oldest first.

    Raises:
        DataError: A stored saying cannot be read.
    """
    facts = []
    for task, said in store.care.of_dog(dog_id):
        try:
            day = said.get("day")
            facts.append(
                CareFact(
                    task=task,
                    kind=str(said.get("kind")),
                    day=None if day is None else date.fromisoformat(day),
                    days=said.get("days"),
                    note=str(said.get("note", "")),
                )
            )
        except (TypeError, ValueError) as error:
            msg = f"What was stored of the care task {task} cannot be read ({error})."
            raise DataError(msg) from error
    return tuple(facts)


def note_care(store: Store, dog_id: str, fact: CareFact, *, person_id: str | None = None) -> str:
    """Store what was said of a dog's care; return its key."""
    said = {
        "kind": fact.kind,
        "day": None if fact.day is None else fact.day.isoformat(),
        "days": fact.days,
        "note": fact.note,
    }
    return store.care.note(dog_id, fact.task, said, person_id=person_id)
