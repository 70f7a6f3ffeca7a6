"""One question of a form: what is asked, how it is answered, and how the answer is read back.

Data and what follows from it alone; nothing here speaks or listens.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TypeAlias

from handsfree.dialogue.phrases import amount
from handsfree.errors import CallerError
from handsfree.units import convert

__all__ = ["Answers", "Field", "FieldKind", "Value", "always"]

Value: TypeAlias = str | float | None
"""A token, a text, a number; None where the question was left open."""
Answers: TypeAlias = Mapping[str, Value]

_TYPED = re.compile(r"^(\d{1,6}(?:[.,]\d{1,4})?)\s*(kg|lb|oz|g)?$")


class FieldKind(StrEnum):
    """How a question takes its answer."""

    CHOICE = "choice"
    NAME = "name"
    """Letter by letter in code words; typed as it is."""
    DIGITS = "digits"
    """Digit by digit; typed as it is."""
    NUMBER = "number"
    PACE = "pace"
    """Slower and faster until it is right: the value is the number of steps."""


def always(_answers: Answers) -> bool:
    """Return True: a question that is asked of everybody."""
    return True


@dataclass(frozen=True, kw_only=True)
class Field:
    """One question.

    Attributes:
        id: Its name among the answers.
        kind: How it is answered.
        prompt: At most about twelve words.
        again: The same in other words.
        help: What to do.
        typed: The prompt where answers are typed, if it is another.
        grammar: What it listens with.
        label: As read back before a name or a number.
        values: Each value of a choice, as read back.
        choices: Each value as offered, in the order of the numbered keys.
        default: The value where it is skipped.
        default_said: How that is told.
        unit: Unit of a number.
        low: The least that a number can be.
        high: The most.
        whole: Whole numbers alone.
        fewest: Fewest digits that make a number.
        when: Whether it is asked, by the answers so far.
    """

    id: str
    kind: FieldKind = FieldKind.CHOICE
    prompt: str
    again: str
    help: str
    typed: str = ""
    grammar: str = ""
    label: str = ""
    values: dict[str, str] = field(default_factory=dict)
    choices: dict[str, str] = field(default_factory=dict)
    default: Value = None
    default_said: str = "Left open."
    unit: str | None = None
    low: float = 0.0
    high: float = float("inf")
    whole: bool = False
    fewest: int = 3
    when: Callable[[Answers], bool] = always

    def __post_init__(self) -> None:
        if self.kind is FieldKind.CHOICE and set(self.choices) != set(self.values):
            msg = f"field {self.id}: every value of a choice is offered and read back"
            raise ValueError(msg)

    @property
    def offered(self) -> tuple[tuple[str, str], ...]:
        """Values and spoken choices, in the order of the keys."""
        return tuple(self.choices.items())

    def read_back(self, value: Value) -> str:
        """Return a value as it is said back, without asking."""
        if value is None:
            return f"{self.label or self.id}: left open".strip()
        if self.kind is FieldKind.CHOICE:
            return self.values[str(value)]
        if self.kind is FieldKind.PACE:
            return "The pace as it is now"
        if isinstance(value, float):
            return f"{self.label} {amount(value, self.unit)}".strip()
        return f"{self.label} {value}".strip()

    def number(self, said: float, unit: str | None) -> float | None:
        """Return a number in the field's unit; None where it cannot be."""
        value = said
        if unit is not None and self.unit is not None:
            try:
                value = convert(said, unit, self.unit)
            except CallerError:
                return None
        value = round(value, 3)
        if not self.low <= value <= self.high or (self.whole and value != int(value)):
            return None
        return value

    def from_text(self, text: str, *, picks: bool) -> Value:
        """Return what a typed line means; None where it means nothing.

        Args:
            text: As typed.
            picks: It may be the number of a choice.
        """
        plain = text.strip()
        if self.kind is FieldKind.CHOICE:
            values = list(self.choices)
            if plain.isdigit() and picks:
                return values[int(plain) - 1] if 0 < int(plain) <= len(values) else None
            words = {word.lower(): value for value, word in self.choices.items()}
            low = plain.lower()
            short = {"y": "yes", "n": "no"}.get(low, low)
            return short if short in values else words.get(low)
        if self.kind is FieldKind.NAME:
            return plain or None
        if self.kind is FieldKind.DIGITS:
            enough = sum(c.isdigit() for c in plain) >= self.fewest
            return plain if enough and re.fullmatch(r"[0-9+()/.\- ]+", plain) else None
        met = _TYPED.match(plain.lower())
        return None if met is None else self.number(float(met[1].replace(",", ".")), met[2])
