"""From a number as said or typed to the value that is stored, within what can be."""

from __future__ import annotations

import re
from dataclasses import dataclass

from handsfree.dialogue.events import Key, Keyed
from handsfree.dialogue.phrases import amount, number
from handsfree.errors import CallerError, HeardError
from handsfree.hearing.verdict import Meaning, MeaningKind
from handsfree.measuring.amounts import SIZES
from handsfree.measuring.rates import count
from handsfree.protocol.model import Kind, Question
from handsfree.protocol.subject import Subject
from handsfree.units import convert

__all__ = [
    "Amount",
    "RefusedError",
    "count_to_rate",
    "far_from_last",
    "in_unit",
    "typed_meaning",
    "unusual",
]

Method = tuple[tuple[str, str | float], ...]

_TYPED = re.compile(r"^\s*(\d{1,6}(?:[.,]\d{1,4})?)\s*([A-Za-z/°]*)\s*$")
_TYPED_UNITS = {
    "kg": "kg", "kilo": "kg", "kilos": "kg", "lb": "lb", "lbs": "lb", "pounds": "lb", "oz": "oz",
    "g": "g", "c": "Cel", "°c": "Cel", "f": "degF", "°f": "degF", "mm": "mm", "cm": "cm",
    "in": "in", "ml": "mL", "l": "L", "": None,
}  # fmt: skip
_IMPERIAL = {"kg": "lb", "Cel": "degF", "mm": "in"}


@dataclass(frozen=True, kw_only=True)
class Amount:
    """A number as it is stored.

    Attributes:
        value: In the question's unit.
        method: How it was said or counted.
        said: As the person said it, in words, where that was another unit or a count.
    """

    value: float
    method: Method = ()
    said: str = ""


class RefusedError(ValueError):
    """A number that cannot be; the text says so in one short sentence."""


def in_unit(question: Question, meaning: Meaning, units: str) -> Amount:
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
        except CallerError:
            continue  # a unit of another kind
        limits = question.limits
        if limits is None or limits.hard_low <= value <= limits.hard_high:
            return _amount(round(value, 3), said, unit, question.unit, meaning.target)
    msg = f"{amount(said, meaning.unit)} cannot be right."
    raise RefusedError(msg)


def _amount(value: float, said: float, unit: str, stored: str, like: str | None) -> Amount:
    method: Method = ()
    words = ""
    if unit != stored:
        method = (("said", f"{said:g} {unit}"),)
        words = amount(said, unit)
    if like:
        method = (*method, ("like", like))
        size = SIZES.get(like)
        if size is not None:  # an everyday size is coarse, and stays so
            method = (*method, ("low_mm", size.low_mm), ("high_mm", size.high_mm))
        words = f"like a {like}"
    return Amount(value=value, method=method, said=words)


def count_to_rate(question: Question, meaning: Meaning, window_s: int) -> Amount:
    """Return a count in a window as a rate a minute, and how it was counted.

    Raises:
        RefusedError: It is no whole number, or the rate cannot be.
    """
    if isinstance(meaning.value, str):
        msg = "I need the number that you counted."
        raise RefusedError(msg)
    limits, windows_s = question.limits, question.windows_s
    try:
        counted = count(
            float(meaning.value),
            window_s,
            lowest=limits.hard_low if limits else 0.0,
            highest=limits.hard_high if limits else float("inf"),
            usual_s=windows_s[0] if windows_s else window_s,
        )
    except HeardError as wrong:
        raise RefusedError(str(wrong)) from None
    return Amount(
        value=counted.per_min,
        method=counted.method,
        said="" if window_s == 60 else f"{number(counted.events)} in {window_s} seconds",
    )


def unusual(question: Question, value: float) -> bool:
    """Whether a possible number lies outside the usual range."""
    limits = question.limits
    return limits is not None and not limits.usual_low <= value <= limits.usual_high


def far_from_last(weight_kg: float, subject: Subject) -> bool:
    """Whether a weight is far from the dog's last known one (our own judgement; pups grow)."""
    last = subject.weight_kg
    if not last:
        return False
    young = subject.age_months is not None and subject.age_months < 12
    ratio = weight_kg / last
    return ratio < 1 / 1.5 or ratio > (3.0 if young else 1.5)


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
