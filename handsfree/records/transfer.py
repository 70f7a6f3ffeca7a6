"""Rows of the records going out and coming in, as plain data, exactly as they are stored.

Coming in is merging by key: rows are never changed, so a row that is there already is left alone if
it is the same and refused if it differs. Standing rows follow the newest edit. Settings and what
belongs to this machine stay where they are.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from handsfree.errors import DataError
from handsfree.records.database import RecordsFile
from handsfree.records.fields import from_plain, stored_fields, to_column
from handsfree.records.kennel import STANDING as KENNEL
from handsfree.records.model import Dog, Lump, Person

__all__ = ["TABLES", "Transfer"]

_OF_EXAM = "exam_id IN (SELECT id FROM exams WHERE dog_id = :dog)"
_OF_DOG = "dog_id = :dog"
TABLES: dict[str, str] = {
    "people": "id IN (SELECT person_id FROM exams WHERE dog_id = :dog)",
    "dogs": "id = :dog",
    "lumps": _OF_DOG,
    "sites": "0",
    "kennel_rows": "0",
    "pens": "0",
    "contacts": _OF_DOG,
    "medicines": _OF_DOG,
    "stays": _OF_DOG,
    "edits": "entity_id = :dog OR entity_id IN (SELECT id FROM lumps WHERE dog_id = :dog "
    "UNION SELECT person_id FROM exams WHERE dog_id = :dog "
    "UNION SELECT id FROM contacts WHERE dog_id = :dog "
    "UNION SELECT id FROM medicines WHERE dog_id = :dog "
    "UNION SELECT id FROM stays WHERE dog_id = :dog)",
    "exams": _OF_DOG,
    "exam_states": _OF_EXAM,
    "answers": _OF_DOG,
    "confirmations": "answer_id IN (SELECT id FROM answers WHERE dog_id = :dog)",
    "settlements": _OF_DOG,
    "measurements": _OF_EXAM,
    "exam_facts": _OF_EXAM,
    "events": _OF_EXAM,
    "weights": _OF_DOG,
    "results": _OF_DOG,
    "photos": _OF_DOG,
    "placements": "0",
    "doses": _OF_DOG,
    "flags": _OF_DOG,
    "bites": _OF_DOG,
    "tellings": _OF_DOG,
    "rounds": "0",
    "round_facts": "0",
    "handovers": "0",
}
"""Each table that is carried, in the order of its going out, with what belongs to one dog.

Pens and rounds belong to the kennel and go out with everything alone.
"""

_STANDING: dict[str, tuple[str, type]] = {
    "people": ("person", Person),
    "dogs": ("dog", Dog),
    "lumps": ("lump", Lump),
    **KENNEL,
}
_FOLLOWS = (
    ("exams", "dog_id", "dogs"),
    ("answers", "exam_id", "exams"),
    ("results", "exam_id", "exams"),
    ("lumps", "dog_id", "dogs"),
    ("weights", "dog_id", "dogs"),
    ("photos", "dog_id", "dogs"),
)


class Transfer:
    """Rows out of and into one database."""

    def __init__(self, file: RecordsFile) -> None:
        self._file = file

    def count(self, dog_id: str | None = None) -> int:
        """Return how many rows there are to go out."""
        total = 0
        for table in TABLES:
            row = self._file.one(
                f"SELECT count(*) AS n FROM {table} WHERE {_where(table, dog_id)}", {"dog": dog_id}
            )
            total += int(row["n"]) if row else 0
        return total

    def rows(self, dog_id: str | None = None) -> Iterator[tuple[str, dict[str, Any]]]:
        """Yield each row with its table, one by one; of one dog if named.

        Bytes are base64 text; JSON columns stay the text that they are.
        """
        with self._file.told():
            for table in TABLES:
                sql = f"SELECT * FROM {table} WHERE {_where(table, dog_id)} ORDER BY id"
                for row in self._file.each(sql, {"dog": dog_id}):
                    yield table, {name: _out(value) for name, value in row.items()}

    def columns(self, table: str) -> dict[str, tuple[str, bool]]:
        """Return a table's columns: name to type and whether it may be null."""
        return {
            row["name"]: (row["type"], not row["notnull"])
            for row in self._file.rows(f"PRAGMA table_info({table})")
        }

    @contextmanager
    def merging(self, *, keep: bool) -> Iterator[Merge]:
        """Yield what takes rows in; all of them are kept, or none.

        Args:
            keep: False: nothing is kept; only what would happen is found out.

        Raises:
            DataError: A row differs from the one that is there, or belongs to nothing.
        """
        merge = Merge(self._file, {table: self.columns(table) for table in TABLES})
        try:
            with self._file.writing():
                yield merge
                merge.finish()
                if not keep:
                    raise _GoBack
        except _GoBack:
            pass


