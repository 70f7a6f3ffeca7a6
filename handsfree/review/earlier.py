"""A dog's earlier exams as judging's past, read in a fraction of the time that findings take."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import TYPE_CHECKING

from handsfree.judging.differing import settled_instead
from handsfree.judging.past import Past

if TYPE_CHECKING:
    from handsfree.records import Exam, Store

__all__ = ["past_before"]

Values = dict[tuple[str, str | None], str | float | None]


def past_before(store: Store, exam: Exam, days: dict[str, date]) -> Past:
    """Return the past of an exam: those before it, and weights entered by hand until then.

    Args:
        store: The records.
        exam: The exam.
        days: Day of each exam of its dog, oldest first.
    """
    earlier = list(days)[: list(days).index(exam.id)]
    held = store.exams.values(exam.dog_id)
    for answer_id, counts in settled_instead(store, exam.dog_id).items():
        exam_id = store.exams.exam_of(answer_id)
        if (counts.item, counts.side) in held.get(exam_id, {}):
            held[exam_id][counts.item, counts.side] = counts.value
    rows: list[tuple[date, Values]] = [(days[key], held.get(key, {})) for key in earlier]
    rows += [
        (weight.at.date(), {("weight.kg", None): weight.weight_kg})
        for weight in store.weights.of_dog(exam.dog_id)
        if weight.exam_id is None and weight.at < exam.begun_at
    ]
    rows.sort(key=lambda row: row[0])
    return Past.of_values([day for day, _ in rows], _placed(rows))


def _placed(
    rows: list[tuple[date, Values]],
) -> Iterator[tuple[int, str, str | None, str | float]]:
    for place, (_, values) in enumerate(rows):
        for (item, side), value in values.items():
            if value is not None:
                yield place, item, side, value
