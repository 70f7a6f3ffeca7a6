"""Vomiting, diarrhoea and cough over the house: a table per day and row, and its alarm. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from handsfree.errors import CallerError

__all__ = ["Alarm", "Case", "alarms", "table"]


@dataclass(frozen=True, kw_only=True)
class Case:
    """One dog showed a sign on a day in a row."""

    day: date
    row: str
    sign: str
    dog_id: str


@dataclass(frozen=True, kw_only=True)
class Alarm:
    """So many different dogs of one row showed a sign within so many days, ending on ``day``."""

    day: date
    row: str
    sign: str
    dogs: int


def table(cases: Iterable[Case]) -> dict[tuple[date, str, str], int]:
    """Return the number of different dogs by day, row and sign."""
    dogs: dict[tuple[date, str, str], set[str]] = {}
    for case in cases:
        dogs.setdefault((case.day, case.row, case.sign), set()).add(case.dog_id)
    return {key: len(some) for key, some in sorted(dogs.items())}


def alarms(cases: Sequence[Case], *, dogs: int = 2, days: int = 3) -> tuple[Alarm, ...]:
    """Return each day on which a row reached ``dogs`` different dogs within ``days`` days.

    The defaults are our own judgement, awaiting a vet: the second case shows, not the tenth.

    Raises:
        CallerError: ``dogs`` or ``days`` is below one.
    """
    if dogs < 1 or days < 1:
        msg = f"An alarm at {dogs} dogs in {days} days cannot be: give numbers from 1."
        raise CallerError(msg)
    found = []
    for day, row, sign in sorted({(c.day, c.row, c.sign) for c in cases}):
        first = day - timedelta(days=days - 1)
        ill = {c.dog_id for c in cases if (c.row, c.sign) == (row, sign) and first <= c.day <= day}
        if len(ill) >= dogs:
            found.append(Alarm(day=day, row=row, sign=sign, dogs=len(ill)))
    return tuple(found)
