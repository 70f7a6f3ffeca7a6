"""Backups made while in use, and bringing them back without overwriting anything."""

from __future__ import annotations

import os
import sqlite3
from datetime import datetime
from pathlib import Path

import pytest

from handsfree.errors import CallerError, DataError
from handsfree.records import Dog, Store
from handsfree.records.backup import back_up, inspect, restore
from handsfree.records.database import FILE_NAME

NOW = datetime(2026, 3, 14, 9, 0)


@pytest.fixture
def backup(store: Store, dog: Dog, tmp_path: Path) -> Path:
    """Return a backup with one dog in it, made while the store is open."""
    target = tmp_path / "copy.sqlite"
    back_up(store.path.parent, target)
    return target


def test_a_copy_is_whole_and_private(store: Store, dog: Dog, backup: Path) -> None:
    """A backup holds what was committed, as one file that nobody else can read."""
    contents = inspect(backup)
    assert (contents.dogs, contents.exams, contents.last_exam_at) == (1, 0, None)
    assert sorted(p.name for p in backup.parent.iterdir()) == ["copy.sqlite", "data"]
    if os.name != "nt":
        assert backup.stat().st_mode & 0o777 == 0o600


def test_a_copy_is_made_while_another_writes(store: Store, dog: Dog, tmp_path: Path) -> None:
    """A writer in the middle of a transaction neither stops the copy nor gets into it."""
    with store.transaction():
        store.dogs.add("Half written")
        contents = back_up(store.path.parent, tmp_path / "copy.sqlite")
    assert contents.dogs == 1
    assert len(store.dogs.all()) == 2


def test_nothing_is_overwritten(store: Store, dog: Dog, backup: Path) -> None:
    """An existing file is never the target of a backup."""
    before = backup.read_bytes()
    with pytest.raises(CallerError, match="nothing is overwritten"):
        back_up(store.path.parent, backup)
    assert backup.read_bytes() == before


def test_no_records_no_copy(tmp_path: Path) -> None:
    """Where nothing is kept, nothing is copied and nothing is made."""
    with pytest.raises(CallerError, match="no records"):
        back_up(tmp_path / "nowhere", tmp_path / "copy.sqlite")
    assert list(tmp_path.iterdir()) == []


def test_restore_into_an_empty_folder(backup: Path, tmp_path: Path) -> None:
    """A backup brought into a new folder opens as it was."""
    contents, aside = restore(backup, tmp_path / "new", replace=False, now=NOW)
    assert (contents.dogs, aside) == (1, None)
    with Store.open(tmp_path / "new") as store:
        assert store.dogs.find("Bramble")


def test_restore_never_replaces_unasked(store: Store, dog: Dog, backup: Path) -> None:
    """Records that are there stay unless it is said that they may be set aside."""
    with pytest.raises(CallerError, match="--replace"):
        restore(backup, store.path.parent, replace=False, now=NOW)
    assert store.dogs.find("Bramble")


def test_what_was_there_is_set_aside(backup: Path, tmp_path: Path) -> None:
    """What was there before is kept whole under another name."""
    data = tmp_path / "other"
    with Store.open(data) as other:
        other.dogs.add("Older")
    _, aside = restore(backup, data, replace=True, now=NOW)
    assert aside is not None
    assert inspect(aside).dogs == 1
    with Store.open(data) as store:
        assert [d.name for d in store.dogs.all()] == ["Bramble"]
    old = sqlite3.connect(aside)
    assert old.execute("SELECT name FROM dogs").fetchall() == [("Older",)]
    old.close()


def test_records_in_use_are_not_replaced(store: Store, dog: Dog, backup: Path) -> None:
    """While a check has the records open they cannot be taken away from under it."""
    with pytest.raises(DataError, match="in use"):
        restore(backup, store.path.parent, replace=True, now=NOW)
    assert store.dogs.add("After").name == "After"


def test_broken_records_are_set_aside_as_they_are(backup: Path, tmp_path: Path) -> None:
    """Bringing a backup back is the way out when the records are broken."""
    data = tmp_path / "broken"
    data.mkdir()
    (data / FILE_NAME).write_bytes(b"broken " * 1000)
    _, aside = restore(backup, data, replace=True, now=NOW)
    assert aside is not None
    assert aside.read_bytes() == b"broken " * 1000
    with Store.open(data) as store:
        assert store.dogs.find("Bramble")


def test_unsound_backups_are_refused(store: Store, dog: Dog, backup: Path, tmp_path: Path) -> None:
    """A missing, foreign, newer or damaged backup changes nothing."""
    data = tmp_path / "safe"
    with pytest.raises(DataError, match="not there"):
        restore(tmp_path / "none.sqlite", data, replace=True, now=NOW)
    text = tmp_path / "text.sqlite"
    text.write_text("hello " * 1000)
    with pytest.raises(DataError, match="cannot be read"):
        restore(text, data, replace=True, now=NOW)
    foreign = tmp_path / "foreign.sqlite"
    other = sqlite3.connect(foreign)
    other.execute("CREATE TABLE recipes (name)")
    other.commit()
    other.close()
    with pytest.raises(DataError, match="no records of this program"):
        restore(foreign, data, replace=True, now=NOW)
    newer = tmp_path / "newer.sqlite"
    newer.write_bytes(backup.read_bytes())
    other = sqlite3.connect(newer)
    other.execute(
        "INSERT INTO _sqlite_migrations (migration_set, name, applied_at) "
        "VALUES ('handsfree', 'v900_later', '')"
    )
    other.commit()
    other.close()
    with pytest.raises(DataError, match="newer version"):
        restore(newer, data, replace=True, now=NOW)
    damaged = tmp_path / "damaged.sqlite"
    content = bytearray(backup.read_bytes())
    for place in range(8192, len(content), 4096):
        content[place : place + 64] = b"\xff" * 64
    damaged.write_bytes(content)
    with pytest.raises(DataError, match=r"damaged|cannot be read"):
        restore(damaged, data, replace=True, now=NOW)
    assert not (data / FILE_NAME).exists()
    assert [p.name for p in tmp_path.iterdir() if p.name.endswith(".part")] == []


def test_a_place_that_takes_no_copy_is_told(store: Store, dog: Dog, tmp_path: Path) -> None:
    """A place below a file cannot take a copy, and the message says so."""
    (tmp_path / "file").write_text("x")
    with pytest.raises(DataError, match="cannot be written"):
        back_up(store.path.parent, tmp_path / "file" / "copy.sqlite")
