"""Stations share through a real server, are cut and killed, and hold the same facts in the end."""

from __future__ import annotations

import random
import subprocess
import sys
from collections.abc import Callable, Mapping
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path

import psycopg
import pytest

from benchmarks._postgres import Server, cutting
from handsfree.dialogue.actions import Confirmed, Record, Status
from handsfree.records import Store, Versions
from handsfree.records.model import Outcome
from handsfree.records.retention import remove
from handsfree.sync.errors import ServerError
from handsfree.sync.outbox import HEADS_ONLY, SHARED, waiting
from handsfree.sync.station import FORM, share

Facts = set[tuple[object, ...]]
_NOT_ALIKE = {"own", "ended_at", "ended_offset_min"}
"""What each station holds for itself: which station it is, and the microsecond of an end."""


def facts(store: Store) -> Facts:
    """Return every shared row of a station, standing rows with what they hold."""
    return {
        (table, *sorted((k, v) for k, v in row.items() if k not in _NOT_ALIKE))
        for table in SHARED
        for row in store.file.rows(f"SELECT * FROM {table}")
    }


def ids(store: Store) -> set[str]:
    """Return the keys of every shared row."""
    return {r["id"] for t in SHARED for r in store.file.rows(f"SELECT id FROM {t}")}


def ids_at(server: Server) -> set[str]:
    """Return the keys of every fact of the server."""
    with psycopg.connect(server.keeper()) as keeper:
        return {row[0] for row in keeper.execute("SELECT id::text FROM handsfree.facts")}


def work(store: Store, chance: random.Random) -> None:
    """Do something that people do: a dog, an edit, a place, an exam with answers."""
    dogs = store.dogs.all()
    what = chance.choice(["dog", "edit", "place", "exam", "exam"]) if dogs else "dog"
    if what == "dog":
        store.dogs.add(f"Dog {chance.randrange(99)}", breed="collie\x00\N{DOG}")
    elif what == "edit":
        store.dogs.edit(chance.choice(dogs).id, looks=str(chance.random()))
    elif what == "place":
        store.kennel.place(chance.choice(dogs).id, None)
    else:
        exam = store.exams.begin(
            chance.choice(dogs).id, person_id=None, routine="glance",
            versions=Versions(protocol="1", grammars="g", engine="none"),
        )  # fmt: skip
        for ref in range(1, chance.randrange(2, 5)):
            store.exams.record(
                exam.id,
                Record(
                    ref=ref, item="kennel.eaten", status=Status.OBSERVED, value="all", words="all",
                    stream="s", start=0, end=1, by="keys", confirmed=Confirmed.CONFIRMED,
                ),
            )  # fmt: skip
        store.exams.finish(exam.id, Outcome.COMPLETE)


def all_alike(server: Server, stores: Mapping[int, Store], confirmed: set[str]) -> None:
    """Let everybody share twice; then all hold the same, and all that was ever stored."""
    for _ in range(2):
        for store in stores.values():
            share(store, server.address(), batch=50)
    whole = [facts(store) for store in stores.values()]
    assert all(one == whole[0] for one in whole)
    assert confirmed <= ids(stores[0]) == ids_at(server)
    assert all(waiting(store.file) == 0 for store in stores.values())


@pytest.mark.parametrize(("stations", "turns"), [(2, 30), (20, 40)])
def test_stations_in_any_order_hold_the_same_facts(
    server: Server, folders: Path, stations: int, turns: int
) -> None:
    """Work and sharing in random order; clocks days apart; cut lines between."""
    chance = random.Random(stations)
    hours = [chance.choice([0, 0, 26, -26]) for _ in range(stations)]

    def clock(ahead_h: int) -> Callable[[], datetime]:
        return lambda: datetime.now().astimezone() + timedelta(hours=ahead_h)

    stores = {n: Store.open(folders / str(n), clock=clock(hours[n])) for n in range(stations)}
    confirmed: set[str] = set()
    for _ in range(turns):
        store = stores[chance.randrange(stations)]
        for _ in range(chance.randrange(4)):
            work(store, chance)
        confirmed |= ids(store)
        if chance.random() < 0.4:
            with (
                cutting(server.port, chance.randrange(200, 30_000)) as port,
                suppress(ServerError),
            ):
                share(store, server.address(port=port), batch=chance.choice([1, 7, 50]))
        elif chance.random() < 0.7:
            share(store, server.address(), batch=chance.choice([3, 20, 500]))
    all_alike(server, stores, confirmed)
    for store in stores.values():
        store.close()


