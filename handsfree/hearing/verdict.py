"""The one thing that hearing hands over: a verdict on a stretch of sound.

Accept, ask back or ignore; candidates with probabilities; start and end on the sample clock. The
exam machine knows nothing else of recognition, so better judgement never changes this shape. No
engine, audio or grammar is imported here.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

__all__ = ["Candidate", "Listening", "Meaning", "MeaningKind", "Outcome", "Verdict", "WordTime"]


class Outcome(StrEnum):
    """What the machine is to do with a sound."""

    ACCEPT = "accept"
    ASK_BACK = "ask_back"
    IGNORE = "ignore"


class MeaningKind(StrEnum):
    """Whether words answer the open question or steer the check."""

    ANSWER = "answer"
    COMMAND = "command"


@dataclass(frozen=True, kw_only=True)
class Meaning:
    """What words mean, free of the words themselves.

    Attributes:
        kind: Answer or command.
        value: A token of the grammar's tags (``"pink"``, ``"skip"``), or a number.
        unit: UCUM-like unit token said with a number (``"kg"``, ``"lb"``, ``"Cel"``, ``"degF"``,
            ``"mm"``, ``"cm"``); None where none was said.
        target: For an answer that a person corrects in one breath, or ``goto``: what it points at.
    """

    kind: MeaningKind
    value: str | float
    unit: str | None = None
    target: str | None = None


@dataclass(frozen=True, kw_only=True)
class WordTime:
    """One word on the sample clock; ``start`` is the word's first audible energy.

    ``doubtful`` says that the onset may be further off than a timing can bear.
    """

    word: str
    start: int
    end: int
    doubtful: bool = False

    def __post_init__(self) -> None:
        if self.end < self.start:
            msg = f"word {self.word!r} ends ({self.end}) before it starts ({self.start})"
            raise ValueError(msg)


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """One reading of the sound; ``probability`` is calibrated where the engine is, 0 to 1."""

    meaning: Meaning
    words: str
    probability: float

    def __post_init__(self) -> None:
        if not 0.0 <= self.probability <= 1.0:
            msg = f"probability {self.probability} is not within 0 and 1"
            raise ValueError(msg)


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """Hearing's judgement of one utterance.

    Attributes:
        outcome: Accept, ask back or ignore. Accept and ask back carry at least one candidate,
            save an ask back of something that was clearly speech to us but fits no phrase.
        candidates: Best first.
        start: First sample of the utterance, on the stream's clock.
        end: One past its last speech sample.
        words: Word times of the best candidate, where known.
        reason: Why, as a short token for the log (``"agree"``, ``"ear_low"``, ``"too_long"`` ...).
    """

    outcome: Outcome
    candidates: tuple[Candidate, ...] = ()
    start: int
    end: int
    words: tuple[WordTime, ...] = ()
    reason: str = ""

    def __post_init__(self) -> None:
        if self.end < self.start:
            msg = f"utterance ends ({self.end}) before it starts ({self.start})"
            raise ValueError(msg)
        if self.outcome is Outcome.ACCEPT and not self.candidates:
            msg = "an accepted utterance needs a candidate"
            raise ValueError(msg)

    @property
    def best(self) -> Candidate | None:
        """The likeliest candidate, or None."""
        return self.candidates[0] if self.candidates else None


@dataclass(frozen=True, kw_only=True)
class Listening:
    """What hearing listens for, from now until told otherwise.

    Attributes:
        grammars: Names of answer grammars (files under ``grammars/``), joined in this order; where
            one phrase stands in two, the first keeps it. Empty: commands alone.
        commands: Command tokens that are open now (tags of ``commands.jsgf``).
        without: Answer values taken out because the person has just said that they are wrong.
        strict: Values whose acceptance needs more certainty (they would clear an alarm).
        timed: Word onsets are measured (stopwatch, breaths): refine them, and never retract
            because speech runs on.
        item: The open item, for the log; None in menus.
        side: Its side, if it has one.
    """

    grammars: tuple[str, ...] = ()
    commands: frozenset[str] = field(default_factory=frozenset)
    without: frozenset[str] = field(default_factory=frozenset)
    strict: frozenset[str] = field(default_factory=frozenset)
    timed: bool = False
    item: str | None = None
    side: str | None = None
