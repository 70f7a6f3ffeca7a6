"""A store in a folder of its own, with a clock that the test moves, and an invented dog."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest

from handsfree.records import Dog, Store, Versions

VERSIONS = Versions(protocol="1", grammars="abc", engine="none 0")


class MovedClock:
    """A clock that stands still until it is moved; two hours east of UTC."""

    def __init__(self) -> None:
        self.now = datetime(2026, 3, 14, 9, 0, tzinfo=timezone(timedelta(hours=2)))

    def __call__(self) -> datetime:
        """Return the time; a microsecond more at each look, as time does."""
        self.now += timedelta(microseconds=1)
        return self.now

    def move(self, **by: float) -> None:
        """Move on by a timedelta's arguments."""
        self.now += timedelta(**by)


@pytest.fixture
def clock() -> MovedClock:
    """Return a clock that the test moves."""
    return MovedClock()


@pytest.fixture
def store(tmp_path: Path, clock: MovedClock) -> Iterator[Store]:
    """Yield an empty store."""
    with Store.open(tmp_path / "data", clock=clock) as opened:
        yield opened


@pytest.fixture
def dog(store: Store) -> Dog:
    """Return an invented dog."""
    return store.dogs.add("Bramble", breed="lurcher")


@pytest.fixture
def exam_id(store: Store, dog: Dog) -> str:
    """Return the key of an exam that has just begun."""
    return store.exams.begin(dog.id, person_id=None, routine="quick", versions=VERSIONS).id
