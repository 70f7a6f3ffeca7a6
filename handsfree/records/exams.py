"""Storing exams as they happen: begin, answers, confirmations, repeats, events, end, resumption.

One transaction an answer. Nothing stored is changed: a correction is a new answer that names the
old, a confirmation a row of its own. Reading back for judging and review lives in ``reading``.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from handsfree.dialogue.actions import Confirm, LogFact, Measure, Record
from handsfree.dialogue.events import PriorAnswer
from handsfree.errors import CallerError
from handsfree.records.database import RecordsFile, to_stamp
from handsfree.records.exam_rows import EXAMS, candidates_to_json, exam_of, latest
from handsfree.records.model import Exam, Outcome, Versions
from handsfree.records.reading import Reading

__all__ = ["RESUMABLE_FOR", "Exams"]

RESUMABLE_FOR = timedelta(hours=1)
"""How long a stopped or crashed exam can be taken up again; our own judgement."""

STALE = "stale"
"""Why an exam was closed as partial that was left alone for longer."""


@dataclass(frozen=True, kw_only=True)
class _Head:
    dog_id: str
    person_id: str | None


class Exams(Reading):
    """The exams in one database: what writes them; what reads them is inherited."""

    def __init__(self, file: RecordsFile, station_id: str) -> None:
        super().__init__(file)
        self._station_id = station_id
        self._heads: dict[str, _Head] = {}

    def begin(
        self, dog_id: str, *, person_id: str | None, routine: str, versions: Versions
    ) -> Exam:
        """Store that an exam begins, and return it.

        Exams of the dog that were left alone for too long are closed first; if the last one before
        was closed so, the new one ``follows`` it.
        """
        with self._file.writing():
            self.close_stale(dog_id, self._file.clock())
            before = self._file.one(
                "SELECT id, outcome, outcome_why FROM exams WHERE dog_id = ? "
                "ORDER BY at DESC, id DESC LIMIT 1",
                (dog_id,),
            )
            unfinished = before is not None and before["outcome_why"] == STALE
            exam_id = self._file.add(
                "exams",
                {
                    "dog_id": dog_id,
                    "routine": routine,
                    "protocol": versions.protocol,
                    "grammars": versions.grammars,
                    "engine": versions.engine,
                    "rules": versions.rules,
                    "program": versions.program,
                    "follows": before["id"] if before is not None and unfinished else None,
                    "outcome_why": "",
                },
                station_id=self._station_id,
                person_id=person_id,
            )
            self._state(exam_id, "begun", person_id)
        return self.get(exam_id)

    def record(self, exam_id: str, action: Record) -> str:
        """Store an answer in one transaction; return its key.

        Raises:
            CallerError: It corrects an answer that this exam does not have, or its number is none.
            DataError: It could not be stored.
        """
        number, text = _split(action.value, action.item)
        row = {
            "ref": action.ref,
            "corrects": None,
            "item": action.item,
            "side": action.side,
            "status": action.status.value,
            "reason": action.reason,
            "value_text": text,
            "value_number": number,
            "unit": action.unit,
            "words": action.words,
            "candidates": candidates_to_json(action.candidates),
            "confirmed": action.confirmed.value,
            "stream": action.stream,
            "start_sample": action.start,
            "end_sample": action.end,
            "attempt": action.attempt,
            "by": action.by,
            "method": _json(action.method),
        }
        with self._file.writing():
            if action.supersedes is not None:
                row["corrects"] = self.answer_id(exam_id, action.supersedes)
            return self._add("answers", exam_id, row)

    def confirm(self, exam_id: str, action: Confirm) -> str:
        """Store how far an answer is settled, in one transaction; return the row's key.

        Raises:
            CallerError: This exam has no such answer.
        """
        with self._file.writing():
            return self._file.add(
                "confirmations",
                {
                    "answer_id": self.answer_id(exam_id, action.ref),
                    "confirmed": action.confirmed.value,
                },
                station_id=self._station_id,
                person_id=self._head(exam_id).person_id,
            )

    def measure(self, exam_id: str, action: Measure) -> str:
        """Store a raw repeat in one transaction; return its key."""
        row = {
            "item": action.item,
            "side": action.side,
            "kind": action.kind,
            "ordinal": action.ordinal,
            "stream": action.stream,
            "samples": _json(action.samples),
            "value": action.value,
            "unit": action.unit,
            "spoiled": action.spoiled,
            "doubtful": int(action.doubtful),
        }
        with self._file.writing():
            return self._add("measurements", exam_id, row)

    def fact(self, exam_id: str, action: LogFact) -> str:
        """Store a fact that is no answer, in one transaction; return its key."""
        with self._file.writing():
            return self._file.add(
                "exam_facts",
                {"exam_id": exam_id, "name": action.name, "detail": _json(action.detail)},
                station_id=self._station_id,
                person_id=self._head(exam_id).person_id,
            )

    def log_event(self, exam_id: str, seq: int, text: str, *, digest: str = "") -> None:
        """Store one event of the log; see ``log_events``."""
        self.log_events(exam_id, seq, [(text, digest)])

    def log_events(
        self, exam_id: str, seq: int, events: Sequence[tuple[str, str]], *, form: int = 1
    ) -> None:
        """Store a stretch of the event log in one transaction.

        A driver that gathers ticks and stores them with the answer that they led to saves writes;
        a crash then loses the ticks after the last answer and nothing else.

        Args:
            exam_id: The exam.
            seq: Position of the first of them, from 0; see ``next_seq`` after a resumption.
            events: JSON text of each event, without line breaks, and the digest of the actions
                that the machine returned for it (``handsfree.records.digest``), or "".
            form: Version of the JSON form.
        """
        if not events:
            return
        lines = [text for text, _ in events]
        if any("\n" in line for line in lines):
            msg = f"an event of exam {exam_id} holds a line break"
            raise ValueError(msg)
        row = {
            "exam_id": exam_id,
            "seq": seq,
            "count": len(events),
            "form": form,
            "lines": "\n".join(lines),
            "digests": "\n".join(digest for _, digest in events),
        }
        with self._file.writing():
            self._file.add(
                "events",
                row,
                station_id=self._station_id,
                person_id=self._head(exam_id).person_id,
            )

    def finish(self, exam_id: str, outcome: Outcome | str, *, why: str = "") -> None:
        """Store that the exam ended: ``complete``, ``partial``, or ``paused`` to be resumed."""
        outcome = Outcome(outcome)
        stamp = to_stamp(self._file.clock())
        with self._file.writing():
            self._state(exam_id, outcome.value, self._head(exam_id).person_id, why)
            ended = outcome is not Outcome.PAUSED
            self._file.db.conn.execute(
                "UPDATE exams SET outcome = ?, outcome_why = ?, ended_at = ?, "
                "ended_offset_min = ? WHERE id = ?",
                (
                    outcome.value,
                    why,
                    stamp.at if ended else None,
                    stamp.offset_min if ended else None,
                    exam_id,
                ),
            )

    def resumable(self, dog_id: str, now: datetime | None = None) -> Exam | None:
        """Return the dog's stopped or crashed exam if it can be taken up again, else None.

        Closes, as partial, those that were left alone for longer than RESUMABLE_FOR.
        """
        self.close_stale(dog_id, now or self._file.clock())
        row = self._file.one(
            f"{EXAMS} WHERE dog_id = ? AND (outcome IS NULL OR outcome = 'paused') "
            "AND station_id = ? ORDER BY exams.at DESC LIMIT 1",
            (dog_id, self._station_id),
        )
        return None if row is None else exam_of(row)

    def resume(self, exam_id: str, *, person_id: str | None = None) -> Exam:
        """Store that a stopped or crashed exam goes on; its rows are now this person's.

        Raises:
            CallerError: The exam has ended.
        """
        exam = self.get(exam_id)
        if exam.outcome in (Outcome.COMPLETE, Outcome.PARTIAL):
            msg = f"This check has ended ({exam.outcome}) and cannot be resumed: begin a new one."
            raise CallerError(msg)
        self._heads[exam_id] = _Head(dog_id=exam.dog_id, person_id=person_id or exam.person_id)
        with self._file.writing():
            self._state(exam_id, "resumed", person_id or exam.person_id)
            self._file.db.conn.execute("UPDATE exams SET outcome = NULL WHERE id = ?", (exam_id,))
        return self.get(exam_id)

    def close_stale(self, dog_id: str, now: datetime) -> None:
        """Close as partial what was left alone for longer than RESUMABLE_FOR before ``now``."""
        with self._file.writing():
            rows = self._file.rows(
                f"{EXAMS} WHERE dog_id = ? AND (outcome IS NULL OR outcome = 'paused') "
                "AND station_id = ?",  # what runs at another station is theirs
                (dog_id, self._station_id),
            )
            for row in rows:
                if now - exam_of(row).last_at > RESUMABLE_FOR:
                    self.finish(row["id"], Outcome.PARTIAL, why=STALE)

    def prior(self, exam_id: str) -> tuple[PriorAnswer, ...]:
        """Return what counts of the answers so far, as the machine takes them when it resumes."""
        history = self.answer_history(exam_id)
        return tuple(
            PriorAnswer(
                ref=answer.ref,
                item=answer.item,
                side=answer.side,
                status=answer.status.value,
                reason=answer.reason,
                value=answer.value,
                unit=answer.unit,
                confirmed=answer.confirmed.value,
                earlier=tuple(
                    before.value
                    for before in history
                    if before.ref < answer.ref
                    and (before.item, before.side) == (answer.item, answer.side)
                    and isinstance(before.value, str)
                ),
            )
            for answer in latest(history)
        )

    def _head(self, exam_id: str) -> _Head:
        if exam_id not in self._heads:
            exam = self.get(exam_id)
            self._heads[exam_id] = _Head(dog_id=exam.dog_id, person_id=exam.person_id)
        return self._heads[exam_id]

    def _add(self, table: str, exam_id: str, row: dict[str, Any]) -> str:
        head = self._head(exam_id)
        return self._file.add(
            table,
            {"exam_id": exam_id, "dog_id": head.dog_id, **row},
            station_id=self._station_id,
            person_id=head.person_id,
        )

    def _state(self, exam_id: str, state: str, person_id: str | None, why: str = "") -> None:
        self._file.add(
            "exam_states",
            {"exam_id": exam_id, "state": state, "why": why},
            station_id=self._station_id,
            person_id=person_id,
        )


def _split(value: str | float | None, item: str) -> tuple[float | None, str | None]:
    if value is None or isinstance(value, str):
        return None, value
    if not math.isfinite(value):
        msg = f"{value} cannot be stored as {item}: it is no finite number."
        raise CallerError(msg)
    return float(value), None


def _json(pairs: Sequence[tuple[str, Any]]) -> str:
    return json.dumps(pairs, ensure_ascii=False, separators=(",", ":"))
