"""Sites kept apart on the server: a station sees and adds to its own, and a dog takes all along."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from contextlib import suppress
from datetime import date
from pathlib import Path

import psycopg
import pytest

from benchmarks._postgres import Server, cutting
from handsfree.commands.main import main
from handsfree.judging.gather import judge_shared
from handsfree.judging.rules import read_table
from handsfree.records import Store
from handsfree.sync.errors import ServerError
from handsfree.sync.outbox import SHARED, waiting
from handsfree.sync.station import schema_sql, share

from .deeds import observe
from .test_share import facts, ids, ids_at, work

ROLES = {"north": "North", "south": "South"}


class Chain:
    """A head office that sees every site, and a station at each of two sites."""

    def __init__(self, server: Server, folder: Path) -> None:
        self.server = server
        self.head = Store.open(folder / "head")
        self.sites = {name: self.head.kennel.add_site(name) for name in ROLES.values()}
        self.stations: dict[str, Store] = {}
        with psycopg.connect(server.keeper(), autocommit=True) as keeper:
            for role, name in ROLES.items():
                keeper.execute(f"DROP ROLE IF EXISTS {role}")
                keeper.execute(f"CREATE ROLE {role} LOGIN PASSWORD 's' IN ROLE handsfree_site")
                keeper.execute(
                    "INSERT INTO handsfree.members VALUES (%s, %s)", (role, self.sites[name].id)
                )
                row = self.head.kennel.add_row(self.sites[name], "A")
                self.head.kennel.add_pen(row, "1")
                self.stations[role] = Store.open(folder / role)
        self.share("head", "north", "south")

    def address(self, who: str, *, port: int | None = None) -> str:
        """Return the server's address for a station."""
        if who == "head":
            return self.server.address(port=port)
        return self.server.address(user=who, password="s", port=port)

    def store(self, who: str) -> Store:
        """Return a station's records."""
        return self.head if who == "head" else self.stations[who]

    def share(self, *who: str, batch: int = 50) -> None:
        """Let these share, one after another."""
        for one in who:
            share(self.store(one), self.address(one), batch=batch)

    def dog(self, who: str, name: str) -> str:
        """Store a dog in the pen of a site; return its key."""
        store = self.store(who)
        dog = store.dogs.add(name)
        store.kennel.stays.add(dog_id=dog.id, arrived_on=date(2026, 3, 1), feeding="200 g")
        store.kennel.place(dog.id, store.kennel.pen_named(f"{ROLES[who]}/A/1").id)
        return dog.id

    def close(self) -> None:
        """Close every station's records."""
        for store in (self.head, *self.stations.values()):
            store.close()


@pytest.fixture
def chain(server: Server, folders: Path) -> Iterator[Chain]:
    """Return a chain of two sites that have shared once."""
    made = Chain(server, folders)
    yield made
    made.close()


def about(store: Store, dog_id: str) -> set[str]:
    """Return the keys of all that a station holds of a dog."""
    held = {r["id"] for r in store.file.rows("SELECT id FROM edits WHERE entity_id = ?", (dog_id,))}
    for table in SHARED:
        columns = {row["name"] for row in store.file.rows(f"PRAGMA table_info({table})")}
        if "dog_id" in columns:
            held |= {
                row["id"]
                for row in store.file.rows(f"SELECT id FROM {table} WHERE dog_id = ?", (dog_id,))
            }
    return held


def test_a_station_sees_the_dogs_and_pens_of_its_own_sites(chain: Chain) -> None:
    """Neither dogs nor pens of another site come; the head office has both."""
    moss, rex = chain.dog("north", "Moss"), chain.dog("south", "Rex")
    chain.share("north", "south", "head", "north", "south")
    north, south = chain.stations["north"], chain.stations["south"]
    assert [dog.name for dog in north.dogs.all()] == ["Moss"]
    assert [dog.name for dog in south.dogs.all()] == ["Rex"]
    assert [dog.name for dog in chain.head.dogs.all()] == ["Moss", "Rex"]
    assert [pen.id for pen in north.kennel.pens.all()] == [chain.head.kennel.placed()[moss]]
    assert about(north, rex) == about(south, moss) == set()
    assert {site.name for site in south.kennel.sites.all()} == {"North", "South"}


