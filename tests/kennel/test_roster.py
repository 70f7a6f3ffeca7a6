"""The roster: pens, places, medicines, chips, and a roster from CSV; also from the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from handsfree.commands.main import main
from handsfree.errors import CallerError
from handsfree.kennel.chip import checked_chip, read_back
from handsfree.kennel.importing import take_roster
from handsfree.kennel.roster_csv import read_roster
from handsfree.kennel.which import which
from handsfree.records import Store

ROSTER = """name,pen,row,kind,chip,sex,owner,owner_phone
Rex,1,A,healthy,826000000000001,male,Kim Ash,01632 960200
Bella,1,A,healthy,826000000000002,female,,
Rex,2,A,healthy,,male,,
Moss,1,Q,isolation,956000000000003,male,,
"""


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("82600000000000", "too short"),
        ("8260000000000001", "too long"),
        ("000000000000001", "no country"),
        ("999000000000001", "test chip"),
        ("82600000000000x", "no chip number"),
        ("", "no chip number"),
    ],
)
def test_an_impossible_chip_number_is_refused_with_why(text: str, words: str) -> None:
    """ISO 11784: 15 digits, country or maker code first, 999 for tests (from memory)."""
    with pytest.raises(CallerError, match=words):
        checked_chip(text)


def test_a_chip_number_is_read_back_digit_by_digit() -> None:
    """Spaces are dropped, and three digits are said together."""
    digits = checked_chip("826 000-000.000 012")
    assert read_back(digits).endswith("zero one two")
    assert len(read_back(digits).replace(",", "").split()) == 15


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("name\nRex\n", "lacks pen"),
        ("name,pen,colour\nRex,1,red\n", "unknown colour"),
        ("name,pen\nRex,1\nRex,1\n", "there twice"),
        ("name,pen,chip\nRex,1,826000000000001\nRex,2,826000000000001\n", "in two pens"),
        ("name,pen,chip\nRex,1,12\n", "too short"),
        ("name,pen,born\nRex,1,soon\n", "year-month-day"),
        ("name,pen\nRex,1,2\n", "3 fields"),
        ("name,pen\n,1\n", "name is empty"),
        ("name,pen\n", "no dog"),
    ],
)
def test_a_wrong_roster_is_refused_with_line_and_why(text: str, words: str) -> None:
    """Every mistake is named, and a file with one changes nothing."""
    with pytest.raises(CallerError, match=words):
        read_roster(text)


def test_a_roster_is_taken_once_and_again_without_change(tmp_path: Path) -> None:
    """A dry run keeps nothing; the second taking finds every dog again."""
    lines = read_roster(ROSTER)
    with Store.open(tmp_path) as store:
        tried = take_roster(store, lines, dry_run=True)
        assert store.dogs.all() == ()
        assert take_roster(store, lines, dry_run=False) == tried
        assert len(store.dogs.all()) == 4
        assert take_roster(store, lines, dry_run=False) == ()
        assert len(store.kennel.placed()) == 4


def test_two_that_could_be_meant_are_both_named(tmp_path: Path) -> None:
    """A name of two dogs, and a pen with two, are never decided by the program."""
    with Store.open(tmp_path) as store:
        take_roster(store, read_roster(ROSTER), dry_run=False)
        dogs = store.dogs.all()
        assert len(which("rex", dogs).dogs) == 2
        pen = store.kennel.pen_named("A 1").id
        here = [d for d, p in store.kennel.placed().items() if p == pen]
        assert len(which("A 1", dogs, in_pen=here).dogs) == 2
        assert [d.name for d in which("956000000000003", dogs).dogs] == ["Moss"]


def test_a_move_keeps_the_earlier_place(tmp_path: Path) -> None:
    """Where a dog was stays in its history."""
    with Store.open(tmp_path) as store:
        take_roster(store, read_roster(ROSTER), dry_run=False)
        dog = store.dogs.find("Bella")
        store.kennel.place(dog.id, store.kennel.pen_named("Q 1").id, "coughs")
        assert [p.why for p in store.kennel.places(dog.id)] == ["roster", "coughs"]
        assert store.kennel.placed()[dog.id] == store.kennel.pen_named("Q/1").id


def test_the_commands_keep_a_roster(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Sites, pens, places, medicines and contacts by command, and what is wrong in words."""

    def run(*words: str) -> tuple[int, str]:
        code = main(["--data", str(tmp_path / "data"), *words])
        out, err = capsys.readouterr()
        return code, out + err

    assert run("kennel", "list")[1].startswith("No pen yet")
    assert run("kennel", "site", "Home")[0] == 0
    assert run("kennel", "site", "home")[0] == 2
    assert run("kennel", "pen", "A", "1", "2")[0] == 0
    assert run("dog", "add", "Rex")[0] == 0
    assert "Home/A/1" in run("kennel", "place", "Rex", "A 1")[1]
    assert "before in Home/A/1" in run("kennel", "place", "Rex", "2")[1]
    assert "has no dog" in run("kennel", "list", "--dog", "A 1")[1]
    assert "needs --amount" in run("kennel", "medicine", "Rex", "Carprofen")[1]
    code, text = run(
        "kennel", "medicine", "Rex", "Carprofen", "--amount", "1 tablet", "--every", "12",
        "--set-by", "Dr Reed",
    )  # fmt: skip
    assert code == 0
    assert "every 12 hours" in text
    assert run("kennel", "contact", "Rex", "owner", "Kim", "--phone", "01632 960200")[0] == 0
    told = run("kennel", "list", "--dog", "Rex")[1]
    assert "Carprofen" in told
    assert "Owner: Kim" in told
    file = tmp_path / "roster.csv"
    file.write_text(ROSTER, encoding="utf-8")
    assert "would be: new dog Moss" in run("kennel", "import", str(file), "--dry-run")[1]
    assert "Taken: 4 dogs" in run("kennel", "import", str(file))[1]
