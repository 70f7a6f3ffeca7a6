"""What a kennel's records hold, as plain values. No SQL, file or clock here."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

__all__ = [
    "Bite", "Contact", "ContactKind", "Dose", "DoseOutcome", "Flag", "FlagKind", "Medicine", "Pen",
    "Placement", "Row", "RowKind", "Site", "Stay",
]  # fmt: skip


class RowKind(StrEnum):
    """What a row is for; the round goes in this order, so that nothing is carried to the young."""

    YOUNG = "young"
    HEALTHY = "healthy"
    INTAKE = "intake"
    ISOLATION = "isolation"


class ContactKind(StrEnum):
    """Whom a contact is."""

    OWNER = "owner"
    VET = "vet"
    EMERGENCY = "emergency"


class DoseOutcome(StrEnum):
    """What became of a dose."""

    GIVEN = "given"
    MISSED = "missed"
    REFUSED = "refused"


class FlagKind(StrEnum):
    """What a dog is flagged for; ``exposed`` shares a pen with a contagious one."""

    CONTAGIOUS = "contagious"
    EXPOSED = "exposed"
    FULL_CHECK = "full_check"


@dataclass(frozen=True, kw_only=True)
class Site:
    """A place where dogs are kept."""

    id: str
    name: str
    gone_at: datetime | None = None
    added_at: datetime


@dataclass(frozen=True, kw_only=True)
class Row:
    """A row of pens; ``position`` orders the rows of one kind."""

    id: str
    site_id: str
    name: str
    position: int = 0
    kind: RowKind = RowKind.HEALTHY
    gone_at: datetime | None = None
    added_at: datetime


@dataclass(frozen=True, kw_only=True)
class Pen:
    """A pen; ``position`` orders the pens of one row."""

    id: str
    row_id: str
    name: str
    position: int = 0
    gone_at: datetime | None = None
    added_at: datetime


@dataclass(frozen=True, kw_only=True)
class Contact:
    """Whom to call about a dog."""

    id: str
    dog_id: str
    kind: ContactKind
    name: str
    phone: str = ""
    email: str = ""
    address: str = ""
    gone_at: datetime | None = None
    added_at: datetime


@dataclass(frozen=True, kw_only=True)
class Medicine:
    """A medicine as a vet has set it; ``interval_h`` hours from one dose to the next."""

    id: str
    dog_id: str
    name: str
    amount: str
    way: str = ""
    interval_h: float
    set_by: str
    begins: date
    ends: date | None = None
    note: str = ""
    gone_at: datetime | None = None
    added_at: datetime


@dataclass(frozen=True, kw_only=True)
class Stay:
    """A dog's stay; feeding, by whom it was set, and care plan are free words."""

    id: str
    dog_id: str
    arrived_on: date
    feeding: str = ""
    feeding_by: str = ""
    care_plan: str = ""
    left_on: date | None = None
    added_at: datetime


@dataclass(frozen=True, kw_only=True)
class Placement:
    """A dog was put into a pen; ``pen_id`` None: into none, at ``site_id`` if it is told."""

    id: str
    dog_id: str
    pen_id: str | None
    site_id: str | None = None
    why: str
    at: datetime
    person_id: str | None
    station_id: str


@dataclass(frozen=True, kw_only=True)
class Bite:
    """A dog bit or snapped: whom, and in free words what led to it and what came of it."""

    id: str
    dog_id: str
    happened_on: date
    whom: str
    what: str
    at: datetime
    person_id: str | None


@dataclass(frozen=True, kw_only=True)
class Dose:
    """A dose given, missed or refused; ``early`` if confirmed before the interval had passed."""

    id: str
    medicine_id: str
    dog_id: str
    outcome: DoseOutcome
    amount: str
    given_at: datetime
    early: bool
    person_id: str | None
    station_id: str


@dataclass(frozen=True, kw_only=True)
class Flag:
    """A flag that is up; ``from_dog_id`` is the pen-mate with the sign, if it came from one."""

    dog_id: str
    kind: FlagKind
    why: str
    from_dog_id: str | None
    at: datetime