class _GoBack(Exception):  # noqa: N818  # no error: it ends a trial
    """Undoes the transaction of a trial."""


class Merge:
    """Takes rows in, within one transaction.

    Attributes:
        added: New rows by table.
        known: Rows that were there already, by table.
    """

    def __init__(self, file: RecordsFile, columns: Mapping[str, Mapping[str, Any]]) -> None:
        self._file = file
        self._columns = columns
        self.added: dict[str, int] = {}
        self.known: dict[str, int] = {}
        self._touched: set[tuple[str, str]] = set()

    def take(self, table: str, row: Mapping[str, Any]) -> None:
        """Take one row in.

        Raises:
            DataError: It has other columns than its table, or differs from the one that is there.
        """
        columns = self._columns.get(table)
        if columns is None or set(row) != set(columns):
            msg = f"a row of {table!r} does not have the columns that this version keeps"
            raise DataError(msg)
        values = {
            name: base64.b64decode(value) if columns[name][0] == "BLOB" else value
            for name, value in row.items()
        }
        there = self._file.one(f"SELECT * FROM {table} WHERE id = ?", (values["id"],))
        if there is not None:
            if table == "exams":
                self._end(there, values)
            elif table not in _STANDING and there != values:
                msg = (
                    f"the row {row['id']} of {table} differs from the one that is stored; rows "
                    "are never changed"
                )
                raise DataError(msg)
            self.known[table] = self.known.get(table, 0) + 1
            return
        names = ", ".join(values)
        marks = ", ".join("?" * len(values))
        self._file.db.conn.execute(
            f"INSERT INTO {table} ({names}) VALUES ({marks})", tuple(values.values())
        )
        self.added[table] = self.added.get(table, 0) + 1
        if table == "edits":
            self._touched.add((str(values["entity"]), str(values["entity_id"])))

    def _end(self, there: Mapping[str, Any], values: Mapping[str, Any]) -> None:
        """End an exam that is open here and was ended elsewhere."""
        if there["ended_at"] is None and values["ended_at"] is not None:
            names = ("outcome", "outcome_why", "ended_at", "ended_offset_min")
            self._file.db.conn.execute(
                f"UPDATE exams SET {', '.join(f'{name} = ?' for name in names)} WHERE id = ?",
                (*(values[name] for name in names), values["id"]),
            )

    def finish(self) -> None:
        """Bring standing rows up to their newest edits, and refuse what belongs to nothing.

        Raises:
            DataError: A row belongs to a dog or check that is neither here nor came along.
        """
        for table, (entity, kind) in _STANDING.items():
            hints = stored_fields(kind)
            for _, key in (one for one in self._touched if one[0] == entity):
                for field, value in self._newest(entity, key):
                    if field in hints:
                        column = to_column(from_plain(hints[field], value))
                        self._file.db.conn.execute(
                            f"UPDATE {table} SET {field} = ? WHERE id = ?", (column, key)
                        )
        for table, column, owner in _FOLLOWS:
            if not self.added.get(table):
                continue
            lost = self._file.one(
                f"SELECT id FROM {table} WHERE NOT EXISTS "
                f"(SELECT 1 FROM {owner} WHERE {owner}.id = {table}.{column}) LIMIT 1"
            )
            if lost is not None:
                msg = f"the row {lost['id']} of {table} belongs to {owner} that are not there"
                raise DataError(msg)

    def _newest(self, entity: str, key: str) -> Iterable[tuple[str, Any]]:
        rows = self._file.rows(
            "SELECT field, value FROM edits WHERE entity = ? AND entity_id = ? ORDER BY at, id",
            (entity, key),
        )
        return {row["field"]: json.loads(row["value"]) for row in rows}.items()


def _where(table: str, dog_id: str | None) -> str:
    if dog_id is not None:
        return TABLES[table]
    return "entity <> 'setting'" if table == "edits" else "1"


def _out(value: Any) -> Any:
    return base64.b64encode(value).decode("ascii") if isinstance(value, bytes) else value
