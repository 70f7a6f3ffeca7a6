"""Taking a checked roster into the records: what would change, and changing it, all or nothing."""

from __future__ import annotations

from collections.abc import Sequence

from handsfree.kennel.careplan import open_stay
from handsfree.kennel.model import ContactKind, Pen
from handsfree.kennel.roster_csv import RosterLine
from handsfree.protocol.subject import Neutered, Sex
from handsfree.records.matching import folded
from handsfree.records.model import BirthPrecision, Dog
from handsfree.records.store import Store

__all__ = ["take_roster"]

SITE, ROW = "Home", "A"
"""Names where the roster gives none."""


class _DryRunOnly(Exception):  # noqa: N818 - never leaves this module
    pass


def take_roster(
    store: Store, lines: Sequence[RosterLine], *, dry_run: bool, person_id: str | None = None
) -> tuple[str, ...]:
    """Take a roster in one transaction; return one sentence for each change.

    A dog is known again by its chip, else by its name in the same pen; of one that is known, what
    the roster gives is changed and what it leaves empty stays. With ``dry_run`` all is
    tried and nothing is kept.
    """
    said: list[str] = []
    try:
        with store.transaction():
            for line in lines:
                _take(store, line, said, person_id)
            if dry_run:
                raise _DryRunOnly
    except _DryRunOnly:
        pass
    return tuple(said)


def _take(store: Store, line: RosterLine, said: list[str], person_id: str | None) -> None:
    pen = _pen(store, line, said, person_id)
    placed = store.kennel.placed()
    dog = _known(store, line, pen, placed)
    where = store.kennel.pen_words(pen)
    if dog is None:
        born = {"birth": line.born, "birth_precision": BirthPrecision.DAY} if line.born else {}
        owner = next((name for who, name, _ in line.contacts if who == "owner"), "")
        dog = store.dogs.add(
            line.name, person_id=person_id, sex=line.sex, neutered=line.neutered,
            breed=line.breed, looks=line.looks, chip=line.chip, has_bitten=line.has_bitten,
            owner=owner, **born,
        )  # fmt: skip
        said.append(f"new dog {dog.name} in {where}")
        for who, name, phone in line.contacts:
            store.kennel.add_contact(
                dog.id, ContactKind(who), name, phone=phone, person_id=person_id
            )
        if line.arrived is not None:
            store.kennel.stays.add(
                dog_id=dog.id, arrived_on=line.arrived, feeding=line.feeding, care_plan=line.plan,
                person_id=person_id,
            )  # fmt: skip
    else:
        _change(store, dog, line, said, person_id)
        if placed.get(dog.id) != pen.id:
            said.append(f"{dog.name} moves to {where}")
    if placed.get(dog.id) != pen.id:
        store.kennel.place(dog.id, pen.id, "roster", person_id=person_id)


def _change(
    store: Store, dog: Dog, line: RosterLine, said: list[str], person_id: str | None
) -> None:
    """Take what the roster gives of a dog that is known; what it leaves empty stays."""
    fields: dict[str, object] = {
        "sex": line.sex if line.sex is not Sex.UNKNOWN else None,
        "neutered": line.neutered if line.neutered is not Neutered.UNKNOWN else None,
        "breed": line.breed or None,
        "looks": line.looks or None,
        "chip": line.chip,
        "birth": line.born,
        "has_bitten": line.has_bitten or None,
        "owner": next((name for who, name, _ in line.contacts if who == "owner"), None),
    }
    new = {k: v for k, v in fields.items() if v is not None and v != getattr(dog, k)}
    if "birth" in new:
        new["birth_precision"] = BirthPrecision.DAY
    if new:
        store.dogs.edit(dog.id, person_id=person_id, **new)
        names = ", ".join(k.replace("_", " ") for k in new if k != "birth_precision")
        said.append(f"{dog.name}: new {names}")
    for who, name, phone in line.contacts:
        there = [
            c
            for c in store.kennel.contacts.all(dog_id=dog.id)
            if c.kind.value == who and folded(c.name) == folded(name)
        ]
        if not there:
            store.kennel.add_contact(
                dog.id, ContactKind(who), name, phone=phone, person_id=person_id
            )
            said.append(f"{dog.name}: new {who} {name}")
        elif phone and there[0].phone != phone:
            store.kennel.contacts.edit(there[0].id, phone=phone, person_id=person_id)
            said.append(f"{dog.name}: new telephone number of {who} {name}")
    stay = open_stay(store, dog.id)
    if stay is None:
        if line.arrived is not None:
            store.kennel.stays.add(
                dog_id=dog.id, arrived_on=line.arrived, feeding=line.feeding, care_plan=line.plan,
                person_id=person_id,
            )  # fmt: skip
            said.append(f"{dog.name}: arrived on {line.arrived}")
        return
    if line.feeding and line.feeding != stay.feeding:
        store.kennel.stays.edit(stay.id, feeding=line.feeding, feeding_by="", person_id=person_id)
        said.append(f"{dog.name}: new feeding")
    if line.plan and line.plan != stay.care_plan:
        store.kennel.stays.edit(stay.id, care_plan=line.plan, person_id=person_id)
        said.append(f"{dog.name}: new plan")


def _known(store: Store, line: RosterLine, pen: Pen, placed: dict[str, str]) -> Dog | None:
    for dog in store.dogs.all():
        if line.chip is not None and dog.chip is not None:
            if dog.chip == line.chip:
                return dog
        elif folded(dog.name) == folded(line.name) and placed.get(dog.id) == pen.id:
            return dog
    return None


def _pen(store: Store, line: RosterLine, said: list[str], person_id: str | None) -> Pen:
    kennel = store.kennel
    site_name, row_name = line.site or SITE, line.row or ROW
    sites = [s for s in kennel.sites.all() if folded(s.name) == folded(site_name)]
    site = sites[0] if sites else kennel.add_site(site_name, person_id=person_id)
    rows = [r for r in kennel.rows.all(site_id=site.id) if folded(r.name) == folded(row_name)]
    row = rows[0] if rows else kennel.add_row(site, row_name, line.kind, person_id=person_id)
    pens = [p for p in kennel.pens.all(row_id=row.id) if folded(p.name) == folded(line.pen)]
    said += [f"new site {site.name}"] * (not sites) + [f"new row {row.name}"] * (not rows)
    if pens:
        return pens[0]
    said.append(f"new pen {site.name}/{row.name}/{line.pen}")
    return kennel.add_pen(row, line.pen, person_id=person_id)
