"""Cutting a text into sentences, each spoken on its own with a listening gap after it."""

from __future__ import annotations

import re

__all__ = ["split_sentences"]

_MAX_WORDS = 24
"""A longer sentence is cut once more: about eight seconds is as long as nobody can break in."""

_ABBREVIATIONS = {"dr", "mr", "mrs", "ms", "st", "vs", "e.g", "i.e", "approx", "no", "min", "max"}
_END = re.compile(r"[.!?…]+[\"'”’)\]]*(?=\s)")
_CLAUSE = re.compile(r"[;:,–—](?=\s)")


def split_sentences(text: str) -> tuple[str, ...]:
    """Return the sentences of ``text``, without white space around them.

    Decimals ("12.4") and common abbreviations ("Dr.", "e.g.") end none; the end of a line does. A
    sentence of more than about 24 words is cut at a comma or the like, where it has one.
    """
    sentences: list[str] = []
    for line in text.splitlines():
        start = 0
        for end in _END.finditer(line):
            if not _is_abbreviation(line[start : end.end()]):
                sentences += _shorten(line[start : end.end()])
                start = end.end()
        sentences += _shorten(line[start:])
    return tuple(sentences)


def _is_abbreviation(sentence: str) -> bool:
    if not sentence.endswith("."):
        return False
    words = sentence.split()
    last = words[-1].strip("(\"'“‘").rstrip(".").lower()
    # "No." ends a sentence if it is all of it.
    return last in _ABBREVIATIONS and len(words) > 1


def _shorten(sentence: str) -> list[str]:
    sentence = " ".join(sentence.split())
    if not any(letter.isalnum() for letter in sentence):
        return []
    words = len(sentence.split())
    if words <= _MAX_WORDS:
        return [sentence]
    cuts = [match.end() for match in _CLAUSE.finditer(sentence)]
    # The cut nearest the middle that leaves at least a few words on either side.
    usable = [
        cut for cut in cuts if min(len(sentence[:cut].split()), len(sentence[cut:].split())) >= 4
    ]
    if not usable:
        return [sentence]
    cut = min(usable, key=lambda at: abs(len(sentence[:at].split()) - words / 2))
    return _shorten(sentence[:cut]) + _shorten(sentence[cut:])
