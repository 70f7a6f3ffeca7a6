"""Dogs, people and settings by command."""

from __future__ import annotations

from datetime import date

import pytest

from handsfree.commands.dog_fields import parse_age, parse_birth
from handsfree.records.model import BirthPrecision

from .conftest import Command


def key_in(text: str) -> str:
    """Return the key in brackets of a line."""
    return text.partition("[")[2].partition("]")[0]


def test_a_dog_is_added_shown_edited_and_retired(command: Command) -> None:
    """A dog's whole way through the commands, with its history at the end."""
    command("person", "add", "Kim")
    done = command(
        "dog", "add", "Bramble", "--born", "2021-05", "--sex", "female", "--neutered", "no",
        "--breed", "lurcher", "--shape", "sighthound", "--size", "large", "--missing", "left_eye",
        "tail", "--no-dewclaws", "--pigmented-gums", "--season-began", "2026-02-01",
        "--conditions", "heart", "--medicines", "pain relief", "--muzzle-trained",
        "--handling", "slow hands", "--known", "a wart", "grey muzzle", "--chip", "276098100000001",
        "--owner", "Lee", "--weight", "50 lb", "--by", "Kim",
    )  # fmt: skip
    assert (done.code, done.err) == (0, "")
    assert "female entire" in done.out
    shown = command("dog", "show", "bramble").out
    for text in (
        "born: 2021-05", "22.7 kg", "size: large", "shape: sighthound", "lacks: left eye, tail",
        "dewclaws: none", "gums dark by nature: yes", "2026-02-01", "conditions: heart",
        "medicines: pain_relief", "muzzle calmly: yes", "slow hands", "a wart; grey muzzle",
        "last check: none yet",
    ):  # fmt: skip
        assert text in shown, text
    assert command("dog", "edit", "Bramble", "--owner", "Mo", "--clear", "chip").code == 0
    history = command("dog", "show", "Bramble", "--history").out
    assert "by Kim: owner = Lee" in history
    assert "owner = Mo" in history
    assert "chip = None" in history
    assert command("dog", "retire", "Bramble", "--why", "moved away").code == 0
    assert command("dog", "list").out.startswith("No dogs yet")
    assert "moved away" in command("dog", "list", "--retired").out
    again = command("dog", "retire", "Bramble")
    assert again.code == 2
    assert "is retired" in again.err
    assert command("dog", "retire", "Bramble", "--back").code == 0
    assert "Bramble" in command("dog", "list").out


def test_two_dogs_of_one_name_are_told_apart(command: Command) -> None:
    """The second of a name is told of the first; the name alone then asks which; keys decide."""
    first = key_in(command("dog", "add", "Rex", "--breed", "collie").out)
    second = command("dog", "add", "rex", "--breed", "terrier").out
    assert "another dog of that name" in second
    assert first in second
    asked = command("dog", "show", "Rex")
    assert asked.code == 2
    assert "collie" in asked.err
    assert "terrier" in asked.err
    assert "collie" in command("dog", "show", first).out


def test_weights_and_lumps_are_entered(command: Command) -> None:
    """A weight in pounds and a lump with a vet's result are kept and shown."""
    command("dog", "add", "Fern")
    assert command("dog", "weigh", "Fern", "40lb", "--on", "2026-01-05").code == 0
    assert "18.1 kg on 2026-01-05" in command("dog", "show", "Fern").out
    assert command("dog", "weigh", "Fern", "18", "--on", "2190-01-05").code == 2
    assert command("dog", "lump", "Fern").out == "Fern has no known lump.\n"
    assert "lump1: the left chest" in command("dog", "lump", "Fern", "--add", "the left chest").out
    assert "vet: harmless" in command("dog", "lump", "Fern", "--vet", "lump1", "harmless").out
    wrong = command("dog", "lump", "Fern", "--gone", "lump9")
    assert (wrong.code, "it has lump1" in wrong.err) == (2, True)
    assert "no known lump" in command("dog", "lump", "Fern", "--gone", "lump1").out


def test_units_are_those_of_the_settings(command: Command) -> None:
    """With imperial units a bare number is pounds, and weights are shown in pounds."""
    command("settings", "set", "units", "imperial")
    command("dog", "add", "Fern", "--weight", "40")
    assert "weight: 40 lb" in command("dog", "show", "Fern").out


def test_nothing_to_change_is_an_error(command: Command) -> None:
    """An edit that names nothing, or what cannot be cleared, is refused."""
    command("dog", "add", "Fern")
    command("person", "add", "Kim")
    assert command("dog", "edit", "Fern").code == 2
    assert command("dog", "edit", "Fern", "--clear", "name").code == 2
    assert command("person", "edit", "Kim").code == 2


def test_people_are_added_edited_and_disabled(command: Command) -> None:
    """A person's whole way through the commands."""
    done = command("person", "add", "Kim", "--sight", "low", "--rate", "220", "--brief")
    assert (done.code, "sight low" in done.out) == (0, True)
    assert command("person", "edit", "Kim", "--sight", "none", "--clear", "rate").code == 0
    assert "sight none" in command("person", "list").out
    assert command("person", "disable", "Kim").code == 0
    assert command("person", "list").out.startswith("Nobody yet")
    assert "disabled" in command("person", "list", "--disabled").out
    assert command("person", "disable", "Kim", "--back").code == 0
    assert "Kim" in command("person", "list").out


def test_settings_warn_until_a_vet_number_is_set(command: Command) -> None:
    """The missing number is told with the command that sets it; it can be unset again."""
    assert "No vet number is set" in command("settings").out
    assert "01234 567890" in command("settings", "set", "vet-number", "01234 567890").out
    shown = command("settings", "show").out
    assert "No vet number" not in shown
    assert "vet_number: 01234 567890" in shown
    assert "not set" in command("settings", "unset", "vet_number").out
    assert "No vet number is set" in command("settings").out


@pytest.mark.parametrize(
    "text, birth, precision",
    [
        ("2021-05-14", date(2021, 5, 14), BirthPrecision.DAY),
        ("2021-05", date(2021, 5, 15), BirthPrecision.MONTH),
        ("2021", date(2021, 7, 1), BirthPrecision.YEAR),
    ],
)
def test_birth_dates(text: str, birth: date, precision: BirthPrecision) -> None:
    """What is not known of a birth date is its middle, and is called so."""
    assert parse_birth(text) == {"birth": birth, "birth_precision": precision}


@pytest.mark.parametrize(
    "text, birth, precision",
    [
        ("9 weeks", date(2026, 1, 10), BirthPrecision.MONTH),
        ("about 1 year", date(2025, 3, 14), BirthPrecision.YEAR),
        ("7 months", date(2025, 8, 13), BirthPrecision.MONTH),
    ],
)
def test_ages(text: str, birth: date, precision: BirthPrecision) -> None:
    """An age is counted back from the day."""
    assert parse_age(text, date(2026, 3, 14)) == {"birth": birth, "birth_precision": precision}
