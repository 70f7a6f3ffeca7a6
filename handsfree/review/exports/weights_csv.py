"""Plain CSV of weights coming in: columns dog, day, weight, and if wanted unit and how."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import TYPE_CHECKING

from handsfree.errors import CallerError, DataError
from handsfree.records.weights import checked_weight
from handsfree.units import parse_quantity

if TYPE_CHECKING:
    from handsfree.records import Dog, Store

__all__ = ["Taken", "read_weights"]

_NEEDED = ("dog", "day", "weight")
_KNOWN = (*_NEEDED, "unit", "how")
_SAME_KG = 0.001


@dataclass(frozen=True, kw_only=True)
class Taken:
    """One weight of the file: what became or would become of it."""

    dog: Dog
    day: date
    weight_kg: float
    how: str
    known: bool


def read_weights(
    path: Path,
    store: Store,
    *,
    default_unit: str,
    keep: bool,
    person_id: str | None = None,
) -> tuple[Taken, ...]:
    """Read weights; all of them are stored, or none. One that is there already is left out.

    Raises:
        DataError: Something in the file is wrong; every wrong line is named.
    """
    wrong: list[str] = []
    found: list[Taken] = []
    dogs: dict[str, Dog] = {}
    held: dict[str, set[tuple[date, int]]] = {}
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            reader = csv.DictReader(file)
            heads = [(name or "").strip().lower() for name in reader.fieldnames or ()]
            missing = [name for name in _NEEDED if name not in heads]
            unknown = [name for name in heads if name not in _KNOWN]
            if missing or unknown:
                msg = (
                    f"{path} needs the columns dog, day, weight (and may have unit, how) in its "
                    f"first line; it has {', '.join(heads) or 'none'}. Nothing was changed."
                )
                raise DataError(msg)
            reader.fieldnames = heads
            for row in reader:
                try:
                    taken = _taken(row, store, dogs, held, default_unit)
                except CallerError as error:
                    wrong.append(f"line {reader.line_num}: {error}")
                    continue
                found.append(taken)
    except (UnicodeDecodeError, csv.Error) as error:
        msg = f"{path} is no CSV in UTF-8 ({error}). Nothing was changed."
        raise DataError(msg) from error
    if wrong:
        shown = "\n  ".join(wrong[:20])
        more = f"\n  and {len(wrong) - 20} more" if len(wrong) > 20 else ""
        msg = f"{path} has mistakes; nothing was changed:\n  {shown}{more}"
        raise DataError(msg)
    if keep:
        with store.transaction():
            for taken in found:
                if not taken.known:
                    store.weights.enter(
                        taken.dog.id,
                        taken.weight_kg,
                        at=_at(taken.day),
                        how=taken.how,
                        person_id=person_id,
                    )
    return tuple(found)


def _taken(
    row: dict[str, str | None],
    store: Store,
    dogs: dict[str, Dog],
    held: dict[str, set[tuple[date, int]]],
    default_unit: str,
) -> Taken:
    name = (row.get("dog") or "").strip()
    if name not in dogs:
        dogs[name] = store.dogs.find(name, retired=True)
    dog = dogs[name]
    try:
        day = date.fromisoformat((row.get("day") or "").strip())
    except ValueError:
        msg = f"{row.get('day')!r} is no date: give year-month-day, such as 2026-03-14."
        raise CallerError(msg) from None
    if _at(day) > datetime.now(UTC).astimezone():
        msg = f"{day} lies in the future: check the year."
        raise CallerError(msg)
    text = f"{(row.get('weight') or '').strip()} {(row.get('unit') or '').strip()}".strip()
    weight_kg = checked_weight(parse_quantity(text, kind="mass", default=default_unit))
    if dog.id not in held:
        held[dog.id] = {_mark(w.at.date(), w.weight_kg) for w in store.weights.of_dog(dog.id)}
    mark = _mark(day, weight_kg)
    known = mark in held[dog.id]
    held[dog.id].add(mark)
    how = (row.get("how") or "").strip()
    return Taken(dog=dog, day=day, weight_kg=weight_kg, how=how, known=known)


def _mark(day: date, weight_kg: float) -> tuple[date, int]:
    return day, round(weight_kg / _SAME_KG)


def _at(day: date) -> datetime:
    """Return midday here, since a file of days says no time; today's is the day's beginning."""
    hour = 0 if day == date.today() else 12
    return datetime.combine(day, time(hour)).astimezone()
