"""CSV, a row for each answer that counts: RFC 4180, UTF-8, spreadsheet formulas defused."""

from __future__ import annotations

import csv
from collections.abc import Callable, Sequence
from typing import IO, TYPE_CHECKING

from handsfree.judging.result import Telling
from handsfree.review.series import how_taken
from handsfree.review.wording import answer_words, side_title

if TYPE_CHECKING:
    from handsfree.records import Dog, Store

__all__ = ["COLUMNS", "defused", "write_csv"]

COLUMNS = (
    "dog",
    "dog_id",
    "exam_id",
    "begun_at",
    "routine",
    "outcome",
    "person",
    "item",
    "side",
    "status",
    "reason",
    "value",
    "unit",
    "in_words",
    "heard",
    "settled",
    "how",
    "answered_at",
)
_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
"""A cell that begins so may be run by a spreadsheet (OWASP, CSV injection)."""


def defused(text: str) -> str:
    """Return a text cell that no spreadsheet takes for a formula: an apostrophe before it."""
    return f"'{text}" if text.startswith(_STARTS) else text


def write_csv(
    file: IO[str],
    store: Store,
    dogs: Sequence[Dog],
    telling: Telling,
    told: Callable[[int, int], None],
) -> int:
    """Write the answers of these dogs, oldest exam first; return the number of rows."""
    writer = csv.writer(file)
    writer.writerow(COLUMNS)
    people = {person.id: person.name for person in store.people.all(disabled=True)}
    rows = 0
    for done, dog in enumerate(dogs, 1):
        places = {lump.key: lump.place for lump in store.lumps.of_dog(dog.id, gone=True)}
        answers = store.exams.dog_answers(dog.id)
        for exam in reversed(store.exams.of_dog(dog.id)):
            for answer in answers.get(exam.id, ()):
                value = answer.value
                text = (
                    dog.name,
                    dog.id,
                    exam.id,
                    exam.begun_at.isoformat(),
                    exam.routine,
                    exam.outcome.value if exam.outcome else "",
                    people.get(exam.person_id or "", ""),
                    answer.item,
                    side_title(answer.side, places),
                    answer.status.value,
                    answer.reason or "",
                    f"{value:.15g}" if isinstance(value, float) else value or "",
                    answer.unit or "",
                    answer_words(answer, telling),
                    answer.words,
                    answer.confirmed.value,
                    how_taken(answer) if isinstance(value, float) else "",
                    answer.at.isoformat(),
                )
                writer.writerow([defused(cell) for cell in text])
                rows += 1
        told(len(dogs) - done, len(dogs))
    return rows