def test_the_server_shows_a_role_nothing_else_whatever_it_asks(chain: Chain) -> None:
    """The same with plain SQL under the station's own role, by table, count and key."""
    moss, rex = chain.dog("north", "Moss"), chain.dog("south", "Rex")
    chain.share("north", "south")
    with psycopg.connect(chain.address("south"), autocommit=True) as desk:
        seen = {row[0] for row in desk.execute("SELECT DISTINCT dog_id::text FROM handsfree.facts")}
        assert seen == {rex, None}
        found = desk.execute("SELECT count(*) FROM handsfree.facts WHERE dog_id = %s", (moss,))
        assert found.fetchone() == (0,)
        sites = {row[0] for row in desk.execute("SELECT site_id::text FROM handsfree.dog_sites")}
        assert sites == {chain.sites["South"].id}
        for statement in (
            "INSERT INTO handsfree.members VALUES ('south', gen_random_uuid())",
            "SELECT * FROM handsfree.members",
            "UPDATE handsfree.dog_sites SET gone_seq = NULL",
            "UPDATE handsfree.facts SET open = true",
            "ALTER TABLE handsfree.facts DISABLE ROW LEVEL SECURITY",
            "SET ROLE handsfree_station",
            "INSERT INTO handsfree.facts (id, tab, station_id, open, body, sent_by) VALUES "
            "(gen_random_uuid(), 'x', gen_random_uuid(), false, '{}', 'north')",
        ):
            with pytest.raises(psycopg.errors.InsufficientPrivilege):
                desk.execute(statement)
        for column, key in (("dog_id", moss), ("site_id", chain.sites["North"].id)):
            with pytest.raises(psycopg.errors.InsufficientPrivilege, match="row-level security"):
                desk.execute(
                    f"INSERT INTO handsfree.facts (id, tab, station_id, open, body, {column}) "
                    "VALUES (gen_random_uuid(), 'x', gen_random_uuid(), false, '{}', %s)",
                    (key,),
                )


def test_a_dog_that_moves_takes_its_history_along_and_leaves_no_later_fact(chain: Chain) -> None:
    """To the other site and back: each site holds what there was until the dog left it."""
    moss = chain.dog("north", "Moss")
    north, south = chain.stations["north"], chain.stations["south"]
    for number in range(7):
        north.dogs.edit(moss, looks=f"grey {number}")
    chain.share("north")
    chain.dog("south", "Rex")
    chain.share("south")
    assert about(south, moss) == set()
    north.kennel.place(moss, None, site_id=chain.sites["South"].id)
    chain.share("north", "south", batch=3)
    assert about(south, moss) == about(north, moss)
    assert south.dogs.get(moss).looks == "grey 6"
    assert south.kennel.unplaced() == {moss: chain.sites["South"].id}
    assert north.kennel.elsewhere() == {moss}
    assert south.kennel.elsewhere() == frozenset()
    until = about(north, moss)
    south.kennel.place(moss, south.kennel.pen_named("South/A/1").id)
    south.dogs.edit(moss, looks="white")
    chain.share("south", "north", "head")
    assert about(north, moss) == until
    assert north.dogs.get(moss).looks == "grey 6"
    assert chain.head.dogs.get(moss).looks == "white"
    north.dogs.edit(moss, breed="collie")  # what it still had to say of the dog is taken
    south.kennel.place(moss, None, site_id=chain.sites["North"].id)
    chain.share("north", "south", "north")
    assert north.dogs.get(moss).looks == "white"
    assert about(north, moss) == about(south, moss)
    north.dogs.edit(moss, looks="black")
    chain.share("north", "south")
    assert south.dogs.get(moss).looks == "white"


def test_a_round_and_a_handover_belong_to_the_only_site_of_a_station(
    chain: Chain, folders: Path
) -> None:
    """Another desk of the site, with a role of its own, has them; the other site has not."""
    north = chain.stations["north"]
    key = north.rounds.begin(site_id=None, row_id=None, person_id=None)
    north.rounds.note(key, "ended", person_id=None)
    north.rounds.hand_over("Kim", {})
    chain.share("north", "south", "head")
    with psycopg.connect(chain.server.keeper(), autocommit=True) as keeper:
        keeper.execute("DROP ROLE IF EXISTS desk2")
        keeper.execute("CREATE ROLE desk2 LOGIN PASSWORD 's' IN ROLE handsfree_site")
        keeper.execute(
            "INSERT INTO handsfree.members VALUES ('desk2', %s)", (chain.sites["North"].id,)
        )
    with Store.open(folders / "desk2") as second:
        share(second, chain.address("desk2"))
        for table, held in (("rounds", 1), ("round_facts", 1), ("handovers", 1)):
            for store, count in ((second, held), (chain.head, held), (chain.stations["south"], 0)):
                assert len(store.file.rows(f"SELECT id FROM {table}")) == count


