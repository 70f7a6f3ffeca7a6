"""A dog's care calendar without reading all of its answers: what was last done, task by task."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from handsfree.judging.care import Due, calendar, care_tasks
from handsfree.judging.gather import care_facts
from handsfree.judging.model import Finding, PastExam

if TYPE_CHECKING:
    from handsfree.records import Store

__all__ = ["dues_of"]


def dues_of(store: Store, dog_id: str, on: date) -> tuple[Due, ...]:
    """Return what is due for a dog, most overdue first, as judging's calendar has it."""
    history = []
    for task in care_tasks():
        if not task.items:
            continue
        day = store.exams.last_day_with(dog_id, task.items)
        if day is not None:
            found = tuple(Finding(item=item, value="seen") for item in task.items)
            history.append(PastExam(exam_id="", on=day, findings=found))
    weights = store.weights.of_dog(dog_id, limit=1)
    if weights:
        weighed = Finding(item="weight.kg", value=weights[0].weight_kg, unit="kg")
        history.append(PastExam(exam_id="", on=weights[0].at.date(), findings=(weighed,)))
    return calendar(store.subject(dog_id, on), history, care_facts(store, dog_id), on)
