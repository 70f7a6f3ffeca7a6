"""Dogs, people, settings, weights, lumps, and the subject made of them."""

from __future__ import annotations

import dataclasses
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from moved_clock import MovedClock

from handsfree.dialogue.actions import Confirm, Confirmed, Record, Status
from handsfree.errors import CallerError
from handsfree.protocol.subject import Neutered, Part, Sex, Shape, Sight, Size
from handsfree.records import Dog, Store, Units
from handsfree.records.dogs import age_in_words, age_months, described
from handsfree.records.fields import from_plain, stored_fields
from handsfree.records.model import BirthPrecision

from .conftest import VERSIONS

HARD_NAMES = [
    "<script>alert(1)</script>",
    "=cmd()",
    "🐕‍🦺 Füße",
    "كلب רקס",
    "x" * 200,
    "Robert'); DROP TABLE dogs;--",
    'a"b\\c',
    "line\nbreak\x1b[31m",
]


@pytest.mark.parametrize("name", HARD_NAMES)
def test_any_name_is_kept_whole(store: Store, name: str) -> None:
    """A name is text and nothing else, whatever it looks like."""
    assert store.dogs.get(store.dogs.add(name).id).name == name
    assert store.people.get(store.people.add(name).id).name == name
    assert store.dogs.find(name).name == name


@pytest.mark.parametrize("name", ["", "   ", "x" * 1001, "\udcff"])
def test_what_is_no_name_is_refused(store: Store, name: str) -> None:
    """Nothing, far too much, and bytes that are no text are refused in words."""
    with pytest.raises(CallerError, match="name"):
        store.dogs.add(name)
    assert store.dogs.all() == ()


def test_every_field_of_a_dog_comes_back(store: Store) -> None:
    """All fields are stored and read, none is forgotten."""
    given_fields: dict[str, Any] = {
        "birth": date(2021, 5, 14),
        "birth_precision": BirthPrecision.MONTH,
        "sex": Sex.FEMALE,
        "neutered": Neutered.NO,
        "breed": "lurcher",
        "looks": "brindle",
        "shape": Shape.SIGHTHOUND,
        "size": Size.LARGE,
        "missing": frozenset({Part.LEFT_EYE, Part.TAIL}),
        "dewclaws": False,
        "pigmented_gums": True,
        "season_began": date(2026, 2, 1),
        "pregnant": True,
        "conditions": frozenset({"heart"}),
        "medicines": frozenset({"steroid", "pain_relief"}),
        "muzzle_trained": True,
        "has_bitten": True,
        "handling": "slow hands",
        "known": ("a wart on the lip", "grey muzzle"),
        "chip": "276098100000001",
        "owner": "Kim",
        "retired_at": datetime.fromisoformat("2026-03-14T09:00:00+02:00"),
        "retired_why": "moved",
    }
    not_given = {"id", "name", "added_at"}
    assert set(given_fields) | not_given == {f.name for f in dataclasses.fields(Dog)}
    dog = store.dogs.add("Bramble", **given_fields)
    for name, value in given_fields.items():
        assert getattr(dog, name) == value, name


def test_edits_keep_what_was_before(store: Store, dog: Dog) -> None:
    """A field's history has every value, who set it and when; the same value is no edit."""
    kim = store.people.add("Kim")
    store.dogs.edit(dog.id, person_id=kim.id, breed="greyhound", owner="Lee")
    store.dogs.edit(dog.id, person_id=kim.id, breed="greyhound")
    history = store.dogs.history(dog.id, "breed")
    assert [(e.value, e.person_id) for e in history] == [("lurcher", None), ("greyhound", kim.id)]
    assert store.dogs.get(dog.id).breed == "greyhound"


