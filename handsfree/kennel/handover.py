"""What one shift tells the next, from the records: read here, worded here, printed elsewhere."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from handsfree.dialogue.actions import Status
from handsfree.judging.differing import differences_of
from handsfree.kennel.careplan import here, states_of
from handsfree.kennel.contagion import GROUPS, SIGNS, signs_in
from handsfree.kennel.doses import too_close
from handsfree.kennel.findings import judge_left, open_findings
from handsfree.kennel.outbreak import Case, alarms
from handsfree.kennel.running import stops_of
from handsfree.kennel.settling import brief_of
from handsfree.records.database import to_stamp
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
    judge_left(store, now)
    present = {dog.id for dog in here(store)}
    needs = [
        f"{names.get(f.dog_id, f.dog_id)}: {f.kind.value.replace('_', ' ')}, {f.why}, "
        f"since {f.at:%d %B %H:%M}."
        for f in store.rounds.flags()
        if f.dog_id in present
    ]
    needs += _care(store)
    new = _come_and_gone(store, names, since)
    new += [
        f"{names[dog_id]}: {', '.join(signs)}."
        for dog_id, exam_id in store.rounds.exams_since(since)
        if (signs := signs_in(_observed(store, exam_id)))
    ]
    told = [one.words() for one in open_findings(store)]
    heard = [
        f"{names.get(t.dog_id, t.dog_id)}: {t.name} "
        + (f"acknowledged it at {t.at:%H:%M}." if t.acknowledged else f"was told at {t.told_at}.")
        for t in store.rounds.tellings(since)
    ]
    fast = [
        f"{names.get(f.dog_id or '', '')}: all well, faster than a look takes; "
        f"{'looked, as was said' if f.detail.get('looked') else 'not looked'}."
        for f in facts
        if f.name == "too_fast"
    ]
    wrong = [
        f"{names.get(f.dog_id or '', '')}: not in its place, {f.detail.get('pen', '')}"
        f"{', but in ' + str(f.detail['found_in']) if 'found_in' in f.detail else ''}."
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
            ("Who was told and when", tuple(heard)),
            ("Outbreak alarms", tuple(outbreak)),
            ("New since the last shift", tuple(new)),
            ("Need something", tuple(needs)),
            ("Not yet seen", tuple(f"{s.name} in {s.pen}." for s in stops if s.dog_id not in seen)),
            ("Not in place", tuple(wrong)),
            ("Medicines due or missed", _medicines(store, since, now, last_synced, stations)),
            ("Doses stored since", _doses(store, names, since, now)),
            ("Said faster than a look takes", tuple(fast)),
            ("Two answers that differ", _differing(store, since, now)),
        ),
    )


def _observed(store: Store, exam_id: str) -> list[tuple[str, object]]:
    return [
        (answer.item, answer.value)
        for answer in store.exams.answers(exam_id)
        if answer.status is Status.OBSERVED
    ]


def _medicines(
    store: Store, since: datetime, now: datetime, last_synced: datetime | None, stations: int
) -> tuple[str, ...]:
    people = {person.id: person.name for person in store.people.all(disabled=True)}
    lines = []
    for dog in here(store):
        for state in states_of(store, dog.id, now):
            medicine = state.medicine
            if state.word not in ("due", "missed"):
                continue
            last = "none stored"
            if state.last is not None:
                who = people.get(state.last.person_id or "", "somebody unnamed")
                last = f"last stored {state.last.given_at:%d %B %H:%M} by {who}"
            lines.append(f"{dog.name}: {medicine.name}, {medicine.amount}, {state.word}, {last}.")
        for one, two in too_close(
            store.kennel.medicines.all(dog_id=dog.id), store.rounds.doses(dog.id)
        ):
            name = store.kennel.medicines.get(two.medicine_id).name
            if two.given_at >= since:
                lines.append(
                    f"{dog.name}: {name} is stored as given {one.given_at:%d %B %H:%M} by "
                    f"{people.get(one.person_id or '', 'somebody unnamed')} and "
                    f"{two.given_at:%d %B %H:%M} by "
                    f"{people.get(two.person_id or '', 'somebody unnamed')}, within its interval. "
                    "Tell the vet."
                )
    if lines and stations > 1:
        when = f"{last_synced:%d %B %H:%M}" if last_synced else "never"
        lines.append(f"This station last shared: {when}; later doses elsewhere are not known here.")
    return tuple(lines)


def _doses(store: Store, names: dict[str, str], since: datetime, now: datetime) -> tuple[str, ...]:
    """What was given, missed or refused since then, by whom, and when it is due again."""
    people = {person.id: person.name for person in store.people.all(disabled=True)}
    lines = []
    for dog_id, name in names.items():
        states = {state.medicine.id: state for state in states_of(store, dog_id, now)}
        for dose in store.rounds.doses(dog_id):
            if dose.given_at < since:
                continue
            state = states.get(dose.medicine_id)
            again = ""
            if state is not None and state.last == dose and state.next_at is not None:
                again = f"; due again {state.next_at.astimezone(now.tzinfo):%d %B %H:%M}"
            lines.append(
                f"{name}: {store.kennel.medicines.get(dose.medicine_id).name}, {dose.amount}, "
                f"{dose.outcome.value} {dose.given_at:%d %B %H:%M} by "
                f"{people.get(dose.person_id or '', 'somebody unnamed')}"
                f"{', before its interval had passed' if dose.early else ''}{again}."
            )
    return tuple(lines)


def _care(store: Store) -> list[str]:
    """Feeding that somebody set, and care plans, of the dogs that are here."""
    lines = []
    for dog in here(store):
        for stay in store.kennel.stays.all(dog_id=dog.id):
            if stay.feeding and stay.feeding_by:
                lines.append(f"{dog.name}: feeding {stay.feeding}, set by {stay.feeding_by}.")
            if stay.care_plan:
                lines.append(f"{dog.name}: {stay.care_plan}.")
    return lines


def _come_and_gone(store: Store, names: dict[str, str], since: datetime) -> list[str]:
    rows = store.file.rows(
        "SELECT edits.field, stays.dog_id FROM edits JOIN stays ON stays.id = edits.entity_id "
        "WHERE edits.entity = 'stay' AND edits.field IN ('arrived_on', 'left_on') "
        "AND edits.value <> 'null' AND edits.at >= ? ORDER BY edits.at, edits.id",
        (to_stamp(since).at,),
    )
    return [
        f"{names.get(r['dog_id'], r['dog_id'])}: "
        f"{'arrived' if r['field'] == 'arrived_on' else 'left'}."
        for r in rows
    ]


def _differing(store: Store, since: datetime, now: datetime) -> tuple[str, ...]:
    """Two people's answers on one item of a dog on one day: all stay, and all are shown."""
    begin = since.replace(hour=0, minute=0, second=0, microsecond=0)
    lines = [brief_of(store, one) for one in differences_of(store, since=begin, settled=True)]
    older = differences_of(store, since=now - timedelta(days=MOST_DAYS), until=begin)
    if older:
        lines.append(f"Older and not settled: {len(older)}. List: handsfree kennel differs")
    return tuple(lines)


def cases_of(store: Store, now: datetime, *, days: int = MOST_DAYS) -> Sequence[Case]:
    """Return the signs that are counted over the house, each with the row the dog was in then.

    A dog with a sign is soon moved to isolation: it still counts in the row in which it showed it.
    """
    cases = []
    rows: dict[tuple[str, datetime], str] = {}
    for dog_id, at, item, value in store.rounds.observed_since(
        now - timedelta(days=days), tuple(SIGNS)
    ):
        for sign in signs_in([(item, value)]):
            if sign in GROUPS:
                row = rows.get((dog_id, at)) or _row_then(store, dog_id, at)
                rows[dog_id, at] = row
                cases.append(Case(day=at.date(), row=row, sign=sign, dog_id=dog_id))
    return cases


def _row_then(store: Store, dog_id: str, at: datetime) -> str:
    pens = {pen.id: pen for pen in store.kennel.pens.all()}
    before = [p for p in store.kennel.places(dog_id) if p.at <= at]
    pen = pens.get(before[-1].pen_id or "") if before else None
    return "none" if pen is None else store.kennel.rows.get(pen.row_id).name
