"""The grammar files against the JSpeech Grammar Format note, read by an independent parser.

Source: JSpeech Grammar Format, W3C Note, 5 June 2000, www.w3.org/TR/2000/NOTE-jsgf-20000605/ (head
read, the rest from memory): a self-identifying header with version 1.0, then the grammar's name,
then rules, of which public ones can be spoken. The parser is ``pyjsgf``; it takes only word
characters in a tag where the note takes any text between braces: number tags are respelt for it.
"""

from __future__ import annotations

import functools
import re

import jsgf
import num2words
import pytest

from handsfree.hearing.grammar import compose
from handsfree.hearing.verdict import Listening
from handsfree.protocol.loader import grammar_folder

FILES = sorted(grammar_folder().glob("*.jsgf"))
NAMES = [file.stem for file in FILES]
SPELT = {"+": "plus_", "*": "times_", ".": "digit_", ":": "__"}


def respell(text: str) -> str:
    """Spell the signs in tags as words."""

    def tag(match: re.Match[str]) -> str:
        return "".join(SPELT.get(character, character) for character in match[0])

    return re.sub(r"\{[^{}]*\}", tag, text)


@functools.cache
def parse(name: str) -> jsgf.Grammar:
    """A grammar as the independent parser reads it."""
    text = (grammar_folder() / f"{name}.jsgf").read_text(encoding="utf-8")
    return jsgf.parse_grammar_string(respell(text))


@pytest.mark.parametrize("name", NAMES)
def test_header_and_name(name: str) -> None:
    """The first line identifies format and version, the second names the grammar as its file."""
    lines = (grammar_folder() / f"{name}.jsgf").read_text(encoding="utf-8").splitlines()
    assert re.fullmatch(r"#JSGF V1\.0( \S+)?( \S+)?;", lines[0])
    assert lines[1] == f"grammar {name};"


@pytest.mark.parametrize("name", NAMES)
def test_an_independent_parser_reads_it(name: str) -> None:
    """It parses whole, with one public rule named as the grammar, and no imports."""
    grammar = parse(name)
    assert grammar.name == name
    assert grammar.jsgf_version == "1.0"
    assert [rule.name for rule in grammar.rules if rule.visible] == [name]
    assert list(grammar.imports) == []


@pytest.mark.parametrize("name", NAMES)
def test_only_the_plain_part_of_the_format_is_used(name: str) -> None:
    """No repeats, weights, recursion or special rules: engines differ or break on them."""
    text = (grammar_folder() / f"{name}.jsgf").read_text(encoding="utf-8")
    bare = re.sub(r"//[^\n]*|\{[^{}]*\}", " ", text)
    assert not re.search(r"[*+\"]|/[\d.]+/|<NULL>|<VOID>|import", bare.split("\n", 2)[2])
    uses = {
        rule: set(re.findall(r"<(\w+)>", body))
        for rule, body in re.findall(r"<(\w+)>\s*=([^;]*);", bare)
    }

    def reaches(rule: str, seen: frozenset[str]) -> bool:
        return any(inner in seen or reaches(inner, seen | {inner}) for inner in uses[rule])

    assert not reaches(name, frozenset({name}))
    unused = uses.keys() - {name} - {inner for some in uses.values() for inner in some}
    assert unused == set()


def value_of(name: str, phrase: str) -> tuple[float, str | None] | None:
    """What a phrase that the independent parser matches means, as we read its tags."""
    meaning = compose(Listening(grammars=(name,))).meaning(phrase)
    assert bool(parse(name).find_matching_rules(phrase)) == (meaning is not None), phrase
    return None if meaning is None else (float(meaning.value), meaning.unit)


def spoken(number: int) -> str:
    """A whole number in American words, as the library num2words spells it."""
    return str(num2words.num2words(number)).replace("-", " ")


def test_whole_numbers_mean_what_num2words_says() -> None:
    """Numbers spelt by num2words, with and without its "and", mean themselves."""
    grammar, ours = parse("integer"), compose(Listening(grammars=("integer",)))
    for number in [*range(131), 199, 200, 208, 215, 250, 307, 399, 480, 555, 640, 711, 860, 999]:
        for phrase in {spoken(number), spoken(number).replace(" and ", " ")}:
            assert grammar.find_matching_rules(phrase), phrase
            meaning = ours.meaning(phrase)
            assert meaning is not None
            assert meaning.value == number, phrase


@pytest.mark.parametrize(
    "name, phrase, value, unit",
    [
        ("number", "twelve point four", 12.4, None),
        ("number", "zero point two five", 0.25, None),
        ("number", "twelve and a half", 12.5, None),
        ("number", "half", 0.5, None),
        ("weight", "twelve point four kilos", 12.4, "kg"),
        ("weight", "twelve kilos and a half", 12.5, "kg"),
        ("weight", "half a kilo", 0.5, "kg"),
        ("weight", "about two kilos three hundred grams", 2.3, "kg"),
        ("weight", "four hundred and fifty grams", 450, "g"),
        ("weight", "twelve pounds and four ounces", 12.25, "lb"),
        ("weight", "it's a hundred and one pounds", 101, "lb"),
        ("temperature", "thirty eight point six", 38.6, None),
        ("temperature", "a hundred and one point four", 101.4, None),
        ("temperature", "one oh two point five degrees fahrenheit", 102.5, "degF"),
        ("temperature", "thirty nine degrees celsius", 39, "Cel"),
        ("length", "eight millimeters", 8, "mm"),
        ("length", "two and a half centimeters", 2.5, "cm"),
        ("length", "half an inch", 0.5, "in"),
        ("length", "about an inch", 1, "in"),
        ("length", "an inch or two", None, None),
        ("length", "like a pea", 8, "mm"),
        ("length", "a golf ball", 43, "mm"),
        ("volume", "eight hundred milliliters", 800, "mL"),
        ("volume", "one and a half liters", 1.5, "L"),
        ("volume", "half a liter", 0.5, "L"),
        ("volume", "a liter and a half", 1.5, "L"),
    ],
)
def test_amounts(name: str, phrase: str, value: float | None, unit: str | None) -> None:
    """Amounts as people say them get their value and unit; what is not in the grammar gets none."""
    assert value_of(name, phrase) == (None if value is None else (value, unit))


def test_the_stopwatch_s_words_may_come_together() -> None:
    """Release alone, pink alone, and both in a row."""
    ours = compose(Listening(grammars=("release_pink",)))
    for phrase in ("release", "pink", "release pink"):
        assert parse("release_pink").find_matching_rules(phrase)
        meaning = ours.meaning(phrase)
        assert meaning is not None
        assert meaning.value == phrase
    assert not parse("release_pink").find_matching_rules("pink release")
