"""Answers of two people, or of two stations, that differ on one item of a dog on one day.

Nothing is overwritten: all of them stay. A settlement is a fact that names the answer which counts
and those which do not; it holds as long as it names every answer that differs, so a later answer
opens the question again. Of two settlements of the same answers the later counts, and both stay.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from handsfree.errors import CallerError
from handsfree.records.database import RecordsFile, from_stamp, to_stamp
from handsfree.records.exam_rows import NOT_CORRECTED, SETTLED, answer_of, latest
from handsfree.records.matching import short_key
from handsfree.records.model import Answer

__all__ = ["Difference", "Settlement", "Settling"]

LEFT_OUT = frozenset({"kennel.medicine"})
"""Items that tell what was done at that hour; doses are challenged on their own."""

_DAY = "date(at, printf('%+d minutes', offset_min))"
"""The local day on which an exam began."""

_TWO = f"""WITH e AS (
    SELECT id, dog_id, station_id, coalesce(person_id, '') AS who, {_DAY} AS day FROM exams
    WHERE at >= :since AND at < :until AND (:dog IS NULL OR dog_id = :dog)
), d AS (
    SELECT dog_id, day FROM e GROUP BY dog_id, day HAVING count(DISTINCT station_id || who) > 1
), said AS (
    SELECT answers.*, {SETTLED} AS settled, e.day AS day FROM answers
    JOIN e ON e.id = answers.exam_id JOIN d ON d.dog_id = e.dog_id AND d.day = e.day
    WHERE status = 'observed' AND {NOT_CORRECTED} AND NOT EXISTS (
        SELECT 1 FROM answers AS later WHERE later.exam_id = answers.exam_id
        AND later.ref > answers.ref AND later.item = answers.item AND later.side IS answers.side
    )
), differ AS (
    SELECT dog_id, day, item, side FROM said GROUP BY dog_id, day, item, side
    HAVING count(DISTINCT coalesce(value_text, value_number)) > 1
)
SELECT said.* FROM said JOIN differ
ON differ.dog_id = said.dog_id AND differ.day = said.day
    AND differ.item = said.item AND differ.side IS said.side
ORDER BY said.at, said.id"""
"""Every answer of the days on which two looked at one dog, where not all of them are the same."""

_ALWAYS = "9999"
"""Behind every stored time."""


@dataclass(frozen=True, kw_only=True)
class Settlement:
    """Somebody settled which answer counts; ``at`` has an offset."""

    id: str
    dog_id: str
    answer_id: str
    others: tuple[str, ...]
    why: str
    at: datetime
    person_id: str | None
    station_id: str


@dataclass(frozen=True, kw_only=True)
class Difference:
    """One item of a dog on a day, answered differently.

    Attributes:
        dog_id: The dog.
        item: ``region.question``.
        side: Side, if any.
        day: Local day.
        answers: The last answer of each person at each station, oldest first; at least two.
        settled: The settlement that names all of them; None while it is open.
    """

    dog_id: str
    item: str
    side: str | None
    day: date
    answers: tuple[Answer, ...]
    settled: Settlement | None = None

    @property
    def key(self) -> str:
        """A short name, stable while the answers stay: the end of the first answer's key."""
        return short_key(self.answers[0].id)

    @property
    def counts(self) -> Answer | None:
        """The answer that counts; None while it is open."""
        if self.settled is None:
            return None
        return next(a for a in self.answers if a.id == self.settled.answer_id)