def test_edits_add_up_to_the_dog(store: Store, dog: Dog) -> None:
    """Replaying a dog's edits over the defaults gives the dog: stations merge by edits alone."""
    store.dogs.edit(dog.id, missing=frozenset({Part.TAIL}), birth=date(2021, 5, 14), chip="1")
    store.dogs.edit(dog.id, missing=frozenset(), chip=None, known=("a wart",), sex=Sex.MALE)
    store.dogs.retire(dog.id, "moved")
    now = store.dogs.get(dog.id)
    blank = Dog(id=dog.id, name="", added_at=dog.added_at)
    values = {name: getattr(blank, name) for name in stored_fields(Dog)}
    for edit in store.dogs.history(dog.id):
        values[edit.field] = from_plain(stored_fields(Dog)[edit.field], edit.value)
    assert dataclasses.replace(blank, **values) == now


def test_two_dogs_of_one_name_are_told_apart(store: Store) -> None:
    """A name that two dogs bear finds neither; the message tells them apart by more than colour."""
    first = store.dogs.add("Rex", sex=Sex.MALE, breed="collie", owner="Kim", looks="black")
    second = store.dogs.add("rex", looks="black")
    with pytest.raises(CallerError) as told:
        store.dogs.find("REX")
    message = str(told.value)
    for dog in (first, second):
        assert dog.id.replace("-", "")[-6:] in message
        assert store.dogs.find(dog.id.replace("-", "")[-6:]).id == dog.id
    assert "collie" in message
    assert "Kim" in message


def test_a_dog_is_found_by_beginning_chip_and_key(store: Store, dog: Dog) -> None:
    """The beginning of a name, the chip number and the key find the one dog."""
    store.dogs.edit(dog.id, chip="276098100000001")
    for text in ("bram", "276098100000001", dog.id, "  BRAMBLE "):
        assert store.dogs.find(text).id == dog.id, text


def test_a_name_that_nobody_has_gets_a_hint(store: Store, dog: Dog) -> None:
    """An unknown name says what is near, or how to add one."""
    with pytest.raises(CallerError, match="Did you mean 'Bramble'"):
        store.dogs.find("Bremble")
    with pytest.raises(CallerError, match="handsfree dog add"):
        store.dogs.find("Zorro")


def test_a_retired_dog_is_not_offered(store: Store, dog: Dog) -> None:
    """A retired dog is kept but not offered; it can come back."""
    store.dogs.retire(dog.id, "moved away")
    assert store.dogs.all() == ()
    with pytest.raises(CallerError, match="retired"):
        store.dogs.find("Bramble")
    assert store.dogs.find("Bramble", retired=True).retired_why == "moved away"
    assert store.dogs.bring_back(dog.id).retired_at is None
    assert store.dogs.find("Bramble").id == dog.id


def test_a_birth_in_the_future_is_refused(store: Store) -> None:
    """No dog is born tomorrow."""
    with pytest.raises(CallerError, match="future"):
        store.dogs.add("Rex", birth=date(2030, 1, 1))


@pytest.mark.parametrize(
    "birth, on, months, words",
    [
        (date(2025, 12, 31), date(2026, 1, 30), 0, "0 months"),
        (date(2025, 12, 31), date(2026, 1, 31), 1, "1 month"),
        (date(2025, 3, 15), date(2026, 3, 14), 11, "11 months"),
        (date(2024, 3, 14), date(2026, 3, 14), 24, "2 years"),
        (date(2024, 2, 29), date(2026, 2, 28), 23, "23 months"),
        (None, date(2026, 2, 28), None, ""),
    ],
)
def test_age_is_counted_in_whole_months(
    store: Store, birth: date | None, on: date, months: int | None, words: str
) -> None:
    """A month is over on the day of the month on which it began."""
    dog = Dog(
        id="x",
        name="Rex",
        birth=birth,
        birth_precision=BirthPrecision.DAY,
        added_at=datetime.fromisoformat("2026-01-01T00:00:00+00:00"),
    )
    assert age_months(dog, on) == months
    assert age_in_words(dog, on) == words


