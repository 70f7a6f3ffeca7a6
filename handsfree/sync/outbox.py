"""What the server has not confirmed yet, in the order of making. SQLite alone; no server here.

Triggers note each new row in the transaction that makes it, so that neither a crash nor a clock set
back can leave one out. They are made when a station is first shared; others pay nothing for them.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from handsfree.records.database import RecordsFile
from handsfree.records.kennel import STANDING
from handsfree.records.schema import FACTS
from handsfree.sync.scope import Scope, scopes_of

__all__ = [
    "HEAD",
    "HEADS_ONLY",
    "PHOTOS",
    "SHARED",
    "Sent",
    "enable",
    "fill",
    "settle",
    "take",
    "waiting",
]

HEADS_ONLY = frozenset({"people", "dogs", "lumps", *STANDING})
"""Standing rows: the server holds that they were made; what they hold are their edits."""

SHARED = (
    "stations",
    *sorted(HEADS_ONLY),
    "exams",
    *(table for tables in FACTS.values() for table in tables),
)
"""Every table that is shared, those first that others name."""

PHOTOS = 8
"""Most photos in one batch."""

HEAD = ("id", "at", "offset_min", "station_id", "person_id")
_LEFT_OUT = {
    "stations": {"own"},
    "exams": {"outcome", "outcome_why", "ended_at", "ended_offset_min"},
}


@dataclass(frozen=True, kw_only=True)
class Sent:
    """One row on its way: ``n`` is its place in the outbox, ``body`` the row as JSON."""

    n: int
    id: str
    tab: str
    station_id: str
    scope: Scope
    body: str


def enable(file: RecordsFile) -> None:
    """Begin to note new rows, with all that is there already; once, whole or not at all."""
    done = {
        row["name"] for row in file.rows("SELECT name FROM sqlite_master WHERE type = 'trigger'")
    }
    new = [table for table in SHARED if f"{table}_to_send" not in done]
    if not new:
        return
    with file.writing():
        for table in new:
            file.db.conn.execute(
                f"CREATE TRIGGER IF NOT EXISTS {table}_to_send AFTER INSERT ON {table} BEGIN "
                f"INSERT INTO sync_out (tab, row_id) VALUES ('{table}', NEW.id); END"
            )
        fill(file, new)


def fill(file: RecordsFile, tables: Sequence[str] = SHARED) -> None:
    """Put every row of these tables into the outbox, as for a new server."""
    with file.writing():
        for table in tables:
            file.db.conn.execute(
                f"INSERT INTO sync_out (tab, row_id) SELECT '{table}', id FROM {table} ORDER BY id"
            )


def waiting(file: RecordsFile) -> int:
    """Return how many rows the server has not confirmed."""
    row = file.one("SELECT count(*) AS n FROM sync_out")
    return 0 if row is None else int(row["n"])


def take(file: RecordsFile, limit: int) -> tuple[Sent, ...]:
    """Return the oldest of what is to be sent; it stays until ``settle``."""
    while notes := file.rows("SELECT n, tab, row_id FROM sync_out ORDER BY n LIMIT ?", (limit,)):
        out = _read(file, _bearable(notes))
        if out:
            return out
        with file.writing():  # rows that were removed for good since
            file.db.conn.execute("DELETE FROM sync_out WHERE n <= ?", (notes[-1]["n"],))
    return ()


def _bearable(notes: Sequence[Mapping[str, Any]]) -> Sequence[Mapping[str, Any]]:
    """Return the first of these with few photos among them: they are held in memory as a whole."""
    photos = [place for place, note in enumerate(notes) if note["tab"] == "photos"]
    return notes[: photos[PHOTOS]] if len(photos) > PHOTOS else notes


def _read(file: RecordsFile, notes: Sequence[Mapping[str, Any]]) -> tuple[Sent, ...]:
    by_table: dict[str, list[str]] = {}
    for note in notes:
        by_table.setdefault(note["tab"], []).append(note["row_id"])
    rows: dict[tuple[str, str], dict[str, Any]] = {}
    scopes: dict[tuple[str, str], Scope] = {}
    for table, keys in by_table.items():
        for start in range(0, len(keys), 500):
            some = keys[start : start + 500]
            marks = ",".join("?" * len(some))
            found_rows = file.rows(f"SELECT * FROM {table} WHERE id IN ({marks})", some)
            rows |= {(table, row["id"]): row for row in found_rows}
            scopes |= {
                (table, key): scope for key, scope in scopes_of(file, table, found_rows).items()
            }
    out = []
    for note in notes:
        found = rows.get((note["tab"], note["row_id"]))
        if found is None:
            continue
        out.append(
            Sent(
                n=note["n"], id=found["id"], tab=note["tab"], station_id=found["station_id"],
                scope=scopes[note["tab"], found["id"]],
                body=json.dumps(_body(note["tab"], found), separators=(",", ":"), default=_bytes),
            )
        )  # fmt: skip
    return tuple(out)


def settle(file: RecordsFile, sent: Sequence[Sent]) -> None:
    """The server has these for good; call within a transaction or alone."""
    with file.writing():
        file.db.conn.executemany("DELETE FROM sync_out WHERE n = ?", [(one.n,) for one in sent])


def _body(table: str, row: dict[str, Any]) -> dict[str, Any]:
    if table in HEADS_ONLY:
        return {name: row[name] for name in HEAD}
    return {name: value for name, value in row.items() if name not in _LEFT_OUT.get(table, ())}


def _bytes(value: object) -> dict[str, str]:
    assert isinstance(value, bytes)
    return {"base64": base64.b64encode(value).decode()}
