"""JSON Lines: everything that is stored, a line a row, as the published schema describes it.

The first line says what the file is. Reading it back is merging: see ``records.transfer``.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from handsfree.errors import DataError
from handsfree.records.transfer import TABLES

if TYPE_CHECKING:
    from handsfree.records import Store

__all__ = ["FORM", "HEAD", "read_jsonl", "schema", "write_jsonl"]

FORM = 1
"""Version of this form."""

HEAD = "handsfree-records"
_TYPES = {"TEXT": "string", "INTEGER": "integer", "REAL": "number", "BLOB": "string"}
_EVERY = 2000
"""Rows between two looks at the progress."""


def write_jsonl(
    file: IO[str],
    store: Store,
    dog_id: str | None,
    *,
    program: str,
    now: datetime,
    told: Callable[[int, int], None],
) -> int:
    """Write every row, or those of one dog; return how many."""
    total = store.transfer.count(dog_id)
    head = {"row": HEAD, "form": FORM, "program": program, "written_at": now.isoformat()}
    file.write(json.dumps(head, ensure_ascii=False) + "\n")
    rows = 0
    for table, row in store.transfer.rows(dog_id):
        file.write(
            json.dumps({"row": table, **row}, ensure_ascii=False, separators=(",", ":")) + "\n"
        )
        rows += 1
        if rows % _EVERY == 0:
            told(total - rows, total)
    return rows


def read_jsonl(
    path: Path, store: Store, *, keep: bool, told: Callable[[int, int], None]
) -> tuple[dict[str, int], dict[str, int]]:
    """Read a file back; all of it is kept, or nothing.

    Args:
        path: The file.
        store: The records.
        keep: False for a trial.
        told: Told how many bytes are left, and of how many.

    Returns:
        New rows by table, and rows that were there already by table.

    Raises:
        DataError: The file is none of ours, of a newer form, or a line is wrong; names the line.
    """
    size = path.stat().st_size
    columns = {table: store.transfer.columns(table) for table in TABLES}
    with path.open(encoding="utf-8") as file, store.transfer.merging(keep=keep) as merge:
        _check_head(file.readline(), path)
        read = 0
        for number, text in enumerate(file, 2):
            read += len(text)
            if not text.strip():
                continue
            try:
                row = _row(text, columns)
                merge.take(row.pop("row"), row)
            except (DataError, ValueError) as error:
                msg = f"Line {number} of {path} cannot be taken: {error}. Nothing was changed."
                raise DataError(msg) from error
            if number % _EVERY == 0:
                told(max(size - read, 0), size)
    return merge.added, merge.known


def _check_head(text: str, path: Path) -> None:
    try:
        head = json.loads(text)
    except ValueError:
        head = None
    if not isinstance(head, dict) or head.get("row") != HEAD:
        msg = f"{path} holds no records of this program: its first line does not say so."
        raise DataError(msg)
    if head.get("form") != FORM:
        msg = f"{path} was written in form {head.get('form')}: update handsfree and try again."
        raise DataError(msg)


def _row(text: str, columns: dict[str, dict[str, tuple[str, bool]]]) -> dict[str, Any]:
    row = json.loads(text)
    if not isinstance(row, dict) or not isinstance(row.get("row"), str):
        msg = "it does not say what row it is"
        raise DataError(msg)
    known = columns.get(row["row"])
    if known is None:
        msg = f"{row['row']!r} is no kind of row"
        raise DataError(msg)
    for name, value in row.items():
        if name != "row" and not _fits(value, known.get(name)):
            msg = f"{name} of {row['row']} cannot be {value!r:.60}"
            raise DataError(msg)
    return row


def _fits(value: object, column: tuple[str, bool] | None) -> bool:
    if column is None or isinstance(value, bool):
        return False
    if value is None:
        return column[1]
    if column[0] in ("TEXT", "BLOB"):
        return isinstance(value, str)
    return isinstance(value, int) or (column[0] == "REAL" and isinstance(value, float))


def schema() -> dict[str, Any]:
    """Return the JSON Schema of one line, made from the schema of the records."""
    from handsfree.records.schema_page import tables

    kinds: list[dict[str, Any]] = [
        {
            "title": "head",
            "description": "The first line",
            "type": "object",
            "properties": {
                "row": {"const": HEAD},
                "form": {"const": FORM},
                "program": {"type": "string"},
                "written_at": {"type": "string", "format": "date-time"},
            },
            "required": ["row", "form", "program", "written_at"],
            "additionalProperties": False,
        }
    ]
    by_name = {table.name: table for table in tables()}
    for name in TABLES:
        table = by_name[name]
        properties: dict[str, Any] = {"row": {"const": name}}
        for column in table.columns:
            kind: str | list[str] = _TYPES[column.type.upper()]
            if column.nullable:
                kind = [str(kind), "null"]
            properties[column.name] = {"type": kind, "description": column.about}
            if column.type.upper() == "BLOB":
                properties[column.name]["contentEncoding"] = "base64"
        kinds.append(
            {
                "title": name,
                "description": table.about,
                "type": "object",
                "properties": properties,
                "required": list(properties),
                "additionalProperties": False,
            }
        )
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A line of handsfree's JSON Lines export",
        "description": f"Form {FORM}. Each line is one stored row; the first is the head.",
        "oneOf": kinds,
    }


if __name__ == "__main__":
    print(json.dumps(schema(), indent=1, ensure_ascii=False))
