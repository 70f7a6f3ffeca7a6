"""Life stage and the other facts of a dog that rows may ask about.

Nothing here looks at answers. Ages come in months at the day of judging.
"""

from __future__ import annotations

from enum import StrEnum

from handsfree.judging.conditions import DogFacts
from handsfree.protocol.subject import Shape, Size, Subject

__all__ = ["LifeStage", "dog_facts", "life_stage", "senior_from_months", "size_of"]

PUPPY_UNTIL_MONTHS = 6
"""Adult limits are off below this age; heart and breathing rates of pups lie higher."""

_SENIOR_FROM = {Size.TOY: 120, Size.SMALL: 120, Size.MEDIUM: 96, Size.LARGE: 84, Size.GIANT: 72}
"""Months. Textbook table of shelter medicine (2e, table 2.4): under 9 kg at 10 years, 9 to 41 kg
at 7 to 8, above 41 kg at 6. Within 7 to 8 we take 8 for dogs under 25 kg and 7 above: our
judgement."""


class LifeStage(StrEnum):
    """Stages as in the 2019 guideline of the American Animal Hospital Association."""

    PUPPY = "puppy"
    YOUNG_ADULT = "young_adult"
    MATURE = "mature"
    SENIOR = "senior"
    UNKNOWN = "unknown"


def size_of(subject: Subject) -> Size | None:
    """The size class: as given, else by an adult's weight, else by a telling shape."""
    if subject.size is not None:
        return subject.size
    grown = subject.age_months is None or subject.age_months >= 12
    if subject.weight_kg is not None and grown:
        for size, below in (
            (Size.TOY, 5.0),
            (Size.SMALL, 10.0),
            (Size.MEDIUM, 25.0),
            (Size.LARGE, 45.0),
        ):
            if subject.weight_kg < below:
                return size
        return Size.GIANT
    return {Shape.GIANT: Size.GIANT, Shape.TOY: Size.TOY}.get(subject.shape)


def senior_from_months(subject: Subject) -> int:
    """Age in months from which this dog counts as senior.

    With a weight the table's own limits hold (9 and 41 kg); else the size class; a dog of unknown
    size counts as middling.
    """
    grown = subject.age_months is None or subject.age_months >= 12
    if subject.weight_kg is not None and grown:
        if subject.weight_kg < 9:
            return 120
        if subject.weight_kg > 41:
            return 72
        return 96 if subject.weight_kg < 25 else 84
    return _SENIOR_FROM[size_of(subject) or Size.MEDIUM]


def life_stage(subject: Subject) -> LifeStage:
    """Puppy to 9 months, young adult to 4 years, then mature until senior by size."""
    age = subject.age_months
    if age is None:
        return LifeStage.UNKNOWN
    if age >= senior_from_months(subject):
        return LifeStage.SENIOR
    if age < 9:
        return LifeStage.PUPPY
    return LifeStage.YOUNG_ADULT if age < 48 else LifeStage.MATURE


def dog_facts(subject: Subject) -> DogFacts:
    """Facts by the names that the rule table uses; None where unknown."""
    age = subject.age_months
    size = size_of(subject)
    return {
        "sex": subject.sex.value,
        "neutered": subject.neutered.value,
        "shape": subject.shape.value,
        "size": None if size is None else size.value,
        "age_months": age,
        "adult": age is None or age >= PUPPY_UNTIL_MONTHS,
        "weight_kg": subject.weight_kg,
        "season_days": subject.season,
        "pregnant": subject.pregnant,
        "pigmented_gums": subject.pigmented_gums,
        "senior": life_stage(subject) is LifeStage.SENIOR,
        "conditions": subject.conditions,
        "medicines": subject.medicines,
    }