def test_a_guessed_birth_is_called_about(store: Store, dog: Dog) -> None:
    """An age from a known year alone is not said as if it were exact."""
    dog = store.dogs.edit(
        dog.id, birth=date(2022, 7, 1), birth_precision=BirthPrecision.YEAR, looks="brindle"
    )
    assert "about 3 years" in described(dog, date(2026, 3, 14))


def test_people_are_counted_and_disabled(store: Store, dog: Dog) -> None:
    """Finished checks count for a person; a disabled one is not offered and keeps their history."""
    kim = store.people.add("Kim", sight=Sight.LOW, rate_wpm=220, voice="en+f3", brief=True)
    exam = store.exams.begin(dog.id, person_id=kim.id, routine="quick", versions=VERSIONS)
    store.exams.finish(exam.id, "complete")
    assert store.people.find("kim").rounds_done == 1
    store.people.disable(kim.id)
    assert store.people.all() == ()
    with pytest.raises(CallerError, match="No person"):
        store.people.find("Kim")
    assert store.exams.get(exam.id).person_id == kim.id
    assert store.people.enable(kim.id).disabled_at is None
    with pytest.raises(CallerError, match="out of reach"):
        store.people.edit(kim.id, rate_wpm=900)


def test_settings_are_checked_kept_and_put_back(store: Store) -> None:
    """Each setting takes what it may be, refuses the rest, and can go back to its default."""
    assert store.settings.get().vet_number is None
    assert store.settings.set("vet-number", "+49 (0)123 456").vet_number == "+49 (0)123 456"
    assert store.settings.set("units", "imperial").units is Units.IMPERIAL
    assert store.settings.set("sight", "none").sight is Sight.NONE
    assert store.settings.set("rate_wpm", "200").rate_wpm == 200
    assert store.settings.set("rate_wpm", None).rate_wpm == 170
    for key, text in (
        ("vet_number", "call me"),
        ("vet_number", "12"),
        ("rate_wpm", "fast"),
        ("rate_wpm", "9000"),
        ("units", "furlongs"),
        ("colour", "blue"),
        ("voice", " "),
    ):
        with pytest.raises(CallerError):
            store.settings.set(key, text)
    assert store.settings.get().vet_number == "+49 (0)123 456"


def test_weights_are_one_series(store: Store, dog: Dog, clock: MovedClock) -> None:
    """Weights of checks and those entered by hand come as one series; doubted ones do not."""
    store.weights.enter(dog.id, 18.0, at=clock() - timedelta(days=30), how="surgery")
    exam = store.exams.begin(dog.id, person_id=None, routine="full", versions=VERSIONS)
    scale = Record(ref=1, item="weight.scale", status=Status.OBSERVED, value="platform")
    store.exams.record(exam.id, scale)
    store.exams.record(
        exam.id,
        Record(ref=2, item="weight.kg", status=Status.OBSERVED, value=19.5, unit="kg"),
    )
    store.exams.finish(exam.id, "complete")
    assert [(w.weight_kg, w.how) for w in store.weights.of_dog(dog.id)] == [
        (19.5, "platform"),
        (18.0, "surgery"),
    ]
    assert store.subject(dog.id).weight_kg == 19.5
    store.exams.confirm(exam.id, Confirm(ref=2, confirmed=Confirmed.POSSIBLE))
    assert store.subject(dog.id).weight_kg == 18.0


def test_an_entered_weight_is_corrected_and_withdrawn(store: Store, dog: Dog) -> None:
    """A corrected weight replaces the old one, a withdrawn one is gone; rows stay."""
    wrong = store.weights.enter(dog.id, 81.0)
    right = store.weights.enter(dog.id, 18.0, corrects=wrong)
    assert [w.weight_kg for w in store.weights.of_dog(dog.id)] == [18.0]
    store.weights.withdraw(dog.id, right)
    assert store.weights.of_dog(dog.id) == ()


