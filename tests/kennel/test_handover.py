"""The handover, its page, who was told, and what is removed for good."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from handsfree.commands.main import main
from handsfree.dialogue.actions import Confirmed, Record, Status
from handsfree.errors import CallerError
from handsfree.kennel.day_page import day_page
from handsfree.kennel.handover import Handover, gather
from handsfree.kennel.importing import take_roster
from handsfree.kennel.model import DoseOutcome
from handsfree.kennel.roster_csv import read_roster
from handsfree.records import Store, Versions
from handsfree.records.model import Outcome
from handsfree.records.retention import remove, would_remove

NOW = datetime(2026, 3, 14, 18, 0, tzinfo=UTC)
ROSTER = "name,pen,chip,owner,owner_phone\nRex,1,826000000000001,<Kim>,01632 960200\nBella,2,,,\n"


def observe(store: Store, name: str, item: str, value: str, person_id: str | None = None) -> str:
    """Store an exam with one answer; return its key."""
    exam = store.exams.begin(
        store.dogs.find(name).id, person_id=person_id, routine="kennel",
        versions=Versions(protocol="1", grammars="g", engine="none"),
    )  # fmt: skip
    store.exams.record(
        exam.id,
        Record(
            ref=1, item=item, status=Status.OBSERVED, value=value, confirmed=Confirmed.CONFIRMED
        ),
    )
    store.exams.finish(exam.id, Outcome.COMPLETE)
    return exam.id


@pytest.fixture
def store(tmp_path: Path) -> Store:
    """Return a store with two dogs in two pens of one row."""
    opened = Store.open(tmp_path / "data", clock=lambda: NOW)
    take_roster(opened, read_roster(ROSTER), dry_run=False)
    return opened


def handed(store: Store) -> Handover:
    """Return the handover of the last day."""
    return gather(store, since=NOW - timedelta(days=1), now=NOW, last_synced=None, stations=2)


def test_what_is_handed_over_names_each_dog(store: Store) -> None:
    """New signs, an outbreak in the second dog, who was not seen, medicines and sharing."""
    observe(store, "Rex", "noticed.cough", "often")
    assert dict(handed(store).parts)["Outbreak alarms"] == ()
    observe(store, "Bella", "noticed.cough", "often")
    rex = store.dogs.find("Rex").id
    store.kennel.add_medicine(
        rex, "Carprofen", amount="1 tablet", interval_h=12, set_by="Dr Reed", begins=NOW.date()
    )
    parts = dict(handed(store).parts)
    assert "2 dogs with cough" in parts["Outbreak alarms"][0]
    assert parts["New since the last shift"] == ("Rex: cough.", "Bella: cough.")
    assert parts["Not yet seen"] == ("Rex in A 1.", "Bella in A 2.")
    assert "Carprofen, 1 tablet, due, none stored" in parts["Medicines due or missed"][0]
    assert "last shared: never" in parts["Medicines due or missed"][1]
    assert "give " not in " ".join(handed(store).sentences()).lower()


def test_two_people_that_differ_are_both_shown(store: Store) -> None:
    """No answer overwrites another."""
    one, two = store.people.add("Kim").id, store.people.add("Robin").id
    observe(store, "Rex", "kennel.eaten", "all", one)
    observe(store, "Rex", "kennel.eaten", "none", two)
    (line,) = dict(handed(store).parts)["Two answers that differ"]
    assert "Ate all by Kim and Ate nothing by Robin; not settled, the worse counts" in line


def test_the_page_has_what_a_register_asks_and_steers_no_browser(store: Store) -> None:
    """Chip, contacts, answers; text of people is never markup; what was not seen says so."""
    observe(store, "Rex", "kennel.eaten", "all")
    medicine = store.kennel.add_medicine(
        store.dogs.find("Rex").id, "Carprofen", amount="1 tablet", interval_h=12,
        set_by="Dr Reed", begins=NOW.date(),
    )  # fmt: skip
    store.rounds.dose(
        medicine.id, medicine.dog_id, DoseOutcome.GIVEN, amount="1 tablet", given_at=NOW
    )
    page = day_page(store, handed(store), signed="Kim & Robin")
    assert "826000000000001" in page
    assert "&lt;Kim&gt;" in page
    assert "Kim &amp; Robin" in page
    assert "Carprofen 1 tablet: given" in page
    assert "not observed" in page


def test_a_finding_comes_back_until_acknowledged(store: Store) -> None:
    """Told is not acknowledged."""
    exam_id = observe(store, "Rex", "watch.breathing", "hard")
    fired = [{"rule": "r1", "level": "now", "say": "Hard breathing cannot wait."}]
    store.results.keep(exam_id, rules="1", level="now", body={"fired": fired})
    rex = store.dogs.find("Rex").id
    assert "Nobody was told" in dict(handed(store).parts)["Cannot wait, not acknowledged"][0]
    store.rounds.tell(rex, exam_id, "r1", "Dr Reed", told_at="17:50")
    assert "Dr Reed was told at 17:50" in " ".join(handed(store).sentences())
    store.rounds.tell(rex, exam_id, "r1", "Dr Reed", acknowledged=True)
    assert store.rounds.open_findings() == ()


def test_old_records_go_only_on_demand_and_never_too_soon(tmp_path: Path) -> None:
    """What would go is said first; three years at least; nothing else can delete."""
    old = Store.open(tmp_path, clock=lambda: NOW - timedelta(days=5 * 365))
    old.dogs.add("Rex")
    observe(old, "Rex", "kennel.eaten", "all")
    old.close()
    with Store.open(tmp_path, clock=lambda: NOW) as store:
        kept = observe(store, "Rex", "kennel.eaten", "most")
        with pytest.raises(CallerError, match="at least 3"):
            would_remove(store, 2)
        told = would_remove(store, 3)
        assert told["answers"] == 1
        assert remove(store, 3) == told
        assert would_remove(store, 3) == {}
        assert len(store.exams.answers(kept)) == 1
        with pytest.raises(sqlite3.IntegrityError):
            store.file.db.conn.execute("DELETE FROM answers")


def test_the_command_prints_signs_and_writes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Printed, written and signed; the next handover begins where this one ended."""
    data, page = tmp_path / "data", tmp_path / "day.html"
    with Store.open(data) as store:
        take_roster(store, read_roster(ROSTER), dry_run=False)
    head = ["--data", str(data), "handover"]
    assert main([*head, "--page", str(page), "--sign", "Kim"]) == 0
    out = capsys.readouterr().out
    assert "Not yet seen: 2." in out
    assert "Signed: Kim." in out
    assert "Signed: Kim" in page.read_text(encoding="utf-8")
    assert main([*head, "--outbreak"]) == 0
    assert "No vomiting" in capsys.readouterr().out
    assert main([*head, "--remove-older-than", "3"]) == 0
    assert "Nothing is older" in capsys.readouterr().out
