"""What judging takes and gives: findings, levels, rows of the table, judgements.

Frozen data that validates itself. Nothing here reads files, knows the time of day or decides
anything; deciding lives in ``engine``, reading in ``rules``.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Literal, get_args

from handsfree.judging.conditions import Test

__all__ = [
    "Alarm",
    "Basis",
    "Certainty",
    "Change",
    "ChangeKind",
    "Finding",
    "Fired",
    "Gap",
    "Judgement",
    "Level",
    "PastExam",
    "Read",
    "Rule",
    "Status",
    "Step",
    "Trend",
]

Basis = Literal["guideline", "study", "handbook", "clinic", "common practice", "judgement"]
Read = Literal["full", "excerpt", "abstract", "memory", "ours"]
Status = Literal["observed", "not_observed", "not_applicable"]
Certainty = Literal["confirmed", "possible", "unconfirmed"]


class Level(StrEnum):
    """How soon something is to be done, from the most urgent to the least."""

    NOW = "now"
    SAME_DAY = "same_day"
    DAYS = "days"
    NEXT_VISIT = "next_visit"
    WATCH = "watch"
    NOT_ENOUGH = "not_enough"
    """Nothing fired, but what matters most was not looked at."""
    NONE_FOUND = "none_found"

    @property
    def rank(self) -> int:
        """Urgency as a number: 6 for ``now`` down to 0 for ``none_found``."""
        return _RANK[self]

    def up(self) -> Level:
        """One step more urgent; ``now`` stays, and what is no finding stays."""
        if self in (Level.NOW, Level.NOT_ENOUGH, Level.NONE_FOUND):
            return self
        return list(Level)[list(Level).index(self) - 1]


_RANK = {level: len(Level) - 1 - place for place, level in enumerate(Level)}


@dataclass(frozen=True, kw_only=True)
class Finding:
    """One answer of an exam, as judging sees it.

    Attributes:
        item: ``region.question``.
        side: Side, or a known lump's key; None where there is none.
        status: Observed, not observed, not applicable.
        value: Token or number; None unless observed.
        unit: Unit of a number, as in the protocol.
        certainty: ``possible`` for a doubted alarm; it keeps its level and is said first.
        reason: Why it was not observed.
        on: Day of the exam.
    """

    item: str
    side: str | None = None
    status: Status = "observed"
    value: str | float | None = None
    unit: str | None = None
    certainty: Certainty = "confirmed"
    reason: str = ""
    on: date | None = None

    def __post_init__(self) -> None:
        if self.status not in get_args(Status):
            msg = f"{self.item}: status {self.status!r} is none of {', '.join(get_args(Status))}"
            raise ValueError(msg)
        if (self.status == "observed") == (self.value is None):
            msg = f"{self.item}: an observed item has a value, any other has none"
            raise ValueError(msg)
        if self.certainty not in get_args(Certainty):
            msg = f"{self.item}: certainty {self.certainty!r} is unknown"
            raise ValueError(msg)

    @property
    def key(self) -> tuple[str, str | None]:
        """Item and side: an exam holds one latest answer for each."""
        return (self.item, self.side)

    @property
    def number(self) -> float | None:
        """The value where it is a number."""
        return None if self.value is None or isinstance(self.value, str) else float(self.value)


@dataclass(frozen=True, kw_only=True)
class PastExam:
    """An earlier exam of the same dog."""

    exam_id: str
    on: date
    findings: tuple[Finding, ...]


@dataclass(frozen=True, kw_only=True)
class Rule:
    """One row of the table.

    Attributes:
        id: Its name, never given twice.
        level: How urgent, before any step up.
        topic: What it is about ("breathing", "gut"). Two same-day rows step up only where their
            topics differ.
        name: A noun phrase: "pale gums". Used to count and name.
        test: What fires it.
        when: The same as read from the file, for printing and JSON.
        say: One short sentence in our own words; no diagnosis.
        meanwhile: What to do until a vet is reached; may be empty.
        avoid: What not to do; may be empty.
        recheck: For ``watch``: when to look again ("in two days").
        recheck_h: The same in hours.
        source: Key of a source.
        cite: That source, spelled out.
        basis: How well it is known.
        read: How much of the source was read.
        no_step: Not stepped up: age or state is already in the row.
        calm_recheck: A calm second reading may clear it: the listed exceptions to the rule that
            more findings never lower a level.
        cautions: Keys of the protocol's cautions that belong to it.
        breathing: A breathing sign: flat faces step it up.
        waits: Item of a follow-up that is answered or refused before the voice interrupts.
    """

    id: str
    level: Level
    topic: str
    name: str
    test: Test
    when: object
    say: str
    meanwhile: str = ""
    avoid: str = ""
    recheck: str = ""
    recheck_h: float | None = None
    source: str
    cite: str
    basis: Basis
    read: Read
    no_step: bool = False
    calm_recheck: bool = False
    breathing: bool = False
    waits: str = ""
    cautions: tuple[str, ...] = ()

    @property
    def awaits_vet(self) -> bool:
        """Whether the row is our own judgement, awaiting a vet's word."""
        return self.basis == "judgement"


