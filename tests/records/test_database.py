"""The file: private, safe against crashes and crowds, honest about what is broken."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlite_utils import Database

from handsfree.dialogue.actions import Record, Status
from handsfree.errors import DataError
from handsfree.records import Store
from handsfree.records.database import FILE_NAME, RecordsFile, from_stamp, to_stamp
from handsfree.records.migrations import MIGRATIONS
from handsfree.records.uuid7 import is_uuid7

from .conftest import VERSIONS

WRITER = """
import sys
from handsfree.dialogue.actions import Record, Status
from handsfree.records import Store
store = Store.open(sys.argv[1])
for ref in range(1, 100_000):
    store.exams.record(
        sys.argv[2], Record(ref=ref, item="now.gums", status=Status.OBSERVED, value=f"v{ref}")
    )
    print(ref, flush=True)
"""

CROWD = """
import sys
from handsfree.records import Store
with Store.open(sys.argv[1]) as store:
    for number in range(25):
        store.dogs.add(f"{sys.argv[2]} {number}")
"""


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such modes")
def test_files_are_private(store: Store) -> None:
    """Nobody else on the machine can read the records or their journal."""
    store.dogs.add("Rex")
    assert store.path.parent.stat().st_mode & 0o777 == 0o700
    for file in store.path.parent.iterdir():
        assert file.stat().st_mode & 0o777 == 0o600, file


def test_the_safest_settings_hold(store: Store) -> None:
    """Commits reach the disk, and readers do not wait for writers."""
    file = RecordsFile(store.path)
    assert file.db.execute("PRAGMA synchronous").fetchone() == (2,)
    assert file.db.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    file.close()


def test_kill_in_the_middle_loses_at_most_the_answer_being_written(tmp_path: Path) -> None:
    """After kill -9 every answer that was stored is there, and the exam can be resumed."""
    data = tmp_path / "data"
    with Store.open(data) as store:
        dog = store.dogs.add("Rex")
        exam = store.exams.begin(dog.id, person_id=None, routine="quick", versions=VERSIONS)
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(data), exam.id], stdout=subprocess.PIPE, text=True
    )
    assert writer.stdout is not None
    told = 0
    while told < 40:
        told = int(writer.stdout.readline())
    writer.send_signal(signal.SIGKILL if os.name != "nt" else signal.SIGTERM)
    for line in writer.stdout.read().splitlines(keepends=True):
        told = int(line) if line.endswith("\n") else told
    writer.wait()
    with Store.open(data) as store:
        refs = [answer.ref for answer in store.exams.answer_history(exam.id)]
        assert refs[:told] == list(range(1, told + 1))
        assert len(refs) - told in (0, 1)
        resumable = store.exams.resumable(dog.id)
        assert resumable is not None
        assert resumable.id == exam.id
        store.exams.record(
            exam.id,
            Record(
                ref=store.exams.next_ref(exam.id),
                item="now.gums",
                status=Status.OBSERVED,
                value="pink",
            ),
        )


def test_processes_write_at_once_without_loss(tmp_path: Path) -> None:
    """Programs that open a new folder and write at the same time queue up; nothing is lost."""
    data = tmp_path / "data"
    crowd = [
        subprocess.Popen([sys.executable, "-c", CROWD, str(data), name]) for name in ("a", "b", "c")
    ]
    assert [one.wait() for one in crowd] == [0, 0, 0]
    with Store.open(data) as store:
        assert len(store.dogs.all()) == 75
    found = sqlite3.connect(data / FILE_NAME)
    assert found.execute("SELECT count(*) FROM stations").fetchone() == (1,)
    found.close()


def test_every_row_has_key_time_and_station(store: Store, exam_id: str) -> None:
    """Each row has a UUIDv7 key, UTC time with offset, and a station; but for local notes."""
    file = sqlite3.connect(store.path)
    tables = [
        name
        for (name,) in file.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
        if not name.startswith(("sqlite_", "_sqlite_", "sync_"))
    ]
    rows = 0
    for table in tables:
        for key, at, offset, station in file.execute(
            f"SELECT id, at, offset_min, station_id FROM {table}"
        ):
            rows += 1
            assert is_uuid7(key)
            assert datetime.fromisoformat(at).tzinfo == UTC
            assert isinstance(offset, int)
            assert is_uuid7(station)
    assert rows > 3
    file.close()


def test_old_records_are_brought_up_to_date(tmp_path: Path) -> None:
    """A database of version 1 with a dog and an answer in it opens, whole, in this version."""
    data = tmp_path / "data"
    with Store.open(data) as store:
        dog = store.dogs.add("Rex", breed="collie")
        exam = store.exams.begin(dog.id, person_id=None, routine="quick", versions=VERSIONS)
        record = Record(ref=1, item="now.gums", status=Status.OBSERVED, value="pale")
        store.exams.record(exam.id, record)
    old_data = tmp_path / "old"
    old_data.mkdir()
    old = Database(old_data / FILE_NAME)
    MIGRATIONS.apply(old, stop_before="v002_weights_lumps")
    assert "weights" not in old.table_names()
    old.execute("ATTACH ? AS new", [str(data / FILE_NAME)])
    for table in ("stations", "dogs", "edits", "exams", "exam_states", "answers"):
        old.execute(f"INSERT INTO {table} SELECT * FROM new.{table}")
    old.close()
    with Store.open(old_data) as store:
        assert store.dogs.find("Rex").breed == "collie"
        assert store.exams.answers(exam.id)[0].value == "pale"
        store.weights.enter(dog.id, 18.0)
    done = Database(old_data / FILE_NAME)
    assert [m.name for m in MIGRATIONS.applied(done)][:4] == [
        "v001_people_dogs_exams",
        "v002_weights_lumps",
        "v003_results",
        "v004_find_corrections",
    ]
    done.close()


def test_a_migration_that_fails_leaves_the_old_state(tmp_path: Path) -> None:
    """Where the schema cannot be changed, the file stays as it was, and the message says so."""
    path = tmp_path / FILE_NAME
    old = Database(path)
    MIGRATIONS.apply(old, stop_before="v002_weights_lumps")
    old.execute("CREATE TABLE lumps (something)")
    old.close()
    with pytest.raises(DataError):
        Store.open(tmp_path)
    after = Database(path)
    assert len(MIGRATIONS.applied(after)) == 1
    assert "weights" not in after.table_names()
    after.close()


def test_newer_records_are_refused(tmp_path: Path) -> None:
    """What a newer version made is not touched."""
    with Store.open(tmp_path) as store:
        store.dogs.add("Rex")
    file = sqlite3.connect(tmp_path / FILE_NAME)
    file.execute(
        "INSERT INTO _sqlite_migrations (migration_set, name, applied_at) "
        "VALUES ('handsfree', 'v900_later', '')"
    )
    file.commit()
    file.close()
    with pytest.raises(DataError, match="update handsfree"):
        Store.open(tmp_path)


def test_what_is_no_database_is_refused(tmp_path: Path) -> None:
    """A file of anything else is told apart, and left as it is."""
    path = tmp_path / FILE_NAME
    path.write_bytes(b"not a database at all, " * 50)
    with pytest.raises(DataError, match="handsfree restore"):
        Store.open(tmp_path)
    assert path.read_bytes().startswith(b"not a database")


def test_a_foreign_database_is_refused(tmp_path: Path) -> None:
    """A database of another program is not taken over."""
    foreign = sqlite3.connect(tmp_path / FILE_NAME)
    foreign.execute("CREATE TABLE recipes (name)")
    foreign.commit()
    foreign.close()
    with pytest.raises(DataError, match="another program"):
        Store.open(tmp_path)


def test_a_damaged_page_is_told(tmp_path: Path) -> None:
    """Damage in the middle of the file is an error in words, not a wrong answer."""
    with Store.open(tmp_path) as store:
        for number in range(300):
            store.dogs.add(f"dog {number}")
    path = tmp_path / FILE_NAME
    content = bytearray(path.read_bytes())
    for place in range(8192, len(content), 4096):
        content[place : place + 64] = b"\xff" * 64
    path.write_bytes(content)
    with pytest.raises(DataError, match="handsfree restore"), Store.open(tmp_path) as store:
        store.dogs.all(retired=True)


def test_a_full_disk_is_told_and_nothing_is_lost(tmp_path: Path) -> None:
    """When SQLite finds no room, the message says so, and what was stored before is there."""
    file = RecordsFile(tmp_path / FILE_NAME)
    store = Store(file)
    dog = store.dogs.add("Rex")
    (pages,) = file.db.execute("PRAGMA page_count").fetchone()
    file.db.execute(f"PRAGMA max_page_count = {pages}")  # SQLite then says what a full disk says
    with pytest.raises(DataError, match="is full"):
        store.dogs.add("Too long", known=("x" * 100_000,))
    assert store.dogs.get(dog.id).name == "Rex"
    file.db.execute("PRAGMA max_page_count = 1000000")
    assert store.dogs.add("After").name == "After"
    store.close()


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    """A data folder below a file is an error in words."""
    (tmp_path / "file").write_text("x")
    with pytest.raises(DataError, match="--data"):
        Store.open(tmp_path / "file" / "data")


@given(
    st.datetimes(
        min_value=datetime(1980, 1, 2),
        max_value=datetime(2200, 1, 1),
        timezones=st.timezones(no_cache=False),
    )
)
def test_times_go_through_unchanged(when: datetime) -> None:
    """A time comes back as the same instant with the same local clock reading."""
    stamp = to_stamp(when)
    back = from_stamp(stamp.at, stamp.offset_min)
    assert back.astimezone(UTC) == when.astimezone(UTC)  # across zones == balks at folds
    assert abs(back.replace(tzinfo=None) - when.replace(tzinfo=None)).total_seconds() < 60


def test_stamps_sort_as_time_does() -> None:
    """Stored times sort as text in the order of the instants, whatever the offset."""
    early = datetime.fromisoformat("2026-03-14T23:30:00+02:00")
    late = datetime.fromisoformat("2026-03-14T22:00:00+00:00")
    assert to_stamp(early).at < to_stamp(late).at