_CHILD = """
import os, sys
from handsfree.records import Store
from handsfree.sync.station import FORM, share
left = int(sys.argv[3])
def step(point):
    global left
    left -= 1
    if left < 0:
        os._exit(9)
with Store.open(sys.argv[1]) as store:
    share(store, sys.argv[2], batch=5, step=step)
"""


def test_killed_in_the_middle_nothing_is_lost_or_doubled(server: Server, folders: Path) -> None:
    """Ended at each point between the two sides' transactions, a station goes on where it was."""
    chance = random.Random(4)
    for n in range(2):
        with Store.open(folders / str(n)) as store:
            for _ in range(8):
                work(store, chance)
    codes = []
    for point in range(6):
        for n in range(2):
            done = subprocess.run(
                [sys.executable, "-c", _CHILD, str(folders / str(n)), server.address(), str(point)],
                timeout=60, check=False,
            )  # fmt: skip
            codes.append(done.returncode)
    assert codes.count(9) >= 6
    stores = {n: Store.open(folders / str(n)) for n in range(2)}
    all_alike(server, stores, ids(stores[0]) | ids(stores[1]))
    for store in stores.values():
        store.close()


def test_edits_of_one_dog_merge_by_field_and_the_loser_stays(server: Server, folders: Path) -> None:
    """Two desks edit a dog while apart: different fields both hold, of one the later."""
    with Store.open(folders / "a") as a, Store.open(folders / "b") as b:
        dog = a.dogs.add("Moss")
        share(a, server.address())
        share(b, server.address())
        a.dogs.edit(dog.id, looks="black", breed="collie")
        b.dogs.edit(dog.id, looks="brown", owner="Kim")
        for store in (a, b, a):
            share(store, server.address())
        for store in (a, b):
            now = store.dogs.get(dog.id)
            assert (now.looks, now.breed, now.owner) == ("brown", "collie", "Kim")
            assert [e.value for e in store.dogs.history(dog.id, "looks")] == ["black", "brown"]


def test_a_lost_station_is_filled_again_and_an_old_server_too(
    server: Server, folders: Path
) -> None:
    """A new machine gets everything; a server brought back from a backup is offered everything."""
    chance = random.Random(7)
    with Store.open(folders / "a") as a:
        for _ in range(6):
            work(a, chance)
        share(a, server.address())
        with Store.open(folders / "new") as new:
            share(new, server.address())
            assert ids(a) <= ids(new)
            with psycopg.connect(server.keeper(), autocommit=True) as keeper:
                keeper.execute("TRUNCATE handsfree.facts RESTART IDENTITY")
            share(a, server.address())
            assert ids(a) <= ids_at(server)


def test_the_same_batch_twice_changes_nothing(server: Server, folders: Path) -> None:
    """A replayed batch, on either side, is passed over."""
    with Store.open(folders / "a") as a:
        a.dogs.add("Moss")
        share(a, server.address())
        before = facts(a), ids_at(server)
        with a.file.writing():
            a.file.db.conn.execute("UPDATE sync_state SET value = '0' WHERE name = 'cursor'")
            for table in sorted(HEADS_ONLY | {"edits"}):
                a.file.db.conn.execute(
                    f"INSERT INTO sync_out (tab, row_id) SELECT '{table}', id FROM {table}"
                )
        done = share(a, server.address(), batch=1)
        assert (done.sent, done.received) == (0, 0)
        assert (facts(a), ids_at(server)) == before


def test_a_station_can_neither_change_nor_delete(server: Server, folders: Path) -> None:
    """The role of a station reads and adds, and no more."""
    with Store.open(folders / "a") as a:
        share(a, server.address())
    for statement in (
        "DELETE FROM handsfree.facts",
        "UPDATE handsfree.facts SET tab = ''",
        "TRUNCATE handsfree.facts",
        "UPDATE handsfree.about SET form = 9",
        "DROP TABLE handsfree.facts",
    ):
        with (
            psycopg.connect(server.address()) as desk,
            pytest.raises(psycopg.errors.InsufficientPrivilege),
        ):
            desk.execute(statement)


