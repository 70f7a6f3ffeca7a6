"""Spoken numbers against two independent libraries: num2words writes them, text2num reads them.

Sources: num2words 0.5 (English cardinals and decimals) and text2num 2/3 (``text2num`` for English).
Neither is used by the program. Pounds and ounces: 16 oz to the pound, NIST SP 811,
Appendix B.8 (pound 0.453 592 37 kg, ounce 0.028 349 523 125 kg).
"""

import pytest
from num2words import num2words
from text_to_num import text2num

from handsfree.hearing import Listening
from handsfree.hearing.grammar import ListeningGrammar, compose


def _grammar(name: str) -> ListeningGrammar:
    return compose(Listening(grammars=(name,)))


def _written(number: float) -> str:
    text: str = num2words(number)
    return text.replace("-", " ").replace(",", "")


@pytest.mark.parametrize("with_and", [True, False])
def test_counts_mean_what_num2words_writes(with_and: bool) -> None:
    """Every whole number from 0 to 250, with and without "and", is understood as itself."""
    grammar = _grammar("integer")
    wrong = []
    for number in range(251):
        words = _written(number) if with_and else _written(number).replace(" and ", " ")
        meaning = grammar.meaning(words)
        if meaning is None or meaning.value != number:
            wrong.append((number, words, meaning))
    assert wrong == []


def test_counts_agree_with_text2num() -> None:
    """An independent reader gets the same number from the same words."""
    grammar = _grammar("integer")
    for number in range(0, 251, 7):
        words = _written(number).replace(" and ", " ")
        meaning = grammar.meaning(words)
        assert meaning is not None
        assert meaning.value == text2num(words, "en")


@pytest.mark.parametrize(
    ("grammar", "low", "high", "unit_words", "unit"),
    [
        ("weight", 0, 90, "kilos", "kg"),
        ("weight", 0, 199, "pounds", "lb"),
        ("temperature", 34, 43, "", None),
        ("temperature", 94, 109, "", None),
    ],
)
def test_decimals_mean_what_num2words_writes(
    grammar: str, low: int, high: int, unit_words: str, unit: str | None
) -> None:
    """Tenths of every weight and temperature of a dog are understood, with their unit."""
    open_now = _grammar(grammar)
    for tenths in range(low * 10, high * 10, 3):
        number = tenths / 10
        words = f"{_written(int(number) if tenths % 10 == 0 else number)} {unit_words}".strip()
        meaning = open_now.meaning(words)
        assert meaning is not None, words
        assert meaning.value == pytest.approx(number), words
        assert meaning.unit == unit, words


def test_pounds_and_ounces_are_sixteenths() -> None:
    """Ounces said after pounds are sixteenths of a pound, as the avoirdupois units are defined."""
    grammar = _grammar("weight")
    for ounces in range(1, 16):
        meaning = grammar.meaning(f"twelve pounds {_written(ounces)} ounces")
        assert meaning is not None
        assert meaning.unit == "lb"
        kilograms = float(meaning.value) * 0.45359237
        assert kilograms == pytest.approx(12 * 0.45359237 + ounces * 0.028349523125, abs=1e-6)


@pytest.mark.parametrize(
    ("words", "value", "unit"),
    [
        ("twelve point four", 12.4, None),
        ("twelve and a half kilos", 12.5, "kg"),
        ("a hundred and one point four", 101.4, None),
        ("one oh two point five", 102.5, None),
        ("twelve pounds four ounces", 12.25, "lb"),
    ],
)
def test_numbers_as_people_say_them(words: str, value: float, unit: str | None) -> None:
    """Short spoken forms that number writers do not produce; common practice, no source."""
    found = [
        meaning
        for name in ("weight", "temperature")
        if (meaning := _grammar(name).meaning(words)) is not None
    ]
    assert found
    assert all(meaning.value == pytest.approx(value) for meaning in found)
    assert found[0].unit == unit
