"""The check as data: the shape that every protocol file must have.

Frozen, keyword-only dataclasses and nothing else. Reading files and checking them live in
``reader``, ``build``, ``check`` and ``loader``; choosing what is asked next lives in ``plan``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Literal

from handsfree.protocol.subject import Part

__all__ = [
    "Applies",
    "Basis",
    "Caution",
    "Condition",
    "Kind",
    "Limits",
    "Protocol",
    "Question",
    "Read",
    "Region",
    "Routine",
    "SightNeed",
    "Source",
]

Basis = Literal["guideline", "study", "handbook", "clinic", "common practice", "judgement"]
Read = Literal["full", "excerpt", "abstract", "memory", "ours"]


class Kind(StrEnum):
    """How a question takes its answer."""

    CHOICE = "choice"
    """One token of the grammar's tags."""
    NUMBER = "number"
    """A number with a unit (weight, temperature, size)."""
    REFILL = "refill"
    """The spoken stopwatch: press, hold, release, pink."""
    COUNT = "count"
    """Breaths or beats counted in a window; the count is said at the end."""


class SightNeed(StrEnum):
    """What a person must be able to do to answer."""

    SEE = "see"
    """Must be seen; ``touch_prompt`` is another way where medicine allows one."""
    TOUCH = "touch"
    """Felt, smelt, heard or known: asked of everyone alike."""


@dataclass(frozen=True, kw_only=True)
class Source:
    """Where a fact comes from.

    ``basis`` and ``read`` say how well it is known; ``cite`` is short and in our own words.
    """

    key: str
    cite: str
    basis: Basis
    read: Read


@dataclass(frozen=True, kw_only=True)
class Caution:
    """A caution, spoken once a check where it is due. ``say`` is what is spoken."""

    key: str
    say: str
    source: str


@dataclass(frozen=True, kw_only=True)
class Condition:
    """True when the latest answer of ``item`` fits; used for follow-ups.

    An item that was not observed or not applicable fits nothing. When both the asking and the
    asked item have that side, the same side is meant, unless ``side`` names one; else any side
    serves.
    """

    item: str
    values: tuple[str, ...] = ()
    not_values: tuple[str, ...] = ()
    above: float | None = None
    below: float | None = None
    side: str | None = None

    def __post_init__(self) -> None:
        if not (self.values or self.not_values) and self.above is None and self.below is None:
            msg = "a condition needs one of values, not_values, above, below"
            raise ValueError(msg)


@dataclass(frozen=True, kw_only=True)
class Applies:
    """Which dogs a question or region is for; what is not for a dog is stored not applicable.

    Where the dog's sex, neutering or age is unknown, the question is asked. Pups are asked
    whatever is not for old dogs (``min_age_months``).
    """

    sex: Literal["female", "male"] | None = None
    neutered: bool | None = None
    not_missing: tuple[Part, ...] = ()
    """Not asked when the dog lacks all of these parts (per side: see ``Question.part``)."""
    needs: tuple[Part, ...] = ()
    """Not asked when the dog lacks any of these parts."""
    dewclaws: bool = False
    min_age_months: int | None = None
    max_age_months: int | None = None
    shapes: tuple[str, ...] = ()
    pigmented_gums: bool | None = None
    pregnant: bool | None = None
    known_lumps: bool | None = None


@dataclass(frozen=True, kw_only=True)
class Limits:
    """What a number can be. Outside ``hard`` it is refused; outside ``usual`` it is asked twice."""

    hard_low: float
    hard_high: float
    usual_low: float
    usual_high: float
    source: str


