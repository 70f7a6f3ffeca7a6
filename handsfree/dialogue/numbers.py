"""From a number as said or typed to the value that is stored, within what can be."""

from __future__ import annotations

import re

from handsfree.dialogue.events import Key, Keyed
from handsfree.hearing.verdict import Meaning, MeaningKind
from handsfree.protocol.model import Kind, Question
from handsfree.units import convert

__all__ = ["RefusedError", "count_to_rate", "in_unit", "typed_meaning", "unusual"]

Method = tuple[tuple[str, str | float], ...]

_TYPED = re.compile(r"^\s*(\d{1,6}(?:[.,]\d{1,4})?)\s*([A-Za-z/°]*)\s*$")
_TYPED_UNITS = {
    "kg": "kg", "kilo": "kg", "kilos": "kg", "lb": "lb", "lbs": "lb", "pounds": "lb", "oz": "oz",
    "g": "g", "c": "Cel", "°c": "Cel", "f": "degF", "°f": "degF", "mm": "mm", "cm": "cm",
    "in": "in", "ml": "mL", "l": "L", "": None,
}  # fmt: skip
_IMPERIAL = {"kg": "lb", "Cel": "degF", "mm": "in"}


class RefusedError(ValueError):
    """A number that cannot be; the text says so in one short sentence."""


def in_unit(question: Question, meaning: Meaning, units: str) -> tuple[float, Method]:
    """Return the number in the question's unit, and how it was said.

    A number without a unit is read in the person's system first, then in any unit that is heard
    here, and taken in the first in which it can be (a temperature of 101.4 is Fahrenheit).

    Raises:
        RefusedError: No unit makes the number possible, or it is no number.
    """
    if isinstance(meaning.value, str) or question.unit is None:
        msg = "I need a number."
        raise RefusedError(msg)
    said = float(meaning.value)
    tried: list[str]
    if meaning.unit is not None:
        tried = [meaning.unit]
    else:
        own = _IMPERIAL.get(question.unit, question.unit) if units == "imperial" else question.unit
        tried = list(dict.fromkeys([own, question.unit, *question.units_heard]))
    for unit in tried:
        try:
            value = convert(said, unit, question.unit)
        except (ValueError, KeyError):
            continue
        limits = question.limits
        if limits is None or limits.hard_low <= value <= limits.hard_high:
            method: Method = () if unit == question.unit else (("said", f"{said:g} {unit}"),)
            if meaning.target:
                method = (*method, ("like", meaning.target))
            return round(value, 3), method
    named = f"{said:g} {meaning.unit or ''}".strip()
    msg = f"{named} cannot be right."
    raise RefusedError(msg)


def count_to_rate(question: Question, meaning: Meaning, window_s: int) -> tuple[float, Method]:
    """Return a count in a window as a rate a minute, and how it was counted.

    Raises:
        RefusedError: It is no whole number, or the rate cannot be.
    """
    if isinstance(meaning.value, str) or float(meaning.value) != int(meaning.value):
        msg = "I need the number that you counted."
        raise RefusedError(msg)
    count = int(meaning.value)
    rate = count * 60 / window_s
    limits = question.limits
    if limits is not None and not limits.hard_low <= rate <= limits.hard_high:
        msg = f"{count} cannot be right."
        raise RefusedError(msg)
    method: Method = (
        ("count", float(count)),
        ("window_s", float(window_s)),
        ("resolution_per_min", 60 / window_s),
    )
    return rate, method


def unusual(question: Question, value: float) -> bool:
    """Whether a possible number lies outside the usual range."""
    limits = question.limits
    return limits is not None and not limits.usual_low <= value <= limits.usual_high


def typed_meaning(question: Question, event: Keyed) -> Meaning | None:
    """Return what a typed answer means at ``question``, or None."""
    text = event.text.strip().lower()
    if question.kind is Kind.CHOICE:
        values = list(question.choices or question.values)
        if event.key is Key.NUMBER or text.isdigit():
            place = int(text) - 1 if text.isdigit() else -1
            if 0 <= place < len(values):
                return Meaning(kind=MeaningKind.ANSWER, value=values[place])
            return None
        token = text.replace(" ", "_")
        if token in question.values:
            return Meaning(kind=MeaningKind.ANSWER, value=token)
        spoken = {words.lower(): value for value, words in question.choices.items()}
        value = spoken.get(text)
        return None if value is None else Meaning(kind=MeaningKind.ANSWER, value=value)
    match = _TYPED.match(text)
    if match is None or match[2] not in _TYPED_UNITS:
        return None
    return Meaning(
        kind=MeaningKind.ANSWER,
        value=float(match[1].replace(",", ".")),
        unit=_TYPED_UNITS[match[2]],
    )
