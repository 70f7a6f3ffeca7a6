"""What an exam wants done. The driver does it; nothing here does anything.

Frozen, keyword-only, validated on construction. An answer is named within its exam by ``ref``, a
number counted by the machine, so that confirming and correcting need no database key.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from handsfree.hearing.verdict import Candidate, Listening, Meaning

__all__ = [
    "Action",
    "Ask",
    "Conclude",
    "Confirm",
    "Confirmed",
    "Finish",
    "Hush",
    "Inquire",
    "Listen",
    "LogFact",
    "Measure",
    "Record",
    "SetPace",
    "Speak",
    "SpeechKind",
    "Status",
    "Tick",
    "Tone",
    "ToneName",
]


class SpeechKind(StrEnum):
    """What a sentence is for; screens and tests tell them apart by it."""

    PROMPT = "prompt"
    ECHO = "echo"
    READ_BACK = "read_back"
    HELP = "help"
    NOTICE = "notice"
    CAUTION = "caution"
    ALARM = "alarm"
    RESULT = "result"


class ToneName(StrEnum):
    """The few tones; each is explained once."""

    LISTENING = "listening"
    ACCEPTED = "accepted"
    NOT_HEARD = "not_heard"
    WAITING = "waiting"
    WINDOW_START = "window_start"
    WINDOW_END = "window_end"


class Status(StrEnum):
    """What is known of an item; absence is never 'normal'."""

    OBSERVED = "observed"
    NOT_OBSERVED = "not_observed"
    NOT_APPLICABLE = "not_applicable"


class Confirmed(StrEnum):
    """How far an answer is settled."""

    UNCONFIRMED = "unconfirmed"
    CONFIRMED = "confirmed"
    POSSIBLE = "possible"
    """A doubted alarming answer that was never settled: keeps its level, is said first."""


@dataclass(frozen=True, kw_only=True)
class Action:
    """Base of all actions."""


@dataclass(frozen=True, kw_only=True)
class Speak(Action):
    """Speak sentences, one by one, with a short listening gap after each of a long text."""

    sentences: tuple[str, ...]
    kind: SpeechKind = SpeechKind.PROMPT

    def __post_init__(self) -> None:
        if not self.sentences or not all(s.strip() for s in self.sentences):
            msg = "nothing to speak"
            raise ValueError(msg)


@dataclass(frozen=True, kw_only=True)
class Ask(Action):
    """What the speech that follows asks for: for screens, prompt caches and rehearsal.

    Attributes:
        item: Item id, or None in menus.
        side: Side, if any.
        stage: ``question``, ``confirm``, ``press``, ``release``, ``start``, ``count``, ``paused``,
            ``options``, ``goto``, ``alarm``, ``closing`` ...
        read_back: At ``confirm``: the value that is read back.
        unit: Its unit.
        region: Region title, for screens.
        choices: Value and spoken choice, in the order of the numbered keys.
        upcoming: Texts likely to be spoken next, to be rendered ahead.
    """

    item: str | None
    side: str | None = None
    stage: str = "question"
    read_back: str | float | None = None
    unit: str | None = None
    region: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    upcoming: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Listen(Action):
    """Open the microphone for this, from the end of what is being spoken.

    Attributes:
        listening: What to listen for.
        window_s: Seconds without speech after which Silence comes.
    """

    listening: Listening
    window_s: float = 7.0


@dataclass(frozen=True, kw_only=True)
class Hush(Action):
    """Stop speaking at once and drop what was queued."""


@dataclass(frozen=True, kw_only=True)
class Tone(Action):
    """Play a tone behind what is queued."""

    name: ToneName


@dataclass(frozen=True, kw_only=True)
class Tick(Action):
    """Play ``count`` soft ticks, ``every_s`` apart, with the microphone open."""

    count: int = 4
    every_s: float = 1.0


@dataclass(frozen=True, kw_only=True)
class Record(Action):
    """Store an answer, in one transaction, before anything is spoken of it.

    Attributes:
        ref: The answer's number within the exam, unique and rising.
        supersedes: The ref that this one corrects.
        item: Item id.
        side: Side, if any.
        status: Observed, not observed, not applicable.
        reason: For not observed: ``skipped``, ``cannot_see``, ``dog_refused``, ``not_known``,
            ``not_understood``, ``not_measured``, ``undone``, ``retracted``; for not applicable:
            why.
        value: Token or number; None unless observed.
        unit: Unit stored with a number.
        words: The words heard, kept beside the meaning.
        candidates: As hearing gave them.
        confirmed: How far settled.
        start: First sample of the utterance.
        end: One past its last.
        stream: Stream of those samples.
        attempt: 1 for the first asking.
        by: ``voice``, ``keys``, ``touch`` (asked by touch) or ``machine``.
        method: How a number was taken, free facts ("window 60 s", "median of 3").
    """

    ref: int
    supersedes: int | None = None
    item: str
    side: str | None = None
    status: Status
    reason: str | None = None
    value: str | float | None = None
    unit: str | None = None
    words: str = ""
    candidates: tuple[Candidate, ...] = ()
    confirmed: Confirmed = Confirmed.UNCONFIRMED
    stream: str = ""
    start: int = 0
    end: int = 0
    attempt: int = 1
    by: str = "voice"
    method: tuple[tuple[str, str | float], ...] = ()

    def __post_init__(self) -> None:
        if (self.status is Status.OBSERVED) == (self.value is None):
            msg = f"{self.item}: an observed item has a value, any other has none"
            raise ValueError(msg)
        if self.status is Status.NOT_OBSERVED and not self.reason:
            msg = f"{self.item}: what was not observed needs a reason"
            raise ValueError(msg)


@dataclass(frozen=True, kw_only=True)
class Confirm(Action):
    """The answer ``ref`` is now ``confirmed`` (or possible)."""

    ref: int
    confirmed: Confirmed = Confirmed.CONFIRMED


@dataclass(frozen=True, kw_only=True)
class Measure(Action):
    """Store one raw repeat of a measurement: every time in samples.

    Attributes:
        item: Item id.
        kind: ``refill``, ``window`` or ``said``.
        ordinal: 1 for the first repeat.
        stream: Stream of the samples.
        samples: Named positions: press, hold_end, release, pink, or window_start, window_end.
        value: The repeat's value in ``unit``; None where spoiled.
        unit: Its unit.
        spoiled: Why it does not count; empty if it does.
        doubtful: Timing is in doubt: kept, and marked.
    """

    item: str
    kind: str
    ordinal: int
    stream: str
    samples: tuple[tuple[str, int], ...]
    value: float | None
    unit: str
    spoiled: str = ""
    doubtful: bool = False
    side: str | None = None


@dataclass(frozen=True, kw_only=True)
class SetPace(Action):
    """Speak slower (-1) or faster (+1) from now on."""

    step: int


@dataclass(frozen=True, kw_only=True)
class LogFact(Action):
    """Store a fact of the exam that is no answer: paused, resumed, too loud, who was told."""

    name: str
    detail: tuple[tuple[str, str], ...] = field(default=())


@dataclass(frozen=True, kw_only=True)
class Inquire(Action):
    """A question about the dog's past was asked: answer it, and come back with Told."""

    meaning: Meaning


@dataclass(frozen=True, kw_only=True)
class Conclude(Action):
    """No question is left, or the person stopped: judge, then come back with Concluded."""

    outcome: str


@dataclass(frozen=True, kw_only=True)
class Finish(Action):
    """The exam is over: ``complete``; ``paused`` (it may be resumed for an hour); ``partial``."""

    outcome: str
