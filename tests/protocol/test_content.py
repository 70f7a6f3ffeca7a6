"""What the shipped protocol and grammars must keep to."""

from __future__ import annotations

import functools
import re
from pathlib import Path

import jsgf
import pytest

from handsfree.protocol.loader import grammar_folder, load
from handsfree.protocol.model import Kind, Question, SightNeed

ITEMS = {
    f"{region.id}.{question.id}": question
    for region in load().regions.values()
    for question in region.question
}
GRAMMARS = {file.stem: file for file in sorted(grammar_folder().glob("*.jsgf"))}
NUMBERS = {"integer", "number", "weight", "temperature", "length", "volume"}
CHOICES = sorted(GRAMMARS.keys() - NUMBERS - {"release_pink", "past"})


def plain(file: Path) -> str:
    """A grammar's text without comments."""
    return re.sub(r"//[^\n]*", "", file.read_text(encoding="utf-8"))


@functools.cache
def meanings(name: str) -> dict[str, list[str]]:
    """Every phrase of a choice grammar with the values it stands for."""
    body = plain(GRAMMARS[name]).split("=", 1)[1].rstrip().rstrip(";")
    found: dict[str, list[str]] = {}
    for phrases, value in re.findall(r"([^{}]*)\{(\w+)\}", body):
        for phrase in phrases.replace("(", "|").replace(")", "|").split("|"):
            if phrase.strip():
                found.setdefault(" ".join(phrase.split()), []).append(value)
    return found


@pytest.mark.parametrize("name", CHOICES)
def test_phrases_agree_with_an_independent_parser(name: str) -> None:
    """Each phrase read from the file has the same value when a JSGF parser matches it."""
    grammar = jsgf.parse_grammar_string(GRAMMARS[name].read_text(encoding="utf-8"))
    for phrase, values in meanings(name).items():
        (rule,) = grammar.find_matching_rules(phrase)
        assert rule.matched_tags == values[:1], phrase


@pytest.mark.parametrize("name", CHOICES)
def test_a_phrase_has_one_meaning_in_its_grammar(name: str) -> None:
    """No phrase of a grammar stands for two values."""
    assert {p: v for p, v in meanings(name).items() if len(v) > 1} == {}


@pytest.mark.parametrize("item", ITEMS)
def test_no_answer_is_also_a_command(item: str) -> None:
    """No phrase of a question's grammar is a command's phrase."""
    name = ITEMS[item].grammar
    words = meanings(name) if name in CHOICES else {}
    assert words.keys() & meanings("commands").keys() == set()


@pytest.mark.parametrize("name", ["confirm", "resume", "start_stop", "region", "all_fine", "press"])
def test_no_menu_answer_is_also_a_command(name: str) -> None:
    """The grammars of menus and confirmations share no phrase with the commands."""
    assert meanings(name).keys() & meanings("commands").keys() == set()


def test_confirming_and_correcting_do_not_mix() -> None:
    """When an answer is read back, a new answer can be said as well: yes and no are neither."""
    confirm = meanings("confirm")
    for item, question in ITEMS.items():
        if question.kind is not Kind.CHOICE or question.grammar == "yes_no":
            continue
        shared = confirm.keys() & meanings(question.grammar).keys()
        wrong = {p for p in shared if confirm[p] == ["yes"] and p not in {"yes", "yeah", "right"}}
        assert wrong == set(), item


@pytest.mark.parametrize("item", [i for i, q in ITEMS.items() if q.kind is Kind.CHOICE])
def test_values_are_the_grammar_s_tags(item: str) -> None:
    """A choice's values are exactly the tags of its grammar, and what is offered can be said."""
    question = ITEMS[item]
    phrases = meanings(question.grammar)
    assert set(question.values) == {value for values in phrases.values() for value in values}
    assert list(question.choices) == list(question.values)
    for value, offered in question.choices.items():
        assert phrases.get(offered.lower()) == [value], offered


