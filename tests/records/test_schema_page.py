"""The page on the schema says what the database really has."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from handsfree.records import Store
from handsfree.records.schema_page import page, tables

PAGE = Path(__file__).parents[2] / "docs" / "records.md"


def test_the_page_is_up_to_date() -> None:
    """The page in the documentation is the one that the schema makes."""
    assert PAGE.read_text(encoding="utf-8") == page(), (
        "run: python -m handsfree.records.schema_page > docs/records.md"
    )


def test_every_column_of_the_database_is_told(store: Store) -> None:
    """Tables, columns, types and nullability are those that SQLite reports."""
    file = sqlite3.connect(store.path)
    told = {table.name: table for table in tables()}
    names = {
        name
        for (name,) in file.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
        if not name.startswith(("sqlite_", "_sqlite_"))
    }
    assert set(told) == names
    for name, table in told.items():
        real = [
            (column, kind, not not_null)
            for _, column, kind, not_null, *_ in file.execute(f"PRAGMA table_info({name})")
        ]
        assert [(c.name, c.type, c.nullable) for c in table.columns] == real
    file.close()


def test_facts_are_those_that_triggers_keep(store: Store) -> None:
    """What the page calls a fact cannot be changed, and only that."""
    file = sqlite3.connect(store.path)
    kept = {
        table
        for (table,) in file.execute("SELECT tbl_name FROM sqlite_master WHERE type='trigger'")
    }
    assert kept == {table.name for table in tables() if table.is_fact}
    file.close()
