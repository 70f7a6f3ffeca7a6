"""Reading the table: everything is checked at once, and every mistake is named."""

from __future__ import annotations

from pathlib import Path

import pytest

from handsfree.errors import DataError
from handsfree.judging.rules import load_table

from .shared import table

HEAD = """
version = "9"
[[source]]
key = "trade"
cite = "Common practice, no source"
basis = "common practice"
read = "memory"
"""

GOOD = """
[[rule]]
id = "teeth"
level = "next_visit"
topic = "teeth"
name = "tartar"
any = [{ item = "mouth.teeth", values = ["tartar"] }]
say = "Tartar should be shown to your vet."
source = "trade"
"""


def load(folder: Path, *files: str) -> str:
    """Load a table of these files; return the error's text, or an empty one."""
    for number, text in enumerate(files):
        (folder / f"{number}.toml").write_text(text, encoding="utf-8")
    try:
        load_table(folder, table().catalogue)
    except DataError as error:
        return str(error)
    return ""


def test_a_good_table_loads(tmp_path: Path) -> None:
    """Its version says what was in the files."""
    assert load(tmp_path, HEAD + GOOD) == ""
    first = load_table(tmp_path, table().catalogue).version
    (tmp_path / "0.toml").write_text(HEAD + GOOD.replace("Tartar", "Much tartar"))
    assert load_table(tmp_path, table().catalogue).version != first


@pytest.mark.parametrize(
    ("old", "new", "named"),
    [
        ("mouth.teeth", "mouth.toes", "unknown item mouth.toes"),
        ('values = ["tartar"]', 'values = ["gold"]', "no value 'gold'"),
        ('values = ["tartar"]', "above = 3", "is no number"),
        ('values = ["tartar"]', 'side = "left"', "no side 'left'"),
        ('"mouth.teeth", values = ["tartar"]', '"weight.kg", above = 3, unit = "lb"', "is in kg"),
        ('"mouth.teeth", values = ["tartar"]', '"weight.kg", above = 3', "not in no unit"),
        (', values = ["tartar"]', "", "tests nothing"),
        ('values = ["tartar"]', 'value = ["tartar"]', "unknown key value"),
        ('level = "next_visit"', 'level = "soon"', "level 'soon'"),
        ('level = "next_visit"', 'level = "watch"', "needs recheck"),
        ('source = "trade"', 'source = "rumour"', "unknown source 'rumour'"),
        ('source = "trade"', 'source = "trade"\nbasis = "guess"', "basis 'guess'"),
        ('source = "trade"', 'source = "trade"\nread = "twice"', "read 'twice'"),
        ('source = "trade"', 'source = "trade"\ncautions = ["no_such"]', "unknown caution"),
        ('source = "trade"', 'source = "trade"\nwaits = "mouth.toes"', "waits for unknown item"),
        ('source = "trade"', 'source = "trade"\ncolour = "red"', "unknown key colour"),
        ('source = "trade"', 'source = "trade"\ndog = { wings = true }', "unknown dog fact wings"),
        ('source = "trade"', 'source = "trade"\ndog = { sex = "cat" }', "no value 'cat'"),
        ('say = "Tartar should be shown to your vet."', "", "needs say"),
        ('any = [{ item = "mouth.teeth", values = ["tartar"] }]', "", "has no condition"),
        (
            'any = [{ item = "mouth.teeth", values = ["tartar"] }]',
            'any = [{ none = [{ item = "mouth.teeth", values = ["tartar"] }] }]',
            "fires on no answer",
        ),
        ('version = "9"', "", "version"),
    ],
)
def test_each_mistake_is_named(tmp_path: Path, old: str, new: str, named: str) -> None:
    """With file, row and what is wrong."""
    text = HEAD + GOOD
    assert old in text
    said = load(tmp_path, text.replace(old, new))
    assert named in said


def test_two_rows_of_one_id_are_refused(tmp_path: Path) -> None:
    """Across files too, and the error says where the first one is."""
    said = load(tmp_path, HEAD + GOOD, GOOD)
    assert "1.toml, rule teeth: that id is taken already in 0.toml" in said


def test_all_mistakes_are_named_at_once(tmp_path: Path) -> None:
    """One error, a line each; broken TOML is named by its file."""
    bad = GOOD.replace("mouth.teeth", "mouth.toes").replace("next_visit", "soon")
    said = load(tmp_path, HEAD + bad, "[[rule", GOOD.replace('"teeth"', '"b"', 1) + "x = 1\n")
    for named in ("mouth.toes", "'soon'", "1.toml", "unknown key x"):
        assert named in said


def test_every_source_is_used() -> None:
    """No source is listed that no row or step rests on."""
    used = {rule.source for rule in table().rules} | {step.source for step in table().steps}
    assert set(table().sources) == used


def test_rows_of_our_own_say_so() -> None:
    """Our judgement is never dressed up: it is read as ours, and nothing else is."""
    for rule in table().rules:
        assert (rule.basis == "judgement") == (rule.read == "ours"), rule.id


def test_no_human_medicine_is_ever_advised() -> None:
    """Advice names no drug, dose, food or means to vomit, but to refuse it."""
    for rule in table().rules:
        for text in (rule.say, rule.meanwhile):
            for word in ("ibuprofen", "aspirin", "paracetamol", " mg", "salt water", "induce"):
                assert word not in text.lower(), rule.id