def test_what_goes_wrong_is_said_and_nothing_is_lost(server: Server, folders: Path) -> None:
    """Wrong password, nobody there, another version, no tables, no role, a full disk."""
    with Store.open(folders / "a") as a:
        a.dogs.add("Moss")

        def refused(address: str, words: str) -> None:
            with pytest.raises(ServerError, match=words) as caught:
                share(a, address)
            assert "Nothing was lost" in str(caught.value)
            assert "wrong1" not in str(caught.value)
            assert waiting(a.file) > 0

        refused(server.address(password="wrong1"), "password")
        refused(server.address(port=1), "cannot be reached")
        with psycopg.connect(server.keeper(), autocommit=True) as keeper:
            keeper.execute("UPDATE handsfree.about SET form = 99")
            refused(server.address(), "Update handsfree here")
            keeper.execute("UPDATE handsfree.about SET form = %s", (FORM,))
            keeper.execute("DROP ROLE IF EXISTS guest")
            keeper.execute("CREATE ROLE guest LOGIN PASSWORD 'g'")
            refused(server.address(user="guest", password="g"), "member of handsfree_station")
            keeper.execute(
                "CREATE OR REPLACE FUNCTION handsfree.full_disk() RETURNS trigger LANGUAGE plpgsql "
                "AS $$ BEGIN RAISE EXCEPTION 'could not extend file' USING ERRCODE='53100'; END $$"
            )
            keeper.execute(
                "CREATE TRIGGER full_disk BEFORE INSERT ON handsfree.facts "
                "EXECUTE FUNCTION handsfree.full_disk()"
            )
            refused(server.address(), "disk is full")
            keeper.execute("DROP TRIGGER full_disk ON handsfree.facts")
        assert share(a, server.address()).sent > 0


def test_rows_of_a_newer_program_are_held(server: Server, folders: Path) -> None:
    """A table or column that this program does not know waits for the update."""
    with psycopg.connect(server.keeper(), autocommit=True) as keeper:
        keeper.execute(
            "INSERT INTO handsfree.facts (id, tab, station_id, open, body) VALUES "
            "(gen_random_uuid(), 'walks', gen_random_uuid(), true, '{\"id\": \"x1\"}'), "
            "(gen_random_uuid(), 'flags', gen_random_uuid(), true, "
            '\'{"id": "x2", "moon": 1}\')'
        )
    with Store.open(folders / "a") as a:
        done = share(a, server.address())
        assert done.held == 2
        assert "newer" in done.warnings[0]


def test_a_clock_a_day_off_is_measured_and_told(server: Server, folders: Path) -> None:
    """The difference is stored once, and said when it matters."""
    with Store.open(folders / "a") as a:
        done = share(a, server.address())
        assert not done.warnings
        share(a, server.address())
        rows = a.file.rows("SELECT * FROM clock_checks")
        assert len(rows) == 1
        assert abs(rows[0]["server_ahead_s"]) < 60


def test_what_was_removed_for_good_does_not_come_back(server: Server, folders: Path) -> None:
    """The server still has it; this station takes it no more, and keeps where each dog is."""

    def long_ago() -> datetime:
        return datetime.now().astimezone() - timedelta(days=5 * 365)

    with Store.open(folders / "a", clock=long_ago) as old:
        dog = old.dogs.add("Moss")
        site = old.kennel.add_site("Home")
        pen = old.kennel.add_pen(old.kennel.add_row(site, "A"), "1")
        old.kennel.place(dog.id, pen.id)
        old.exams.begin(
            dog.id, person_id=None, routine="glance",
            versions=Versions(protocol="1", grammars="g", engine="none"),
        )  # fmt: skip
        share(old, server.address())
    with Store.open(folders / "a") as a:
        assert remove(a, 3)["exams"] == 1
        with a.file.writing():
            a.file.db.conn.execute("UPDATE sync_state SET value = '0' WHERE name = 'cursor'")
        share(a, server.address())
        assert a.exams.of_dog(dog.id) == ()
        assert a.kennel.placed() == {dog.id: pen.id}
