"""What people do in these tests: a check of a dog, with one answer or more."""

from __future__ import annotations

from handsfree.dialogue.actions import Confirmed, Record, Status
from handsfree.judging.gather import judge_exam, keep, telling_of
from handsfree.judging.rules import read_table
from handsfree.records import Store, Versions
from handsfree.records.model import Outcome


def observe(
    store: Store, dog_id: str, person_id: str | None, *, judged: bool = True, **values: str
) -> str:
    """Store a check with these answers (``region__question``); return its key."""
    exam = store.exams.begin(
        dog_id,
        person_id=person_id,
        routine="kennel",
        versions=Versions(protocol="1", grammars="g", engine="none"),
    )
    for ref, (item, value) in enumerate(values.items(), 1):
        store.exams.record(
            exam.id,
            Record(
                ref=ref, item=item.replace("__", "."), status=Status.OBSERVED, value=value,
                confirmed=Confirmed.CONFIRMED,
            ),
        )  # fmt: skip
    store.exams.finish(exam.id, Outcome.COMPLETE)
    if judged:
        table = read_table()
        telling = telling_of(store, dog_id, table)
        keep(store, exam.id, judge_exam(store, exam.id, table), telling)
    return exam.id
