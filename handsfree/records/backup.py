"""Whole copies of the records, made while they are in use, and bringing one back.

A copy is written beside its place and moved there only when it is whole and checked. Bringing one
back checks it first and sets what was there aside: nothing is overwritten.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlite_utils import Database

from handsfree.errors import CallerError, DataError
from handsfree.records.database import FILE_NAME, from_stamp
from handsfree.records.migrations import refuse_newer
from handsfree.records.schema import APPLICATION_ID

__all__ = ["Contents", "back_up", "inspect", "restore"]

PAGES = 2048
"""Database pages copied between two looks at the progress: 8 MiB."""

Progress = Callable[[int, int], None]
"""Told how many pages are left, and of how many."""


@dataclass(frozen=True, kw_only=True)
class Contents:
    """What a file of records holds: counts, and when its last check began (with offset)."""

    dogs: int
    people: int
    exams: int
    answers: int
    last_exam_at: datetime | None
    size_bytes: int


def back_up(data_dir: Path, target: Path, *, progress: Progress | None = None) -> Contents:
    """Copy the records to ``target`` as they are at this moment; writers are not held up.

    Raises:
        CallerError: There are no records, or ``target`` is there already.
        DataError: The copy could not be written or is not sound; ``target`` is then not made.
    """
    source = data_dir / FILE_NAME
    if not source.is_file():
        msg = f"There are no records in {data_dir} to copy: name their folder with --data."
        raise CallerError(msg)
    if target.exists():
        msg = f"{target} is there already: give another name, nothing is overwritten."
        raise CallerError(msg)
    with _beside(target) as part:
        _copy(source, part, progress)
        contents = inspect(part)
        part.replace(target)
    return contents


def inspect(path: Path) -> Contents:
    """Check a file of records from end to end, without changing it, and say what it holds.

    Raises:
        DataError: It is missing, damaged, foreign, or of a newer version.
    """
    if not path.is_file():
        msg = f"{path} is not there: check the name."
        raise DataError(msg)
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as opened:
            (application_id,) = opened.execute("PRAGMA application_id").fetchone()
            if application_id != APPLICATION_ID:
                msg = f"{path} holds no records of this program: name another file."
                raise DataError(msg)
            refuse_newer(Database(opened, execute_plugins=False))
            faults = [row[0] for row in opened.execute("PRAGMA integrity_check(3)")]
            if faults != ["ok"]:
                msg = f"{path} is damaged ({faults[0]}): use an older backup. Nothing was changed."
                raise DataError(msg)
            return _contents(opened, path)
    except sqlite3.DatabaseError as error:
        msg = f"{path} cannot be read as records ({error}): use another backup."
        raise DataError(msg) from error


def restore(
    source: Path, data_dir: Path, *, replace: bool, now: datetime, progress: Progress | None = None
) -> tuple[Contents, Path | None]:
    """Bring the backup ``source`` into ``data_dir``.

    Args:
        source: The backup.
        data_dir: Where the records are kept.
        replace: Whether records that are there may be set aside.
        now: Names what is set aside.
        progress: Told how far it is.

    Returns:
        What was brought back, and where the records that were there are now, if there were any.

    Raises:
        CallerError: There are records already, and ``replace`` is not said.
        DataError: The backup is not sound, the disk is full, or the records are in use.
    """
    contents = inspect(source)
    target = data_dir / FILE_NAME
    if target.exists() and not replace:
        msg = (
            f"There are records in {data_dir} already. To set them aside and bring the backup "
            "back, say --replace. Nothing was changed."
        )
        raise CallerError(msg)
    with _beside(target) as part:
        _copy(source, part, progress)
        inspect(part)
        aside = _set_aside(target, now) if target.exists() else None
        part.replace(target)
    return contents, aside


@contextmanager
def _beside(target: Path) -> Iterator[Path]:
    """Yield a private file to write beside ``target``; it is gone afterwards."""
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        part.touch(mode=0o600, exist_ok=False)
        yield part
    except OSError as error:
        msg = f"{target} cannot be written ({error.strerror}): choose another place or make room."
        raise DataError(msg) from error
    finally:
        for suffix in ("", "-wal", "-shm", "-journal"):
            with suppress(OSError):
                part.with_name(part.name + suffix).unlink(missing_ok=True)


def _copy(source: Path, part: Path, progress: Progress | None) -> None:
    def told(status: int, left: int, of: int) -> None:
        if progress is not None:
            progress(left, of)

    try:
        with (
            closing(sqlite3.connect(f"{source.absolute().as_uri()}?mode=ro", uri=True)) as old,
            closing(sqlite3.connect(part)) as new,
        ):
            new.execute("PRAGMA synchronous = OFF")  # made durable as a whole below
            # One snapshot for the whole copy: what others write meanwhile does not start it anew.
            old.execute("BEGIN")
            old.execute("SELECT count(*) FROM sqlite_master").fetchone()
            old.backup(new, pages=PAGES, progress=told, sleep=0)
            new.execute("PRAGMA journal_mode = DELETE")  # one file, complete in itself
        with part.open("rb") as written:
            os.fsync(written.fileno())
    except sqlite3.DatabaseError as error:
        msg = f"{source} could not be copied ({error}): check the disk and the file."
        raise DataError(msg) from error


def _set_aside(target: Path, now: datetime) -> Path:
    """Move the records out of the way, whole, and return where they are now."""
    aside = target.with_name(f"{target.stem}-replaced-{now:%Y%m%dT%H%M%S}{target.suffix}")
    if aside.exists():
        msg = f"{aside} is there already: move it and try again. Nothing was changed."
        raise DataError(msg)
    try:
        with closing(sqlite3.connect(target, timeout=1)) as old:
            # Works only when nobody else has it open, and puts everything into the one file.
            old.execute("PRAGMA journal_mode = DELETE")
    except sqlite3.OperationalError as error:
        if "locked" in str(error):
            msg = f"{target} is in use: end every running check and try again. Nothing was changed."
            raise DataError(msg) from error
    except sqlite3.DatabaseError:
        pass  # damaged: set aside as it is
    for suffix in ("-wal", "-shm", "-journal"):
        rest = target.with_name(target.name + suffix)
        if rest.exists():
            shutil.move(rest, aside.with_name(aside.name + suffix))
    shutil.move(target, aside)
    return aside


def _contents(opened: sqlite3.Connection, path: Path) -> Contents:
    def count(table: str) -> int:
        (number,) = opened.execute(f"SELECT count(*) FROM {table}").fetchone()
        return int(number)

    last = opened.execute("SELECT at, offset_min FROM exams ORDER BY at DESC LIMIT 1").fetchone()
    return Contents(
        dogs=count("dogs"),
        people=count("people"),
        exams=count("exams"),
        answers=count("answers"),
        last_exam_at=None if last is None else from_stamp(*last),
        size_bytes=path.stat().st_size,
    )
