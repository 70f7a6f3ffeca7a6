"""What the page shows of one dog, gathered from the records and from judging, as plain values.

Reads the records and asks judging; writes nothing and draws nothing. The last check is judged anew
by the table that is shipped, with the dog and its past as they were on that day, so that every
reason and source stands beside what it led to; if that differs from what was told then, the page
says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from handsfree.judging.care import Due
from handsfree.judging.differing import Contested, contested_of
from handsfree.judging.differing import judged as judged_with
from handsfree.judging.engine import judge
from handsfree.judging.gather import findings_of, telling_of
from handsfree.judging.model import Change, ChangeKind, Finding, Fired, Judgement
from handsfree.judging.result import Telling, reading
from handsfree.judging.rules import Table, read_table
from handsfree.review.charts import Chart
from handsfree.review.dues import dues_of
from handsfree.review.earlier import past_before
from handsfree.review.figure import Mark, spot_of
from handsfree.review.series import charts_of, how_taken
from handsfree.review.wording import (
    LEVEL_WORDS,
    answer_words,
    item_title,
    joined,
    number_words,
    routine_words,
    said_when,
    sentence,
    side_title,
    value_words,
)

if TYPE_CHECKING:
    from handsfree.protocol.model import Protocol
    from handsfree.records import Answer, Dog, Exam, Store
    from handsfree.records.photos import Photo

__all__ = [
    "Due",
    "Line",
    "Need",
    "Place",
    "RegionPart",
    "Report",
    "changes_in_words",
    "differs_words",
    "gather",
]

DUE_WITHIN_DAYS = 30
"""Care due later than this is left to the calendar."""

LEFT_OUT = {ChangeKind.UNCHANGED, ChangeKind.NEW_ITEM}


@dataclass(frozen=True, kw_only=True)
class Need:
    """One thing that needs doing, with its reason."""

    level: str
    name: str
    possible: bool
    say: str
    advice: tuple[str, ...]
    because: str
    source: str


@dataclass(frozen=True, kw_only=True)
class Line:
    """One answer of the last check."""

    title: str
    side: str
    value: str
    words: str
    status: str
    unusual: bool
    settled: str
    how: str


@dataclass(frozen=True, kw_only=True)
class RegionPart:
    """One region of the last check with its answers; ``sum`` says how it stands in a few words."""

    id: str
    title: str
    lines: tuple[Line, ...]
    sum: str
    unusual: int
    missing: int


@dataclass(frozen=True, kw_only=True)
class Place:
    """One marked place: the mark, and the same in words."""

    mark: Mark | None
    number: int
    what: str
    where: str
    size: str
    note: str


@dataclass(frozen=True, kw_only=True)
class Report:
    """Everything that the page shows of one dog.

    Attributes:
        dog: The dog.
        facts: Short facts on the dog, as pairs.
        on: Day of the page.
        exam: The last check with answers; None if there is none.
        exam_words: When and by whom, in words.
        exams: How many checks there are.
        level: The level of the last check, as a token; empty without one.
        told_then: What was told then, if it differs; else empty.
        needs: What needs doing, most urgent first.
        dues: Care due or overdue.
        changes: What changed, one sentence each.
        numbers: The last numbers: title, value, day, usual.
        vital_missing: What was needed to say that all is well and was not looked at.
        places: Findings and lumps with their places.
        charts: Charts.
        regions: Regions of the last check.
        not_asked: Titles of regions that were no part of it.
        taken: How each number was taken: title, value, way.
        facts_of_exam: Facts of the check that are no answers.
        cautions: Cautions, as sentences.
        sources: Sources that stand behind what is on the page.
        rules: Version of the rule table.
        protocol: Version of the check's data.
        photos: Photos with their titles.
        vet: Name and number of the vet; may be empty.
    """

    dog: Dog
    facts: tuple[tuple[str, str], ...]
    on: date
    exam: Exam | None
    exam_words: str
    exams: int
    level: str
    told_then: str
    unfinished: bool
    needs: tuple[Need, ...]
    dues: tuple[tuple[str, str], ...]
    changes: tuple[str, ...]
    numbers: tuple[tuple[str, str, str, str], ...]
    vital_missing: str
    contradictions: tuple[str, ...]
    body: tuple[str, ...]
    places: tuple[Place, ...]
    charts: tuple[Chart, ...]
    regions: tuple[RegionPart, ...]
    not_asked: tuple[str, ...]
    taken: tuple[tuple[str, str, str], ...]
    cautions: tuple[str, ...]
    sources: tuple[str, ...]
    rules: str
    protocol: str
    photos: tuple[tuple[str, str, Photo], ...]
    vet: str


def gather(store: Store, dog_id: str, on: date) -> Report:
    """Gather the page of a dog as of a day.

    Raises:
        CallerError: There is no such dog.
    """
    from handsfree.protocol.loader import load

    protocol = load()
    table = read_table()
    dog = store.dogs.get(dog_id)
    settings = store.settings.get()
    imperial = settings.units.value == "imperial"
    subject = store.subject(dog_id, on)
    telling = telling_of(store, dog_id, table)
    places = {lump.key: lump.place for lump in store.lumps.of_dog(dog_id, gone=True)}
    days = store.exams.days(dog_id)
    exam, answers = _last_with_answers(store, dog_id)
    contested = () if exam is None else contested_of(store, exam.id)
    judged: Judgement | None = None
    told = ""
    if exam is not None:
        judged = _judged(store, exam, answers, days, table, contested)
        told = _told_then(store, exam, judged)
    charts = charts_of(store, subject, protocol, on, imperial=imperial)
    regions = _regions(answers, protocol, telling, places, contested, imperial=imperial)
    cited = list(dict.fromkeys(f.rule.cite for f in judged.fired)) if judged else []
    cited += [c.band_words.partition(". ")[2] for c in charts if c.band_low or c.band_high]
    return Report(
        dog=dog,
        facts=_facts(dog, on, subject.weight_kg, imperial=imperial),
        on=on,
        exam=exam,
        exam_words="" if exam is None else _exam_words(store, exam, protocol, on),
        exams=len(days),
        level="" if judged is None else judged.level.value,
        told_then=told,
        unfinished=judged is not None and judged.unfinished,
        needs=_needs(judged, telling, imperial=imperial),
        dues=_dues(dues_of(store, dog_id, on), on),
        changes=()
        if judged is None
        else changes_in_words(judged.changes, telling, on=on, imperial=imperial),
        numbers=_numbers(charts, on),
        vital_missing=joined(judged.vital_missing) if judged else "",
        contradictions=judged.contradictions if judged else (),
        body=_body(judged),
        places=_places(store, dog_id, judged, telling, answers, protocol, imperial=imperial),
        charts=charts,
        regions=regions,
        not_asked=tuple(
            region.title
            for key, region in protocol.regions.items()
            if regions and key not in {part.id for part in regions}
        ),
        taken=_taken(answers, telling, places, imperial=imperial),
        cautions=_cautions(judged, protocol),
        sources=tuple(dict.fromkeys(one for one in cited if one)),
        rules=table.version,
        protocol=protocol.version,
        photos=_photos(store, dog_id, places),
        vet=" ".join(part for part in (settings.vet_name, settings.vet_number or "") if part),
    )


def _judged(
    store: Store,
    exam: Exam,
    answers: Sequence[Answer],
    days: dict[str, date],
    table: Table,
    contested: Sequence[Contested],
) -> Judgement:
    subject = store.subject(exam.dog_id, exam.begun_at.date())
    past = past_before(store, exam, days)

    def one(findings: Sequence[Finding]) -> Judgement:
        return judge(
            findings,
            subject,
            past,
            on=exam.begun_at.date(),
            table=table,
            unfinished=exam.outcome is None or exam.outcome.value != "complete",
        )

    return judged_with(findings_of(answers), contested, one, table.catalogue)


def _last_with_answers(store: Store, dog_id: str) -> tuple[Exam | None, tuple[Answer, ...]]:
    # Nearly always it is the newest; only where checks were begun and left are more looked at.
    for limit in (1, None):
        for exam in store.exams.of_dog(dog_id, limit=limit):
            answers = store.exams.answers(exam.id)
            if answers:
                return exam, answers
    return None, ()


def _told_then(store: Store, exam: Exam, judged: Judgement) -> str:
    results = store.results.of_exam(exam.id)
    if not results or results[0].level == judged.level.value:
        return ""
    level = results[0].level
    return (
        f"When the check ended it came to: {LEVEL_WORDS.get(level, level)}. This page judges it "
        "by the table named below."
    )


def _facts(
    dog: Dog, on: date, weight_kg: float | None, *, imperial: bool
) -> tuple[tuple[str, str], ...]:
    from handsfree.review.wording import age_words

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


def _exam_words(store: Store, exam: Exam, protocol: Protocol, on: date) -> str:
    routine = protocol.routines.get(exam.routine)
    title = routine.title if routine else f"the {routine_words(exam.routine)}"
    who = f", by {store.people.get(exam.person_id).name}" if exam.person_id else ""
    ended = "" if exam.outcome and exam.outcome.value == "complete" else ", not finished"
    day = exam.begun_at
    return (
        f"{sentence(title)} on {day.day} {day:%B %Y} at {day:%H:%M} "
        f"({said_when(day.date(), on).partition(',')[0]}){who}{ended}"
    )


def _needs(judged: Judgement | None, telling: Telling, *, imperial: bool) -> tuple[Need, ...]:
    return tuple(_need(row, telling, imperial) for row in judged.fired) if judged else ()


def _need(row: Fired, telling: Telling, imperial: bool) -> Need:
    places = telling.places or {}
    sides = joined([side_title(side, places) for side in row.sides])
    heard = dict.fromkeys(
        value_words(telling, e.item, e.value, e.side, e.unit, imperial=imperial)
        for e in row.evidence
    )
    advice = [row.rule.meanwhile, row.rule.avoid]
    if row.rule.recheck:
        advice.append(f"Look again {row.rule.recheck}.")
    if row.stepped:
        advice.append(f"It weighs more {row.stepped}.")
    basis = "our own judgement, awaiting a vet" if row.rule.awaits_vet else row.rule.basis
    return Need(
        level=row.level.value,
        name=sentence(f"{row.rule.name}, {sides}" if sides else row.rule.name),
        possible=row.possible,
        say=row.rule.say,
        advice=tuple(text for text in advice if text),
        because="; ".join(text for text in heard if text),
        source=sentence(basis) if row.rule.awaits_vet else f"Source ({basis}): {row.rule.cite}",
    )


def _dues(dues: Sequence[Due], on: date) -> tuple[tuple[str, str], ...]:
    found = []
    for due in dues:
        if due.due is None or (due.due - on).days > DUE_WITHIN_DAYS:
            continue
        if due.last is None:
            when = "never noted; due now" if due.due <= on else f"due {due.due.isoformat()}"
        elif due.overdue_days:
            when = f"due {due.due.isoformat()}, {due.overdue_days} days ago"
        else:
            when = f"due {due.due.isoformat()}"
        found.append((sentence(due.task.title), when))
    return tuple(found)


def changes_in_words(
    changes: Sequence[Change], telling: Telling, *, on: date, imperial: bool = False
) -> tuple[str, ...]:
    """Return changes against the dog's past, a sentence each, what matters first.

    Args:
        changes: From judging.
        telling: Readings and places.
        on: Today, for how long ago.
        imperial: Show imperial units.
    """
    ranked: list[tuple[int, str]] = []
    for change in changes:
        if change.kind in LEFT_OUT:
            continue
        text = _change(change, telling, on, imperial)
        if text:
            ranked.append((_RANK.get(change.kind, 9), text))
    return tuple(dict.fromkeys(text for _, text in sorted(ranked, key=lambda one: one[0])))


_RANK = {
    ChangeKind.FIRST_SEEN: 0,
    ChangeKind.CHANGED: 1,
    ChangeKind.NOT_LOOKED: 2,
    ChangeKind.GONE: 3,
}


def _change(change: Change, telling: Telling, on: date, imperial: bool) -> str:
    since = "" if change.since is None else f" ({said_when(change.since, on)})"
    now, before = change.now, change.before
    if isinstance(now, float) and isinstance(before, float):
        if not change.counts:
            return ""
        unit = change.unit
        told = value_words(telling, change.item, now, change.side, unit, imperial=imperial)
        told += f", was {number_words(before, unit, imperial=imperial)}{since}"
        if change.usual is not None:
            told += f"; usually {number_words(change.usual, unit, imperial=imperial)}"
        return f"{told}."
    is_now = sentence(reading(telling, change.item, now, change.side))
    was = sentence(reading(telling, change.item, before, change.side))
    if change.kind is ChangeKind.FIRST_SEEN:
        return f"New: {is_now}." if is_now else ""
    if change.kind is ChangeKind.GONE:
        return f"No longer: {was}{since}." if was else ""
    if change.kind is ChangeKind.NOT_LOOKED:
        return f"Not looked at again: {was}{since}." if was else ""
    return f"{is_now}; before: {was}{since}." if was else f"{is_now}."


def _numbers(charts: Sequence[Chart], on: date) -> tuple[tuple[str, str, str, str], ...]:
    return tuple(
        (
            chart.title,
            f"{chart.text(chart.points[-1].value)} {chart.unit}",
            said_when(chart.points[-1].on, on).partition(",")[0],
            "" if chart.usual is None else f"{chart.text(chart.usual)} {chart.unit}",
        )
        for chart in charts
    )


def _body(judged: Judgement | None) -> tuple[str, ...]:
    if judged is None:
        return ()
    found = [f"Body condition {judged.body_condition}."] if judged.body_condition else []
    if judged.ideal_weight:
        found.append(f"Ideal weight {judged.ideal_weight}.")
    for trend in judged.trends:
        way = "rising" if trend.per_month > 0 else "falling"
        found.append(
            f"{sentence(item_title(trend.item))} is {way} by about {abs(trend.per_month):.1f} "
            f"{trend.unit} in a month (95 % interval {trend.low:.1f} to {trend.high:.1f}, "
            f"{trend.points} readings)."
        )
    return tuple(found)


def _places(
    store: Store,
    dog_id: str,
    judged: Judgement | None,
    telling: Telling,
    answers: Sequence[Answer],
    protocol: Protocol,
    *,
    imperial: bool,
) -> tuple[Place, ...]:
    found: list[Place] = []
    named = {(a.item, a.side): a for a in answers}
    for lump in store.lumps.of_dog(dog_id):
        number = len(found) + 1
        spot = spot_of("lumps.known", None, lump.place) or ("side", "")
        length, width = store.lumps.last_size_mm(lump)
        sizes = [number_words(s, "mm", imperial=imperial) for s in (length, width) if s is not None]
        state = named.get(("lumps.known", lump.key))
        seen = answer_words(state, telling) if state is not None else "not asked in the last check"
        vet = f"; a vet found: {lump.vet_result}" if lump.vet_result else "; no vet's result yet"
        found.append(
            Place(
                mark=Mark(number=number, spot=spot[0], side=spot[1], lump=True),
                number=number,
                what="Lump",
                where=sentence(lump.place),
                size=" by ".join(sizes),
                note=f"{seen}{vet}",
            )
        )
    for answer in answers:
        if answer.item.startswith("lumps.") or not _unusual(answer, protocol):
            continue
        number = len(found) + 1
        spotted = spot_of(answer.item, answer.side, _answered_place(answer, named))
        region = protocol.regions.get(answer.item.partition(".")[0])
        title = region.title if region else item_title(answer.item)
        side = side_title(answer.side, telling.places or {})
        found.append(
            Place(
                mark=None
                if spotted is None
                else Mark(number=number, spot=spotted[0], side=spotted[1]),
                number=number,
                what=answer_words(answer, telling),
                where=sentence(f"{title}, {side}" if side else title),
                size="",
                note="possible, never settled" if answer.confirmed.value == "possible" else "",
            )
        )
    return tuple(found)


_PLACE_ITEMS = {
    "coat.sores": "coat.place",
    "coat.look": "coat.place",
    "coat.parasites": "coat.place",
    "neck.feel": "neck.node_place",
    "nose.look": "nose.side",
    "nose.discharge": "nose.side",
    "rear.look": "rear.side",
    "watch.gait": "watch.leg",
    "watch.foot_use": "watch.leg",
}


def _answered_place(answer: Answer, named: dict[tuple[str, str | None], Answer]) -> str:
    place = named.get((_PLACE_ITEMS.get(answer.item, ""), None))
    if place is None or not isinstance(place.value, str):
        return ""
    words = place.value.replace("_", " ")
    return f"{words} leg" if answer.item.startswith("watch.") else words


def _unusual(answer: Answer, protocol: Protocol) -> bool:
    if answer.status.value != "observed" or not isinstance(answer.value, str):
        return False
    try:
        normal = protocol.question(answer.item).normal
    except KeyError:
        return False
    return bool(normal) and answer.value not in normal


def _regions(
    answers: Sequence[Answer],
    protocol: Protocol,
    telling: Telling,
    places: dict[str, str],
    contested: Sequence[Contested],
    *,
    imperial: bool,
) -> tuple[RegionPart, ...]:
    differing = {(one.item, one.side): one for one in contested}
    by_region: dict[str, list[Answer]] = {}
    for answer in answers:
        by_region.setdefault(answer.item.partition(".")[0], []).append(answer)
    parts = []
    for region_id, held in by_region.items():
        region = protocol.regions.get(region_id)
        lines = tuple(
            Line(
                title=sentence(item_title(a.item)),
                side=side_title(a.side, places),
                value=answer_words(a, telling, imperial=imperial),
                words=a.words if a.by == "voice" else "",
                status=a.status.value,
                unusual=_unusual(a, protocol),
                settled=_settled(a, differing.get((a.item, a.side)), telling, imperial=imperial),
                how=how_taken(a) if isinstance(a.value, float) else "",
            )
            for a in held
            if a.status.value != "not_applicable"
        )
        unusual = sum(line.unusual for line in lines)
        missing = sum(line.status == "not_observed" for line in lines)
        said = []
        if not lines:
            said.append("does not apply to this dog")
        if unusual:
            said.append(f"{unusual} unusual")
        if missing:
            said.append(f"{missing} not observed")
        if lines and not said:
            said.append("as usual")
        parts.append(
            RegionPart(
                id=region_id,
                title=sentence(region.title if region else region_id.replace("_", " ")),
                lines=lines,
                sum=", ".join(said),
                unusual=unusual,
                missing=missing,
            )
        )
    return tuple(parts)


def _settled(
    answer: Answer, contested: Contested | None, telling: Telling, *, imperial: bool
) -> str:
    if answer.status.value != "observed":
        return ""
    doubt = {"possible": "possible, never settled", "unconfirmed": "not confirmed"}
    notes = [doubt.get(answer.confirmed.value, "")]
    if contested is not None:
        notes.append(differs_words(contested, answer.value, telling, imperial=imperial))
    return "; ".join(note for note in notes if note)


def differs_words(
    contested: Contested, own: str | float | None, telling: Telling, *, imperial: bool = False
) -> str:
    """Return how an answer stands beside those of others on that day, in a few words."""

    def words(value: str | float | None) -> str:
        told = contested.options[0]
        return value_words(
            telling, told.item, value, told.side, told.unit, imperial=imperial
        )  # fmt: skip

    if contested.counts is not None:
        counts = contested.options[contested.counts].value
        return "settled: it counts" if counts == own else f"settled: {words(counts)} counts"
    others = dict.fromkeys(o.value for o in contested.options if o.value != own)
    return f"differs, not settled; another said: {joined([words(value) for value in others])}"


def _taken(
    answers: Sequence[Answer], telling: Telling, places: dict[str, str], *, imperial: bool
) -> tuple[tuple[str, str, str], ...]:
    found = []
    for answer in answers:
        if isinstance(answer.value, float):
            side = side_title(answer.side, places)
            title = sentence(item_title(answer.item)) + (f", {side}" if side else "")
            found.append(
                (title, answer_words(answer, telling, imperial=imperial), how_taken(answer))
            )
    return tuple(found)


def _cautions(judged: Judgement | None, protocol: Protocol) -> tuple[str, ...]:
    keys = [*(judged.cautions if judged else ()), "clean_result"]
    return tuple(protocol.cautions[key].say for key in dict.fromkeys(keys))


def _photos(
    store: Store, dog_id: str, places: dict[str, str]
) -> tuple[tuple[str, str, Photo], ...]:
    found = []
    for photo in store.photos.of_dog(dog_id, limit=PHOTOS):
        side = side_title(photo.side, places)
        title = sentence(item_title(photo.item)) + (f", {side}" if side else "")
        found.append((title, f"{photo.at.day} {photo.at:%B %Y}", photo))
    return tuple(found)


PHOTOS = 12
"""The page shows the newest so many photos, so that it can still be sent."""
