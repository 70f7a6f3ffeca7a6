"""An invented dog in an empty store, and an exam of it."""

from __future__ import annotations

import pytest

from handsfree.records import Dog, Store, Versions

VERSIONS = Versions(protocol="1", grammars="abc", engine="none 0")


@pytest.fixture
def dog(store: Store) -> Dog:
    """Return an invented dog."""
    return store.dogs.add("Bramble", breed="lurcher")


@pytest.fixture
def exam_id(store: Store, dog: Dog) -> str:
    """Return the key of an exam that has just begun."""
    return store.exams.begin(dog.id, person_id=None, routine="quick", versions=VERSIONS).id
