"""What can happen to an exam. Same events in, same actions out.

Frozen, keyword-only, validated on construction, each with the stream and sample at which it
happened. They go to JSON and back without loss, so that an exam replays from its log. No audio,
clock, file, database or engine is imported here.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from handsfree.hearing.verdict import Verdict
from handsfree.protocol.subject import Sight, Subject

__all__ = [
    "Alarmed",
    "Concluded",
    "DeviceLost",
    "DeviceRegained",
    "Event",
    "Heard",
    "Key",
    "Keyed",
    "Opened",
    "PriorAnswer",
    "Retracted",
    "Silence",
    "SpokenOut",
    "Stopped",
    "Ticked",
    "Told",
    "TooLoud",
]


@dataclass(frozen=True, kw_only=True)
class Event:
    """Base of all events. ``sample`` counts on the clock of ``stream``."""

    stream: str
    sample: int

    def __post_init__(self) -> None:
        if self.sample < 0:
            msg = f"sample {self.sample} is negative"
            raise ValueError(msg)


@dataclass(frozen=True, kw_only=True)
class PriorAnswer:
    """An answer already stored in this exam, handed over when it resumes.

    Attributes:
        ref: Its number within the exam.
        item: What was asked.
        side: Of an item with sides.
        status: ``observed``, ``not_observed`` or ``not_applicable``.
        reason: Why there is no value.
        value: Token or number in the question's unit.
        unit: Unit of a number.
        confirmed: How far it is settled.
        earlier: Tokens that were stored at this place before, oldest first: an alarming one among
            them comes back where the latest answer does not stay.
    """

    ref: int
    item: str
    side: str | None = None
    status: str
    reason: str | None = None
    value: str | float | None = None
    unit: str | None = None
    confirmed: str = "confirmed"
    earlier: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Opened(Event):
    """The exam begins, or begins again where it stopped.

    Attributes:
        subject: The dog.
        routine: Routine id.
        sight: How much the person sees.
        helper: A sighted person is there as well.
        has_keys: Keys, pedal or button can answer.
        person: As spoken; may be empty.
        vet_number: As spoken, for the highest level; None if none is set.
        prior: Answers already stored, oldest first: not empty means that the exam resumes.
        carried: Items to ask anew because the last exam stayed unfinished.
        brief: Short prompts for a practised person.
        asked_now: What has to be asked before all else ("the last check was left unfinished").
        units: ``metric`` or ``imperial``: what a number without a unit means, where both can be.
        lag_s: The person's own lag at the refill stopwatch, as learned in practice.
        lag_spread_s: Its spread.
        cautioned: What this person has been told today, in other dogs' rounds: cautions, and what
            is explained once.
        in_round: One dog of many: who it is has been said; only what matters is told at the end.
        rate: Samples a second of the clock.
    """

    subject: Subject
    routine: str
    sight: Sight = Sight.FULL
    helper: bool = False
    has_keys: bool = True
    person: str = ""
    vet_number: str | None = None
    prior: tuple[PriorAnswer, ...] = ()
    carried: tuple[str, ...] = ()
    brief: bool = False
    asked_now: str = ""
    units: str = "metric"
    lag_s: float | None = None
    lag_spread_s: float | None = None
    cautioned: tuple[str, ...] = ()
    in_round: bool = False
    rate: int = 16_000

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.rate <= 0:
            msg = f"a clock of {self.rate} samples a second cannot be"
            raise ValueError(msg)


@dataclass(frozen=True, kw_only=True)
class Heard(Event):
    """Hearing's verdict on a sound."""

    verdict: Verdict


@dataclass(frozen=True, kw_only=True)
class Silence(Event):
    """The listening window passed with no speech to us."""


@dataclass(frozen=True, kw_only=True)
class SpokenOut(Event):
    """All that was to be spoken or ticked has been played."""


@dataclass(frozen=True, kw_only=True)
class Ticked(Event):
    """The sample clock moved on; comes at least four times a second."""


class Key(StrEnum):
    """What keys, a pedal or a headset's button can say without voice."""

    YES = "yes"
    AGAIN = "again"
    NUMBER = "number"
    VALUE = "value"
    COMMAND = "command"


@dataclass(frozen=True, kw_only=True)
class Keyed(Event):
    """A key, pedal or button, or a typed answer.

    Attributes:
        key: Which.
        text: For NUMBER the choice's number ("1"); for VALUE the number typed, with unit
            ("12.4 kg"); for COMMAND its token.
    """

    key: Key
    text: str = ""


@dataclass(frozen=True, kw_only=True)
class TooLoud(Event):
    """The room is too loud to hear safely (``loud``), or quiet enough again."""

    loud: bool = True


@dataclass(frozen=True, kw_only=True)
class Retracted(Event):
    """The person spoke on: the last accepted utterance was no answer.

    ``start`` is that utterance's first sample.
    """

    start: int


@dataclass(frozen=True, kw_only=True)
class Alarmed(Event):
    """Judging found something that cannot wait.

    Attributes:
        rule: Rule id.
        level: ``now`` or lower; only ``now`` stops the questions.
        say: One short sentence, in our words.
        avoid: What not to do, one sentence; may be empty.
    """

    rule: str
    level: str
    say: str
    avoid: str = ""


@dataclass(frozen=True, kw_only=True)
class Told(Event):
    """An answer about the past, ready to be spoken.

    ``item`` and ``side`` say what it is about: it is spoken only after today's answer there. Empty
    for what leads no answer.
    """

    text: str
    item: str = ""
    side: str | None = None


@dataclass(frozen=True, kw_only=True)
class Concluded(Event):
    """Judging has the result: what is spoken at the end, sentence by sentence."""

    sentences: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class DeviceLost(Event):
    """The sound device is gone or gives nothing; ``why`` is for people."""

    why: str = ""


@dataclass(frozen=True, kw_only=True)
class DeviceRegained(Event):
    """Sound is back, on a new stream: no interval crosses the two."""


@dataclass(frozen=True, kw_only=True)
class Stopped(Event):
    """The program is told to end (a closed terminal, Ctrl-C): save and fall silent."""

    why: str = field(default="")
