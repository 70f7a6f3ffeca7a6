"""Which dog or site each row is about: one of every table, so that no new one is forgotten."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from handsfree.dialogue.actions import Confirm, Confirmed, LogFact, Measure
from handsfree.judging.care import CareFact
from handsfree.judging.gather import note_care
from handsfree.kennel.model import ContactKind, DoseOutcome, FlagKind
from handsfree.records import Store
from handsfree.records.settling import Difference
from handsfree.sync.outbox import SHARED
from handsfree.sync.scope import OPEN, Scope, scopes_of

from .deeds import observe

OPEN_TO_ALL = {"stations", "people", "sites", "clock_checks", "retentions"}
OF_A_SITE = {"kennel_rows", "pens", "rounds", "handovers"}
NOW = datetime(2026, 3, 14, 18, 0, tzinfo=UTC)


@pytest.fixture
def filled(tmp_path: Path) -> Store:
    """Return a store with at least one row in every shared table, of one dog and one site."""
    store = Store.open(tmp_path)
    kennel = store.kennel
    kim, robin = store.people.add("Kim"), store.people.add("Robin")
    site = kennel.add_site("North")
    row = kennel.add_row(site, "A")
    pen = kennel.add_pen(row, "1")
    dog = store.dogs.add("Rex")
    kennel.place(dog.id, pen.id)
    kennel.place(dog.id, None, site_id=site.id)
    kennel.stays.add(dog_id=dog.id, arrived_on=date(2026, 3, 1))
    kennel.add_contact(dog.id, ContactKind.OWNER, "Ash")
    medicine = kennel.add_medicine(
        dog.id, "Carprofen", amount="1", interval_h=12, set_by="Dr Reed", begins=date(2026, 3, 1)
    )
    store.rounds.dose(medicine.id, dog.id, DoseOutcome.GIVEN, amount="1", given_at=NOW)
    store.rounds.flag(dog.id, FlagKind.FULL_CHECK, "thin")
    store.rounds.bite(dog.id, date(2026, 3, 1), "Kim", "")
    store.lumps.add(dog.id, "left shoulder")
    store.weights.enter(dog.id, 20.0)
    store.photos.add(dog.id, item="coat.look", kind="image/png", width=1, height=1, data=b"x")
    note_care(store, dog.id, CareFact(task="worming", kind="done", day=date(2026, 3, 1)))
    exam = observe(store, dog.id, kim.id, kennel__eaten="all")
    observe(store, dog.id, robin.id, kennel__eaten="none")
    store.exams.confirm(exam, Confirm(ref=1, confirmed=Confirmed.CONFIRMED))
    store.exams.measure(
        exam,
        Measure(
            item="mouth.refill", kind="said", ordinal=1, stream="", samples=(), value=1.0, unit="s"
        ),
    )
    store.exams.fact(exam, LogFact(name="paused"))
    store.exams.log_event(exam, 0, "{}")
    (one,) = store.settling.differences()
    assert isinstance(one, Difference)
    store.settling.settle(one, one.answers[0].id, person_id=kim.id)
    for site_id, row_id in ((site.id, None), (None, row.id), (None, None)):
        key = store.rounds.begin(site_id=site_id, row_id=row_id, person_id=kim.id)
        store.rounds.note(key, "ended", person_id=kim.id)
        store.rounds.note(key, "seen", person_id=kim.id, dog_id=dog.id)
    store.rounds.tell(dog.id, exam, "r1", "Dr Reed")
    store.rounds.hand_over("Kim", {})
    store.settings.set("units", "metric")
    with store.transaction():
        for table, values in (
            ("clock_checks", {"server_ahead_s": 0.0, "round_trip_s": 0.0}),
            ("retentions", {"before": "", "removed": "{}"}),
        ):
            store.file.add(table, values, station_id=store.station_id, person_id=None)
    return store


def test_every_row_is_of_its_dog_or_site_or_open(filled: Store) -> None:
    """Nothing that is about a dog or a site is open, and nothing of them is without its key."""
    (dog,), (site,) = filled.dogs.all(), filled.kennel.sites.all()
    for table in SHARED:
        rows = filled.file.rows(f"SELECT * FROM {table}")
        assert rows, f"{table} has no row in this test: add one"
        for row in rows:
            scope = scopes_of(filled.file, table, [row])[row["id"]]
            if table == "edits":
                of_site = row["entity"] in ("row", "pen")
                is_open = row["entity"] in ("person", "site", "setting")
            else:
                of_site = table in OF_A_SITE or (table == "round_facts" and row["dog_id"] is None)
                is_open = table in OPEN_TO_ALL
            if is_open:
                assert scope == OPEN, (table, row)
            elif of_site:
                assert scope == Scope(site_id=site.id), (table, row)
            elif table == "placements":
                assert scope == Scope(dog_id=dog.id, site_id=site.id), (table, row)
            else:
                assert scope == Scope(dog_id=dog.id), (table, row)
    filled.close()


def test_what_is_not_known_is_not_open(filled: Store) -> None:
    """An edit of a kind that this program does not know, or of a thing that is not here."""
    for entity, key in (("walk", "x"), ("stay", "x"), ("pen", "x")):
        scopes = scopes_of(filled.file, "edits", [{"id": "1", "entity": entity, "entity_id": key}])
        assert scopes["1"] == Scope()
    filled.close()