@pytest.mark.parametrize("weight_kg", [0.0, -3.0, 900.0])
def test_an_impossible_weight_is_refused(store: Store, dog: Dog, weight_kg: float) -> None:
    """No dog weighs nothing or 900 kg."""
    with pytest.raises(CallerError, match="no dog's weight"):
        store.weights.enter(dog.id, weight_kg)


def test_lumps_that_a_check_found_are_asked_after(
    store: Store, dog: Dog, clock: MovedClock
) -> None:
    """A new lump becomes known once, with its size; one that is gone is asked after no more."""

    def stored(answers: list[tuple[str, str, str | float]]) -> str:
        exam = store.exams.begin(dog.id, person_id=None, routine="full", versions=VERSIONS)
        for ref, (item, side, value) in enumerate(answers, start=1):
            record = Record(
                ref=ref, item=item, side=side, status=Status.OBSERVED, value=value, unit="mm"
            )
            store.exams.record(exam.id, record)
        store.exams.finish(exam.id, "complete")
        clock.move(days=7)
        return exam.id

    first = stored(
        [
            ("lumps.new_place", "new1", "chest"),
            ("lumps.new_side", "new1", "left"),
            ("lumps.new_landmark", "new1", "last_rib"),
            ("lumps.new_length", "new1", 12.0),
            ("lumps.new_place", "new2", "belly"),
            ("lumps.new_side", "new2", "middle"),
        ]
    )
    assert [x.key for x in store.lumps.take_over(first)] == ["lump1", "lump2"]
    assert store.lumps.take_over(first) == ()
    known = store.subject(dog.id).lumps
    assert [(k.key, k.place, k.length_mm, k.width_mm) for k in known] == [
        ("lump1", "the left chest, near the last rib", 12.0, None),
        ("lump2", "the middle of the belly", None, None),
    ]
    second = stored([("lumps.known_length", "lump1", 15.0), ("lumps.known", "lump2", "gone")])
    store.lumps.take_over(second)
    left, gone = store.subject(dog.id).lumps
    assert (left.key, left.length_mm) == ("lump1", 15.0)
    # A lump that shrank away is still asked after: only a vet's word settles it.
    assert gone.key == "lump2"
    store.lumps.edit(store.lumps.of_dog(dog.id)[1].id, vet_result="a cyst")
    store.lumps.take_over(stored([("lumps.known", "lump2", "gone")]))
    assert [k.key for k in store.subject(dog.id).lumps] == ["lump1"]
    store.lumps.edit(store.lumps.of_dog(dog.id)[0].id, vet_result="fatty lump")
    assert store.subject(dog.id).lumps[0].vet_result == "fatty lump"
    assert store.lumps.add(dog.id, "the tail").key == "lump3"


def test_the_subject_has_age_and_season_on_the_day(store: Store) -> None:
    """Age and days since the season are those of the day of the check."""
    dog = store.dogs.add(
        "Fern",
        birth=date(2024, 3, 14),
        sex=Sex.FEMALE,
        season_began=date(2026, 3, 4),
        has_bitten=True,
        conditions=frozenset({"heart"}),
    )
    subject = store.subject(dog.id, date(2026, 3, 14))
    assert (subject.age_months, subject.season) == (24, 10)
    assert subject.has_bitten
    assert subject.conditions == {"heart"}
    assert store.subject(dog.id, date(2026, 3, 1)).season is None


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    name=st.text(min_size=1, max_size=200).filter(str.strip),
    known=st.lists(st.text(max_size=50), max_size=3).map(tuple),
    birth=st.none() | st.dates(max_value=date(2026, 1, 1)),
)
def test_any_dog_goes_through_unchanged(
    store: Store, name: str, known: tuple[str, ...], birth: date | None
) -> None:
    """Whatever a dog is called, it is read back the same."""
    dog = store.dogs.add(name, known=known, birth=birth)
    assert (dog.name, dog.known, dog.birth) == (name.strip(), known, birth)