def test_the_region_grammar_names_every_region() -> None:
    """Each region can be gone to, by a phrase tagged with its id."""
    assert {v for vs in meanings("region").values() for v in vs} == set(load().regions)


def test_every_word_is_in_pocketsphinx_dictionary() -> None:
    """The engine that is always there knows every word of every grammar."""
    pocketsphinx = pytest.importorskip("pocketsphinx", reason="no wheel on this platform")
    path = Path(pocketsphinx.get_model_path()) / "en-us" / "cmudict-en-us.dict"
    known = {line.split()[0] for line in path.read_text(encoding="utf-8").splitlines()}
    missing = set()
    for name, file in GRAMMARS.items():
        body = re.sub(r"#JSGF[^;]*;|grammar\s+\w+;|<[^>]*>|\{[^}]*\}|public", " ", plain(file))
        words = set(re.findall(r"[A-Za-z']+", body))
        missing |= {f"{name}: {word}" for word in words if word not in known}
    assert missing == set()


def words(text: str) -> int:
    """Words of a text."""
    return len(text.split())


@pytest.mark.parametrize("item", ITEMS)
def test_texts_are_short_enough_to_listen_to(item: str) -> None:
    """A prompt has at most 14 words, a help at most 45, another wording at most 16."""
    question = ITEMS[item]
    assert words(question.prompt) <= 14
    assert words(question.touch_prompt or "") <= 14
    assert words(question.again) <= 16
    assert words(question.help) <= 45
    assert words(question.touch_help or "") <= 45


def test_prompts_are_about_twelve_words() -> None:
    """Nearly all prompts keep to twelve words."""
    long = [item for item, question in ITEMS.items() if words(question.prompt) > 12]
    assert len(long) <= len(ITEMS) // 20


@pytest.mark.parametrize("item", ITEMS)
def test_places_in_texts_can_be_filled(item: str) -> None:
    """A text names a side or a lump only where the question has one."""
    question = ITEMS[item]
    texts = [question.prompt, question.again, question.help, *question.values.values()]
    texts += [question.touch_prompt or "", question.touch_help or ""]
    named = {name for text in texts for name in re.findall(r"\{(\w+)\}", text)}
    allowed = ({"side"} if question.sides else set()) | ({"lump"} if question.per_lump else set())
    assert named <= allowed


def unusual(question: Question) -> set[str]:
    """Values that are not normal."""
    return set(question.values) - set(question.normal)


def test_the_first_screen_never_drops_an_answer() -> None:
    """Whatever is unusual among the signs that cannot wait is alarming."""
    for question in load().regions["now"].question:
        calm = {"stool", "stopped"}
        assert unusual(question) - calm <= set(question.alarming), question.id


def test_low_vision_has_another_way_or_a_reason() -> None:
    """What must be seen has a way by touch, save where only colour or a look inside tells."""
    only_seen = {
        item for item, q in ITEMS.items() if q.sight is SightNeed.SEE and not q.touch_prompt
    }
    assert only_seen == {
        "now.gums",
        "mouth.gum_colour",
        "mouth.eyelid_colour",
        "mouth.refill",
        "mouth.tongue",
        "eyes.surface",
        "eyes.pupils",
        "noticed.urine_colour",
        "noticed.stool_extra",
    }


def test_sources_and_bases_are_honest() -> None:
    """What has no source says so, and what is our own judgement says that a vet must see it."""
    sources = load().sources
    assert sources["common_practice"].cite == "Common practice, no source."
    assert sources["ours"].basis == "judgement"
    assert "awaiting a vet" in sources["ours"].cite
    assert all(
        s.read == "ours" for s in sources.values() if s.basis in {"judgement", "common practice"}
    )


def test_a_glance_is_few_questions() -> None:
    """Titles are distinct, so that a region can be told from another by ear."""
    titles = [region.title for region in load().regions.values()]
    assert len(set(titles)) == len(titles)
