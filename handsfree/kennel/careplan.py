"""A dog's stay and care: arrival, feeding, plan, bites, flags by hand, doses, and its leaving.

What a vet set is stored as it was set, with the vet's name; nothing is worked out of it here.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from handsfree.errors import CallerError
from handsfree.kennel.chip import checked_chip
from handsfree.kennel.doses import State, challenge, is_early, state_of
from handsfree.kennel.model import Bite, Dose, DoseOutcome, FlagKind, Medicine, Stay
from handsfree.records.edits import checked_text
from handsfree.records.matching import folded
from handsfree.records.model import Dog
from handsfree.records.store import Store

__all__ = [
    "Dosed",
    "Left",
    "arrive",
    "bite",
    "bites_of",
    "flag",
    "here",
    "leave",
    "medicine_named",
    "open_stay",
    "set_care",
    "set_chip",
    "states_of",
    "store_dose",
]  # fmt: skip

BACK_DAYS = 7
"""A dose is entered at most so many days late; our own judgement, awaiting a vet."""


@dataclass(frozen=True, kw_only=True)
class Left:
    """A dog left: since when it had been here, and what is still open of it, a sentence each."""

    arrived_on: date | None
    open: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Dosed:
    """A dose was stored; ``corrected`` is the one that it replaces."""

    medicine: Medicine
    outcome: DoseOutcome
    amount: str
    given_at: datetime
    early: bool
    corrected: Dose | None


def open_stay(store: Store, dog_id: str) -> Stay | None:
    """Return the stay that a dog is in; None if it has not arrived or has left."""
    stays = store.kennel.stays.all(dog_id=dog_id)
    return stays[-1] if stays else None


def here(store: Store) -> tuple[Dog, ...]:
    """Return the dogs that are looked after here: not retired, not at another site, not left."""
    away = store.kennel.elsewhere()
    left = {
        row["dog_id"]
        for row in store.file.rows(
            "SELECT dog_id FROM stays GROUP BY dog_id HAVING sum(left_on IS NULL) = 0"
        )
    }
    return tuple(dog for dog in store.dogs.all() if dog.id not in away and dog.id not in left)


def arrive(
    store: Store, dog: Dog, *, on: date, feeding: str = "", feeding_by: str = "", plan: str = "",
    person_id: str | None = None,
) -> Stay:  # fmt: skip
    """Store that a dog has arrived.

    Raises:
        CallerError: It is here already, or the day lies in the future.
    """
    there = open_stay(store, dog.id)
    if there is not None:
        msg = (
            f"{dog.name} is here since {there.arrived_on}. If it left in between: "
            "handsfree kennel leave"
        )
        raise CallerError(msg)
    _not_ahead(store, on, "arrival")
    return store.kennel.stays.add(
        dog_id=dog.id, arrived_on=on, feeding=_free(feeding, "The feeding"),
        feeding_by=_free(feeding_by, "Who set the feeding"), care_plan=_free(plan, "The plan"),
        person_id=person_id,
    )  # fmt: skip


def leave(store: Store, dog: Dog, *, on: date, why: str = "", person_id: str | None = None) -> Left:
    """Store that a dog left: its stay ends, it is in no pen, and all that was stored stays.

    Raises:
        CallerError: It is not here, or the day is impossible.
    """
    stay = open_stay(store, dog.id)
    placed = store.kennel.placed().get(dog.id)
    if stay is None and placed is None:
        msg = f"{dog.name} is not here: it has no stay and is in no pen."
        raise CallerError(msg)
    _not_ahead(store, on, "leaving")
    if stay is not None and on < stay.arrived_on:
        msg = f"{dog.name} cannot leave on {on}: it arrived on {stay.arrived_on}. Check the date."
        raise CallerError(msg)
    with store.transaction():
        if stay is not None:
            store.kennel.stays.edit(stay.id, left_on=on, person_id=person_id)
        if placed is not None:
            store.kennel.place(
                dog.id, None, "left" + (f": {why}" if why else ""), person_id=person_id
            )
    still = [
        f"{m.name} is still set by {m.set_by}" for m in store.kennel.medicines.all(dog_id=dog.id)
    ]
    still += [
        f"flag {f.kind.value.replace('_', ' ')}, {f.why}"
        for f in store.rounds.flags()
        if f.dog_id == dog.id
    ]
    still += [
        f"not acknowledged: {say}"
        for dog_id, _, _, say in store.rounds.open_findings()
        if dog_id == dog.id
    ]
    return Left(arrived_on=stay.arrived_on if stay else None, open=tuple(still))


def set_care(
    store: Store, dog: Dog, *, feeding: str | None = None, feeding_by: str | None = None,
    plan: str | None = None, person_id: str | None = None,
) -> Stay:  # fmt: skip
    """Set a dog's feeding or care plan; what it was stays in the history.

    Raises:
        CallerError: It has no stay here.
    """
    stay = open_stay(store, dog.id)
    if stay is None:
        msg = f"{dog.name} has no stay here. Store one with: handsfree kennel arrive"
        raise CallerError(msg)
    values = {
        "feeding": None if feeding is None else _free(feeding, "The feeding"),
        "feeding_by": None if feeding_by is None else _free(feeding_by, "Who set the feeding"),
        "care_plan": None if plan is None else _free(plan, "The plan"),
    }
    given = {name: value for name, value in values.items() if value is not None}
    return store.kennel.stays.edit(stay.id, person_id=person_id, **given)


def set_chip(
    store: Store, dog: Dog, text: str, *, instead: bool = False, person_id: str | None = None
) -> str:
    """Store a dog's chip number; return its digits, to be read back.

    Raises:
        CallerError: It can be no dog's, another dog has it, or this dog has another.
    """
    digits = checked_chip(text)
    for other in store.dogs.all(retired=True):
        if other.id != dog.id and other.chip == digits:
            msg = f"Chip number {digits} is {other.name}'s already. Read the chip again."
            raise CallerError(msg)
    if dog.chip and dog.chip != digits and not instead:
        msg = (
            f"{dog.name} has chip {dog.chip} stored. Read the chip again; if the new number is "
            "right, say --instead."
        )
        raise CallerError(msg)
    store.dogs.edit(dog.id, chip=digits, person_id=person_id)
    return digits


def bite(
    store: Store, dog: Dog, *, on: date, whom: str, what: str, person_id: str | None = None
) -> None:
    """Store that a dog bit or snapped; from now on each round says so before its pen.

    Raises:
        CallerError: Whom it bit is not told, or the day lies in the future.
    """
    _not_ahead(store, on, "bite")
    whom = checked_text(whom, "Whom it bit")
    with store.transaction():
        store.rounds.bite(dog.id, on, whom, _free(what, "What happened"), person_id=person_id)
        if not dog.has_bitten:
            store.dogs.edit(dog.id, has_bitten=True, person_id=person_id)


def bites_of(store: Store, dog_id: str) -> tuple[Bite, ...]:
    """Return a dog's bites, oldest first."""
    return store.rounds.bites(dog_id)


