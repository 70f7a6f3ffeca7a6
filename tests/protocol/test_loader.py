"""A mistake in a protocol file is named with its file, region, question and key, all at once."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from handsfree.errors import DataError
from handsfree.protocol.loader import DATA_FOLDER, grammar_folder, load, load_from


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """A copy of the shipped files, free to be broken."""
    return shutil.copytree(DATA_FOLDER, tmp_path / "data")


def change(folder: Path, file: str, old: str, new: str) -> None:
    """Replace the first ``old`` of a file by ``new``."""
    path = folder / file
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


MISTAKES = [
    (
        "an unknown key",
        "regions/nose.toml",
        'id = "look"',
        'id = "look"\nprompts = "x"',
        ["nose.toml, region nose, question look, key prompts", "not known"],
    ),
    (
        "a missing prompt",
        "regions/nose.toml",
        'prompt = "How is the nose?"\n',
        "",
        ["nose.toml, region nose, question look, key prompt", "missing"],
    ),
    (
        "a number for a sentence",
        "regions/nose.toml",
        'prompt = "How is the nose?"',
        "prompt = 3",
        ["nose.toml, region nose, question look, key prompt", "give a sentence"],
    ),
    (
        "an unknown kind",
        "regions/weight.toml",
        'kind = "number"',
        'kind = "nmber"',
        ["weight.toml, region weight, question kg, key kind", "'nmber'"],
    ),
    (
        "a value that the grammar lacks",
        "regions/nose.toml",
        'values.runny = "Nose runny"',
        'values.wet = "Nose wet"',
        ["nose.toml, region nose, question look, key values", "'wet' is no tag", "'runny'"],
    ),
    (
        "an unknown grammar",
        "regions/nose.toml",
        'grammar = "nose"',
        'grammar = "noose"',
        ["nose.toml, region nose, question look, key grammar", "no grammars/noose.jsgf"],
    ),
    (
        "a normal value that is none",
        "regions/nose.toml",
        'normal = ["normal"]',
        'normal = ["fine"]',
        ["nose.toml, region nose, question look, key normal", "'fine'"],
    ),
    (
        "a value that is normal and alarming",
        "regions/nose.toml",
        'normal = ["normal"]',
        'normal = ["normal", "bleeding"]',
        ["nose.toml, region nose, question look, key alarming", "also normal"],
    ),
    (
        "an unknown source",
        "regions/nose.toml",
        'source = "common_practice"',
        'source = "hearsay"',
        ["nose.toml, region nose, question look, key source", "'hearsay'"],
    ),
    (
        "an unknown caution",
        "regions/now.toml",
        'caution = "may_bite"',
        'caution = "may_sing"',
        ["now.toml, region now, question gums, key caution", "'may_sing'"],
    ),
    (
        "a condition on an unknown item",
        "regions/now.toml",
        'item = "now.signs"',
        'item = "now.sighs"',
        ["now.toml, region now, question signs_which, key when", "no item 'now.sighs'"],
    ),
    (
        "a condition on an unknown value",
        "regions/now.toml",
        'values = ["something"]',
        'values = ["anything"]',
        ["now.toml, region now, question signs_which, key when", "'anything' is no value"],
    ),
    (
        "a condition without a test",
        "regions/now.toml",
        'when = [{ item = "now.signs", values = ["something"] }]',
        'when = [{ item = "now.signs" }]',
        ["now.toml, region now, question signs_which, key when 1", "needs one of"],
    ),
    (
        "limits the wrong way round",
        "regions/weight.toml",
        "usual_low = 0.8",
        "usual_low = 95",
        ["weight.toml, region weight, question kg, key limits", "low below high"],
    ),
    (
        "a number without a unit",
        "regions/weight.toml",
        'unit = "kg"\n',
        "",
        ["weight.toml, region weight, question kg, key unit", "missing"],
    ),
    (
        "a part that no dog has",
        "regions/ears.toml",
        'left = "left_ear"',
        'left = "left_wing"',
        ["ears.toml, region ears, question look, key part", "left_wing"],
    ),
    (
        "a second question of one id",
        "regions/ears.toml",
        'id = "inside"',
        'id = "look"',
        ["ears.toml, region ears, question look, key id", "twice"],
    ),
    (
        "a region that is not named like its file",
        "regions/ears.toml",
        'id = "ears"',
        'id = "earz"',
        ["ears.toml, region earz, key id", "name the file earz.toml", "no region 'ears'"],
    ),
    (
        "a routine that does not begin with the signs that cannot wait",
        "routines.toml",
        'regions = ["now", "watch"]',
        'regions = ["watch", "now"]',
        ["routines.toml, routine glance, key regions", "first region must be 'now'"],
    ),
    (
        "a routine with an unknown window",
        "routines.toml",
        '"breaths.rate" = 30',
        '"breaths.rate" = 15',
        ["routines.toml, routine quick, key window_s", "no window of 15 s"],
    ),
    (
        "a routine that narrows to an unknown question",
        "routines.toml",
        'watch = ["attitude"]',
        'watch = ["altitude"]',
        ["routines.toml, routine glance, key only.watch", "'altitude'"],
    ),
    (
        "a caution without its source",
        "cautions.toml",
        'source = "bite_avma"',
        'source = "rumour"',
        ["cautions.toml, may_bite, key source", "'rumour'"],
    ),
    (
        "a source of an unknown basis",
        "sources.toml",
        'basis = "guideline"',
        'basis = "guess"',
        ["sources.toml", "key basis", "'guess'"],
    ),
    (
        "a retired item that is asked",
        "retired.toml",
        "items = []",
        'items = ["nose.look"]',
        ["retired.toml, item nose.look", "is retired"],
    ),
    (
        "a file that is no TOML",
        "regions/nose.toml",
        'id = "nose"',
        "id = nose",
        ["nose.toml: is no TOML", "line 1"],
    ),
]


@pytest.mark.parametrize(
    "file, old, new, told", [m[1:] for m in MISTAKES], ids=[m[0] for m in MISTAKES]
)
def test_a_mistake_is_named(data: Path, file: str, old: str, new: str, told: list[str]) -> None:
    """The message names the place and what is wrong there."""
    change(data, file, old, new)
    with pytest.raises(DataError) as caught:
        load_from(data, grammar_folder())
    for part in told:
        assert part in str(caught.value)


def test_every_mistake_is_told_at_once(data: Path) -> None:
    """Three mistakes in three files come in one message that counts them."""
    change(data, "regions/nose.toml", 'prompt = "How is the nose?"\n', "")
    change(data, "regions/ears.toml", 'source = "common_practice"', 'source = "hearsay"')
    change(data, "cautions.toml", 'source = "bite_avma"', 'source = "rumour"')
    with pytest.raises(DataError) as caught:
        load_from(data, grammar_folder())
    message = str(caught.value)
    assert "3 problems" in message
    assert all(file in message for file in ("nose.toml", "ears.toml", "cautions.toml"))


def test_a_missing_file_is_told(data: Path) -> None:
    """Without its list of routines the protocol does not load."""
    (data / "routines.toml").unlink()
    with pytest.raises(DataError, match=r"routines\.toml: cannot be read"):
        load_from(data, grammar_folder())


def test_the_shipped_protocol_loads_once() -> None:
    """The shipped files are right, and are read once a process."""
    assert load() is load()
    assert len(load().version) == 12


def test_the_version_follows_the_content(data: Path) -> None:
    """A changed word changes the protocol's version."""
    before = load_from(data, grammar_folder()).version
    change(data, "regions/nose.toml", "How is the nose?", "How is its nose?")
    assert load_from(data, grammar_folder()).version != before