@dataclass(frozen=True, kw_only=True)
class Step:
    """A stated step up: dogs for which every fired row weighs one level more.

    Attributes:
        id: Its name.
        test: Which dogs; None where ``two_same_day`` says it all.
        because: As spoken: "in a puppy".
        breathing_only: Only rows that are breathing signs.
        two_same_day: Not by the dog: it needs two same-day rows of different topics.
        source: Key of a source.
    """

    id: str
    test: Test | None
    because: str
    breathing_only: bool = False
    two_same_day: bool = False
    source: str


@dataclass(frozen=True, kw_only=True)
class Fired:
    """A row that fired.

    Attributes:
        rule: The row.
        level: Its level after any step up.
        sides: On which sides.
        evidence: The answers that fired it.
        possible: It fired only with doubted answers.
        stepped: Why it was stepped up, as spoken; empty if it was not.
    """

    rule: Rule
    level: Level
    sides: tuple[str, ...] = ()
    evidence: tuple[Finding, ...] = ()
    possible: bool = False
    stepped: str = ""


class ChangeKind(StrEnum):
    """How an answer stands against the dog's own past."""

    FIRST_SEEN = "first_seen"
    UNCHANGED = "unchanged"
    CHANGED = "changed"
    GONE = "gone"
    NEW_ITEM = "new_item"
    """Never answered before, so nothing to compare with."""
    NOT_LOOKED = "not_looked"
    """Unusual last time, not observed today: missing, never filled in."""


@dataclass(frozen=True, kw_only=True)
class Change:
    """One answer compared with the dog's last answer to the same item and side.

    Attributes:
        item: Item id.
        side: Side, if any.
        kind: What became of it.
        before: Last value.
        now: Today's value.
        unit: Unit of numbers.
        since: Day of the last value, or for ``unchanged`` the day it was first so.
        counts: For numbers: the change is past the measuring error.
        usual: For numbers: the dog's own median of readings taken alike; None with fewer than
            three.
        usual_spread: Median absolute deviation of those readings.
        readings: How many there are, of the last thirty.
    """

    item: str
    side: str | None = None
    kind: ChangeKind
    before: str | float | None = None
    now: str | float | None = None
    unit: str | None = None
    since: date | None = None
    counts: bool = True
    usual: float | None = None
    usual_spread: float | None = None
    readings: int = 0


@dataclass(frozen=True, kw_only=True)
class Trend:
    """A robust trend of one number, told only when its interval leaves out zero.

    Attributes:
        item: Item id.
        side: Side, if any.
        per_month: Median of pairwise slopes, units per 30 days.
        low: Lower end of the 95 % interval, same unit.
        high: Upper end.
        points: How many readings it rests on.
        unit: The reading's unit.
    """

    item: str
    side: str | None = None
    per_month: float
    low: float
    high: float
    points: int
    unit: str


@dataclass(frozen=True, kw_only=True)
class Gap:
    """Something that was not looked at, and why."""

    item: str
    side: str | None = None
    reason: str
    vital: bool = False
    """One of the things without which nothing can be said."""


@dataclass(frozen=True, kw_only=True)
class Alarm:
    """What cannot wait, for the voice.

    Attributes:
        rule: Row id.
        level: Its level, as a token.
        say: One short sentence, at most five seconds spoken.
        avoid: What not to do; may be empty.
        possible: The answer behind it is in doubt.
    """

    rule: str
    level: Level
    say: str
    avoid: str = ""
    possible: bool = False


@dataclass(frozen=True, kw_only=True)
class Judgement:
    """What an exam comes to.

    Attributes:
        level: The highest level that fired, or what nothing fired means.
        fired: Rows in order of urgency, possible ones first within all.
        changes: Against the dog's own past.
        trends: Robust trends that say something.
        not_covered: What was not looked at.
        vital_missing: Which of gums, breathing, attitude, belly were not looked at.
        cautions: Keys of cautions that belong to what fired.
        contradictions: Answers that cannot both be true, in words.
        body_condition: Derived score as text ("5 of 9, give or take 1"); empty if not derivable.
        ideal_weight: Ideal-weight range with its formula, for scores 6 to 9; else empty.
        rules_version: Version of the table.
        on: Day judged.
        unfinished: The exam was not finished; it is judged on what it has.
        only: What alone was measured, as spoken; empty for a check.
        borrowed: Ids of rows that fire by another's answer of the day alone.
    """

    level: Level
    fired: tuple[Fired, ...] = ()
    changes: tuple[Change, ...] = ()
    trends: tuple[Trend, ...] = ()
    not_covered: tuple[Gap, ...] = ()
    vital_missing: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    contradictions: tuple[str, ...] = ()
    body_condition: str = ""
    ideal_weight: str = ""
    rules_version: str = ""
    on: date | None = None
    unfinished: bool = False
    only: str = ""
    borrowed: tuple[str, ...] = ()
