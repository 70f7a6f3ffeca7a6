"""Differing answers in words, and settling one: named, listed, settled, judged anew.

Which answers differ is the records', what follows from it judging's; here they meet a person.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from handsfree.errors import CallerError
from handsfree.judging.differing import differences_of
from handsfree.judging.gather import judge_anew
from handsfree.judging.rules import read_table
from handsfree.protocol.loader import load
from handsfree.records.matching import short_key
from handsfree.records.model import Answer
from handsfree.records.settling import Difference
from handsfree.records.store import Store
from handsfree.units import shown

__all__ = ["Settled", "brief_of", "find", "heading_of", "lines_of", "open_of_dog", "settle"]


@dataclass(frozen=True, kw_only=True)
class Settled:
    """What settling did: the difference as it is now, and how many checks were judged anew."""

    difference: Difference
    judged: int


def heading_of(store: Store, one: Difference) -> str:
    """Return which dog, day and item, beginning with the key by which it is settled."""
    side = f", {one.side.replace('_', ' ')}" if one.side else ""
    name = one.item.replace(".", " ").replace("_", " ")
    return f"{one.key} {store.dogs.get(one.dog_id).name}, {one.day}, {name}{side}:"


def lines_of(store: Store, one: Difference) -> tuple[str, ...]:
    """Return each answer with its number, when it was given and by whom; then how it stands."""
    several = len(_stations(store)) > 1
    lines = [
        f"{number} {_value(answer)}, {answer.at:%H:%M} by {_who(store, answer, several)}"
        for number, answer in enumerate(one.answers, 1)
    ]
    if one.settled is None:
        lines.append("Not settled: the worse counts.")
    else:
        by = _person(store, one.settled.person_id)
        why = f": {one.settled.why}" if one.settled.why else ""
        counts = one.answers.index(one.counts) + 1 if one.counts is not None else 0
        lines.append(f"Settled by {by} on {one.settled.at:%Y-%m-%d %H:%M}: {counts} counts{why}.")
    return tuple(lines)


def brief_of(store: Store, one: Difference) -> str:
    """Return a difference as one sentence, for a handover or a list."""
    several = len(_stations(store)) > 1
    side = f", {one.side.replace('_', ' ')}" if one.side else ""
    name = one.item.replace(".", " ").replace("_", " ")
    said = " and ".join(f"{_value(a)} by {_who(store, a, several)}" for a in one.answers)
    end = "not settled, the worse counts"
    if one.settled is not None and one.counts is not None:
        end = f"settled by {_person(store, one.settled.person_id)}: {_value(one.counts)} counts"
    return f"{store.dogs.get(one.dog_id).name}, {one.day:%d %B}: {name}{side} is {said}; {end}."


def open_of_dog(store: Store, dog_id: str, on: datetime) -> tuple[Difference, ...]:
    """Return what differs of a dog on one day and is not settled."""
    begin = on.replace(hour=0, minute=0, second=0, microsecond=0)
    return differences_of(store, since=begin, until=begin + timedelta(days=1), dog_id=dog_id)


def find(store: Store, key: str) -> Difference:
    """Return the difference of this key, settled or not.

    Raises:
        CallerError: There is none, or more than one.
    """
    wanted = key.strip().lower()
    hits = [one for one in differences_of(store, settled=True) if one.key == wanted]
    if len(hits) == 1:
        return hits[0]
    what = "No two answers that differ have" if not hits else f"{len(hits)} differences have"
    msg = f"{what} the key {key!r}. See them with: handsfree kennel differs"
    raise CallerError(msg)


def settle(store: Store, one: Difference, number: int, *, person_id: str, why: str) -> Settled:
    """Store that answer ``number`` counts, and judge the dog's checks of that day anew.

    Raises:
        CallerError: There is no answer of that number.
    """
    if not 1 <= number <= len(one.answers):
        msg = f"There is no answer {number}: give 1 to {len(one.answers)}."
        raise CallerError(msg)
    counts = one.answers[number - 1]
    store.settling.settle(one, counts.id, person_id=person_id, why=why)
    first = min(store.exams.get(answer.exam_id).begun_at for answer in one.answers)
    begin = first.replace(hour=0, minute=0, second=0, microsecond=0)
    exams = [
        exam.id
        for exam in store.exams.of_dog(one.dog_id, since=begin)
        if exam.begun_at < begin + timedelta(days=1)
    ]
    judged = judge_anew(store, exams, read_table())
    return Settled(difference=find(store, one.key), judged=len(judged))


def _value(answer: Answer) -> str:
    if isinstance(answer.value, float):
        return shown(answer.value, answer.unit or "")
    try:
        known = load().question(answer.item).values
    except KeyError:  # retired, or of another version
        known = {}
    text = known.get(str(answer.value), str(answer.value).replace("_", " "))
    return text.replace("{side}", (answer.side or "").replace("_", " ")).strip()


def _who(store: Store, answer: Answer, several: bool) -> str:
    who = _person(store, answer.person_id)
    if not several:
        return who
    return f"{who} at {_stations(store).get(answer.station_id, 'another station')}"


def _person(store: Store, person_id: str | None) -> str:
    return store.people.get(person_id).name if person_id else "nobody named"


def _stations(store: Store) -> dict[str, str]:
    """Return the stations' names by key; of those that are called alike with the key's end."""
    rows = store.file.rows("SELECT id, name FROM stations")
    names = [row["name"] for row in rows]
    return {
        row["id"]: row["name"]
        if names.count(row["name"]) == 1
        else f"{row['name']} [{short_key(row['id'])}]"
        for row in rows
    }
