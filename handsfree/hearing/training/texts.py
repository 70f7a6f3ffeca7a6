"""What is said in training: the grammars' short phrases, and much that is none of them.

`short_phrases` reads the grammars; `ASIDES` is speech to the dog and to people in the room;
`SENTENCES` is longer talk that is cut into pieces. The wording here is our own.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from importlib import resources
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handsfree.hearing.training.expand import expand
from handsfree.numerals import ONES, TENS

__all__ = [
    "ASIDES",
    "OPENERS",
    "SENTENCES",
    "TALK",
    "is_short",
    "normalise",
    "open_sets",
    "own_prompts",
    "short_phrases",
]

MAX_WORDS = 5
MAX_SYLLABLES = 8  # about 1.6 s said without haste
OPEN_FORM = 400  # a grammar with more phrases of up to three words is an open form
_NUMBERS = frozenset(
    [
        *ONES,
        *TENS,
        "oh",
        "hundred",
        "point",
        "half",
        "quarter",
        "quarters",
        "about",
        "around",
        "it's",
        "a",
        "an",
        "like",
        "kilo",
        "kilos",
        "kilogram",
        "kilograms",
        "gram",
        "grams",
        "pound",
        "pounds",
        "ounce",
        "ounces",
    ]
)


def normalise(text: str) -> str:
    """Lower case, single spaces, no punctuation but the apostrophe."""
    return " ".join(re.sub(r"[^a-z' ]+", " ", text.lower().replace("’", "'")).split())


def _syllables(text: str) -> int:
    count = 0
    for word in text.split():
        groups = re.findall(r"[aeiouy]+", word)
        silent = word.endswith("e") and not word.endswith("le") and len(groups) > 1
        count += max(1, len(groups) - silent)
    return count


def is_short(phrase: str) -> bool:
    """Whether the second ear is meant to know this phrase: few words, and said within 1.6 s."""
    return len(phrase.split()) <= MAX_WORDS and _syllables(phrase) <= MAX_SYLLABLES


def _phrases(file: Path) -> set[str]:
    """What the ear is to know of one grammar.

    Of an open form (numbers with decimals and units) only its single words and the phrases without
    a number are taken: there the recogniser leads.
    """
    found = {normalise(phrase) for phrase in expand(file, 3)}
    if len(found) > OPEN_FORM:
        found = {p for p in found if len(p.split()) == 1 or not _NUMBERS.intersection(p.split())}
    else:
        found = {normalise(phrase) for phrase in expand(file, MAX_WORDS)}
    return {phrase for phrase in found if phrase and is_short(phrase)}


def short_phrases(grammars: Path) -> list[str]:
    """Every short phrase of the JSGF files of a folder, sorted."""
    files = sorted(grammars.glob("*.jsgf"))
    return sorted(set().union(*(_phrases(file) for file in files)))


def open_sets(grammars: Path, phrases: Sequence[str]) -> list[NDArray[np.int64]]:
    """What is open together: each grammar's short phrases with the commands, as labels from 1."""
    index = {phrase: number for number, phrase in enumerate(phrases, start=1)}

    def labels(file: Path) -> set[int]:
        return {index[p] for p in map(normalise, expand(file)) if p in index}

    commands = grammars / "commands.jsgf"
    always = labels(commands) if commands.is_file() else set()
    sets = [labels(file) | always for file in sorted(grammars.glob("*.jsgf"))]
    return [np.array(sorted(found), np.int64) for found in sets if found]


def _lines(name: str) -> tuple[str, ...]:
    text = (resources.files(__package__) / name).read_text(encoding="utf-8")
    return tuple(dict.fromkeys(line.strip() for line in text.splitlines() if line.strip()))


ASIDES = _lines("asides.txt")
"""Speech that is not for the assistant: to the dog, to others, to oneself, into a telephone."""

SENTENCES = _lines("sentences.txt")
"""Longer talk, the radio, reading aloud; cut into pieces by the training."""

TALK = _lines("talk.txt")
"""Short stretches of talk drawn from a language model, see ``training.talk``."""

OPENERS = (
    "no",
    "yes",
    "okay",
    "good",
    "easy",
    "back",
    "help",
    "stop",
    "wait",
    "skip",
    "right",
    "done",
)
"""Phrases of ours with which talk to a dog often begins; followed by more, they are no answer."""


def own_prompts() -> tuple[str, ...]:
    """What the assistant itself asks: its voice may come back through the microphone."""
    folder = resources.files("handsfree.protocol") / "data" / "regions"
    found: list[str] = []
    for file in sorted(folder.iterdir(), key=lambda file: file.name):
        if file.name.endswith(".toml"):
            region = tomllib.loads(file.read_text(encoding="utf-8"))
            found += [question["prompt"] for question in region.get("question", [])]
    return tuple(dict.fromkeys(found))