def test_a_late_placement_takes_no_dog_back(chain: Chain) -> None:
    """What a station stored before the dog moved on arrives later and moves it no more."""
    moss = chain.dog("north", "Moss")
    chain.share("north", "head")
    chain.stations["north"].kennel.place(moss, None, "walk")
    north = chain.stations["north"]
    north.kennel.place(moss, north.kennel.pen_named("North/A/1").id, "back")
    chain.head.kennel.place(moss, None, site_id=chain.sites["South"].id)
    chain.share("head", "north", "south")
    south = chain.stations["south"]
    assert moss in south.kennel.unplaced()
    south.dogs.edit(moss, looks="white")
    chain.share("south", "north")
    assert north.dogs.get(moss).looks == ""


def test_a_site_that_is_added_later_is_read_from_the_begin(chain: Chain, folders: Path) -> None:
    """A role without a site sees none and is told so; let to one, it reads all that was before."""
    chain.dog("north", "Moss")
    chain.share("north")
    with psycopg.connect(chain.server.keeper(), autocommit=True) as keeper:
        keeper.execute("DROP ROLE IF EXISTS guest")
        keeper.execute("CREATE ROLE guest LOGIN PASSWORD 's' IN ROLE handsfree_site")
        with Store.open(folders / "guest") as guest:
            done = share(guest, chain.address("guest"))
            assert "names no site" in done.warnings[0]
            assert guest.dogs.all() == ()
            keeper.execute(
                "INSERT INTO handsfree.members VALUES ('guest', %s)", (chain.sites["North"].id,)
            )
            assert not share(guest, chain.address("guest")).warnings
            assert [dog.name for dog in guest.dogs.all()] == ["Moss"]


def test_what_a_role_may_not_add_is_said_and_stays(chain: Chain, folders: Path) -> None:
    """A site that the keeper has not let this role to: nothing is lost, and it goes on then."""
    south = chain.stations["south"]
    site = south.kennel.add_site("West")
    south.kennel.add_row(site, "A")
    with pytest.raises(ServerError, match=r"adds the site to the role.*Nothing was lost"):
        chain.share("south")
    assert waiting(south.file) > 0
    with psycopg.connect(chain.server.keeper(), autocommit=True) as keeper:
        keeper.execute("INSERT INTO handsfree.members VALUES ('south', %s)", (site.id,))
    chain.share("south")
    assert waiting(south.file) == 0


def test_what_others_add_is_not_read_over_again(chain: Chain) -> None:
    """A quiet site's place in the server's numbers moves on with the facts it does not see."""
    for number in range(5):
        chain.dog("north", f"Dog {number}")
    chain.share("north", "south")
    with psycopg.connect(chain.server.keeper()) as keeper:
        (newest,) = keeper.execute("SELECT max(seq) FROM handsfree.facts").fetchone() or (0,)
    cursor = chain.stations["south"].file.one("SELECT value FROM sync_state WHERE name = 'cursor'")
    assert cursor is not None
    assert int(cursor["value"]) == newest


@pytest.mark.parametrize("seed", [1, 2])
def test_random_work_moves_and_cut_lines_keep_sites_apart(chain: Chain, seed: int) -> None:
    """In the end the head office holds everything, and each site all of the dogs that are there.

    Of a dog that is not there a site holds only what it made or what was made before it left.
    """
    chance = random.Random(seed)
    everybody = ["head", "north", "south"]
    seen: dict[str, set[str]] = {"north": set(), "south": set()}
    home: dict[str, str] = {}
    for turn in range(30):
        who = chance.choice(["north", "south"])
        store = chain.store(who)
        here = [dog for dog, at in home.items() if at == who]
        if not here or chance.random() < 0.2:
            home[chain.dog(who, f"Dog {turn}")] = who
        elif chance.random() < 0.3:
            to = "south" if who == "north" else "north"
            moved = chance.choice(here)
            chain.share(who, to)  # a dog is handed over between sites that have shared
            store.kennel.place(moved, None, site_id=chain.sites[ROLES[to]].id)
            chain.share(who, to)
            home[moved] = to
        else:
            store.dogs.edit(chance.choice(here), looks=str(chance.random()))
        for site in seen:
            seen[site] |= {dog for dog, at in home.items() if at == site}
        one = chance.choice(everybody)
        if chance.random() < 0.4:
            with (
                cutting(chain.server.port, chance.randrange(200, 20_000)) as port,
                suppress(ServerError),
            ):
                share(chain.store(one), chain.address(one, port=port), batch=chance.choice([1, 9]))
    chain.share(*everybody, batch=7)
    chain.share(*everybody)
    assert ids(chain.head) == ids_at(chain.server)
    for site in seen:
        store = chain.stations[site]
        assert {dog.id for dog in store.dogs.all()} == seen[site]
        for dog, at in home.items():
            if at == site:
                assert about(store, dog) == about(chain.head, dog)
            else:
                assert about(store, dog) <= about(chain.head, dog)


