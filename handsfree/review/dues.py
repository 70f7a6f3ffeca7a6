"""A dog's care calendar without reading all of its answers: what was last done, task by task.

Also what of it is due soon, in words for the page.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from handsfree.judging.care import Due, calendar, care_tasks
from handsfree.judging.gather import care_facts
from handsfree.judging.model import Finding, PastExam
from handsfree.review.wording import sentence

if TYPE_CHECKING:
    from handsfree.records import Store

__all__ = ["due_soon", "dues_of"]

DUE_WITHIN_DAYS = 30
"""Care due later than this is left to the calendar."""


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


def due_soon(dues: Sequence[Due], on: date) -> tuple[tuple[str, str], ...]:
    """Return what is overdue or due within 30 days: its title, and when it is due, in words."""
    found = []
    for due in dues:
        if due.due is None or (due.due - on).days > DUE_WITHIN_DAYS:
            continue
        if due.last is None:
            when = "never noted; due now" if due.due <= on else f"due {due.due.isoformat()}"
        elif due.overdue_days:
            when = f"due {due.due.isoformat()}, {due.overdue_days} days ago"
        else:
            when = f"due {due.due.isoformat()}"
        found.append((sentence(due.task.title), when))
    return tuple(found)
