"""The database file: opening it safely, transactions, time and keys. No table is known here.

Readers never wait for writers (WAL); a committed answer survives a power cut (synchronous=FULL).
Used from the thread that opened it.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from functools import cache
from pathlib import Path
from typing import Any

from sqlite_utils import Database as SqliteUtils

from handsfree.errors import DataError
from handsfree.records.migrations import migrate
from handsfree.records.schema import APPLICATION_ID
from handsfree.records.uuid7 import new_id

__all__ = ["FILE_NAME", "Clock", "RecordsFile", "Stamp", "from_stamp", "system_clock", "to_stamp"]

FILE_NAME = "records.sqlite"
"""Name of the database within the data folder."""

WAIT_S = 10.0
"""How long a writer waits for another process before it gives up."""

Clock = Callable[[], datetime]
"""Returns the time now, with offset."""

Row = Mapping[str, Any]


def system_clock() -> datetime:
    """Return the system's time with the local offset."""
    return datetime.now().astimezone()


@dataclass(frozen=True, kw_only=True)
class Stamp:
    """A time as stored: UTC text that sorts, and the local offset in minutes."""

    at: str
    offset_min: int


def to_stamp(when: datetime) -> Stamp:
    """Return ``when`` as stored.

    Raises:
        ValueError: ``when`` has no offset.
    """
    offset = when.utcoffset()
    if offset is None:
        msg = f"{when} has no offset from UTC"
        raise ValueError(msg)
    utc = when.astimezone(UTC).replace(tzinfo=None)
    return Stamp(
        at=utc.isoformat(timespec="microseconds") + "Z",
        offset_min=round(offset.total_seconds() / 60),
    )


def from_stamp(at: str, offset_min: int) -> datetime:
    """Return a stored time, in the local time that held then."""
    return datetime.fromisoformat(at).astimezone(_zone(offset_min))


@cache
def _zone(offset_min: int) -> timezone:
    return timezone(timedelta(minutes=offset_min))


class RecordsFile:
    """One open database file.

    Args:
        path: The file; made, with its folder, if it is not there.
        clock: What time it is; rehearsal gives its own.

    Raises:
        DataError: The file is broken, foreign, of a newer version, or cannot be made.
    """

    def __init__(self, path: Path, *, clock: Clock = system_clock) -> None:
        self.path = path
        self.clock = clock
        _make_private(path)
        with self.told():
            connection = sqlite3.connect(path, timeout=WAIT_S)
            try:
                self.db = SqliteUtils(connection, execute_plugins=False)
                self._prepare()
            except BaseException:
                connection.close()
                raise

    def _write_ahead(self) -> None:
        """Turn on the write-ahead log; SQLite does not wait here by itself while others open."""
        end = time.monotonic() + WAIT_S
        while True:
            try:
                self.db.execute("PRAGMA journal_mode = WAL")
                return
            except sqlite3.OperationalError as error:
                if "locked" not in str(error) or time.monotonic() > end:
                    raise
                time.sleep(0.02)

    def _prepare(self) -> None:
        (application_id,) = self.db.execute("PRAGMA application_id").fetchone()
        (tables,) = self.db.execute("SELECT count(*) FROM sqlite_master").fetchone()
        if tables and application_id != APPLICATION_ID:
            msg = (
                f"{self.path} is a database of another program: name another folder with --data. "
                "Nothing was changed."
            )
            raise DataError(msg)
        self.db.execute("PRAGMA synchronous = FULL")
        # On macOS a plain sync leaves data in the drive's cache; elsewhere this changes nothing.
        self.db.execute("PRAGMA fullfsync = ON")
        # A file system without shared memory keeps its rollback journal, which is as safe.
        self._write_ahead()
        migrate(self.db)

    def close(self) -> None:
        """Close the file; what was not committed is dropped."""
        self.db.close()

    @contextmanager
    def told(self) -> Iterator[None]:
        """Turn SQLite's errors into words.

        Raises:
            DataError: Says what went wrong with the file.
        """
        try:
            yield
        except sqlite3.ProgrammingError:
            raise  # a mistake of this program, not of the file
        except sqlite3.DatabaseError as error:
            raise DataError(_in_words(self.path, error)) from error

    @contextmanager
    def writing(self) -> Iterator[None]:
        """One transaction: all that is written within it is kept, or nothing. May be nested.

        The write lock is taken at the start, so that two processes queue up instead of failing.

        Raises:
            DataError: The disk is full, the file cannot be written, or is broken.
        """
        with self.told():
            if self.db.conn.in_transaction:
                with self.db.atomic():
                    yield
                return
            self.db.conn.execute("BEGIN IMMEDIATE")
            try:
                yield
                self.db.conn.execute("COMMIT")
            except BaseException:
                with suppress(sqlite3.Error):
                    self.db.rollback()
                raise

    def rows(
        self, sql: str, values: Sequence[Any] | Mapping[str, Any] = ()
    ) -> list[dict[str, Any]]:
        """Return the rows of a query, as dicts by column."""
        with self.told():
            return list(self.each(sql, values))

    def each(
        self, sql: str, values: Sequence[Any] | Mapping[str, Any] = ()
    ) -> Iterator[dict[str, Any]]:
        """Yield the rows of a query one by one, for results too large to hold."""
        cursor = self.db.conn.execute(sql, values)
        names = [column[0] for column in cursor.description]
        for row in cursor:
            yield dict(zip(names, row, strict=True))

    def one(
        self, sql: str, values: Sequence[Any] | Mapping[str, Any] = ()
    ) -> dict[str, Any] | None:
        """Return the first row of a query, or None."""
        with self.told():
            for row in self.each(sql, values):
                return row
        return None

    def add(self, table: str, row: Row, *, station_id: str, person_id: str | None) -> str:
        """Insert ``row`` with a new key, the time now, station and person; return the key.

        Call within ``writing``.
        """
        key = new_id()
        stamp = to_stamp(self.clock())
        whole = {
            "id": key,
            "at": stamp.at,
            "offset_min": stamp.offset_min,
            "station_id": station_id,
            "person_id": person_id,
            **row,
        }
        names = ", ".join(whole)
        marks = ", ".join("?" * len(whole))
        self.db.conn.execute(
            f"INSERT INTO {table} ({names}) VALUES ({marks})", tuple(whole.values())
        )
        return key


def _make_private(path: Path) -> None:
    folder = path.parent
    try:
        if not folder.exists():
            folder.mkdir(mode=0o700, parents=True)
            folder.chmod(0o700)
        path.touch(mode=0o600)
        path.chmod(0o600)
    except OSError as error:
        msg = (
            f"The records cannot be kept in {folder} ({error.strerror}): "
            "make it writable, or name another folder with --data."
        )
        raise DataError(msg) from error


def _in_words(path: Path, error: sqlite3.DatabaseError) -> str:
    text = str(error)
    if isinstance(error, sqlite3.IntegrityError):
        return f"The records in {path} refused a row ({text}). Nothing was changed."
    if "locked" in text or "busy" in text:
        return f"Another program is writing to {path}: close it and try again. Nothing was lost."
    if "full" in text:
        return f"The disk with {path} is full: make room and go on. What was stored before is safe."
    if "readonly" in text or "unable to open" in text:
        return f"{path} cannot be written ({text}): check who may write there."
    return (
        f"The records in {path} cannot be read ({text}). Move the file aside and bring back a "
        "backup with: handsfree restore FILE."
    )