def test_a_server_of_the_form_before_keeps_what_it_has(server: Server, folders: Path) -> None:
    """The script puts facts of the first form aside; stations offer all they hold again."""
    with (
        psycopg.connect(server.keeper(), autocommit=True) as keeper,
        Store.open(folders / "a") as a,
    ):
        for _ in range(3):
            work(a, random.Random(5))
        share(a, server.address())
        before = ids_at(server)
        keeper.execute("DROP TABLE IF EXISTS handsfree.facts_1")
        keeper.execute("DROP TABLE handsfree.facts, handsfree.dog_sites, handsfree.members CASCADE")
        keeper.execute(
            "CREATE TABLE handsfree.facts (seq bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY, "
            "id uuid NOT NULL UNIQUE, tab text, station_id uuid, arrived timestamptz, body json)"
        )
        keeper.execute("INSERT INTO handsfree.facts (id, tab) VALUES (gen_random_uuid(), 'x')")
        keeper.execute("UPDATE handsfree.about SET form = 1")
        with pytest.raises(ServerError, match="keeper must update it"):
            share(a, server.address())
        for _ in range(2):  # run twice it changes nothing more
            keeper.execute(schema_sql())
        assert keeper.execute("SELECT count(*) FROM handsfree.facts_1").fetchone() == (1,)
        share(a, server.address())
        assert before <= ids_at(server)
        with Store.open(folders / "b") as b:
            share(b, server.address())
            assert facts(a) <= facts(b)


def test_a_photo_arrives_byte_for_byte_in_small_batches(server: Server, folders: Path) -> None:
    """Photos go out and come in a few at a time, as they are."""
    with Store.open(folders / "a") as a, Store.open(folders / "b") as b:
        dog = a.dogs.add("Moss")
        pictures = [bytes([number, 0, 255]) * 50 for number in range(20)]
        for picture in pictures:
            a.photos.add(
                dog.id, item="coat.look", kind="image/png", width=1, height=1, data=picture
            )
        points: list[str] = []
        share(a, server.address(), step=points.append)
        assert points.count("sent") >= 3
        points.clear()
        share(b, server.address(), step=points.append)
        assert points.count("received") >= 3
        assert sorted(photo.data for photo in b.photos.of_dog(dog.id)) == sorted(pictures)


def test_differing_answers_are_judged_anew_after_sharing(server: Server, folders: Path) -> None:
    """Each station judged its own; after sharing both come to the worse, and stay so."""
    with Store.open(folders / "a") as a, Store.open(folders / "b") as b:
        dog = a.dogs.add("Rex").id
        kim, robin = a.people.add("Kim").id, a.people.add("Robin").id
        for store in (a, b):
            share(store, server.address())
        well = observe(a, dog, kim, watch__breathing="easy")
        ill = observe(b, dog, robin, watch__breathing="hard")
        for store in (a, b, a):
            share(store, server.address())
        assert a.settling.waiting() != ()
        assert set(judge_shared(a, read_table())) == {well, ill}
        assert a.settling.waiting() == ()
        assert a.results.of_exam(well)[0].level == "now"
        for store in (a, b, a, b):
            share(store, server.address())
            again = judge_shared(store, read_table())
        assert again == ()
        assert b.results.of_exam(well)[0].level == "now"
        for one in a.rounds.open_findings():
            assert one in b.rounds.open_findings()


def test_the_sites_and_how_to_let_a_role_to_one_are_printed(
    folders: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The keys are those of the records; the statement is one that the keeper can run."""
    data = ["--data", str(folders / "a")]
    assert main([*data, "sync", "--sites"]) == 0
    assert "no site yet" in capsys.readouterr().out
    with Store.open(folders / "a") as store:
        key = store.kennel.add_site("North").id
    assert main([*data, "sync", "--sites"]) == 0
    out = capsys.readouterr().out
    assert f"North: {key}" in out
    assert re.search(rf"INSERT INTO handsfree\.members VALUES \('ROLE', '{key}'\);", out)
