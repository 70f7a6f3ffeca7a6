"""An exam's place in the records: what the runner wants stored goes to one stored exam."""

from __future__ import annotations

import json
from collections.abc import Sequence

from handsfree.dialogue.actions import Action, Confirm, LogFact, Measure, Record
from handsfree.dialogue.codec import FORM, event_to_json
from handsfree.dialogue.events import Event
from handsfree.records.digest import actions_digest
from handsfree.records.store import Store

__all__ = ["StoredExam"]


class StoredExam:
    """Writes one exam. Each answer is a transaction of its own, committed before it is spoken."""

    def __init__(self, store: Store, exam_id: str) -> None:
        self._exams = store.exams
        self._store = store
        self.exam_id = exam_id
        self._seq = store.exams.next_seq(exam_id)
        self._waiting: list[tuple[str, str]] = []

    def record(self, action: Record) -> None:
        """Store an answer, with the events that led to it."""
        with self._store.transaction():
            self._flush()
            self._exams.record(self.exam_id, action)

    def confirm(self, action: Confirm) -> None:
        """Store how far an answer is settled."""
        self._exams.confirm(self.exam_id, action)

    def measure(self, action: Measure) -> None:
        """Store a raw repeat."""
        self._exams.measure(self.exam_id, action)

    def fact(self, action: LogFact) -> None:
        """Store a fact of the exam."""
        self._exams.fact(self.exam_id, action)

    def log(self, event: Event, actions: Sequence[Action]) -> None:
        """Keep an event for the log; it is written with the next answer or at the end.

        A crash loses the events after the last answer and nothing else.
        """
        line = json.dumps(event_to_json(event), ensure_ascii=False, separators=(",", ":"))
        self._waiting.append((line, actions_digest(actions)))

    def finish(self, outcome: str) -> None:
        """Close the exam."""
        with self._store.transaction():
            self._flush()
            self._exams.finish(self.exam_id, outcome)
        self._store.lumps.take_over(self.exam_id)

    def _flush(self) -> None:
        if self._waiting:
            self._exams.log_events(self.exam_id, self._seq, self._waiting, form=FORM)
            self._seq += len(self._waiting)
            self._waiting = []
