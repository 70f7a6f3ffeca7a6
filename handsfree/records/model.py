"""What the records hold, as plain values: dogs, people, exams, answers, measurements, settings.

Frozen dataclasses only, made by the store when it reads and passed to judging, review and the
driver. No SQL, file or clock here; how they are stored stands in ``schema``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from handsfree.dialogue.actions import Confirmed, Status
from handsfree.hearing.verdict import Candidate
from handsfree.protocol.subject import Neutered, Part, Sex, Shape, Sight, Size

__all__ = [
    "Answer",
    "BirthPrecision",
    "Dog",
    "Edit",
    "Exam",
    "ExamEvent",
    "ExamFact",
    "Lump",
    "Measurement",
    "Number",
    "Outcome",
    "Person",
    "Settings",
    "Units",
    "Versions",
    "Weight",
]


class BirthPrecision(StrEnum):
    """How exactly the birth date is known: "about four years" gives a year."""

    DAY = "day"
    MONTH = "month"
    YEAR = "year"


class Outcome(StrEnum):
    """How an exam ended; an exam that runs or crashed has none."""

    COMPLETE = "complete"
    PARTIAL = "partial"
    PAUSED = "paused"
    """Stopped, and open to be resumed for an hour."""


class Units(StrEnum):
    """What people say and read; stored values are kg, Cel, mm whatever is chosen."""

    METRIC = "metric"
    IMPERIAL = "imperial"


@dataclass(frozen=True, kw_only=True)
class Dog:
    """A dog, as known now; the history of each field is kept beside it.

    Attributes:
        id: UUIDv7.
        name: As it was given; any text.
        birth: Birth date; for a known month or year its middle. None if unknown.
        birth_precision: How exact ``birth`` is; None if unknown.
        sex: The dog's sex.
        neutered: Whether neutered.
        breed: Breed or kind, free words; may be empty.
        looks: Colour and marks, free words; may be empty.
        shape: Shape that changes judging.
        size: Adult size class; None if unknown.
        missing: Parts that it lacks.
        dewclaws: Whether it has any dewclaws.
        pigmented_gums: Gums dark by nature.
        season_began: Day on which the last season began; None if unknown.
        pregnant: Known or possible pregnancy.
        conditions: Tokens of known conditions.
        medicines: Tokens of medicines that mask signs.
        muzzle_trained: Wears a muzzle calmly.
        has_bitten: Has bitten or snapped when handled.
        handling: Handling history, free words.
        known: Other known normals, free words.
        chip: Microchip number, as given; None if unknown.
        owner: Who the dog belongs to, free words; may be empty.
        added_at: When it was added, with offset.
        retired_at: When it was retired (died, moved away); None while it is looked after.
        retired_why: Why, free words.
    """

    id: str
    name: str
    birth: date | None = None
    birth_precision: BirthPrecision | None = None
    sex: Sex = Sex.UNKNOWN
    neutered: Neutered = Neutered.UNKNOWN
    breed: str = ""
    looks: str = ""
    shape: Shape = Shape.USUAL
    size: Size | None = None
    missing: frozenset[Part] = field(default_factory=frozenset)
    dewclaws: bool = True
    pigmented_gums: bool = False
    season_began: date | None = None
    pregnant: bool = False
    conditions: frozenset[str] = field(default_factory=frozenset)
    medicines: frozenset[str] = field(default_factory=frozenset)
    muzzle_trained: bool = False
    has_bitten: bool = False
    handling: str = ""
    known: tuple[str, ...] = ()
    chip: str | None = None
    owner: str = ""
    added_at: datetime
    retired_at: datetime | None = None
    retired_why: str = ""


@dataclass(frozen=True, kw_only=True)
class Person:
    """Somebody who checks dogs.

    Attributes:
        id: UUIDv7.
        name: As it was given; any text.
        sight: How much this person sees; None: as the settings say.
        helper: A sighted person is usually there as well.
        rate_wpm: Speaking rate in words a minute; None: as the settings say.
        voice: Name of the voice; None: as the settings say.
        brief: Short prompts (True), full ones (False), or by the number of rounds done (None).
        rounds_done: Finished exams so far, counted from the records.
        added_at: When added, with offset.
        disabled_at: When disabled; the history stays. None while active.
    """

    id: str
    name: str
    sight: Sight | None = None
    helper: bool = False
    rate_wpm: int | None = None
    voice: str | None = None
    brief: bool | None = None
    rounds_done: int = 0
    added_at: datetime
    disabled_at: datetime | None = None


@dataclass(frozen=True, kw_only=True)
class Versions:
    """What an exam was made with.

    Attributes:
        protocol: Version of the check's data.
        grammars: Hash over the grammar files.
        engine: Name and version of the recogniser, and of its model.
        rules: Version of the judgement rules; may be empty.
        program: Version of this package.
    """

    protocol: str
    grammars: str
    engine: str
    rules: str = ""
    program: str = ""


@dataclass(frozen=True, kw_only=True)
class Exam:
    """One check of one dog by one person.

    Attributes:
        id: UUIDv7.
        dog_id: Whose check.
        person_id: Who led it; None if nobody was named.
        station_id: On which station.
        routine: Routine id.
        versions: What it was made with.
        begun_at: With offset.
        last_at: Last stored activity, with offset.
        ended_at: When it was finished or closed; None while it runs, is paused or crashed.
        outcome: None while it runs or after a crash.
        outcome_why: Why a partial one was closed: ``stale`` (left alone for an hour), else empty.
        follows: Id of the unfinished exam before it, whose attitude, breathing and gums are asked
            anew in this one; None otherwise.
    """

    id: str
    dog_id: str
    person_id: str | None
    station_id: str
    routine: str
    versions: Versions
    begun_at: datetime
    last_at: datetime
    ended_at: datetime | None = None
    outcome: Outcome | None = None
    outcome_why: str = ""
    follows: str | None = None


@dataclass(frozen=True, kw_only=True)
class Answer:
    """One stored answer. Rows are never changed: a correction is a new one.

    Attributes:
        id: UUIDv7.
        exam_id: Its exam.
        dog_id: Its dog.
        station_id: Where it was given.
        person_id: By whom; None if nobody was named.
        at: When stored, with offset.
        ref: Number within the exam, rising.
        corrects: Id of the answer that this one corrects.
        item: ``region.question``.
        side: Side, if any.
        status: Observed, not observed, not applicable.
        reason: Why, unless observed.
        value: Token or number; None unless observed.
        unit: Unit of a number (kg, Cel, mm, /min, s).
        words: Words heard.
        candidates: As hearing gave them, best first.
        confirmed: How far it is settled now.
        stream: Audio stream of the samples.
        start: First sample of the utterance.
        end: One past its last.
        attempt: 1 for the first asking.
        by: ``voice``, ``keys``, ``touch`` or ``machine``.
        method: How a number was taken.
    """

    id: str
    exam_id: str
    dog_id: str
    station_id: str
    person_id: str | None
    at: datetime
    ref: int
    corrects: str | None = None
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


@dataclass(frozen=True, kw_only=True)
class Number:
    """One number of a series: the value of an answer, in ``unit``; ``at`` has an offset."""

    answer_id: str
    exam_id: str
    at: datetime
    side: str | None
    value: float
    unit: str | None


@dataclass(frozen=True, kw_only=True)
class Measurement:
    """One raw repeat of a measurement.

    Attributes:
        id: UUIDv7.
        exam_id: Its exam.
        dog_id: Its dog.
        station_id: Where it was taken.
        person_id: By whom.
        at: When stored, with offset.
        item: ``region.question``.
        side: Side, if any.
        kind: ``refill``, ``window`` or ``said``.
        ordinal: 1 for the first repeat.
        stream: Audio stream of the samples.
        samples: Named sample positions on that stream.
        value: In ``unit``; None where spoiled.
        unit: Its unit.
        spoiled: Why it does not count; empty if it does.
        doubtful: Timing is in doubt.
    """

    id: str
    exam_id: str
    dog_id: str
    station_id: str
    person_id: str | None
    at: datetime
    item: str
    side: str | None = None
    kind: str
    ordinal: int
    stream: str
    samples: tuple[tuple[str, int], ...]
    value: float | None
    unit: str
    spoiled: str = ""
    doubtful: bool = False


@dataclass(frozen=True, kw_only=True)
class ExamFact:
    """A fact of an exam that is no answer: paused, too loud, who was told. ``at`` has an offset."""

    id: str
    exam_id: str
    station_id: str
    person_id: str | None
    at: datetime
    name: str
    detail: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, kw_only=True)
class ExamEvent:
    """One event of an exam's log.

    Attributes:
        exam_id: Its exam.
        seq: Position in the log, from 0.
        form: Version of the JSON form of ``text``.
        text: The event as JSON.
        digest: Digest of the actions that the machine returned for it; empty if not kept.
    """

    exam_id: str
    seq: int
    form: int
    text: str
    digest: str = ""


@dataclass(frozen=True, kw_only=True)
class Weight:
    """A weight of a dog, from an exam or entered by hand.

    ``id`` is the key of the answer or of the entered row; ``at`` is when it was taken; ``exam_id``
    is None for one entered by hand; ``how`` says the scale or way, if known.
    """

    id: str

    dog_id: str
    at: datetime
    weight_kg: float
    exam_id: str | None = None
    how: str = ""


@dataclass(frozen=True, kw_only=True)
class Lump:
    """A lump that is known and asked after by name.

    Attributes:
        id: UUIDv7.
        dog_id: Its dog.
        key: Stable within the dog: ``lump1``; the side of its answers.
        place: As spoken: "the left chest".
        found_exam_id: The exam in which it was found; None if entered by hand.
        found_side: Its side in that exam: ``new1``.
        vet_result: What a vet found, if entered.
        added_at: With offset.
        gone_at: When it was removed or no longer found; None while it is asked after.
    """

    id: str
    dog_id: str
    key: str
    place: str
    found_exam_id: str | None = None
    found_side: str | None = None
    vet_result: str | None = None
    added_at: datetime
    gone_at: datetime | None = None


@dataclass(frozen=True, kw_only=True)
class Edit:
    """One change of one field of a dog, person, lump or setting; the newest one counts.

    ``value`` is what was set, as plain JSON data; ``at`` has an offset.
    """

    id: str
    station_id: str
    person_id: str | None
    at: datetime
    entity: str
    entity_id: str
    field: str
    value: object


@dataclass(frozen=True, kw_only=True)
class Settings:
    """What holds for this installation unless a person has settings of their own.

    Attributes:
        vet_name: The usual vet, as spoken.
        vet_number: Telephone number of the usual vet; None until set.
        out_of_hours_number: Number for nights and weekends.
        poison_line: Number of a poison line.
        units: What people say and read.
        sight: How much the person sees.
        voice: Name of the voice; None: the engine's default.
        rate_wpm: Speaking rate in words a minute.
        input_device: Name of the microphone; None: the system's default.
        output_device: Name of the loudspeaker; None: the system's default.
        engine: Name of the recogniser: ``auto``, ``pocketsphinx`` or ``vosk``.
        outbreak_dogs: So many dogs of one row with one sign raise the alarm of an outbreak.
        outbreak_days: Within so many days. Both are our own judgement, awaiting a vet.
    """

    vet_name: str = ""
    vet_number: str | None = None
    out_of_hours_number: str | None = None
    poison_line: str | None = None
    units: Units = Units.METRIC
    sight: Sight = Sight.FULL
    voice: str | None = None
    rate_wpm: int = 170
    input_device: str | None = None
    output_device: str | None = None
    engine: str = "auto"
    outbreak_dogs: int = 2
    outbreak_days: int = 3
