"""Findings of the highest level: who was told and when, until somebody acknowledges it.

A finding that two checks of one day share because their answers differ is asked about once. Checks
that broke off before they were judged are judged here, so that no finding is lost with them.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from handsfree.errors import CallerError
from handsfree.judging import gather
from handsfree.judging.differing import differences_of
from handsfree.judging.gather import judge_anew, judge_exam, judge_shared, keep, telling_of
from handsfree.judging.rules import read_table
from handsfree.records.rounds import Told
from handsfree.records.store import Store

__all__ = ["OpenFinding", "acknowledge", "judge_left", "of_dog", "open_findings", "tell"]

LEFT_DAYS = 3
"""How far back checks are looked for that were never judged."""


@dataclass(frozen=True, kw_only=True)
class OpenFinding:
    """A finding that nobody has acknowledged; ``told`` are those who were told, oldest first."""

    dog_id: str
    name: str
    exam_id: str
    rule: str
    say: str
    found_at: datetime
    told: tuple[Told, ...]

    def words(self) -> str:
        """Return it as one sentence, with who was told and when."""
        told = "; ".join(
            f"{t.name} was told at {t.told_at or format(t.at, '%H:%M')}" for t in self.told
        )
        return (
            f"{self.name}, {self.found_at:%d %B %H:%M}: {self.say} "
            f"{told or 'Nobody was told'}, not acknowledged."
        )


def open_findings(store: Store) -> tuple[OpenFinding, ...]:
    """Return the findings of the highest level that nobody has acknowledged, oldest first."""
    return tuple(
        OpenFinding(
            dog_id=dog_id, name=store.dogs.get(dog_id).name, exam_id=exam_id, rule=rule, say=say,
            found_at=store.exams.get(exam_id).begun_at,
            told=tuple(t for t in store.rounds.told(exam_id) if t.rule == rule),
        )
        for dog_id, exam_id, rule, say in store.rounds.open_findings()
    )  # fmt: skip


def of_dog(store: Store, dog_id: str) -> tuple[OpenFinding, ...]:
    """Return the open findings of one dog.

    Raises:
        CallerError: It has none.
    """
    found = tuple(one for one in open_findings(store) if one.dog_id == dog_id)
    if not found:
        msg = (
            f"{store.dogs.get(dog_id).name} has no finding that waits for somebody. "
            "See them with: handsfree kennel findings"
        )
        raise CallerError(msg)
    return found


def tell(
    store: Store, found: OpenFinding, name: str, *, at: str, person_id: str | None = None
) -> None:
    """Store who was told of a finding and when, as said.

    Raises:
        CallerError: The name is empty.
    """
    store.rounds.tell(
        found.dog_id, found.exam_id, found.rule, _named(name), told_at=at, person_id=person_id
    )


def acknowledge(
    store: Store, found: OpenFinding, name: str, *, person_id: str | None = None
) -> None:
    """Store who acknowledged a finding: it comes back no more.

    Raises:
        CallerError: The name is empty.
    """
    store.rounds.tell(
        found.dog_id, found.exam_id, found.rule, _named(name), acknowledged=True,
        person_id=person_id,
    )  # fmt: skip


def judge_left(store: Store, now: datetime) -> int:
    """Judge what judging has not seen of the last days; return how many checks were judged.

    Checks and measurements that broke off unjudged, those of the kennel without a judgement, and
    those of which another's differing answers came in, by sharing or from a file.
    """
    since = now - timedelta(days=LEFT_DAYS)
    judged = len(gather.judge_left(store, since=since))
    for dog_id, exam_id in store.rounds.exams_since(since):
        if store.results.of_exam(exam_id) or not store.exams.answers(exam_id):
            continue
        table = read_table()
        keep(store, exam_id, judge_exam(store, exam_id, table), telling_of(store, dog_id, table))
        judged += 1
    if store.settling.waiting():
        judged += len(judge_shared(store, read_table()))
    differing = {
        answer.exam_id
        for one in differences_of(store, since=since, settled=True)
        for answer in one.answers
    }
    if differing:
        judged += len(judge_anew(store, sorted(differing), read_table()))
    return judged


def _named(name: str) -> str:
    name = " ".join(name.split())
    if not name:
        msg = "Who? Give a name."
        raise CallerError(msg)
    return name
