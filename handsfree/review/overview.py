"""All dogs at a glance, most urgent first: last check, open matters, next due care."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from handsfree.judging.gather import judge_left
from handsfree.judging.model import Level
from handsfree.records.matching import short_key
from handsfree.review.dues import dues_of
from handsfree.review.wording import LEVEL_WORDS, age_words, said_when, sentence

if TYPE_CHECKING:
    from handsfree.records import Dog, Store

__all__ = ["Overview", "Row", "gather_all"]


@dataclass(frozen=True, kw_only=True)
class Row:
    """One dog. ``rank`` is the urgency, 6 for now down to 0, and -1 without a check."""

    name: str
    key: str
    about: str
    level: str
    level_words: str
    rank: int
    last: str
    last_words: str
    open_matters: tuple[str, ...]
    due: str
    due_words: str


@dataclass(frozen=True, kw_only=True)
class Overview:
    """The dogs that are looked after, most urgent first, as of a day."""

    on: date
    rows: tuple[Row, ...]


def gather_all(store: Store, on: date) -> Overview:
    """Gather the overview as of a day."""
    judge_left(store)
    rows = [_row(store, dog, on) for dog in store.dogs.all()]
    rows.sort(key=lambda row: (-row.rank, row.last, row.name.casefold()))
    return Overview(on=on, rows=tuple(rows))


def _row(store: Store, dog: Dog, on: date) -> Row:
    result = store.results.standing_of_dog(dog.id)
    last = next(iter(store.exams.of_dog(dog.id, limit=1)), None)
    level = result.level if result else ""
    rank = Level(level).rank if level in LEVEL_WORDS else -1
    fired = result.body.get("fired", ()) if result else ()
    matters = tuple(dict.fromkeys(sentence(str(row.get("name", ""))) for row in fired))
    due, due_words = _next_due(store, dog, on)
    about = ", ".join(part for part in (dog.breed, age_words(dog, on)) if part)
    day = None if last is None else last.begun_at.date()
    return Row(
        name=dog.name,
        key=short_key(dog.id),
        about=about,
        level=level,
        level_words=sentence(LEVEL_WORDS.get(level, "not judged yet")),
        rank=rank,
        last="" if day is None else day.isoformat(),
        last_words="never" if day is None else said_when(day, on).partition(",")[0],
        open_matters=matters,
        due=due,
        due_words=due_words,
    )


def _next_due(store: Store, dog: Dog, on: date) -> tuple[str, str]:
    """Return the next due care as a sortable day and in words."""
    dues = dues_of(store, dog.id, on)
    first = next((due for due in dues if due.due is not None), None)
    if first is None or first.due is None:
        return "", ""
    if first.last is None:
        when = "never noted"
    elif first.due < on:
        late = (on - first.due).days
        when = f"{late} day{'' if late == 1 else 's'} overdue"
    else:
        when = "today" if first.due == on else f"on {first.due.isoformat()}"
    more = sum(1 for due in dues if due.due is not None and due.due <= on + timedelta(days=7)) - 1
    also = f", and {more} more within a week" if more > 0 else ""
    return first.due.isoformat(), f"{sentence(first.task.title)}: {when}{also}"
