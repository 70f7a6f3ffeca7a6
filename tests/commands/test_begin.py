"""The first run by keys, as its own process, and what it stores."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from handsfree.commands.begin import store_first_run
from handsfree.errors import CallerError
from handsfree.interview.first_run import FirstRun
from handsfree.protocol.subject import Neutered, Sex, Shape, Sight, Size
from handsfree.records import Store

COMMAND = [sys.executable, "-m", "handsfree.commands.main"]
LINES = "a bit\nright\nKim\nRex\nboy\nyes\n4\nmedium\nyes\nno\nyes\n01632 960 100\n"


def begin(data: Path, lines: str) -> subprocess.CompletedProcess[str]:
    """Run the first run with these lines typed."""
    return subprocess.run(
        [*COMMAND, "--data", str(data), "begin", "--typed"],
        input=lines, capture_output=True, text=True, timeout=60,
    )  # fmt: skip


def test_the_first_run_by_keys_is_stored(tmp_path: Path) -> None:
    """Person, dog and number are stored at the end, and readiness is told."""
    done = begin(tmp_path, f"{LINES}yes\n\n")
    assert done.returncode == 0, done.stderr
    assert "Stored: Kim, and Rex." in done.stdout
    assert "handsfree check Rex" in done.stdout
    with Store.open(tmp_path) as store:
        dog = store.dogs.find("Rex")
        person = store.people.find("Kim")
        assert store.settings.get().vet_number == "01632 960 100"
    assert (dog.sex, dog.neutered, dog.size) == (Sex.MALE, Neutered.YES, Size.MEDIUM)
    assert dog.shape is Shape.FLAT_FACED
    assert dog.has_bitten
    assert not dog.pigmented_gums
    assert person.sight is Sight.LOW


@pytest.mark.parametrize("lines", [LINES, f"{LINES}stop\n", "full\nstop\n", ""])
def test_nothing_is_stored_before_the_end(tmp_path: Path, lines: str) -> None:
    """A first run that breaks off leaves nothing behind, says so, and fails."""
    done = begin(tmp_path, lines)
    assert done.returncode == 1
    assert "Nothing was stored." in done.stdout
    with Store.open(tmp_path) as store:
        assert store.dogs.all() == ()
        assert store.people.all() == ()
        assert store.settings.get().vet_number is None


def test_all_or_nothing_is_stored(tmp_path: Path) -> None:
    """A number that cannot be stored takes person and dog back with it."""
    with Store.open(tmp_path) as store:
        with pytest.raises(CallerError):
            store_first_run(
                store,
                FirstRun(name="Kim", sight=Sight.FULL, pace=0, dog="Rex", vet_number="no number"),
            )
        assert store.dogs.all() == ()
        assert store.people.all() == ()


def test_who_is_known_already_is_not_added_twice(tmp_path: Path) -> None:
    """A second first run mends the person and the dog of that name."""
    first = FirstRun(name="Kim", sight=Sight.FULL, pace=0, dog="Rex")
    again = FirstRun(
        name="kim", sight=Sight.NONE, pace=3, dog="rex", known_dog=True,
        dog_fields={"sex": Sex.FEMALE},
    )  # fmt: skip
    with Store.open(tmp_path) as store:
        store_first_run(store, first)
        person, dog = store_first_run(store, again)
        assert len(store.people.all()) == 1
        assert len(store.dogs.all()) == 1
    assert (person.name, person.sight, person.rate_wpm) == ("Kim", Sight.NONE, 230)
    assert (dog.name, dog.sex) == ("Rex", Sex.FEMALE)


def test_another_dog_of_the_same_name_is_added(tmp_path: Path) -> None:
    """Two dogs may share a name."""
    with Store.open(tmp_path) as store:
        for _ in range(2):
            store_first_run(store, FirstRun(name="Kim", sight=Sight.FULL, pace=0, dog="Rex"))
        assert len(store.dogs.all()) == 2


def test_an_extreme_pace_stays_within_reach(tmp_path: Path) -> None:
    """The stored pace is one that the voice can take."""
    with Store.open(tmp_path) as store:
        person, _ = store_first_run(
            store, FirstRun(name="Kim", sight=Sight.FULL, pace=-6, dog="Rex")
        )
    assert person.rate_wpm == 160