def flag(
    store: Store, dog: Dog, kind: FlagKind, why: str, *, person_id: str | None = None
) -> tuple[Dog, ...]:
    """Flag a dog; a contagious one flags those of its pen as exposed, who are returned.

    Raises:
        CallerError: Why is not told.
    """
    why = checked_text(why, "The reason")
    placed = store.kennel.placed()
    pen = placed.get(dog.id)
    mates: list[Dog] = []
    if kind is FlagKind.CONTAGIOUS and pen is not None:
        mates = [store.dogs.get(d) for d, p in placed.items() if p == pen and d != dog.id]
    with store.transaction():
        store.rounds.flag(dog.id, kind, why, person_id=person_id)
        for mate in mates:
            store.rounds.flag(
                mate.id, FlagKind.EXPOSED, why, from_dog_id=dog.id, person_id=person_id
            )
    return tuple(mates)


def states_of(store: Store, dog_id: str, now: datetime) -> tuple[State, ...]:
    """Return how each medicine of a dog stands now, by its stored doses."""
    doses = store.rounds.doses(dog_id)
    return tuple(state_of(m, doses, now) for m in store.kennel.medicines.all(dog_id=dog_id))


def medicine_named(store: Store, dog: Dog, name: str) -> Medicine:
    """Return the medicine of this name that is set for a dog.

    Raises:
        CallerError: There is none.
    """
    every = store.kennel.medicines.all(dog_id=dog.id)
    for medicine in every:
        if folded(medicine.name) == folded(name):
            return medicine
    known = ", ".join(m.name for m in every) or "none"
    msg = f"{dog.name} has no medicine {name!r} set. There is: {known}."
    raise CallerError(msg)