@dataclass(frozen=True, kw_only=True)
class Question:
    """One question. ``id`` is within the region; the item id is ``region.id``.

    Texts may hold ``{name}`` (the dog), ``{side}`` (the side as spoken) and ``{lump}`` (the known
    lump's place); ``plan.spoken`` fills them in.
    """

    id: str
    kind: Kind = Kind.CHOICE
    prompt: str
    """At most about 12 words; asks what is seen or felt."""
    again: str
    """The same in other words, after a misunderstanding."""
    short: str | None = None
    """The same in few words, for a practised person."""
    help: str
    """At most about 15 s spoken; also how to find the place by touch."""
    grammar: str
    normal: tuple[str, ...] = ()
    """Values that need no follow-up; empty for pure facts and numbers."""
    values: dict[str, str] = field(default_factory=dict)
    """Each value of a choice, with how it is echoed and read back: "Gums pale"."""
    choices: dict[str, str] = field(default_factory=dict)
    """Each value as offered when choices are listed: "pale". Also the numbered keys, in order."""
    alarming: tuple[str, ...] = ()
    """Values never dropped when doubted: stored as possible and said first at the end."""
    harmless: bool = False
    """Silence after the read-back of an unusual answer may confirm it."""
    unit: str | None = None
    """Unit stored for numbers: kg, Cel, mm, mL, /min, s."""
    units_heard: tuple[str, ...] = ()
    limits: Limits | None = None
    windows_s: tuple[int, ...] = ()
    """For counts: the windows allowed, the default first."""
    sides: tuple[str, ...] = ()
    """Asked once a side, in this order."""
    part: dict[str, Part] = field(default_factory=dict)
    """Side to the part that must be there for that side to be asked."""
    per_lump: bool = False
    """Asked once for each known lump, whose key is then the side."""
    sight: SightNeed = SightNeed.TOUCH
    touch_prompt: str | None = None
    touch_help: str | None = None
    when: tuple[Condition, ...] = ()
    """Asked only when one of these holds (a follow-up). Empty: asked always."""
    always_from_months: int | None = None
    """From this age on a follow-up is asked without its conditions."""
    always_to_months: int | None = None
    """Up to this age a follow-up is asked without its conditions."""
    when_side: dict[str, tuple[Condition, ...]] = field(default_factory=dict)
    """A side's own conditions, one of which must hold besides ``when``."""
    applies: Applies = field(default_factory=Applies)
    caution: str | None = None
    source: str
    """A key of sources.toml; ``common_practice`` means common practice, no source."""
    daylight: bool = False
    """Colour or shade: the light is asked for once."""


@dataclass(frozen=True, kw_only=True)
class Region:
    """A region of the dog or of the check, with its questions in order."""

    id: str
    title: str
    """As spoken and listed: "the mouth"."""
    intro: str | None = None
    caution: str | None = None
    applies: Applies = field(default_factory=Applies)
    question: tuple[Question, ...]


@dataclass(frozen=True, kw_only=True)
class Routine:
    """A named selection of regions, in order.

    ``only`` narrows a region to some of its questions; their follow-ups come along. A question
    named there is asked even where what it would follow is not part of the routine. ``when`` opens
    an item in this routine only once one of its conditions holds. ``window_s`` picks a count's
    window.
    """

    id: str
    title: str
    regions: tuple[str, ...]
    only: dict[str, tuple[str, ...]] = field(default_factory=dict)
    when: dict[str, tuple[Condition, ...]] = field(default_factory=dict)
    window_s: dict[str, int] = field(default_factory=dict)
    minutes: float


@dataclass(frozen=True, kw_only=True)
class Protocol:
    """Everything that can be asked, as loaded and checked."""

    version: str
    regions: dict[str, Region]
    routines: dict[str, Routine]
    cautions: dict[str, Caution]
    sources: dict[str, Source]
    retired: tuple[str, ...] = ()
    """Item ids that were released once and are no longer asked."""

    def question(self, item: str) -> Question:
        """Return the question of an item id ``region.question``.

        Raises:
            KeyError: No such item.
        """
        region_id, _, question_id = item.partition(".")
        for question in self.regions[region_id].question:
            if question.id == question_id:
                return question
        raise KeyError(item)

    def items(self) -> tuple[str, ...]:
        """Every item id, in the order of the files."""
        return tuple(f"{r.id}.{q.id}" for r in self.regions.values() for q in r.question)
