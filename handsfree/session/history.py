"""A dog's stored exams as judging takes them."""

from __future__ import annotations

from handsfree.judging.model import Finding, PastExam
from handsfree.records import Store
from handsfree.records.model import Answer

__all__ = ["finding_of", "past_exams"]


def past_exams(store: Store, dog_id: str, *, but: str | None = None) -> tuple[PastExam, ...]:
    """Return a dog's exams for comparison, newest first, without the exam ``but``."""
    days = {exam.id: exam.begun_at.date() for exam in store.exams.of_dog(dog_id)}
    answers = store.exams.dog_answers(dog_id)
    return tuple(
        PastExam(
            exam_id=exam_id,
            on=day,
            findings=tuple(finding_of(a) for a in answers.get(exam_id, ())),
        )
        for exam_id, day in days.items()
        if exam_id != but
    )


def finding_of(answer: Answer) -> Finding:
    """Return a stored answer as judging takes it."""
    return Finding(
        item=answer.item,
        side=answer.side,
        status=answer.status.value,
        value=answer.value,
        unit=answer.unit,
        certainty=answer.confirmed.value,
        reason=answer.reason or "",
        on=answer.at.date(),
    )
