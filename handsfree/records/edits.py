"""Standing rows that keep the history of each field: dogs, people, lumps.

Every change is stored twice in one transaction: as an edit, which is never changed, and in the
standing row, which holds the newest. Merging two stations is a matter of edits alone.
"""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Mapping
from contextlib import suppress
from typing import Any

from handsfree.errors import CallerError
from handsfree.records.database import RecordsFile, from_stamp
from handsfree.records.fields import from_column, from_plain, stored_fields, to_column, to_plain
from handsfree.records.model import Edit

__all__ = ["Standing", "checked_text"]

MAX_TEXT = 1000
"""Longest name or note, in characters."""


def checked_text(text: str, what: str) -> str:
    """Return ``text`` without space around it, if it can be stored.

    Raises:
        CallerError: It is empty, too long, or holds bytes that are no text.
    """
    text = text.strip()
    if not text:
        msg = f"{what} is empty: give one."
        raise CallerError(msg)
    if len(text) > MAX_TEXT:
        msg = f"{what} has {len(text)} characters: {MAX_TEXT} are the most that can be kept."
        raise CallerError(msg)
    try:
        text.encode()
    except UnicodeEncodeError as error:
        msg = f"{what} holds bytes that are no text in UTF-8: type it anew."
        raise CallerError(msg) from error
    return text


class Standing:
    """Standing rows of one kind.

    Args:
        file: The database.
        station_id: This station.
        table: Its table.
        entity: Its name in edits.
        kind: The dataclass whose fields are columns.
    """

    def __init__(
        self, file: RecordsFile, station_id: str, *, table: str, entity: str, kind: type
    ) -> None:
        self._file = file
        self._station_id = station_id
        self._table = table
        self._entity = entity
        self._hints = stored_fields(kind)
        self._defaults = {
            f.name: f.default if f.default is not dataclasses.MISSING else None
            for f in dataclasses.fields(kind)
        } | {
            f.name: f.default_factory()
            for f in dataclasses.fields(kind)
            if f.default_factory is not dataclasses.MISSING
        }

    def add(self, values: Mapping[str, Any], *, person_id: str | None, **columns: Any) -> str:
        """Store a new row, with an edit for each field that was given; return its key.

        ``columns`` are further columns that have no history.
        """
        self._check(values)
        whole = {name: values.get(name, self._defaults[name]) for name in self._hints}
        row = {name: to_column(value) for name, value in whole.items()} | columns
        with self._file.writing():
            key = self._file.add(self._table, row, station_id=self._station_id, person_id=person_id)
            for name, value in values.items():
                self._edit(key, name, value, person_id)
        return key

    def change(self, key: str, values: Mapping[str, Any], *, person_id: str | None) -> list[str]:
        """Set fields of a row; return the names of those that did change."""
        self._check(values)
        with self._file.writing():
            row = self._file.one(f"SELECT * FROM {self._table} WHERE id = ?", (key,))
            if row is None:
                msg = f"No {self._entity} has the key {key}."
                raise CallerError(msg)
            changed = [name for name, value in values.items() if row[name] != to_column(value)]
            for name in changed:
                self._edit(key, name, values[name], person_id)
                self._file.db.conn.execute(
                    f"UPDATE {self._table} SET {name} = ? WHERE id = ?",
                    (to_column(values[name]), key),
                )
        return changed

    def history(self, key: str, field: str | None = None) -> tuple[Edit, ...]:
        """Return the edits of a row, oldest first; of one field if named."""
        rows = self._file.rows(
            "SELECT * FROM edits WHERE entity = ? AND entity_id = ? ORDER BY at, id",
            (self._entity, key),
        )
        return tuple(
            Edit(
                id=row["id"],
                station_id=row["station_id"],
                person_id=row["person_id"],
                at=from_stamp(row["at"], row["offset_min"]),
                entity=row["entity"],
                entity_id=row["entity_id"],
                field=row["field"],
                value=json.loads(row["value"]),
            )
            for row in rows
            if field is None or row["field"] == field
        )

    def read(self, row: Mapping[str, Any]) -> dict[str, Any]:
        """Return the fields of a stored row, with its key and the time of adding."""
        fields = {name: from_column(hint, row[name]) for name, hint in self._hints.items()}
        return {"id": row["id"], "added_at": from_stamp(row["at"], row["offset_min"]), **fields}

    def rebuild(self, key: str, head: Mapping[str, Any] | None = None) -> bool:
        """Bring a row to what its edits add up to, the newest of each field; call within writing.

        Edits of other stations may have come in. What an edit sets that this program does not know
        is passed over, and stays in the history.

        Args:
            key: The row.
            head: Its five first columns, if it is to be made where it is missing.

        Returns:
            Whether the row is there; False while edits of what it needs are missing.
        """
        values = dict(self._defaults)
        for edit in self.history(key):
            if edit.field in self._hints:
                with suppress(ValueError, TypeError):
                    values[edit.field] = from_plain(self._hints[edit.field], edit.value)
        row = {name: to_column(values[name]) for name in self._hints}
        conn = self._file.db.conn
        known = self._file.one(f"SELECT id FROM {self._table} WHERE id = ?", (key,)) is not None
        if known:
            changes = ", ".join(f"{name} = ?" for name in row)
            conn.execute(f"UPDATE {self._table} SET {changes} WHERE id = ?", (*row.values(), key))
            return True
        needed = [
            name
            for _, name, _, not_null, *_ in conn.execute(f"PRAGMA table_info({self._table})")
            if not_null and name in row and row[name] is None
        ]
        if head is None or needed:
            return False
        whole = {**head, **row}
        marks = ", ".join("?" * len(whole))
        conn.execute(
            f"INSERT INTO {self._table} ({', '.join(whole)}) VALUES ({marks})",
            tuple(whole.values()),
        )
        return True

    def _check(self, values: Mapping[str, Any]) -> None:
        unknown = sorted(set(values) - set(self._hints))
        if unknown:
            msg = f"A {self._entity} has no field {unknown[0]!r}."
            raise CallerError(msg)

    def _edit(self, key: str, field: str, value: Any, person_id: str | None) -> None:
        self._file.add(
            "edits",
            {
                "entity": self._entity,
                "entity_id": key,
                "field": field,
                "value": json.dumps(to_plain(value), ensure_ascii=False),
            },
            station_id=self._station_id,
            person_id=person_id,
        )
