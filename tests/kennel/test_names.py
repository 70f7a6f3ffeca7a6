"""Names that are said: of dogs, pens and people, as they are listened for in one round."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from handsfree.hearing.verdict import Listening
from handsfree.kennel.model import RowKind
from handsfree.kennel.names import DOGS, PEOPLE, Names, sayable
from handsfree.kennel.order import Stop
from handsfree.records.model import Person

NOW = datetime(2026, 3, 14, tzinfo=UTC)


def stop(name: str, row: str, pen: str) -> Stop:
    """Return a dog in a pen."""
    return Stop(
        dog_id=name.lower() + pen, name=name, pen_id=row + pen, pen=f"{row} {pen}", row_name=row,
        pen_name=pen, kind=RowKind.HEALTHY,
    )  # fmt: skip


def person(name: str) -> Person:
    """Return somebody."""
    return Person(id=name, name=name, added_at=NOW)


NAMES = Names(
    [stop("Rex", "A", "1"), stop("Rex", "B", "2"), stop("Bella", "A", "12")],
    [person("Kim Ash"), person("Kim Bell"), person("Robin")],
)


@pytest.mark.parametrize(
    ("text", "words"),
    [("Rex", "rex"), ("B 12", "b twelve"), ("B2", "b two"), ("Zoë", "zoe"), ("O'Neill", "o'neill"),
     ("104", "a hundred and four"), ("1200", ""), ("Жучка", ""), ("  ", "")],
)  # fmt: skip
def test_a_name_is_put_into_words(text: str, words: str) -> None:
    """Numbers as they are said, accents left out; what cannot be said is empty."""
    assert sayable(text) == words


def meant(grammar: str, words: str) -> tuple[str, ...]:
    """Return whom ``words`` mean where ``grammar`` is listened for."""
    composed = NAMES.compose(Listening(grammars=("which_dog", grammar), commands=frozenset()))
    meaning = composed.meaning(words)
    return () if meaning is None else NAMES.meant(str(meaning.value))


def test_dogs_are_meant_by_name_and_by_pen() -> None:
    """A name that two dogs have means both, and so does nothing else."""
    assert meant(DOGS, "bella") == ("bella12",)
    assert meant(DOGS, "rex") == ("rex1", "rex2")
    assert meant(DOGS, "pen twelve") == meant(DOGS, "row a pen twelve") == ("bella12",)
    assert meant(DOGS, "b two") == ("rex2",)
    assert meant(DOGS, "spell it") == ()
    assert NAMES.typed(DOGS, "A 12") is not None
    assert NAMES.typed(DOGS, "Fido") is None


def test_people_are_meant_by_first_and_whole_name() -> None:
    """Two of one first name are both meant by it."""
    assert meant(PEOPLE, "this is robin") == ("Robin",)
    assert meant(PEOPLE, "this is kim") == ("Kim Ash", "Kim Bell")
    assert meant(PEOPLE, "this is kim bell") == ("Kim Bell",)


def test_without_anybody_there_is_no_grammar_of_names() -> None:
    """A round of nameless dogs still listens for the words of its files."""
    empty = Names([], [])
    assert empty.grammars == frozenset()
    assert empty.compose(Listening(grammars=("round",))).meaning("how many left") is not None