class Settling:
    """What differs in one database, and what was settled."""

    def __init__(self, file: RecordsFile, station_id: str) -> None:
        self._file = file
        self._station_id = station_id

    def differences(
        self, *, since: datetime | None = None, until: datetime | None = None,
        dog_id: str | None = None, settled: bool = False,
        within: Mapping[str, float] | None = None,
    ) -> tuple[Difference, ...]:  # fmt: skip
        """Return what differs, oldest day first.

        Args:
            since: Only of exams begun since then, with offset.
            until: Only of exams begun before then.
            dog_id: Only of this dog.
            settled: Those that were settled as well.
            within: How far two numbers of an item may lie apart by measuring alone.
        """
        rows = self._file.rows(
            _TWO,
            {
                "since": "" if since is None else to_stamp(since).at,
                "until": _ALWAYS if until is None else to_stamp(until).at,
                "dog": dog_id,
            },
        )
        exams: dict[tuple[str, str], dict[str, list[Answer]]] = {}
        for row in rows:
            day = exams.setdefault((row["dog_id"], row["day"]), {})
            day.setdefault(row["exam_id"], []).append(answer_of(row, candidates=False))
        found = []
        for (dog, on), answers in sorted(exams.items(), key=lambda one: (one[0][1], one[0][0])):
            held = self.of_dog(dog)
            for (item, side), said in _by_place(answers.values()).items():
                if _alike(said, (within or {}).get(item, 0.0)):
                    continue
                last = _naming(said, held)
                if last is None or settled:
                    found.append(
                        Difference(
                            dog_id=dog, item=item, side=side, day=date.fromisoformat(on),
                            answers=said, settled=last,
                        )
                    )  # fmt: skip
        return tuple(found)

    def settle(
        self, difference: Difference, answer_id: str, *, person_id: str, why: str = ""
    ) -> Settlement:
        """Store which answer counts; the others stay and count no longer.

        Raises:
            CallerError: It is none of the answers that differ.
        """
        keys = [answer.id for answer in difference.answers]
        if answer_id not in keys:
            msg = f"{answer_id} is none of the answers that differ: {', '.join(keys)}."
            raise CallerError(msg)
        row = {
            "dog_id": difference.dog_id, "answer_id": answer_id,
            "others": json.dumps([key for key in keys if key != answer_id]), "why": why,
        }  # fmt: skip
        with self._file.writing():
            key = self._file.add(
                "settlements", row, station_id=self._station_id, person_id=person_id
            )
        return next(one for one in self.of_dog(difference.dog_id) if one.id == key)

    def of_dog(self, dog_id: str) -> tuple[Settlement, ...]:
        """Return what was settled of a dog, oldest first."""
        rows = self._file.rows(
            "SELECT * FROM settlements WHERE dog_id = ? ORDER BY at, id", (dog_id,)
        )
        return tuple(
            Settlement(
                id=r["id"], dog_id=r["dog_id"], answer_id=r["answer_id"],
                others=tuple(json.loads(r["others"])), why=r["why"],
                at=from_stamp(r["at"], r["offset_min"]), person_id=r["person_id"],
                station_id=r["station_id"],
            )
            for r in rows
        )  # fmt: skip

    def waiting(self) -> tuple[str, ...]:
        """Return the exams of which answers came from elsewhere and that are to be judged anew."""
        rows = self._file.rows("SELECT exam_id FROM sync_judge ORDER BY exam_id")
        return tuple(row["exam_id"] for row in rows)

    def done(self, exam_ids: Iterable[str]) -> None:
        """These were judged anew."""
        with self._file.writing():
            self._file.db.conn.executemany(
                "DELETE FROM sync_judge WHERE exam_id = ?", [(key,) for key in exam_ids]
            )

    def days_of(self, exam_ids: Sequence[str]) -> tuple[tuple[str, datetime, datetime], ...]:
        """Return the dogs' days of these exams on which two looked: dog, begin, end of the day."""
        found: set[tuple[str, datetime, datetime]] = set()
        for start in range(0, len(exam_ids), 500):
            some = exam_ids[start : start + 500]
            marks = ",".join("?" * len(some))
            rows = self._file.rows(
                f"SELECT dog_id, min(at) AS at, offset_min FROM exams WHERE id IN ({marks}) "
                f"GROUP BY dog_id, {_DAY}",
                some,
            )
            for row in rows:
                begun = from_stamp(row["at"], row["offset_min"])
                begin = begun.replace(hour=0, minute=0, second=0, microsecond=0)
                found.add((row["dog_id"], begin, begin + timedelta(days=1)))
        return tuple(
            one
            for one in sorted(found)
            if (seen := self._file.one(
                "SELECT count(DISTINCT station_id || coalesce(person_id, '')) AS n FROM exams "
                "WHERE dog_id = ? AND at >= ? AND at < ?",
                (one[0], to_stamp(one[1]).at, to_stamp(one[2]).at),
            )) is not None and seen["n"] > 1
        )  # fmt: skip


def _by_place(
    exams: Iterable[Sequence[Answer]],
) -> dict[tuple[str, str | None], tuple[Answer, ...]]:
    """Return by item and side the last observed answer of each person at each station."""
    last: dict[tuple[str, str | None], dict[tuple[str | None, str], Answer]] = {}
    for answers in exams:
        for answer in latest(answers):
            if answer.value is None or answer.item in LEFT_OUT:
                continue
            by = last.setdefault((answer.item, answer.side), {})
            who = (answer.person_id, answer.station_id)
            if who not in by or (by[who].at, by[who].id) < (answer.at, answer.id):
                by[who] = answer
    return {
        place: tuple(sorted(by.values(), key=lambda a: (a.at, a.id)))
        for place, by in sorted(last.items(), key=lambda one: (one[0][0], one[0][1] or ""))
    }


def _alike(answers: Sequence[Answer], within: float) -> bool:
    values: list[Any] = [answer.value for answer in answers]
    if all(isinstance(value, float) for value in values):
        return bool(max(values) - min(values) <= within)
    return len(set(values)) == 1


def _naming(answers: Sequence[Answer], settled: Sequence[Settlement]) -> Settlement | None:
    """Return the last settlement that names all of these answers."""
    keys = {answer.id for answer in answers}
    for one in reversed(settled):
        if one.answer_id in keys and keys <= {one.answer_id, *one.others}:
            return one
    return None
