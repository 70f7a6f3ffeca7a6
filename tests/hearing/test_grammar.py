"""Listening grammars: form, meaning, composition, and what engines are given."""

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handsfree.errors import CallerError, DataError
from handsfree.hearing import Listening, Meaning, MeaningKind
from handsfree.hearing.grammar import Grammar, compose, load
from handsfree.hearing.jsgf import parse
from handsfree.hearing.numbers import evaluate

FILES = {
    "colour": "public <colour> = [<lead>] (pink {pink} | (pale | a bit pale) {pale} | red {red});\n"
    "<lead> = it's | they're;",
    "yesno": "public <yesno> = yes {yes} | no {no} | red {other};",
    "many": "public <many> = <tens> {point} <digit> {unit:kg} | [a] hundred {*100};\n"
    "<tens> = "
    + " | ".join(f"w{n} {{+{n}}} [x] [y]" for n in range(200))
    + ";\n<digit> = point one {.1} | point two {.2};",
    "commands": "public <commands> = skip {skip} | go back {back} | back {back} | stop {stop}"
    " | (hang on | wait) {pause};",
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Hold a few small grammars of our own."""
    for name, body in FILES.items():
        (tmp_path / f"{name}.jsgf").write_text(f"#JSGF V1.0;\ngrammar {name};\n{body}\n")
    return tmp_path


def _answer(value: str) -> Meaning:
    return Meaning(kind=MeaningKind.ANSWER, value=value)


@pytest.mark.parametrize(
    ("words", "value"),
    [
        ("pink", "pink"),
        ("it's pink", "pink"),
        ("a bit pale", "pale"),
        ("they're a bit pale", "pale"),
        ("pink pale", None),
        ("it's", None),
        ("", None),
        ("purple", None),
    ],
)
def test_words_mean_what_the_tags_say(folder: Path, words: str, value: str | None) -> None:
    """A phrase means its tag; anything else means nothing."""
    meaning = compose(Listening(grammars=("colour",)), folder).meaning(words)
    assert meaning == (_answer(value) if value else None)


def test_the_first_grammar_keeps_a_shared_phrase(folder: Path) -> None:
    """Where a phrase stands in two grammars, the one named first gives the meaning."""
    assert compose(Listening(grammars=("colour", "yesno")), folder).meaning("red") == _answer("red")
    assert compose(Listening(grammars=("yesno", "colour")), folder).meaning("red") == _answer(
        "other"
    )


def test_only_open_commands_can_be_said(folder: Path) -> None:
    """A command that is not open has no phrase, neither for engines nor for meaning."""
    grammar = compose(Listening(grammars=("yesno",), commands=frozenset({"back"})), folder)
    assert grammar.meaning("go back") == Meaning(kind=MeaningKind.COMMAND, value="back")
    assert grammar.meaning("skip") is None
    assert "skip" not in grammar.jsgf()
    assert "skip" not in grammar.vosk()


def test_a_value_called_wrong_is_taken_out(folder: Path) -> None:
    """What the person has just refused cannot be heard again, by any of its phrases."""
    grammar = compose(Listening(grammars=("colour",), without=frozenset({"pale"})), folder)
    assert grammar.meaning("a bit pale") is None
    assert "pale" not in grammar.words
    assert grammar.meaning("pink") == _answer("pink")


def test_a_refused_value_does_not_come_back_from_a_later_grammar(folder: Path) -> None:
    """Taking a value out does not hand its phrase to the next grammar."""
    grammar = compose(Listening(grammars=("colour", "yesno"), without=frozenset({"red"})), folder)
    assert grammar.meaning("red") is None


def test_an_open_form_is_matched_but_not_listed(folder: Path) -> None:
    """Numbers without end are no listed phrases, yet their words, tags and beginnings are known."""
    grammar = compose(Listening(grammars=("many", "yesno")), folder)
    assert grammar.is_open_form
    assert grammar.phrases == ("yes", "no", "red")
    said = ("w12", "point", "two")
    assert grammar.meaning(said) == Meaning(kind=MeaningKind.ANSWER, value=12.2, unit="kg")
    assert not grammar.is_listed(said)
    assert grammar.may_go_on(("w12",))
    assert not grammar.may_go_on(said)
    assert "w150" in grammar.words


def test_a_number_called_wrong_means_nothing(folder: Path) -> None:
    """A refused number is no answer, though its words cannot be taken out of the grammar."""
    grammar = compose(Listening(grammars=("many",), without=frozenset({"12.2"})), folder)
    assert grammar.meaning("w12 point two") is None
    assert grammar.meaning("w12 point one") is not None


def test_longer_phrases_are_waited_for(folder: Path) -> None:
    """Words that begin a longer phrase say so."""
    grammar = compose(Listening(grammars=("colour",), commands=frozenset({"back"})), folder)
    assert grammar.may_go_on(("go",))
    assert grammar.may_go_on(("it's",))
    assert not grammar.may_go_on(("pink",))


def test_only_a_longer_phrase_of_another_meaning_turns_words(folder: Path) -> None:
    """What goes on with the same meaning need not be waited for."""
    (folder / "smell.jsgf").write_text(
        "#JSGF V1.0;\ngrammar smell;\n"
        "public <smell> = bad [smell] {bad} | no {no} | no smell {fresh};\n"
    )
    grammar = compose(Listening(grammars=("smell",)), folder)
    assert grammar.may_go_on(("bad",))
    assert not grammar.may_turn(("bad",))
    assert grammar.may_turn(("no",))


def test_engines_get_flat_safe_text(folder: Path) -> None:
    """PocketSphinx gets one rule, no tags or repeats; a lacking word takes its phrases along."""
    grammar = compose(Listening(grammars=("many", "colour")), folder)
    text = grammar.jsgf(lacking=frozenset({"w7", "bit"}))
    assert not set("{}*+") & set(text.split("grammar", 1)[1])
    assert "w7 " not in text
    assert "a bit pale" not in text
    again = parse(text, where="again")
    assert list(again.rules) == ["listening"]


def test_vosk_gets_a_list_of_known_words(folder: Path) -> None:
    """Vosk gets phrases, single words of open forms, and its token for other speech."""
    grammar = compose(Listening(grammars=("many", "colour")), folder)
    listed = json.loads(grammar.vosk(lacking=frozenset({"w7"})))
    assert "they're a bit pale" in listed
    assert "w8" in listed
    assert "w7" not in listed
    assert listed[-1] == "[unk]"
    assert "[unk]" not in json.loads(grammar.vosk(unknown=""))


def test_equal_listening_shares_one_grammar(folder: Path) -> None:
    """The item does not matter to what can be said, so engines compile it once."""
    one = compose(Listening(grammars=("colour",), item="mouth.gums"), folder)
    assert one is compose(Listening(grammars=("colour",), item="rear.skin"), folder)


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ("public <t> = (a | b;", "line 3"),
        ("<t> = a;", "no rule is public"),
        ("public <t> = <u>;", "<u> is missing"),
        ("public <t> = a <t>;", "refers to itself"),
        ("public <t> = (a | [b])* {x};", "repeated"),
        ("public <t> = a {x};\n<t> = b;", "stands twice"),
        ("import <n.*>;\npublic <t> = a {x};", "imports"),
    ],
)
def test_a_broken_file_is_refused_with_its_place(body: str, said: str) -> None:
    """The message names the file and what is wrong in it."""
    with pytest.raises(DataError, match=r"t\.jsgf") as wrong:
        Grammar(f"#JSGF V1.0;\ngrammar t;\n{body}\n", name="t")
    assert said in str(wrong.value)


def test_a_phrase_without_meaning_is_refused(tmp_path: Path) -> None:
    """A phrase that nobody tagged would be heard and thrown away: the file is at fault."""
    (tmp_path / "t.jsgf").write_text("#JSGF V1.0;\ngrammar t;\npublic <t> = a {x} | b;\n")
    with pytest.raises(DataError, match="'b' means nothing"):
        compose(Listening(grammars=("t",)), tmp_path)


def test_an_unknown_grammar_is_named(folder: Path) -> None:
    """The message lists what there is."""
    with pytest.raises(CallerError, match=r"no grammar 'smell'.*colour, commands"):
        load("smell", folder)


def test_sequences_bind_before_alternatives() -> None:
    """JSGF Note 4.7: ``(a) b | c`` is two ways, not a followed by one of two."""
    grammar = Grammar("#JSGF V1.0;\ngrammar t;\npublic <t> = (a) b {x} | c {y};\n", name="t")
    assert grammar.meaning(("a", "b"), MeaningKind.ANSWER) == _answer("x")
    assert grammar.meaning(("c",), MeaningKind.ANSWER) == _answer("y")
    assert grammar.meaning(("a", "c"), MeaningKind.ANSWER) is None


NUMBERS = [
    ("+12 point .4 unit:kg", 12.4, "kg"),
    ("+12 half unit:kg", 12.5, "kg"),
    ("+12 unit:kg half", 12.5, "kg"),
    ("+12 unit:lb +4 unit:oz", 12.25, "lb"),
    ("+2 unit:kg +3 *100 unit:g", 2.3, "kg"),
    ("*100 +1 point .4 unit:degF", 101.4, "degF"),
    ("+102 point .5", 102.5, None),
    ("+30 +8 point .0 .6", 38.06, None),
    ("half unit:kg", 0.5, "kg"),
    ("+2 three_quarters", 2.75, None),
    ("point .5", 0.5, None),
    ("+0", 0.0, None),
    ("+3 unit:cm +5 unit:mm", 3.5, "cm"),
    ("unit:kg", None, None),
    ("+12 point", None, None),
    ("+12 point point .4", None, None),
    ("+12 .4", None, None),
    ("+12 unit:kg +4", None, None),
    ("+12 unit:oz +4 unit:lb", None, None),
    ("+12 point .4 +3", None, None),
    ("+12 unit:stone", None, None),
    ("", None, None),
    ("pale", None, None),
]


@pytest.mark.parametrize(("tags", "value", "unit"), NUMBERS)
def test_number_tags_make_a_value(tags: str, value: float | None, unit: str | None) -> None:
    """Tags give value and unit, or nothing when they make no number."""
    number = evaluate(tags.split())
    if value is None:
        assert number is None
    else:
        assert number is not None
        assert (number.value, number.unit) == (value, unit)


def test_an_everyday_size_keeps_its_coarseness() -> None:
    """A size said as a thing gives its value and the thing."""
    number = evaluate(["size:8:mm:pea"])
    assert number is not None
    assert (number.value, number.unit, number.like) == (8.0, "mm", "pea")


@given(whole=st.integers(0, 99), digits=st.lists(st.integers(0, 9), min_size=1, max_size=3))
def test_decimals_are_exact(whole: int, digits: list[int]) -> None:
    """Digits said one by one give just that decimal."""
    number = evaluate([f"+{whole}", "point", *(f".{d}" for d in digits)])
    assert number is not None
    assert number.value == float(f"{whole}.{''.join(map(str, digits))}")
