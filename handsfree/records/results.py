"""What exams came to: one row each time an exam was judged, under a named version of the rules.

An exam can be judged again under a newer table; both rows stay. What a judgement says is kept as
plain JSON; its meaning is judging's.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from handsfree.records.database import RecordsFile, from_stamp
from handsfree.records.exams import Exams

__all__ = ["Result", "Results"]


_NEWEST_FIRST = (
    "JOIN exams ON exams.id = results.exam_id WHERE results.dog_id = {dog} "
    "ORDER BY exams.at DESC, results.id DESC LIMIT 1"
)
"""By the exam's time: an earlier exam may be judged again later."""


@dataclass(frozen=True, kw_only=True)
class Result:
    """One stored judgement.

    Attributes:
        id: UUIDv7.
        exam_id: The exam.
        dog_id: Its dog.
        at: When judged, with offset.
        rules: Version of the rule table.
        level: The level that came out, as a token.
        body: What fired, changed and was not covered, plain data.
    """

    id: str
    exam_id: str
    dog_id: str
    at: datetime
    rules: str
    level: str
    body: dict[str, Any]


class Results:
    """The results in one database."""

    def __init__(self, file: RecordsFile, station_id: str, exams: Exams) -> None:
        self._file = file
        self._station_id = station_id
        self._exams = exams

    def keep(self, exam_id: str, *, rules: str, level: str, body: dict[str, Any]) -> str:
        """Store a judgement in one transaction; return its key."""
        exam = self._exams.get(exam_id)
        with self._file.writing():
            return self._file.add(
                "results",
                {
                    "exam_id": exam_id,
                    "dog_id": exam.dog_id,
                    "rules": rules,
                    "level": level,
                    "body": json.dumps(body, ensure_ascii=False, separators=(",", ":")),
                },
                station_id=self._station_id,
                person_id=exam.person_id,
            )

    def of_exam(self, exam_id: str) -> tuple[Result, ...]:
        """Return every judgement of an exam, newest first."""
        rows = self._file.rows(
            "SELECT * FROM results WHERE exam_id = ? ORDER BY id DESC", (exam_id,)
        )
        return tuple(_result(row) for row in rows)

    def latest_of_dog(self, dog_id: str) -> Result | None:
        """Return the newest judgement of a dog's newest judged exam, or None."""
        row = self._file.one(
            f"SELECT results.* FROM results {_NEWEST_FIRST.format(dog='?')}", (dog_id,)
        )
        return None if row is None else _result(row)

    def overview(self) -> dict[str, Result]:
        """Return of each dog that is looked after what ``latest_of_dog`` is, by the dog's key."""
        newest = f"SELECT results.id FROM results {_NEWEST_FIRST.format(dog='dogs.id')}"
        rows = self._file.rows(
            f"SELECT held.* FROM dogs JOIN results AS held ON held.id = ({newest}) "
            "WHERE dogs.retired_at IS NULL"
        )
        return {row["dog_id"]: _result(row) for row in rows}


def _result(row: Any) -> Result:
    return Result(
        id=row["id"],
        exam_id=row["exam_id"],
        dog_id=row["dog_id"],
        at=from_stamp(row["at"], row["offset_min"]),
        rules=row["rules"],
        level=row["level"],
        body=json.loads(row["body"]),
    )
