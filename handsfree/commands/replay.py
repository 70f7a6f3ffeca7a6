"""``handsfree replay``: runs the exam machine on a stored log and compares what it wants done."""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from handsfree.commands.shared import Subparsers, add_command, line, open_store
from handsfree.errors import CallerError

if TYPE_CHECKING:
    from handsfree.dialogue.actions import Record
    from handsfree.protocol.model import Protocol
    from handsfree.records import Answer, Exam, Store

__all__ = ["Replayed", "register", "replay"]

DIFFERENT = 1


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "replay",
        about="run a stored check again and say whether the same is done",
        example="handsfree replay 4f09e1",
        run=_run,
    )
    parser.add_argument("exam", metavar="EXAM", help="key of the check, or its end")


@dataclass(frozen=True, kw_only=True)
class Replayed:
    """What came of a replay.

    Attributes:
        events: Events in the log.
        compared: Events whose actions were compared.
        first_different: Position of the first event whose actions differ; None if none does.
        answers: Answers that the replay recorded.
        answers_differ: Sentences on answers that are not the stored ones.
    """

    events: int
    compared: int
    first_different: int | None
    answers: int
    answers_differ: tuple[str, ...]

    @property
    def same(self) -> bool:
        """Whether nothing differs."""
        return self.first_different is None and not self.answers_differ


def replay(store: Store, exam: Exam, protocol: Protocol) -> Replayed:
    """Run the machine on an exam's stored events; a resumed exam begins a new machine each time.

    Raises:
        CallerError: The exam has no log.
        DataError: The log is damaged or of a newer form.
    """
    from handsfree.dialogue.actions import Record
    from handsfree.dialogue.codec import event_from_json
    from handsfree.dialogue.events import Opened
    from handsfree.interview.measures import machine_for
    from handsfree.records import actions_digest

    events = list(store.exams.events(exam.id))
    if not events:
        msg = f"Check {exam.id} has no stored log: there is nothing to run again."
        raise CallerError(msg)
    machine = machine_for(exam.routine, protocol)
    records: list[Record] = []
    compared = 0
    first_different: int | None = None
    for position, stored in enumerate(events):
        if stored.seq != position:
            first_different = position if first_different is None else first_different
        event = event_from_json(json.loads(stored.text))
        if isinstance(event, Opened):
            machine = machine_for(exam.routine, protocol)
        actions = machine.step(event)
        records += [action for action in actions if isinstance(action, Record)]
        compared += 1
        if actions_digest(actions) != stored.digest and first_different is None:
            first_different = position
    return Replayed(
        events=len(events),
        compared=compared,
        first_different=first_different,
        answers=len(records),
        answers_differ=_compare(records, store.exams.answer_history(exam.id)),
    )


def _compare(replayed: Sequence[Record], stored: Sequence[Answer]) -> tuple[str, ...]:
    def told(answer: Record | Answer) -> tuple[object, ...]:
        return (
            answer.item,
            answer.side,
            answer.status,
            answer.reason,
            answer.value,
            answer.unit,
        )

    from handsfree.kennel.looks import FIRST_REF

    again = {record.ref: record for record in replayed}
    # The five looks of a kennel's round are put in from one answer, which the replay has.
    kept = {answer.ref: answer for answer in stored if answer.ref < FIRST_REF}
    differ = []
    for ref in sorted(again.keys() | kept.keys()):
        one, other = again.get(ref), kept.get(ref)
        if one is None or other is None:
            name = (one or other).item  # type: ignore[union-attr]  # one of the two is there
            where = "only stored" if one is None else "only in the replay"
            differ.append(f"answer {ref} ({name}) is {where}")
        elif told(one) != told(other):
            differ.append(f"answer {ref} ({other.item}): stored {other.value}, now {one.value}")
    return tuple(differ)


def _run(args: argparse.Namespace) -> int:
    from handsfree import __version__
    from handsfree.protocol.loader import load

    protocol = load()
    with open_store(args) as store:
        exam = store.exams.find(args.exam)
        if exam is None:
            msg = f"No check has a key that ends in {args.exam!r}. See: handsfree review DOG"
            raise CallerError(msg)
        result = replay(store, exam, protocol)
    if result.same:
        line(f"The same: {result.events} events led to the same actions, {result.answers} answers.")
        return 0
    if result.first_different is not None:
        line(f"Different from event {result.first_different} of {result.events} on.")
    for text in result.answers_differ:
        line(f"Different: {text}.")
    for what, then, now in (
        ("check's data", exam.versions.protocol, protocol.version),
        ("program", exam.versions.program, __version__),
    ):
        if then != now:
            line(f"The {what} was version {then} then and is {now} now.")
    return DIFFERENT
