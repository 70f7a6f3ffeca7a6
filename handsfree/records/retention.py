"""Removing old records for good, on demand alone: what would go is said first.

Dogs, people and their edits stay; what is removed is what was observed and done before a day. The
rows of such a removal are a fact of their own, so that sharing brings nothing back.
"""

from __future__ import annotations

import json
from datetime import datetime

from handsfree.errors import CallerError
from handsfree.records.database import to_stamp
from handsfree.records.schema import append_only_triggers
from handsfree.records.store import Store

__all__ = ["LEAST_YEARS", "REMOVED", "remove", "would_remove"]

LEAST_YEARS = 3
"""Records are kept at least so long (England: SI 2018/486, schedule 2, paragraph 2)."""

_OF_EXAMS = ("answers", "measurements", "exam_facts", "events", "exam_states", "results")
_BY_TIME = ("doses", "rounds", "round_facts", "tellings", "settlements", "handovers")

REMOVED = frozenset({"confirmations", "exams", *_OF_EXAMS, *_BY_TIME})
"""The tables of which old rows are removed; a dog's place, flags and edits stay."""


def _before(store: Store, years: int) -> str:
    if years < LEAST_YEARS:
        msg = f"Records are kept for at least {LEAST_YEARS} years: {years} cannot be."
        raise CallerError(msg)
    now: datetime = store.file.clock()
    if years >= now.year:
        msg = f"No record is {years} years old: give fewer."
        raise CallerError(msg)
    try:
        return to_stamp(now.replace(year=now.year - years)).at
    except ValueError:  # 29 February
        return to_stamp(now.replace(year=now.year - years, day=28)).at


def _wheres() -> list[tuple[str, str]]:
    old = "SELECT id FROM exams WHERE at < ?"
    return [
        (
            "confirmations",
            f"answer_id IN (SELECT id FROM answers WHERE exam_id IN ({old}))",
        ),
        *((table, f"exam_id IN ({old})") for table in _OF_EXAMS),
        ("exams", "at < ?"),
        *((table, "at < ?") for table in _BY_TIME),
    ]


def would_remove(store: Store, years: int) -> dict[str, int]:
    """Return how many rows of which table are older than so many years.

    Raises:
        CallerError: Fewer years than records must be kept.
    """
    before = _before(store, years)
    found = {}
    for table, where in _wheres():
        row = store.file.one(f"SELECT count(*) AS n FROM {table} WHERE {where}", (before,))
        if row is not None and row["n"]:
            found[table] = int(row["n"])
    return found


def remove(store: Store, years: int, *, person_id: str | None = None) -> dict[str, int]:
    """Remove them for good, in one transaction, and store that this was done."""
    before = _before(store, years)
    found = would_remove(store, years)
    if not found:
        return found
    conn = store.file.db.conn
    with store.file.writing():
        for table, where in _wheres():
            if table != "exams":
                conn.execute(f"DROP TRIGGER {table}_keep_deleted")
            conn.execute(f"DELETE FROM {table} WHERE {where}", (before,))
            if table != "exams":
                conn.execute(append_only_triggers(table)[1])
        store.file.add(
            "retentions",
            {"before": before, "removed": json.dumps(found)},
            station_id=store.station_id,
            person_id=person_id,
        )
    return found
