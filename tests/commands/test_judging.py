"""``rules``, ``items``, ``judge`` and ``care``."""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path

import pytest

from handsfree.dialogue.actions import Confirm, Record, Status
from handsfree.judging.rules import read_table
from handsfree.records import Store, Versions

from .conftest import Command

CASE = {
    "dog": {"age_months": 40, "sex": "male", "neutered": True, "weight_kg": 20.0, "known": []},
    "findings": {"now.gums": "pale", "mouth.teeth": "tartar"},
}


@pytest.fixture
def case(tmp_path: Path) -> Path:
    """Return a case file."""
    file = tmp_path / "case.json"
    file.write_text(json.dumps(CASE), encoding="utf-8")
    return file


def test_rules_prints_the_table_and_what_awaits_a_vet(command: Command) -> None:
    """Each row with its source, and a count at the end."""
    done = command("rules")
    assert done.code == 0
    assert "gums_pale [now] Pale gums cannot wait" in done.out
    assert "our own judgement, awaiting a vet." in done.out.splitlines()[-1]


def test_rules_prints_one_row_whole(command: Command) -> None:
    """With its condition, advice, source and basis."""
    done = command("rules", "gums_pale")
    assert "when: now.gums is pale or white" in done.out
    assert "source: Merck" in done.out


def test_rules_as_json(command: Command) -> None:
    """A list of objects; of one row if named."""
    assert len(json.loads(command("rules", "--json").out)) == len(read_table().rules)
    (row,) = json.loads(command("rules", "gums_pale", "--json").out)
    assert row["id"] == "gums_pale"


def test_an_unknown_row_is_told_with_near_ones(command: Command) -> None:
    """A caller's error, in one line."""
    done = command("rules", "gum_pale")
    assert done.code == 2
    assert "Did you mean gums_pale" in done.err


def test_items_as_json_and_lines(command: Command) -> None:
    """Every item with values and units."""
    rows = {row["item"]: row for row in json.loads(command("items", "--json").out)}
    assert rows["weight.kg"]["unit"] == "kg"
    assert "tartar" in rows["mouth.teeth"]["values"]
    assert "mouth.teeth: clean*" in command("items").out


def test_judge_prints_level_rows_and_advice(command: Command, case: Path) -> None:
    """So that a vet can try the table."""
    done = command("judge", str(case))
    assert done.code == 0
    assert done.out.startswith("level: now\nfired: gums_pale (now), teeth_dirty (next_visit)\n")
    assert "Give nothing by mouth." in done.out
    spoken = command("judge", str(case), "--spoken").out
    assert spoken.startswith("Call a vet now: pale or white gums.")
    assert json.loads(command("judge", str(case), "--json").out)["level"] == "now"


def test_judge_tells_a_bad_file_in_words(command: Command, tmp_path: Path) -> None:
    """A caller's error and nothing else."""
    bad = tmp_path / "bad.json"
    bad.write_text('{"findings": {"mouth.teeth": "gold"}}')
    done = command("judge", str(bad))
    assert (done.code, done.out) == (2, "")
    assert "mouth.teeth has no value 'gold'" in done.err


def stored_exam(data: Path, **answers: str) -> str:
    """Store one finished exam of a dog called Bramble; return the exam's key."""
    with Store.open(data) as store:
        dog = next((d for d in store.dogs.all() if d.name == "Bramble"), None)
        dog = dog or store.dogs.add("Bramble")
        versions = Versions(protocol="1", grammars="a", engine="none 0")
        exam = store.exams.begin(dog.id, person_id=None, routine="quick", versions=versions)
        for ref, (item, value) in enumerate(answers.items(), start=1):
            record = Record(
                ref=ref, item=item.replace("__", "."), status=Status.OBSERVED, value=value
            )
            store.exams.record(exam.id, record)
            store.exams.confirm(exam.id, Confirm(ref=ref))
        store.exams.finish(exam.id, "complete")
        return exam.id


def test_a_stored_check_is_judged_again_and_both_results_stay(command: Command, data: Path) -> None:
    """Each with the version of the table that judged it."""
    exam = stored_exam(data, mouth__teeth="broken", now__gums="pink")
    for _ in range(2):
        done = command("judge", "--exam", exam)
        assert done.code == 0
        assert "tooth_broken (days)" in done.out
    with Store.open(data) as store:
        results = store.results.of_exam(exam)
    assert [r.level for r in results] == ["days", "days"]
    assert {r.rules for r in results} == {read_table().version}
    assert results[0].body["spoken"]
    assert command("judge", "--exam", "ffffff").code == 2


def test_care_prints_notes_and_changes(command: Command) -> None:
    """Done, own interval, a vet's day; each is kept."""
    command("dog", "add", "Bramble", "--age", "4 years")
    assert "due now" in command("care", "Bramble").out
    command("care", "Bramble", "--done", "nails")
    command("care", "Bramble", "--every", "nails", "21")
    rows = {r["task"]: r for r in json.loads(command("care", "Bramble", "--json").out)}
    assert rows["nails"]["last"] == date.today().isoformat()
    assert rows["nails"]["due"] == (date.today() + timedelta(days=21)).isoformat()
    assert rows["nails"]["own"] is True
    command("care", "Bramble", "--due", "vaccines", "2030-03-01")
    command("care", "Bramble", "--off", "ears")
    out = command("care", "Bramble", "--every", "nails", "default").out
    assert "due 2030-03-01" in out
    assert "[ears;" not in out
    assert "every 7 days; last" in out


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (("--done", "claws"), "no care task 'claws'"),
        (("--every", "nails", "0"), "is no interval"),
        (("--every", "nails", "often"), "is no interval"),
        (("--done", "nails", "--on", "2099-01-01"), "lies in the future"),
        (("--due", "nails", "soon"), "is no date"),
        (("--done", "nails", "--by", "Nobody"), "Nobody"),
    ],
)
def test_care_tells_what_cannot_be(
    command: Command, arguments: tuple[str, ...], named: str
) -> None:
    """A caller's error in one line; nothing is stored."""
    command("dog", "add", "Bramble")
    before = command("care", "Bramble", "--json").out
    done = command("care", "Bramble", *arguments)
    assert done.code == 2
    assert named in done.err
    assert command("care", "Bramble", "--json").out == before


def test_care_of_an_unknown_dog(command: Command) -> None:
    """The dog is named in the error."""
    done = command("care", "Ghost")
    assert done.code == 2
    assert "Ghost" in done.err
