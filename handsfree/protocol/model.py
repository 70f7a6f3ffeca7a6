"""The check as data: the shape that every protocol file must have.

Pydantic models only, frozen and closed (an unknown key is an error). Reading files, and checks that
span files, live in ``loader``; choosing what is asked next lives in ``plan``.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, model_validator

from handsfree.protocol.subject import Part

__all__ = [
    "Applies",
    "Caution",
    "Condition",
    "Kind",
    "Limits",
    "Protocol",
    "Question",
    "Region",
    "Routine",
    "SightNeed",
    "Source",
]

Token = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]*$", max_length=40)]
ItemId = Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9_]*\.[a-z][a-z0-9_]*$")]
Sentence = Annotated[str, StringConstraints(min_length=2, max_length=600, strip_whitespace=True)]


class _Data(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


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


class Source(_Data):
    """Where a fact comes from.

    ``basis`` and ``read`` say how well it is known; ``cite`` is short and in our own words.
    """

    key: Token
    cite: Sentence
    basis: Literal["guideline", "study", "handbook", "clinic", "common practice", "judgement"]
    read: Literal["full", "excerpt", "abstract", "memory", "ours"]


class Caution(_Data):
    """A caution, spoken once a check where it is due. ``say`` is what is spoken."""

    key: Token
    say: Sentence
    source: Token


class Condition(_Data):
    """True when the latest answer of ``item`` fits; used for follow-ups.

    An item that was not observed or not applicable fits nothing. When both the asking and the
    asked item have sides, the same side is meant, else any side serves.
    """

    item: ItemId
    values: tuple[str, ...] = ()
    not_values: tuple[str, ...] = ()
    above: float | None = None
    below: float | None = None

    @model_validator(mode="after")
    def _has_a_test(self) -> Self:
        if not (self.values or self.not_values) and self.above is None and self.below is None:
            msg = "a condition needs one of values, not_values, above, below"
            raise ValueError(msg)
        return self


class Applies(_Data):
    """Which dogs a question or region is for; what is not for a dog is stored not applicable."""

    sex: Literal["female", "male"] | None = None
    neutered: bool | None = None
    not_missing: tuple[Part, ...] = ()
    """Not asked when the dog lacks all of these parts (per side: see ``Question.part``)."""
    dewclaws: bool = False
    min_age_months: int | None = None
    max_age_months: int | None = None
    shapes: tuple[str, ...] = ()
    pigmented_gums: bool | None = None
    pregnant: bool | None = None
    known_lumps: bool | None = None


class Limits(_Data):
    """What a number can be. Outside ``hard`` it is refused; outside ``usual`` it is asked twice."""

    hard_low: float
    hard_high: float
    usual_low: float
    usual_high: float
    source: Token


class Question(_Data):
    """One question. ``id`` is within the region; the item id is ``region.id``."""

    id: Token
    kind: Kind = Kind.CHOICE
    prompt: Sentence
    """At most about 12 words; asks what is seen or felt."""
    again: Sentence
    """The same in other words, after a misunderstanding."""
    help: Sentence
    """At most about 15 s spoken; also how to find the place by touch."""
    grammar: Token
    normal: tuple[str, ...] = ()
    """Values that need no follow-up; empty for pure facts and numbers."""
    values: dict[str, Sentence] = Field(default_factory=dict)
    """Each value of a choice, with how it is echoed and read back: "Gums pale"."""
    choices: dict[str, Sentence] = Field(default_factory=dict)
    """Each value as offered when choices are listed: "pale". Also the numbered keys, in order."""
    alarming: tuple[str, ...] = ()
    """Values never dropped when doubted: stored as possible and said first at the end."""
    harmless: bool = False
    """Silence after the read-back of an unusual answer may confirm it."""
    unit: str | None = None
    """Unit stored for numbers: kg, Cel, mm, /min, s."""
    units_heard: tuple[str, ...] = ()
    limits: Limits | None = None
    windows_s: tuple[int, ...] = ()
    """For counts: the windows allowed, the default first."""
    sides: tuple[Token, ...] = ()
    """Asked once a side, in this order."""
    part: dict[str, Part] = Field(default_factory=dict)
    """Side to the part that must be there for that side to be asked."""
    sight: SightNeed = SightNeed.TOUCH
    touch_prompt: Sentence | None = None
    touch_help: Sentence | None = None
    when: tuple[Condition, ...] = ()
    """Asked only when one of these holds (a follow-up). Empty: asked always."""
    applies: Applies = Applies()
    caution: Token | None = None
    source: Token
    """A key of sources.toml; ``common_practice`` means common practice, no source."""
    daylight: bool = False
    """Colour or shade: the light is asked for once."""


class Region(_Data):
    """A region of the dog or of the check, with its questions in order."""

    id: Token
    title: Sentence
    """As spoken and listed: "the mouth"."""
    intro: Sentence | None = None
    caution: Token | None = None
    applies: Applies = Applies()
    question: tuple[Question, ...]


class Routine(_Data):
    """A named selection of regions, in order.

    ``only`` narrows a region to some of its questions; ``window_s`` picks a count's window.
    """

    id: Token
    title: Sentence
    regions: tuple[Token, ...]
    only: dict[str, tuple[Token, ...]] = Field(default_factory=dict)
    window_s: dict[str, int] = Field(default_factory=dict)
    minutes: float


class Protocol(_Data):
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
