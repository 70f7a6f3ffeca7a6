"""What one shift tells the next, from the records: read here, worded here, printed elsewhere."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from handsfree.dialogue.actions import Status
from handsfree.kennel.contagion import GROUPS, signs_in
from handsfree.kennel.doses import state_of
from handsfree.kennel.outbreak import Case, alarms
from handsfree.kennel.running import stops_of
from handsfree.records.store import Store

__all__ = ["Handover", "cases_of", "gather"]

MOST_DAYS = 60
"""How far back the outbreak table reads at most."""


@dataclass(frozen=True, kw_only=True)
class Handover:
    """What is handed over, a sentence each, under its headings in order of saying."""

    since: datetime
    until: datetime
    parts: tuple[tuple[str, tuple[str, ...]], ...]

    def sentences(self) -> tuple[str, ...]:
        """Return all of it as it is spoken; what is empty is said to be so."""
        out = [f"Handover of {self.until:%d %B, %H:%M}."]
        for heading, lines in self.parts:
            out.append(f"{heading}: {'none' if not lines else len(lines)}.")
            out += lines
        return tuple(out)


def gather(
    store: Store, *, since: datetime, now: datetime, last_synced: datetime | None, stations: int,
    dogs: int = 2, days: int = 3,
) -> Handover:  # fmt: skip
    """Return what is to be handed over.

    Args:
        store: The records.
        since: Begin of the shift.
        now: Its end, with offset.
        last_synced: When this station last shared; None if never.
        stations: How many stations are known: with one, sharing is not spoken of.
        dogs: Dogs of one row that make an outbreak alarm.
        days: Within so many days.
    """
    names = {dog.id: dog.name for dog in store.dogs.all(retired=True)}
    facts = store.rounds.facts(since)
    seen = {fact.dog_id for fact in facts if fact.name == "seen"}
    stops = stops_of(store, site_id=None, row_id=None, now=now)
    flags = store.rounds.flags()
    needs = [
        f"{names.get(f.dog_id, f.dog_id)}: {f.kind.value.replace('_', ' ')}, {f.why}, "
        f"since {f.at:%d %B %H:%M}."
        for f in flags
    ]
    new = [
        f"{names[dog_id]}: {', '.join(signs)}."
        for dog_id, exam_id in store.rounds.exams_since(since)
        if (signs := signs_in(_observed(store, exam_id)))
    ]
    told = []
    for dog_id, exam_id, rule, say in store.rounds.open_findings():
        who = [t for t in store.rounds.told(exam_id) if t.rule == rule]
        words = f"{who[-1].name} was told at {who[-1].told_at}" if who else "nobody was told"
        told.append(f"{names[dog_id]}: {say} {words}, not acknowledged.")
    fast = [
        f"{names.get(f.dog_id or '', '')}: all well, faster than a look takes; "
        f"{'looked, as was said' if f.detail.get('looked') else 'not looked'}."
        for f in facts
        if f.name == "too_fast"
    ]
    wrong = [
        f"{names.get(f.dog_id or '', '')}: not in its place, {f.detail.get('pen', '')}."
        for f in facts
        if f.name == "wrong_place"
    ]
    outbreak = [
        f"Row {a.row}: {a.dogs} dogs with {a.sign} within {days} days, up to {a.day:%d %B}."
        for a in alarms(cases_of(store, now), dogs=dogs, days=days)
        if a.day >= since.date()
    ]
    return Handover(
        since=since,
        until=now,
        parts=(
            ("Cannot wait, not acknowledged", tuple(told)),
            ("Outbreak alarms", tuple(outbreak)),
            ("New since the last shift", tuple(new)),
            ("Need something", tuple(needs)),
            ("Not yet seen", tuple(f"{s.name} in {s.pen}." for s in stops if s.dog_id not in seen)),
            ("Not in place", tuple(wrong)),
            ("Medicines due or missed", _medicines(store, names, now, last_synced, stations)),
            ("Said faster than a look takes", tuple(fast)),
            ("Two answers that differ", _differing(store, names, since)),
        ),
    )


def _observed(store: Store, exam_id: str) -> list[tuple[str, object]]:
    return [
        (answer.item, answer.value)
        for answer in store.exams.answers(exam_id)
        if answer.status is Status.OBSERVED
    ]


def _medicines(
    store: Store,
    names: dict[str, str],
    now: datetime,
    last_synced: datetime | None,
    stations: int,
) -> tuple[str, ...]:
    people = {person.id: person.name for person in store.people.all(disabled=True)}
    lines = []
    for dog_id in names:
        doses = store.rounds.doses(dog_id)
        for medicine in store.kennel.medicines.all(dog_id=dog_id):
            state = state_of(medicine, doses, now)
            if state.word not in ("due", "missed"):
                continue
            last = "none stored"
            if state.last is not None:
                who = people.get(state.last.person_id or "", "somebody unnamed")
                last = f"last stored {state.last.given_at:%d %B %H:%M} by {who}"
            lines.append(
                f"{names[dog_id]}: {medicine.name}, {medicine.amount}, {state.word}, {last}."
            )
    if lines and stations > 1:
        when = f"{last_synced:%d %B %H:%M}" if last_synced else "never"
        lines.append(f"This station last shared: {when}; later doses elsewhere are not known here.")
    return tuple(lines)


def _differing(store: Store, names: dict[str, str], since: datetime) -> tuple[str, ...]:
    """Two people's answers on one item of a dog on one day: both stay, and both are shown."""
    found: dict[tuple[str, str, str | None], dict[str, str]] = {}
    for dog_id, exam_id in store.rounds.exams_since(since):
        exam = store.exams.get(exam_id)
        for answer in store.exams.answers(exam_id):
            if answer.status is Status.OBSERVED:
                by = found.setdefault((dog_id, answer.item, answer.side), {})
                by[exam.person_id or exam.station_id] = str(answer.value)
    return tuple(
        f"{names[dog_id]}: {item} is {' and '.join(sorted(set(by.values())))}, by "
        f"{len(by)} people; both stay."
        for (dog_id, item, _), by in found.items()
        if len(set(by.values())) > 1
    )


def cases_of(store: Store, now: datetime, *, days: int = MOST_DAYS) -> Sequence[Case]:
    """Return the signs that are counted over the house, each with the row the dog is in."""
    rows = {}
    for dog_id, pen_id in store.kennel.placed().items():
        rows[dog_id] = store.kennel.rows.get(store.kennel.pens.get(pen_id).row_id).name
    cases: list[Case] = []
    for dog_id, exam_id in store.rounds.exams_since(now - timedelta(days=days)):
        day = store.exams.get(exam_id).begun_at.date()
        cases += [
            Case(day=day, row=rows.get(dog_id, "none"), sign=sign, dog_id=dog_id)
            for sign in signs_in(_observed(store, exam_id))
            if sign in GROUPS
        ]
    return cases