def store_dose(
    store: Store, dog: Dog, medicine: Medicine, outcome: DoseOutcome, *, at: datetime,
    amount: str = "", again: bool = False, instead: bool = False, person_id: str | None = None,
) -> Dosed:  # fmt: skip
    """Store what became of a dose.

    Args:
        store: The records.
        dog: The dog.
        medicine: One that is set for it.
        outcome: Given, missed or refused.
        at: When, with offset.
        amount: How much; as the vet set it where nothing is said.
        again: It was really given again within the interval.
        instead: The last stored dose of this medicine was wrong: this one replaces it.
        person_id: Who says so.

    Raises:
        CallerError: The time is impossible, the interval has not passed, or there is no dose to
            replace.
    """
    now = store.file.clock()
    if at > now:
        msg = f"{at:%Y-%m-%d %H:%M} lies in the future: check the time."
        raise CallerError(msg)
    if at < now - timedelta(days=BACK_DAYS):
        msg = f"{at:%Y-%m-%d %H:%M} is more than {BACK_DAYS} days ago: check the time."
        raise CallerError(msg)
    doses = [d for d in store.rounds.doses(dog.id) if d.medicine_id == medicine.id]
    last = doses[-1] if doses else None
    if instead:
        if last is None:
            msg = f"No dose of {medicine.name} is stored for {dog.name}: there is none to replace."
            raise CallerError(msg)
        doses = doses[:-1]
    state = state_of(medicine, [d for d in doses if d.given_at <= at], at)
    if state.word in ("not_begun", "ended"):
        when = f"begins on {medicine.begins}" if state.word == "not_begun" else "has ended"
        msg = f"{medicine.name} {when} for {dog.name}, by what is stored. Ask the vet."
        raise CallerError(msg)
    asked = challenge(state, at) if outcome is DoseOutcome.GIVEN else ""
    later = next((d for d in doses if d.given_at > at and d.outcome is DoseOutcome.GIVEN), None)
    if (
        not asked
        and later is not None
        and outcome is DoseOutcome.GIVEN
        and is_early(medicine, at, later.given_at)
    ):
        asked = (
            f"{medicine.name} is stored as given later as well, at {later.given_at:%H:%M}. Was it "
            "really given twice?"
        )
    if asked and not again:
        msg = f"{asked} Nothing was stored. If it was, say --again, and tell the vet."
        raise CallerError(msg)
    amount = _free(amount, "The amount") or medicine.amount
    store.rounds.dose(
        medicine.id, dog.id, outcome, amount=amount, given_at=at, early=bool(asked),
        person_id=person_id, corrects=last.id if instead and last else None,
    )  # fmt: skip
    return Dosed(
        medicine=medicine, outcome=outcome, amount=amount, given_at=at, early=bool(asked),
        corrected=last if instead else None,
    )  # fmt: skip


def _not_ahead(store: Store, day: date, what: str) -> None:
    if day > store.file.clock().date():
        msg = f"{day} as the day of {what} lies in the future: check the date."
        raise CallerError(msg)


def _free(text: str, what: str) -> str:
    return checked_text(text, what) if text.strip() else ""
