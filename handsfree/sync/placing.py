"""Putting rows of other stations into this one's records, once each, in any order. SQLite alone.

What cannot be placed yet (made by a newer program, or before the edits that it needs) is held and
tried again; it is never dropped. The caller holds one transaction around a batch and its cursor.
"""

from __future__ import annotations

import base64
import json
import sqlite3
from collections.abc import Iterable, Mapping
from typing import Any

from handsfree.records.database import RecordsFile
from handsfree.records.edits import Standing
from handsfree.records.kennel import STANDING
from handsfree.records.model import Dog, Lump, Person
from handsfree.records.retention import REMOVED
from handsfree.sync.outbox import HEADS_ONLY, SHARED

__all__ = ["Placing"]

_OWN_STANDING: Mapping[str, tuple[str, type]] = {
    "people": ("person", Person),
    "dogs": ("dog", Dog),
    "lumps": ("lump", Lump),
    **STANDING,
}
_EXAM_SET = (
    "UPDATE exams SET outcome = ?, outcome_why = ?, ended_at = ?, ended_offset_min = ? WHERE id = ?"
)


class Placing:
    """Places rows in one database."""

    def __init__(self, file: RecordsFile, station_id: str) -> None:
        self._file = file
        self._columns = {
            table: {row["name"] for row in file.rows(f"PRAGMA table_info({table})")}
            for table in SHARED
        }
        self._standing = {
            entity: (table, Standing(file, station_id, table=table, entity=entity, kind=kind))
            for table, (entity, kind) in _OWN_STANDING.items()
        }
        self._entities = {table: entity for table, (entity, _) in _OWN_STANDING.items()}

    def place(self, rows: Iterable[tuple[str, Mapping[str, Any]]]) -> int:
        """Place rows as (table, row) within the caller's transaction; return how many were new."""
        conn = self._file.db.conn
        (before,) = conn.execute("SELECT coalesce(max(n), 0) FROM sync_out").fetchone()
        removed = self._file.one("SELECT max(before) AS before FROM retentions")
        cut = (removed or {}).get("before") or ""
        touched: set[tuple[str, str]] = set()
        exams: set[str] = set()
        judged: set[str] = set()
        settled: list[str] = []
        heads: dict[str, list[Mapping[str, Any]]] = {}
        new = 0
        for tab, body in [*self._held(), *rows]:
            if tab in HEADS_ONLY:
                heads.setdefault(tab, []).append(body)
                continue
            if tab not in self._columns or not set(body) <= self._columns[tab]:
                self._hold(tab, body, "newer")
                continue
            if tab in REMOVED and body["at"] < cut:
                continue  # removed for good here
            placed = self._insert(tab, body)
            new += placed
            if placed and tab == "answers":
                judged.add(body["exam_id"])
            elif placed and tab == "settlements":
                settled += [body["answer_id"], *json.loads(body["others"])]
            if tab == "edits":
                touched.add((body["entity"], body["entity_id"]))
            elif tab == "exam_states":
                exams.add(body["exam_id"])
            elif tab == "exams":
                exams.add(body["id"])
        new += self._place_heads(heads, touched)
        for exam_id in exams:
            self._set_outcome(exam_id)
        self._note_to_judge(judged, settled)
        # What came from the server needs not go there again.
        conn.execute("DELETE FROM sync_out WHERE n > ?", (before,))
        return new

    def _place_heads(
        self, heads: Mapping[str, list[Mapping[str, Any]]], touched: set[tuple[str, str]]
    ) -> int:
        new = 0
        for tab, bodies in heads.items():
            entity = self._entities[tab]
            standing = self._standing[entity][1]
            for body in bodies:
                there = self._file.one(f"SELECT id FROM {tab} WHERE id = ?", (body["id"],))
                touched.discard((entity, body["id"]))
                if standing.rebuild(body["id"], body):
                    new += there is None
                else:
                    self._hold(tab, body, "early")
        for entity, key in touched:
            if entity in self._standing:
                self._standing[entity][1].rebuild(key)
        return new

    def _note_to_judge(self, exams: set[str], settled: list[str]) -> None:
        """Note the exams whose judgement may now be another, in the transaction that brought it."""
        conn = self._file.db.conn
        conn.executemany(
            "INSERT OR IGNORE INTO sync_judge (exam_id) VALUES (?)", [(key,) for key in exams]
        )
        conn.executemany(
            "INSERT OR IGNORE INTO sync_judge (exam_id) SELECT exam_id FROM answers WHERE id = ?",
            [(key,) for key in settled],
        )

    def _insert(self, tab: str, body: Mapping[str, Any]) -> int:
        row = {
            name: base64.b64decode(value["base64"]) if isinstance(value, dict) else value
            for name, value in body.items()
        }
        if tab == "stations":
            row["own"] = 0
        elif tab == "exams":
            row["outcome_why"] = ""
        marks = ", ".join("?" * len(row))
        try:
            done = self._file.db.conn.execute(
                f"INSERT INTO {tab} ({', '.join(row)}) VALUES ({marks}) "
                "ON CONFLICT (id) DO NOTHING",
                tuple(row.values()),
            )
        except sqlite3.IntegrityError:
            self._hold(tab, body, "clash")
            return 0
        return int(done.rowcount > 0)

    def _hold(self, tab: str, body: Mapping[str, Any], why: str) -> None:
        self._file.db.conn.execute(
            "INSERT INTO sync_held (id, tab, body, why) VALUES (?, ?, ?, ?) "
            "ON CONFLICT (id) DO NOTHING",
            (body["id"], tab, json.dumps(body), why),
        )

    def _held(self) -> list[tuple[str, Mapping[str, Any]]]:
        rows = self._file.rows("SELECT tab, body FROM sync_held ORDER BY id")
        if rows:
            self._file.db.conn.execute("DELETE FROM sync_held")
        return [(row["tab"], json.loads(row["body"])) for row in rows]

    def _set_outcome(self, exam_id: str) -> None:
        last = self._file.one(
            "SELECT state, why, at, offset_min FROM exam_states WHERE exam_id = ? "
            "ORDER BY at DESC, id DESC LIMIT 1",
            (exam_id,),
        )
        if last is None:
            return
        state = last["state"]
        ended = state in ("complete", "partial")
        self._file.db.conn.execute(
            _EXAM_SET,
            (
                state if ended or state == "paused" else None,
                last["why"],
                last["at"] if ended else None,
                last["offset_min"] if ended else None,
                exam_id,
            ),
        )
