"""Reading exams back, for judging, review and exports. Writes nothing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime
from itertools import islice
from typing import Any

from handsfree.errors import CallerError
from handsfree.records.database import RecordsFile, from_stamp, to_stamp
from handsfree.records.exam_rows import (
    ANSWERS,
    EXAMS,
    NOT_CORRECTED,
    SETTLED,
    answer_of,
    exam_of,
    fact_of,
    latest,
    measurement_of,
)
from handsfree.records.model import Answer, Exam, ExamEvent, ExamFact, Measurement, Number

__all__ = ["Reading"]


class Reading:
    """The exams in one database, read only."""

    def __init__(self, file: RecordsFile) -> None:
        self._file = file

    def get(self, exam_id: str) -> Exam:
        """Return the exam with this key.

        Raises:
            CallerError: There is none.
        """
        row = self._file.one(f"{EXAMS} WHERE id = ?", (exam_id,))
        if row is None:
            msg = f"No check has the key {exam_id}. See them with: handsfree review DOG"
            raise CallerError(msg)
        return exam_of(row)

    def find(self, text: str) -> Exam | None:
        """Return the one exam whose key is or ends with ``text``; None if none does.

        Raises:
            CallerError: More than one does.
        """
        wanted = text.strip().lower().replace("-", "")
        if len(wanted) < 6 or not set(wanted) <= set("0123456789abcdef"):
            return None
        rows = self._file.rows(
            f"{EXAMS} WHERE replace(id, '-', '') LIKE ? LIMIT 2", (f"%{wanted}",)
        )
        if len(rows) > 1:
            msg = f"More than one check ends in {text!r}: give more of its key."
            raise CallerError(msg)
        return exam_of(rows[0]) if rows else None

    def of_dog(
        self, dog_id: str, *, since: datetime | None = None, limit: int | None = None
    ) -> tuple[Exam, ...]:
        """Return a dog's exams, newest first."""
        rows = self._file.rows(
            f"{EXAMS} WHERE dog_id = ? AND exams.at >= ? ORDER BY exams.at DESC, id DESC LIMIT ?",
            (dog_id, "" if since is None else to_stamp(since).at, -1 if limit is None else limit),
        )
        return tuple(exam_of(row) for row in rows)

    def answers(self, exam_id: str) -> tuple[Answer, ...]:
        """Return what counts of an exam: the last answer for each item and side, in order."""
        return latest(self.answer_history(exam_id))

    def answer_history(self, exam_id: str) -> tuple[Answer, ...]:
        """Return every answer that was ever stored of an exam, oldest first."""
        rows = self._file.rows(f"{ANSWERS} WHERE exam_id = ? ORDER BY ref", (exam_id,))
        return tuple(answer_of(row) for row in rows)

    def item_history(
        self, dog_id: str, item: str, *, side: str | None = None, limit: int | None = None
    ) -> tuple[Answer, ...]:
        """Return what counted of one item in a dog's exams, newest first.

        What hearing offered (``candidates``) is left out.

        Args:
            dog_id: The dog.
            item: ``region.question``.
            side: Only this side; None for every side.
            limit: At most so many.
        """
        rows = self._counting(
            f"{ANSWERS} WHERE dog_id = :dog AND item = :item AND (:side IS NULL OR side = :side) "
            f"AND {NOT_CORRECTED} ORDER BY at DESC, ref DESC",
            {"dog": dog_id, "item": item, "side": side},
        )
        return tuple(answer_of(row, candidates=False) for row in islice(rows, limit))

    def numbers(self, dog_id: str, item: str, *, limit: int | None = None) -> tuple[Number, ...]:
        """Return one item's numbers in a dog's exams, newest first, for series and charts.

        As ``item_history``, but only what was observed as a number and is not in doubt.
        """
        rows = self._counting(
            "SELECT id, at, offset_min, exam_id, side, value_number, unit, "
            f"{SETTLED} AS settled FROM answers WHERE dog_id = :dog AND item = :item "
            f"AND {NOT_CORRECTED} ORDER BY at DESC, ref DESC",
            {"dog": dog_id, "item": item},
        )
        numbers = (
            Number(
                answer_id=row["id"],
                exam_id=row["exam_id"],
                at=from_stamp(row["at"], row["offset_min"]),
                side=row["side"],
                value=row["value_number"],
                unit=row["unit"],
            )
            for row in rows
            if row["value_number"] is not None and row["settled"] != "possible"
        )
        return tuple(islice(numbers, limit))

    def days(self, dog_id: str) -> dict[str, date]:
        """Return the day on which each of a dog's exams began, by its key, oldest first."""
        with self._file.told():
            rows = self._file.db.conn.execute(
                "SELECT id, at, offset_min FROM exams WHERE dog_id = ? ORDER BY at, id", (dog_id,)
            )
            return {key: from_stamp(at, offset).date() for key, at, offset in rows}

    def values(self, dog_id: str) -> dict[str, dict[tuple[str, str | None], str | float | None]]:
        """Return what counts of all of a dog's exams, values alone: exam, item and side, value.

        As ``dog_answers`` in a fraction of its time; None where the last answer has no value.
        """
        found: dict[str, dict[tuple[str, str | None], str | float | None]] = {}
        refs: dict[tuple[str, str, str | None], int] = {}
        with self._file.told():
            for exam_id, item, side, ref, number, text in self._file.db.conn.execute(
                "SELECT exam_id, item, side, ref, value_number, value_text FROM answers "
                "WHERE exam_id IN (SELECT id FROM exams WHERE dog_id = ?) "
                f"AND {NOT_CORRECTED}",
                (dog_id,),
            ):
                place = (exam_id, item, side)
                if refs.get(place, -1) < ref:
                    refs[place] = ref
                    found.setdefault(exam_id, {})[item, side] = text if number is None else number
        return found

    def last_day_with(self, dog_id: str, items: Sequence[str]) -> date | None:
        """Return the last day on which all of these items were observed in one exam; or None.

        The days of each item are read newest first, and only as many as are needed.
        """
        first, *rest = items
        with self._file.told():
            for row in self._file.each(
                "SELECT exam_id, at, offset_min FROM answers WHERE dog_id = ? AND item = ? "
                f"AND status = 'observed' AND {NOT_CORRECTED} ORDER BY at DESC",
                (dog_id, first),
            ):
                if all(self._observed(row["exam_id"], item) for item in rest):
                    return from_stamp(row["at"], row["offset_min"]).date()
        return None

    def _observed(self, exam_id: str, item: str) -> bool:
        found = self._file.one(
            "SELECT 1 FROM answers WHERE exam_id = ? AND item = ? AND status = 'observed' "
            f"AND {NOT_CORRECTED} LIMIT 1",
            (exam_id, item),
        )
        return found is not None

    def newest(
        self,
        dog_id: str,
        item: str,
        *,
        values: Sequence[str] = (),
        but: Sequence[str] = (),
        observed: bool = True,
    ) -> Answer | None:
        """Return the newest answer to an item that counted, on any side; None if there is none.

        Args:
            dog_id: The dog.
            item: ``region.question``.
            values: Only these tokens.
            but: Not these tokens.
            observed: Only what was observed.
        """
        where = ["dog_id = ?", "item = ?"]
        given: list[str] = [dog_id, item]
        if observed:
            where.append("status = 'observed'")
        for tokens, word in ((values, "IN"), (but, "NOT IN")):
            if tokens:
                where.append(f"value_text {word} ({', '.join('?' * len(tokens))})")
                given += tokens
        # The last answer of an exam to an item and side counts, whether or not it says so.
        where.append(
            "NOT EXISTS (SELECT 1 FROM answers AS later WHERE later.exam_id = answers.exam_id "
            "AND later.ref > answers.ref AND later.item = answers.item "
            "AND later.side IS answers.side)"
        )
        row = self._file.one(
            f"{ANSWERS} WHERE {' AND '.join(where)} AND {NOT_CORRECTED} "
            "ORDER BY at DESC, ref DESC LIMIT 1",
            given,
        )
        return None if row is None else answer_of(row, candidates=False)

    def _counting(self, sql: str, values: dict[str, Any]) -> Iterator[dict[str, Any]]:
        """Yield of one item's rows, newest first, the last of each exam and side."""
        seen = set()
        with self._file.told():
            for row in self._file.each(sql, values):
                place = (row["exam_id"], row["side"])
                if place not in seen:
                    seen.add(place)
                    yield row

    def dog_answers(
        self, dog_id: str, *, since: datetime | None = None
    ) -> dict[str, tuple[Answer, ...]]:
        """Return what counts of all of a dog's exams, by exam key, in one query.

        What hearing offered (``candidates``) is left out: a dog has thousands of answers.
        """
        exams = self.of_dog(dog_id, since=since)
        found: dict[str, list[Answer]] = {exam.id: [] for exam in exams}
        with self._file.told():
            for row in self._file.each(
                f"{ANSWERS} WHERE exam_id IN "
                "(SELECT id FROM exams WHERE dog_id = ? AND exams.at >= ?)",
                (dog_id, "" if since is None else to_stamp(since).at),
            ):
                answer = answer_of(row, candidates=False)
                found[answer.exam_id].append(answer)
        return {exam_id: latest(answers) for exam_id, answers in found.items()}

    def measurements(self, exam_id: str) -> tuple[Measurement, ...]:
        """Return an exam's raw repeats, oldest first."""
        rows = self._file.rows(
            "SELECT * FROM measurements WHERE exam_id = ? ORDER BY id", (exam_id,)
        )
        return tuple(measurement_of(row) for row in rows)

    def facts(self, exam_id: str) -> tuple[ExamFact, ...]:
        """Return an exam's facts that are no answers, oldest first."""
        rows = self._file.rows("SELECT * FROM exam_facts WHERE exam_id = ? ORDER BY id", (exam_id,))
        return tuple(fact_of(row) for row in rows)

    def states(self, exam_id: str) -> tuple[tuple[datetime, str, str], ...]:
        """Return when an exam began, paused, was resumed and ended: time, state, why."""
        rows = self._file.rows(
            "SELECT * FROM exam_states WHERE exam_id = ? ORDER BY id", (exam_id,)
        )
        return tuple(
            (from_stamp(row["at"], row["offset_min"]), row["state"], row["why"]) for row in rows
        )

    def events(self, exam_id: str) -> Iterator[ExamEvent]:
        """Yield an exam's event log in order."""
        for row in self._file.rows(
            "SELECT * FROM events WHERE exam_id = ? ORDER BY seq", (exam_id,)
        ):
            lines = row["lines"].split("\n")
            digests = row["digests"].split("\n")
            for offset, (text, digest) in enumerate(zip(lines, digests, strict=True)):
                yield ExamEvent(
                    exam_id=exam_id,
                    seq=row["seq"] + offset,
                    form=row["form"],
                    text=text,
                    digest=digest,
                )

    def next_seq(self, exam_id: str) -> int:
        """Return the position that the next event of the log takes."""
        row = self._file.one(
            "SELECT max(seq + count) AS seq FROM events WHERE exam_id = ?", (exam_id,)
        )
        return 0 if row is None or row["seq"] is None else int(row["seq"])

    def next_ref(self, exam_id: str) -> int:
        """Return the lowest answer number that is free, from 1."""
        row = self._file.one("SELECT max(ref) AS ref FROM answers WHERE exam_id = ?", (exam_id,))
        return 1 if row is None or row["ref"] is None else int(row["ref"]) + 1

    def exam_of(self, answer_id: str) -> str:
        """Return the key of the exam of an answer; empty if there is no such answer."""
        row = self._file.one("SELECT exam_id FROM answers WHERE id = ?", (answer_id,))
        return "" if row is None else str(row["exam_id"])

    def answer_id(self, exam_id: str, ref: int) -> str:
        """Return the key of an exam's answer.

        Raises:
            CallerError: The exam has no such answer.
        """
        row = self._file.one("SELECT id FROM answers WHERE exam_id = ? AND ref = ?", (exam_id, ref))
        if row is None:
            msg = f"Check {exam_id} has no answer number {ref}."
            raise CallerError(msg)
        return str(row["id"])
