"""What exams came to: one row each time an exam was judged, under a named version of the rules.

An exam can be judged again under a newer table; both rows stay. What a judgement says is kept as
plain JSON; its meaning is judging's.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from handsfree.protocol.single import PREFIX
from handsfree.records.database import RecordsFile, from_stamp, to_stamp
from handsfree.records.exams import Exams

__all__ = ["URGENCY", "Result", "Results"]


URGENCY = ("now", "same_day", "days", "next_visit", "watch", "not_enough", "none_found")
"""Levels as they are stored, from the most urgent to the least."""

_SINGLE = f"exams.routine GLOB '{PREFIX}*'"
_RANK = " ".join(f"WHEN '{level}' THEN {place}" for place, level in enumerate(URGENCY))
_NEWEST = "(SELECT max(id) FROM results AS again WHERE again.exam_id = exams.id)"
_UNFINISHED = "ifnull(json_extract({held}.body, '$.unfinished'), 0)"
_LOW = "results.level IN ('not_enough', 'none_found')"
_LAST_CHECK = (
    f"(SELECT exams.at FROM exams CROSS JOIN results AS held ON held.id = {_NEWEST} "
    f"WHERE exams.dog_id = {{dog}} AND NOT {_SINGLE} "
    f"AND NOT {_UNFINISHED.format(held='held')} ORDER BY exams.at DESC LIMIT 1)"
)
_STANDING = (
    "JOIN exams ON exams.id = results.exam_id WHERE results.dog_id = {dog} "
    f"AND results.id = {_NEWEST} AND exams.at >= ifnull({_LAST_CHECK}, '') "
    f"AND NOT ({_SINGLE} AND {_LOW}) "
    f"ORDER BY {_LOW} AND {_UNFINISHED.format(held='results')}, "
    f"CASE results.level {_RANK} ELSE {len(URGENCY)} END, exams.at DESC LIMIT 1"
)
"""Of the newest finished check and what was taken since then the most urgent.

By the exam's time: an earlier exam may be judged again later. A measurement that set nothing off,
or a check that broke off, takes back nothing that a check found.
"""
_STORED = (
    "((SELECT count(*) FROM answers WHERE answers.exam_id = {exam}) + "
    "(SELECT count(*) FROM answers JOIN confirmations ON confirmations.answer_id = answers.id "
    "WHERE answers.exam_id = {exam}))"
)
_LEFT = (
    f"SELECT exams.dog_id, exams.id FROM exams LEFT JOIN results AS held ON held.id = {_NEWEST} "
    "WHERE ifnull(exams.outcome, '') != 'complete' AND exams.id != ? AND exams.at >= ? "
    "AND (? IS NULL OR exams.dog_id = ?) "
    "AND EXISTS (SELECT 1 FROM answers WHERE answers.exam_id = exams.id) "
    "AND (held.id IS NULL OR CASE WHEN json_extract(held.body, '$.seen') IS NULL "
    "THEN held.at < (SELECT max(at) FROM answers WHERE answers.exam_id = exams.id) "
    f"ELSE json_extract(held.body, '$.seen') < {_STORED.format(exam='exams.id')} END) "
    "ORDER BY exams.at, exams.id"
)


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

    def stored(self, exam_id: str) -> int:
        """Return how many answers and confirmations an exam has: what judging could have seen."""
        row = self._file.one(f"SELECT {_STORED.format(exam='?')} AS n", (exam_id, exam_id))
        return 0 if row is None else int(row["n"])

    def left(
        self, *, dog_id: str | None = None, since: datetime | None = None, but: str = ""
    ) -> tuple[tuple[str, str], ...]:
        """Return exams that broke off and have answers that no judgement has seen, oldest first.

        Args:
            dog_id: Only of this dog.
            since: Only those begun since then.
            but: An exam that is running here.

        Returns:
            Each as the dog's key and the exam's.
        """
        begun = "" if since is None else to_stamp(since).at
        rows = self._file.rows(_LEFT, (but, begun, dog_id, dog_id))
        return tuple((row["dog_id"], row["id"]) for row in rows)

    def of_exam(self, exam_id: str) -> tuple[Result, ...]:
        """Return every judgement of an exam, newest first."""
        rows = self._file.rows(
            "SELECT * FROM results WHERE exam_id = ? ORDER BY id DESC", (exam_id,)
        )
        return tuple(_result(row) for row in rows)

    def standing_of_dog(self, dog_id: str) -> Result | None:
        """Return how it stands with a dog: what its newest judged check came to, or None.

        A single measurement since then counts where it set off what is more urgent.
        """
        row = self._file.one(
            f"SELECT results.* FROM results {_STANDING.format(dog='?')}", (dog_id, dog_id)
        )
        return None if row is None else _result(row)

    def overview(self) -> dict[str, Result]:
        """Return of each dog that is looked after how it stands with it, by the dog's key."""
        standing = f"SELECT results.id FROM results {_STANDING.format(dog='dogs.id')}"
        rows = self._file.rows(
            f"SELECT held.* FROM dogs JOIN results AS held ON held.id = ({standing}) "
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
