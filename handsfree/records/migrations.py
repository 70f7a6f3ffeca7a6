"""The ordered changes of the schema, each recorded in the same transaction as its effect.

A released migration is never edited; the next change is a new function at the end of the file.
"""

from __future__ import annotations

from functools import cache

from sqlite_utils import Database, Migrations

from handsfree.errors import DataError
from handsfree.records import schema

__all__ = ["MIGRATIONS", "migrate", "refuse_newer"]

MIGRATIONS = Migrations("handsfree")


@MIGRATIONS()
def v001_people_dogs_exams(db: Database) -> None:
    """People, dogs, exams and what is stored of them."""
    _add_tables(db, 1)
    db.execute(f"PRAGMA application_id = {schema.APPLICATION_ID}")


@MIGRATIONS()
def v002_weights_lumps(db: Database) -> None:
    """Weights entered by hand, and lumps that are known by name."""
    _add_tables(db, 2)


@MIGRATIONS()
def v003_results(db: Database) -> None:
    """What each exam came to when it was judged."""
    _add_tables(db, 3)


@MIGRATIONS()
def v004_find_corrections(db: Database) -> None:
    """An index that finds the correction of an answer."""
    _add_tables(db, 4)


@MIGRATIONS()
def v005_photos(db: Database) -> None:
    """Photos kept with findings."""
    _add_tables(db, 5)


@MIGRATIONS()
def v006_kennel_sync(db: Database) -> None:
    """Kennel rounds, and what sharing between stations needs."""
    _add_tables(db, 6)


@MIGRATIONS()
def v007_settling_sites(db: Database) -> None:
    """Bites, who set a feeding, a dog at a site without a pen, and why an answer counts."""
    _add_tables(db, 7)


def _add_tables(db: Database, version: int) -> None:
    for statement in schema.TABLES[version]:
        # SQLite would keep the words behind an added column, and then could not read its table.
        db.execute(statement.partition(" -- ")[0] if statement[:5] == "ALTER" else statement)
    for table in schema.FACTS[version]:
        for statement in schema.append_only_triggers(table):
            db.execute(statement)


def migrate(db: Database) -> bool:
    """Bring ``db`` to the present schema; whole or not at all.

    Must be called outside of a transaction.

    Returns:
        Whether anything was changed.

    Raises:
        DataError: The database was made by a newer version of this program.
    """
    if not _pending(db):
        return False
    db.conn.execute("BEGIN IMMEDIATE")
    try:
        changed = _pending(db)  # another process may have been faster
        MIGRATIONS.apply(db)
    except BaseException:
        db.rollback()
        raise
    db.commit()
    return changed


def refuse_newer(db: Database) -> None:
    """Refuse what a newer version of this program made; reads only.

    Raises:
        DataError: It was.
    """
    newer = sorted(_applied(db) - _known())
    if newer:
        msg = (
            f"These records were last used by a newer version of handsfree (which added "
            f"{newer[-1]!r}): update handsfree and try again. Nothing was changed."
        )
        raise DataError(msg)


def _pending(db: Database) -> bool:
    refuse_newer(db)
    return bool(_known() - _applied(db))


def _applied(db: Database) -> set[str]:
    return {migration.name for migration in MIGRATIONS.applied(db)}


@cache
def _known() -> frozenset[str]:
    empty = Database(memory=True, execute_plugins=False)
    try:
        return frozenset(migration.name for migration in MIGRATIONS.pending(empty))
    finally:
        empty.close()
