"""What a check needs to know of the dog before it begins.

Plain data, handed to the machine with the opening event; nothing here reads records or clocks.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

__all__ = ["KnownLump", "Neutered", "Part", "Sex", "Shape", "Sight", "Size", "Subject"]


class Sex(StrEnum):
    """The dog's sex."""

    FEMALE = "female"
    MALE = "male"
    UNKNOWN = "unknown"


class Neutered(StrEnum):
    """Whether the dog is neutered; unknown is asked as if entire."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


class Shape(StrEnum):
    """Shapes that change what is looked for or how a finding weighs."""

    USUAL = "usual"
    FLAT_FACED = "flat_faced"
    SIGHTHOUND = "sighthound"
    GIANT = "giant"
    TOY = "toy"
    LONG_BACKED = "long_backed"


class Size(StrEnum):
    """Adult size classes: toy < 5 kg, small < 10, medium < 25, large < 45, giant from 45 kg."""

    TOY = "toy"
    SMALL = "small"
    MEDIUM = "medium"
    LARGE = "large"
    GIANT = "giant"


class Part(StrEnum):
    """Parts that a dog may lack; their questions are then not applicable."""

    LEFT_FRONT_LEG = "left_front_leg"
    RIGHT_FRONT_LEG = "right_front_leg"
    LEFT_HIND_LEG = "left_hind_leg"
    RIGHT_HIND_LEG = "right_hind_leg"
    LEFT_EYE = "left_eye"
    RIGHT_EYE = "right_eye"
    LEFT_EAR = "left_ear"
    RIGHT_EAR = "right_ear"
    TAIL = "tail"
    FRONT_DEWCLAWS = "front_dewclaws"
    HIND_DEWCLAWS = "hind_dewclaws"


class Sight(StrEnum):
    """How much the person sees; low and none change what is asked and what is printed."""

    FULL = "full"
    LOW = "low"
    NONE = "none"


@dataclass(frozen=True, kw_only=True)
class KnownLump:
    """A lump of an earlier check, asked after by name.

    Attributes:
        key: Its stable id within the dog (``"lump1"``).
        place: As spoken: "the left chest".
        vet_result: What a vet found, if entered; until then advice on it stays.
        length_mm: Last longest diameter, for judging only: never told before today's answer.
        width_mm: Last diameter across.
    """

    key: str
    place: str
    vet_result: str | None = None
    length_mm: float | None = None
    width_mm: float | None = None


@dataclass(frozen=True, kw_only=True)
class Subject:
    """The dog as the exam machine sees it.

    Attributes:
        dog_id: Record key; empty for a dog that is not stored.
        name: As spoken.
        sex: The dog's sex.
        neutered: Whether neutered.
        age_months: Age at the check's day; None if unknown (adult questions and limits then hold).
        weight_kg: Last known weight; None if unknown.
        shape: Shape that changes judging.
        size: Size class; None if unknown.
        missing: Parts that this dog lacks.
        dewclaws: Whether it has any dewclaws.
        pigmented_gums: Gums dark by nature: colour is then looked for elsewhere.
        season: For an entire female: days since the last season began; None if unknown.
        pregnant: Known or possible pregnancy.
        conditions: Tokens of known conditions ("heart", "kidney", "diabetes", "addison" ...).
        medicines: Tokens of medicines that mask signs ("pain_relief", "steroid" ...).
        muzzle_trained: Wears a muzzle calmly.
        has_bitten: Has bitten or snapped when handled.
        lumps: Known lumps.
        known: Other known normals, free words, shown and never judged.
    """

    dog_id: str = ""
    name: str
    sex: Sex = Sex.UNKNOWN
    neutered: Neutered = Neutered.UNKNOWN
    age_months: int | None = None
    weight_kg: float | None = None
    shape: Shape = Shape.USUAL
    size: Size | None = None
    missing: frozenset[Part] = field(default_factory=frozenset)
    dewclaws: bool = True
    pigmented_gums: bool = False
    season: int | None = None
    pregnant: bool = False
    conditions: frozenset[str] = field(default_factory=frozenset)
    medicines: frozenset[str] = field(default_factory=frozenset)
    muzzle_trained: bool = False
    has_bitten: bool = False
    lumps: tuple[KnownLump, ...] = ()
    known: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.age_months is not None and self.age_months < 0:
            msg = f"age_months of {self.name} is {self.age_months}: it cannot be negative"
            raise ValueError(msg)
