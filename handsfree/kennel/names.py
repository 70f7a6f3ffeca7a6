"""What can be said of the dogs, pens and people of one round: grammars made from the roster.

The names of dogs and people stand in no grammar file, so they are put together here and handed to
hearing beside the files. A phrase that could mean several stands for all of them, and whoever asked
asks on. A name that the recogniser does not know is spelled, or its pen is said.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence

from handsfree.hearing.grammar import Grammar, ListeningGrammar, compose
from handsfree.hearing.verdict import Listening, MeaningKind
from handsfree.kennel.order import Stop
from handsfree.numerals import in_words
from handsfree.records.model import Person

__all__ = ["DOGS", "PEOPLE", "Names", "sayable"]

DOGS, PEOPLE = "dogs_here", "people_here"
"""Names of the two grammars; each is there only where somebody can be named."""

_LARGEST = 999


def sayable(text: str) -> str:
    """Return a name as words that can be listened for, "B 12" as "b twelve"; empty if it has none.

    Accents are left out, numbers are said in words.
    """
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    words = re.findall(r"\d+|[a-z][a-z']*", plain)
    if any(word.isdigit() and int(word) > _LARGEST for word in words):
        return ""
    return " ".join(in_words(int(word)) if word.isdigit() else word for word in words)


class Names:
    """Says what a spoken name means in this round.

    Args:
        stops: The round's dogs.
        people: Who can lead.
    """

    def __init__(self, stops: Sequence[Stop], people: Sequence[Person]) -> None:
        self._meant: dict[str, tuple[str, ...]] = {}
        self._own: dict[str, Grammar] = {}
        self._composed: dict[Listening, ListeningGrammar] = {}
        self._add(DOGS, _of_dogs(stops))
        self._add(PEOPLE, _of_people(people))

    def _add(self, name: str, phrases: Mapping[str, tuple[str, ...]]) -> None:
        by_meant: dict[tuple[str, ...], list[str]] = {}
        for phrase, keys in phrases.items():
            by_meant.setdefault(keys, []).append(phrase)
        rules = []
        for number, (keys, said) in enumerate(by_meant.items()):
            tag = f"{name}_{number}"
            self._meant[tag] = keys
            rules.append(f"( {' | '.join(said)} ) {{{tag}}}")
        if rules:
            text = f"#JSGF V1.0;\ngrammar {name};\n\npublic <{name}> =\n    {'  | '.join(rules)};\n"
            self._own[name] = Grammar(text, name=name)

    @property
    def grammars(self) -> frozenset[str]:
        """Which of the two there are."""
        return frozenset(self._own)

    def meant(self, token: str) -> tuple[str, ...]:
        """Return the keys of the dogs or people that a heard token means; empty for another."""
        return self._meant.get(token, ())

    def typed(self, grammar: str, text: str) -> str | None:
        """Return the token of a typed name, or None."""
        own = self._own.get(grammar)
        meaning = own and own.meaning(tuple(sayable(text).split()), MeaningKind.ANSWER)
        return str(meaning.value) if meaning else None

    def compose(self, listening: Listening) -> ListeningGrammar:
        """Return the grammar of what is listened for, these names with it."""
        if not self.grammars.intersection(listening.grammars):
            return compose(listening)
        if listening not in self._composed:
            self._composed[listening] = ListeningGrammar(listening, own=self._own)
        return self._composed[listening]


def _gathered(pairs: Iterable[tuple[str, str]]) -> dict[str, tuple[str, ...]]:
    found: dict[str, dict[str, None]] = {}
    for phrase, key in pairs:
        if phrase:
            found.setdefault(phrase, {})[key] = None
    return {phrase: tuple(keys) for phrase, keys in found.items()}


def _of_dogs(stops: Sequence[Stop]) -> dict[str, tuple[str, ...]]:
    """Return what can be said of dogs and pens, with the dogs that it could mean."""

    def said() -> Iterable[tuple[str, str]]:
        for stop in stops:
            yield sayable(stop.name), stop.dog_id
            pen = sayable(stop.pen_name)
            row = sayable(stop.row_name)
            if not pen:
                continue
            yield f"pen {pen}", stop.dog_id
            if row:
                yield f"{row} {pen}", stop.dog_id
                yield f"row {row} pen {pen}", stop.dog_id

    return _gathered(said())


def _of_people(people: Sequence[Person]) -> dict[str, tuple[str, ...]]:
    """Return how people say who they are: by the whole name, and by the first."""

    def said() -> Iterable[tuple[str, str]]:
        for person in people:
            name = sayable(person.name)
            for words in dict.fromkeys((name, name.partition(" ")[0])):
                if words:
                    yield f"this is {words}", person.id

    return _gathered(said())
