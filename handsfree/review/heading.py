"""The head of a dog's page: who it is, and which check the page speaks of.

Wording only, of values that were read already; people's names alone are looked up.
"""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from handsfree.review.wording import (
    age_words,
    joined,
    number_words,
    routine_words,
    said_when,
    sentence,
)

if TYPE_CHECKING:
    from handsfree.protocol.model import Protocol
    from handsfree.records import Dog, Exam, Store

__all__ = ["exam_words", "facts_of"]


def facts_of(
    dog: Dog, on: date, weight_kg: float | None, *, imperial: bool
) -> tuple[tuple[str, str], ...]:
    """Return short facts on a dog as pairs of name and words; what is not known is left out."""
    sex = {"female": "female", "male": "male"}.get(dog.sex.value, "")
    neutered = {"yes": "neutered", "no": "entire"}.get(dog.neutered.value, "")
    weight = "" if weight_kg is None else number_words(weight_kg, "kg", imperial=imperial)
    pairs = (
        ("Breed", dog.breed),
        ("Age", age_words(dog, on)),
        ("Sex", ", ".join(part for part in (sex, neutered) if part)),
        ("Last weight", weight),
        ("Looks", dog.looks),
        ("Chip", dog.chip or ""),
        ("Owner", dog.owner),
        ("Conditions", joined([one.replace("_", " ") for one in sorted(dog.conditions)])),
        ("Medicines", joined([one.replace("_", " ") for one in sorted(dog.medicines)])),
        ("Handling", "; ".join(_handling(dog))),
        ("Known and normal for it", "; ".join(dog.known)),
    )
    return tuple((name, value) for name, value in pairs if value)


def _handling(dog: Dog) -> list[str]:
    words = ["has bitten or snapped when handled"] if dog.has_bitten else []
    words += ["wears a muzzle calmly"] if dog.muzzle_trained else []
    return [*words, dog.handling] if dog.handling else words


def exam_words(store: Store, exam: Exam, protocol: Protocol, on: date) -> str:
    """Return what was done, when and by whom, in words, without a full stop."""
    routine = protocol.routines.get(exam.routine)
    title = routine.title if routine else f"the {routine_words(exam.routine)}"
    who = f", by {store.people.get(exam.person_id).name}" if exam.person_id else ""
    ended = "" if exam.outcome and exam.outcome.value == "complete" else ", not finished"
    day = exam.begun_at
    return (
        f"{sentence(title)} on {day.day} {day:%B %Y} at {day:%H:%M} "
        f"({said_when(day.date(), on).partition(',')[0]}){who}{ended}"
    )
