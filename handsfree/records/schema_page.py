"""The page of the documentation on the schema, made from the statements that make the schema.

``python -m handsfree.records.schema_page > docs/records.md``; a test compares the two.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from itertools import chain

from handsfree.records.schema import FACTS, TABLES

__all__ = ["Column", "Table", "page", "tables"]

_TABLE = re.compile(
    r"CREATE TABLE (?P<name>\w+) \( -- (?P<about>[^\n]+)\n(?P<body>.*)\n\)", re.DOTALL
)
_COLUMN = re.compile(r"\s*(?P<name>\w+) (?P<type>[A-Z]+)(?P<rest>[A-Z ']*),? -- (?P<about>.+)")
_ADDED = re.compile(r"ALTER TABLE (?P<table>\w+) ADD COLUMN (?P<column>.+)")
_INDEX = re.compile(
    r"CREATE (?P<unique>UNIQUE )?INDEX \w+ ON (?P<table>\w+) \((?P<columns>.+)\)( WHERE .+)?"
)

_HEAD = ("id", "at", "offset_min", "station_id", "person_id")

_INTRO = """\
# What is stored

One SQLite file, `records.sqlite`, in the data folder (`--data DIR`, else the platform's own). The
file is for its user alone (mode 0600), in WAL mode, and every answer is a transaction of its own
that has reached the disk (`synchronous=FULL`) before anything is spoken of it.

*Facts* are rows that are never changed or deleted: triggers refuse it. A correction is a new row
that names the old one, and how far an answer is settled is a row of its own, the last of which
counts. *Standing rows* hold what is known now, written in the same transaction as the fact that
changed it: people, dogs and lumps are what their edits add up to, field by field; of an exam only
its end is ever set, and that is what its exam_states say.

The schema grows by ordered migrations, each recorded in the same transaction as its effect. Records
that a newer version has used are refused and left as they are. A whole copy is made with
`handsfree backup`, while in use, and brought back with `handsfree restore`.

This page is generated from the schema itself: `python -m handsfree.records.schema_page`.

## In every table

"""


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column: its name, SQLite type, whether it may be NULL, and what it holds."""

    name: str
    type: str
    nullable: bool
    about: str


@dataclass(frozen=True, kw_only=True)
class Table:
    """One table with its columns; ``since`` is the version of the schema that added it."""

    name: str
    about: str
    since: int
    is_fact: bool
    columns: tuple[Column, ...]
    indexes: tuple[str, ...]


def tables() -> tuple[Table, ...]:
    """Return every table, in the order in which they are made."""
    found = []
    for version, statements in TABLES.items():
        for statement in statements:
            match = _TABLE.fullmatch(statement)
            if match is None:
                continue
            indexes = tuple(
                f"{index['columns']}{' (unique)' if index['unique'] else ''}"
                for index in map(_INDEX.fullmatch, _standing_statements())
                if index is not None and index["table"] == match["name"]
            )
            found.append(
                Table(
                    name=match["name"],
                    about=match["about"],
                    since=version,
                    is_fact=match["name"] in FACTS[version],
                    columns=(
                        *(_column(line) for line in match["body"].splitlines()),
                        *_added(match["name"]),
                    ),
                    indexes=indexes,
                )
            )
    return tuple(found)


def _added(table: str) -> tuple[Column, ...]:
    """Return the columns that later versions add to a table, each with the version."""
    return tuple(
        replace(column, about=f"{column.about} (since version {version})")
        for version, statements in TABLES.items()
        for match in map(_ADDED.fullmatch, statements)
        if match is not None and match["table"] == table
        for column in (_column(match["column"]),)
    )


def _standing_statements() -> list[str]:
    """Return all statements but those that make an index which a later one drops or replaces."""
    left: list[str] = []
    for statement in chain.from_iterable(TABLES.values()):
        if statement.startswith("DROP INDEX "):
            name = statement.removeprefix("DROP INDEX ")
            left = [one for one in left if f"INDEX {name} ON " not in one]
        else:
            left.append(statement)
    return left


def _column(line: str) -> Column:
    match = _COLUMN.fullmatch(line)
    if match is None:
        msg = f"this line of the schema does not say what its column holds: {line!r}"
        raise ValueError(msg)
    return Column(
        name=match["name"],
        type=match["type"],
        nullable="NOT NULL" not in match["rest"],
        about=match["about"],
    )


def page() -> str:
    """Return the page as Markdown."""
    every = tables()
    text = _INTRO + _rows([c for c in every[0].columns if c.name in _HEAD])
    for table in every:
        kind = "Fact" if table.is_fact else "Standing rows"
        about = table.about.removeprefix("fact: ").removeprefix("fact ")
        text += f"\n## {table.name}\n\n{kind}: {about}. Since version {table.since}.\n\n"
        text += _rows([c for c in table.columns if c.name not in _HEAD])
        if table.indexes:
            text += "\nLooked up by: " + "; ".join(table.indexes) + ".\n"
    return text


def _rows(columns: list[Column]) -> str:
    lines = ["| column | type | holds |", "| --- | --- | --- |"]
    for column in columns:
        kind = column.type.lower() + (", or null" if column.nullable else "")
        lines.append(f"| `{column.name}` | {kind} | {column.about} |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    print(page(), end="")
