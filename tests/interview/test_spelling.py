"""Names in code words, numbers in digits, ages in dates."""

from __future__ import annotations

from datetime import date

import pytest

from handsfree.hearing.grammar import load
from handsfree.hearing.verdict import MeaningKind
from handsfree.interview.first_run import first_run
from handsfree.interview.spelling import ALPHABET, name_of, number_of, spelled
from handsfree.protocol.subject import Shape, Sight
from handsfree.records.dogs import age_months
from handsfree.records.model import BirthPrecision, Dog

ICAO = [
    "Alfa", "Bravo", "Charlie", "Delta", "Echo", "Foxtrot", "Golf", "Hotel", "India", "Juliett",
    "Kilo", "Lima", "Mike", "November", "Oscar", "Papa", "Quebec", "Romeo", "Sierra", "Tango",
    "Uniform", "Victor", "Whiskey", "X-ray", "Yankee", "Zulu",
]  # fmt: skip
"""The code words of Annex 10 to the Convention on International Civil Aviation, volume II, figure
5-1, and ITU Radio Regulations, appendix 14 (from memory)."""
RESPELLED = {"juliett": "juliet", "x-ray": "x ray"}
"""As the recogniser's dictionary has them."""


def test_the_alphabet_is_the_published_one() -> None:
    """Letter by letter the code words are those of the standard."""
    assert list(ALPHABET.values()) == ICAO
    assert [word[0].lower() for word in ICAO] == list(ALPHABET)


def test_every_code_word_is_heard_as_its_letter() -> None:
    """The listening grammar gives each code word its letter."""
    grammar = load("spelling")
    for letter, word in ALPHABET.items():
        said = RESPELLED.get(word.lower(), word.lower())
        meaning = grammar.meaning(tuple(said.split()), MeaningKind.ANSWER)
        assert meaning is not None, word
        assert meaning.value == letter


@pytest.mark.parametrize(
    "letters, name",
    [("kim", "Kim"), (("o", "l", "d", "space", "t", "o", "m"), "Old Tom"), ((), ""),
     (("space",), "")],
)  # fmt: skip
def test_letters_make_a_name(letters: tuple[str, ...], name: str) -> None:
    """Each word begins with a capital; space alone makes no name."""
    assert name_of(tuple(letters)) == name


def test_letters_are_read_back_one_by_one() -> None:
    """A space is said as such."""
    assert spelled(("k", "space", "x")) == "K, space, X"


@pytest.mark.parametrize(
    "digits, number",
    [("999", "999"), ("0163", "0163"), ("01632960100", "016 329 601 00"), ("1234567", "123 4567")],
)
def test_digits_are_grouped(digits: str, number: str) -> None:
    """Groups of three, and no digit alone at the end."""
    assert number_of(tuple(digits)) == number


@pytest.mark.parametrize("years", range(1, 25))
@pytest.mark.parametrize("on", [date(2026, 1, 1), date(2026, 2, 28), date(2024, 2, 29)])
def test_an_age_in_years_stays_that_age(years: int, on: date) -> None:
    """A dog that is said to be four is four on that day, and born about then."""
    fields = first_run({"years": float(years)}, on).dog_fields
    dog = Dog(id="1", name="Rex", added_at=None, **fields)  # type: ignore[arg-type]
    months = age_months(dog, on)
    assert months is not None
    assert months // 12 == years
    assert fields["birth_precision"] is BirthPrecision.YEAR


@pytest.mark.parametrize("months", range(12))
@pytest.mark.parametrize("on", [date(2026, 1, 31), date(2026, 3, 1), date(2024, 2, 29)])
def test_an_age_in_months_stays_that_age(months: int, on: date) -> None:
    """A pup of seven months is seven months old on that day."""
    fields = first_run({"years": 0.0, "months": float(months)}, on).dog_fields
    dog = Dog(id="1", name="Rex", added_at=None, **fields)  # type: ignore[arg-type]
    assert age_months(dog, on) == months
    assert fields["birth"] <= on


def test_what_was_left_open_is_not_made_up() -> None:
    """Skipped questions set no field of the dog."""
    result = first_run(
        {"person": "Kim", "sex": None, "years": None, "flat_face": "no"}, date.today()
    )
    assert result.dog_fields == {}
    assert result.vet_number is None
    assert result.sight is Sight.FULL


def test_a_flat_face_is_a_shape() -> None:
    """It changes what is looked for."""
    assert first_run({"flat_face": "yes"}, date.today()).dog_fields == {"shape": Shape.FLAT_FACED}
