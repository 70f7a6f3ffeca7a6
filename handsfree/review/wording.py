"""Words for people about what was stored: levels, answers, dates as they are said.

Wording only: nothing is read from the records and nothing is judged here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING

from handsfree.judging.result import Telling, reading
from handsfree.numerals import ONES
from handsfree.protocol.single import PREFIX
from handsfree.units import shown

if TYPE_CHECKING:
    from handsfree.records.model import Answer, Dog

__all__ = [
    "LEVEL_NAMES",
    "LEVEL_WORDS",
    "REASONS",
    "age_words",
    "answer_words",
    "item_title",
    "joined",
    "number_words",
    "routine_words",
    "said_when",
    "sentence",
    "side_title",
    "value_words",
]

LEVEL_WORDS: Mapping[str, str] = {
    "now": "call a vet now",
    "same_day": "call a vet today",
    "days": "have it seen within days",
    "next_visit": "for the next visit",
    "watch": "watch",
    "not_enough": "not enough was looked at to say",
    "none_found": "nothing found in what was looked at",
}
LEVEL_NAMES: Mapping[str, str] = {
    "now": "Now",
    "same_day": "Today",
    "days": "Within days",
    "next_visit": "Next visit",
    "watch": "Watch",
    "not_enough": "Not enough seen",
    "none_found": "Nothing found",
}
REASONS: Mapping[str, str] = {
    "skipped": "skipped",
    "cannot_see": "could not be seen",
    "dog_refused": "the dog would not have it",
    "no_time": "no time",
    "not_understood": "the answer was not understood",
    "no_thermometer": "no thermometer at hand",
    "not_known": "not known",
    "undone": "taken back",
    "retracted": "taken back",
    "not_measured": "could not be timed well enough",
}
_TITLES: Mapping[str, str] = {
    "weight.kg": "weight",
    "breaths.rate": "resting breaths",
    "breaths.recount": "resting breaths, counted again",
    "heart.rate": "heart rate",
    "heart.recount": "heart rate, counted again",
    "mouth.refill": "refill of the gums",
    "temperature.degrees": "temperature",
    "temperature.recheck": "temperature, taken again",
    "lumps.known_length": "lump length",
    "lumps.known_width": "lump width",
    "mouth.gum_colour": "gum colour",
    "mouth.gum_moisture": "gum moisture",
    "noticed.water": "water drunk a day",
    "neck.node_size": "biggest node",
}
_BARE = frozenset({"watch", "noticed", "now", "history", "kennel"})
"""Regions of the check that are no part of the dog: their name says nothing."""

_COUNTS = ["no", *ONES[1:13]]
_ORDINALS = [
    "first",
    "second",
    "third",
    "fourth",
    "fifth",
    "sixth",
    "seventh",
    "eighth",
    "ninth",
    "tenth",
    "eleventh",
    "twelfth",
    "thirteenth",
    "fourteenth",
    "fifteenth",
    "sixteenth",
    "seventeenth",
    "eighteenth",
    "nineteenth",
    "twentieth",
    "twenty-first",
    "twenty-second",
    "twenty-third",
    "twenty-fourth",
    "twenty-fifth",
    "twenty-sixth",
    "twenty-seventh",
    "twenty-eighth",
    "twenty-ninth",
    "thirtieth",
    "thirty-first",
]
_MONTHS = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
]
_WEEKDAYS = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]


def said_when(day: date, on: date) -> str:
    """Return a past day as people say it: "three weeks ago, on the fourth of November".

    Args:
        day: The day.
        on: Today.
    """
    ago = (on - day).days
    exact = f"on the {_ORDINALS[day.day - 1]} of {_MONTHS[day.month - 1]}"
    if ago < 0:
        return f"{exact} {day.year}"
    if ago == 0:
        return "today"
    if ago == 1:
        return "yesterday"
    if ago < 7:
        return f"{_count(ago, 'day')} ago, on {_WEEKDAYS[day.weekday()]}"
    if ago < 63:
        return f"{'about ' if ago % 7 else ''}{_count(round(ago / 7), 'week')} ago, {exact}"
    if ago < 365:
        return f"about {_count(round(ago / 30.44), 'month')} ago, {exact}"
    years = round(ago / 365.25)
    return f"about {_count(years, 'year')} ago, {exact} {day.year}"


def _count(number: int, noun: str) -> str:
    if number == 1:
        return f"a {noun}"
    words = _COUNTS[number] if number < len(_COUNTS) else str(number)
    return f"{words} {noun}s"


def age_words(dog: Dog, on: date) -> str:
    """Return a dog's age in words; empty if unknown."""
    if dog.birth is None:
        return ""
    months = (on.year - dog.birth.year) * 12 + on.month - dog.birth.month
    months -= on.day < dog.birth.day
    about = "" if dog.birth_precision is None or dog.birth_precision.value == "day" else "about "
    if months < 24:
        return f"{about}{max(months, 0)} month{'' if months == 1 else 's'}"
    return f"{about}{months // 12} years"


def item_title(item: str) -> str:
    """Return an item as a noun phrase: "gum colour"."""
    if item in _TITLES:
        return _TITLES[item]
    region, _, question = item.partition(".")
    words = question.replace("_", " ")
    return words if region in _BARE else f"{region} {words}".strip()


def side_title(side: str | None, places: Mapping[str, str]) -> str:
    """Return a side as words; a known lump by its place."""
    return "" if side is None else places.get(side, side.replace("_", " "))


def number_words(value: float, unit: str | None, *, imperial: bool = False) -> str:
    """Return a stored number as people read it."""
    return shown(value, unit or "", imperial=imperial)


def answer_words(answer: Answer, telling: Telling, *, imperial: bool = False) -> str:
    """Return what was observed, in words; why not where it was not."""
    if answer.status.value == "not_applicable":
        return "does not apply"
    if answer.status.value == "not_observed":
        reason = answer.reason or ""
        return f"not observed: {REASONS.get(reason, reason.replace('_', ' '))}"
    if isinstance(answer.value, float | int):
        return number_words(float(answer.value), answer.unit, imperial=imperial)
    words = reading(telling, answer.item, answer.value, answer.side)
    return sentence(words or str(answer.value).replace("_", " "))


def value_words(
    telling: Telling,
    item: str,
    value: str | float | None,
    side: str | None,
    unit: str | None,
    *,
    imperial: bool = False,
) -> str:
    """Return a value with what it is, in words: "Left ear red", "Temperature 39.3 °C"."""
    if value is None or isinstance(value, str):
        return sentence(reading(telling, item, value, side))
    info = telling.catalogue.items.get(item)
    title = info.prompt if info and info.kind == "derived" else item_title(item)
    where = side_title(side, telling.places or {})
    title = f"{title}, {where}" if where else title
    if info is not None and info.kind == "derived":
        return sentence(f"{title}: {value:.3g} {info.unit}" if info.unit != "1" else title)
    return sentence(f"{title}: {number_words(float(value), unit, imperial=imperial)}")


def sentence(text: str) -> str:
    """Return ``text`` beginning with a capital letter."""
    return text[:1].upper() + text[1:]


def joined(words: Sequence[str]) -> str:
    """Return words as a list that is said: "a, b and c"."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


def routine_words(routine: str) -> str:
    """Return what was done, without an article: "full check", "measurement: breaths"."""
    if routine.startswith(PREFIX):
        return f"measurement: {routine.removeprefix(PREFIX).replace('_', ' ')}"
    return f"{routine} check"
