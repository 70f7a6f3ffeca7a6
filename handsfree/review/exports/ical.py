"""iCalendar (RFC 5545) of care dues: an all-day event a task, with a key that never changes.

Importing a newer file moves the events that are there: the UID is made of dog and task alone, and
SEQUENCE rises with the time of writing.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

from handsfree.judging.care import Due

if TYPE_CHECKING:
    from handsfree.records import Dog

__all__ = ["calendar_bytes", "uid_of"]

_EPOCH = datetime(2020, 1, 1, tzinfo=UTC)
"""SEQUENCE counts minutes from here, so that it stays a small rising number."""


def uid_of(dog_id: str, task: str) -> str:
    """Return the key of a task of a dog, the same in every file."""
    return f"{dog_id}-{task}@handsfree.invalid"


def calendar_bytes(
    dues: Sequence[tuple[Dog, Sequence[Due]]], *, on: date, now: datetime, program: str
) -> bytes:
    """Return the calendar of these dogs' dues; what only a vet can set is left out.

    Args:
        dues: Each dog with its dues.
        on: Today: what is overdue is put on this day.
        now: Time of writing, with offset.
        program: Version of this program.
    """
    from icalendar import Calendar, Event

    calendar = Calendar()
    calendar.add("prodid", f"-//handsfree//handsfree {program}//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    stamp = now.astimezone(UTC).replace(microsecond=0)
    for dog, tasks in dues:
        for due in tasks:
            if due.due is None:
                continue
            day = max(due.due, on)
            event = Event()
            event.add("uid", uid_of(dog.id, due.task.id))
            event.add("dtstamp", stamp)
            event.add("last-modified", stamp)
            event.add("sequence", int((stamp - _EPOCH).total_seconds() // 60))
            event.add("summary", f"{dog.name}: {due.task.title}")
            event.add("dtstart", day)
            event.add("dtend", day + timedelta(days=1))
            event.add("transp", "TRANSPARENT")
            event.add("description", _about(due))
            calendar.add_component(event)
    return bytes(calendar.to_ical())


def _about(due: Due) -> str:
    last = "never noted" if due.last is None else f"last {due.last.isoformat()}"
    every = "" if due.days is None else f", every {due.days} days"
    was = f"Due {due.due.isoformat()}{every}; {last}." if due.due else ""
    basis = due.task.basis
    words = "our own judgement, awaiting a vet" if basis == "judgement" else basis
    return f"{was} Source ({words}): {due.task.source}"
