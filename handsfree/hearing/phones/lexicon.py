"""How words are pronounced: the CMU dictionary in PocketSphinx's wheel, read word by word.

The dictionary is sorted, so a word is found by bisection in the mapped file: nothing of its 134,000
lines is kept in memory, and a person's or dog's name is found as well as a grammar's words.
"""

from __future__ import annotations

import functools
import itertools
import math
import mmap
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from handsfree.errors import EngineError
from handsfree.hearing.pronunciations import PRONUNCIATIONS

__all__ = ["Lexicon", "Spelling"]

Spelling = tuple[str, ...]
"""Phones of the CMU set, without stress."""

MOST_WAYS = 6
"""A phrase of words with several pronunciations is tried in no more ways than this: if there are
more, one word at a time is said otherwise."""


class Lexicon:
    """Pronunciations by word.

    Args:
        file: Sorted lines of a word and its phones; PocketSphinx's own where none is given.
        more: Further pronunciations of words that the file has.

    Raises:
        EngineError: The dictionary is not on this machine.
    """

    def __init__(
        self,
        file: Path | None = None,
        more: Mapping[str, tuple[str, ...]] = PRONUNCIATIONS,
    ) -> None:
        path = file or _shipped()
        self._more = more
        try:
            with path.open("rb") as opened:
                self._text = mmap.mmap(opened.fileno(), 0, access=mmap.ACCESS_READ)
        except (OSError, ValueError) as wrong:
            msg = (
                f"the dictionary {path.name} cannot be read ({wrong}). Install pocketsphinx again."
            )
            raise EngineError(msg) from None
        self.of_word = functools.lru_cache(maxsize=4096)(self._of_word)

    def ways(self, words: tuple[str, ...]) -> tuple[Spelling, ...]:
        """Return how ``words`` may be pronounced; nothing where one of them is not known."""
        known = [self.of_word(word) for word in words]
        if not all(known):
            return ()
        mixed: Iterator[tuple[Spelling, ...]] = itertools.product(*known)
        if math.prod(map(len, known)) > MOST_WAYS:
            mixed = itertools.islice(_one_word_otherwise(known), MOST_WAYS)
        return tuple(tuple(itertools.chain.from_iterable(way)) for way in mixed)

    def _of_word(self, word: str) -> tuple[Spelling, ...]:
        found = list(self._lines(word.encode()))
        if found:
            found += [tuple(phones.split()) for phones in self._more.get(word, ())]
        return tuple(dict.fromkeys(found))

    def _lines(self, word: bytes) -> list[Spelling]:
        """Return the pronunciations that the file has, in its order."""
        low, high = 0, len(self._text)
        while low < high:  # to the first line that is not before the word
            middle = self._text.rfind(b"\n", low, (low + high) // 2) + 1 or low
            end = self._text.find(b"\n", middle)
            end = len(self._text) if end < 0 else end
            if _word_of(self._text[middle:end]) < word:
                low = end + 1
            else:
                high = middle
        found: list[Spelling] = []
        while low < len(self._text):
            end = self._text.find(b"\n", low)
            end = len(self._text) if end < 0 else end
            line = self._text[low:end]
            if _word_of(line) != word:
                break
            found.append(tuple(phone.decode() for phone in line.split()[1:]))
            low = end + 1
        return found


def _one_word_otherwise(
    known: Sequence[tuple[Spelling, ...]],
) -> Iterator[tuple[Spelling, ...]]:
    """Yield the usual way to say each word, then with one of them said another way, by turns."""
    usual = tuple(ways[0] for ways in known)
    yield usual
    for other in range(1, max(map(len, known))):
        for place, ways in enumerate(known):
            if other < len(ways):
                yield (*usual[:place], ways[other], *usual[place + 1 :])


def _word_of(line: bytes) -> bytes:
    """Return the word of a line without the number of a further pronunciation."""
    return line.partition(b" ")[0].partition(b"(")[0]


def _shipped() -> Path:
    try:
        import pocketsphinx  # only for where its model lies
    except ImportError as missing:
        msg = f"PocketSphinx is not installed here ({missing}). Run: pip install pocketsphinx"
        raise EngineError(msg) from None
    return Path(pocketsphinx.get_model_path("en-us/cmudict-en-us.dict"))
