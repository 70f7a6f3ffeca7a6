"""A kennel in the records: sites, rows, pens, contacts, medicines, stays, and each dog's place.

Standing rows keep the history of each field by edits; a dog's place is the last of its placements.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from datetime import date
from typing import Any, Generic, TypeVar

from handsfree.errors import CallerError
from handsfree.kennel.model import (
    Contact,
    ContactKind,
    Medicine,
    Pen,
    Placement,
    Row,
    RowKind,
    Site,
    Stay,
)
from handsfree.records.database import RecordsFile, from_stamp
from handsfree.records.edits import Standing, checked_text
from handsfree.records.matching import folded, short_key

__all__ = ["STANDING", "Kennel", "Kept"]

STANDING: Mapping[str, tuple[str, type]] = {
    "sites": ("site", Site),
    "kennel_rows": ("row", Row),
    "pens": ("pen", Pen),
    "contacts": ("contact", Contact),
    "medicines": ("medicine", Medicine),
    "stays": ("stay", Stay),
}
"""Tables of standing rows with their name in edits and their dataclass."""

Thing = TypeVar("Thing", Site, Row, Pen, Contact, Medicine, Stay)


class Kept(Generic[Thing]):
    """Standing rows of one kind."""

    def __init__(self, file: RecordsFile, station_id: str, table: str, kind: type[Thing]) -> None:
        self._file = file
        self._table = table
        self._make: Callable[..., Thing] = kind
        self._entity = STANDING[table][0]
        self._rows = Standing(file, station_id, table=table, entity=self._entity, kind=kind)

    def add(self, *, person_id: str | None = None, **values: Any) -> Thing:
        """Store a new one and return it."""
        return self.get(self._rows.add(values, person_id=person_id))

    def edit(self, key: str, *, person_id: str | None = None, **values: Any) -> Thing:
        """Set fields and return it; what they were stays in the history."""
        self._rows.change(key, values, person_id=person_id)
        return self.get(key)

    def get(self, key: str) -> Thing:
        """Return the one with this key.

        Raises:
            CallerError: There is none.
        """
        row = self._file.one(f"SELECT * FROM {self._table} WHERE id = ?", (key,))
        if row is None:
            msg = f"No {self._entity} has the key {key}. See them with: handsfree kennel list"
            raise CallerError(msg)
        return self._make(**self._rows.read(row))

    def all(self, **equal: str) -> tuple[Thing, ...]:
        """Return those in use whose columns equal these, in the order of making."""
        end = "left_on" if self._table == "stays" else "gone_at"
        where = "".join(f" AND {column} = ?" for column in equal)
        rows = self._file.rows(
            f"SELECT * FROM {self._table} WHERE {end} IS NULL{where} ORDER BY id",
            tuple(equal.values()),
        )
        return tuple(self._make(**self._rows.read(row)) for row in rows)


class Kennel:
    """The roster in one database.

    Attributes:
        sites, rows, pens, contacts, medicines, stays: The standing rows of each kind.
    """

    def __init__(self, file: RecordsFile, station_id: str) -> None:
        self._file = file
        self._station_id = station_id
        self.sites: Kept[Site] = Kept(file, station_id, "sites", Site)
        self.rows: Kept[Row] = Kept(file, station_id, "kennel_rows", Row)
        self.pens: Kept[Pen] = Kept(file, station_id, "pens", Pen)
        self.contacts: Kept[Contact] = Kept(file, station_id, "contacts", Contact)
        self.medicines: Kept[Medicine] = Kept(file, station_id, "medicines", Medicine)
        self.stays: Kept[Stay] = Kept(file, station_id, "stays", Stay)

    def site(self, name: str) -> Site:
        """Return the site of this name, or the only one for an empty name.

        Raises:
            CallerError: There is none, or more than one could be meant.
        """
        every = self.sites.all()
        hits = [s for s in every if not name or folded(s.name) == folded(name)]
        if len(hits) == 1:
            return hits[0]
        if not every:
            msg = "There is no site yet. Add one with: handsfree kennel site NAME"
            raise CallerError(msg)
        known = ", ".join(s.name for s in every)
        msg = f"{'No site is called ' + repr(name) if name else 'Which site?'} There are: {known}."
        raise CallerError(msg)

    def row(self, site: Site, name: str) -> Row:
        """Return the row of this name at a site.

        Raises:
            CallerError: There is none.
        """
        every = self.rows.all(site_id=site.id)
        for row in every:
            if folded(row.name) == folded(name):
                return row
        known = ", ".join(r.name for r in every) or "none yet"
        msg = f"{site.name} has no row {name!r}. There are: {known}."
        raise CallerError(msg)

    def pen_named(self, text: str) -> Pen:
        """Return the pen that a text names: "A 3", "Home/A/3", or 3 alone where that is one pen.

        Raises:
            CallerError: There is none, or more than one could be meant.
        """
        hits = [pen for pen in self.pens.all() if folded(text) in self._names(pen)]
        if len(hits) == 1:
            return hits[0]
        if not hits:
            msg = f"There is no pen {text!r}. Add it with: handsfree kennel pen ROW PEN"
            raise CallerError(msg)
        named = "; ".join(f"{self.pen_words(p)} [{short_key(p.id)}]" for p in hits)
        msg = f"{len(hits)} pens could be meant by {text!r}: {named}. Name site, row and pen."
        raise CallerError(msg)

    def pen_words(self, pen: Pen) -> str:
        """Return a pen as people call it: site, row and pen."""
        row = self.rows.get(pen.row_id)
        return f"{self.sites.get(row.site_id).name}/{row.name}/{pen.name}"

    def place_words(self, place: Placement) -> str:
        """Return where a dog was put, as people call it."""
        if place.pen_id is not None:
            row = self._file.one("SELECT id FROM pens WHERE id = ?", (place.pen_id,))
            if row is None:
                return "a pen that is not known here"
            return self.pen_words(self.pens.get(place.pen_id))
        names = {site.id: site.name for site in self.sites.all()}
        return "no pen" if place.site_id is None else names.get(place.site_id, "another site")

    def _names(self, pen: Pen) -> set[str]:
        whole = self.pen_words(pen)
        _, row, name = whole.split("/", 2)
        texts = (whole, f"{row}/{name}", f"{row} {name}", f"{row}{name}", name, short_key(pen.id))
        return {folded(text) for text in texts}

    def place(
        self, dog_id: str, pen_id: str | None, why: str = "", *, site_id: str | None = None,
        person_id: str | None = None,
    ) -> str:  # fmt: skip
        """Store that a dog is now in this pen, or in none; return the row's key.

        ``site_id`` names the site of a dog that has no pen there yet: its stations place it.
        """
        with self._file.writing():
            return self._file.add(
                "placements",
                {
                    "dog_id": dog_id,
                    "pen_id": pen_id,
                    "why": why,
                    "site_id": None if pen_id else site_id,
                },
                station_id=self._station_id,
                person_id=person_id,
            )

    def places(self, dog_id: str) -> tuple[Placement, ...]:
        """Return where a dog has been, oldest first."""
        rows = self._file.rows(
            "SELECT * FROM placements WHERE dog_id = ? ORDER BY at, id", (dog_id,)
        )
        return tuple(
            Placement(
                id=r["id"], dog_id=r["dog_id"], pen_id=r["pen_id"], site_id=r["site_id"],
                why=r["why"], at=from_stamp(r["at"], r["offset_min"]), person_id=r["person_id"],
                station_id=r["station_id"],
            )
            for r in rows
        )  # fmt: skip

    def placed(self) -> dict[str, str]:
        """Return the pen of each dog that is in one, dog's key to pen's key.

        A dog in a pen that is not known here is at a site that this station does not see.
        """
        pens = {row["id"] for row in self._file.rows("SELECT id FROM pens")}
        return {dog: row["pen_id"] for dog, row in self._last().items() if row["pen_id"] in pens}

    def unplaced(self) -> dict[str, str]:
        """Return the site of each dog that is at one without a pen, dog's key to site's key."""
        return {
            dog: row["site_id"]
            for dog, row in self._last().items()
            if row["pen_id"] is None and row["site_id"] is not None
        }

    def elsewhere(self) -> frozenset[str]:
        """Return the dogs that are at a site which is not among those that this station sees."""
        pens = {row["id"] for row in self._file.rows("SELECT id FROM pens")}
        row = self._file.one("SELECT value FROM sync_state WHERE name = 'sites'")
        own = json.loads(row["value"]) if row is not None and row["value"] else None
        return frozenset(
            dog
            for dog, last in self._last().items()
            if (last["pen_id"] is not None and last["pen_id"] not in pens)
            or (last["site_id"] is not None and own is not None and last["site_id"] not in own)
        )

    def _last(self) -> dict[str, dict[str, Any]]:
        """Return the last placement of each dog."""
        rows = self._file.rows("SELECT dog_id, pen_id, site_id FROM placements ORDER BY at, id")
        return {row["dog_id"]: row for row in rows}

    def add_medicine(
        self, dog_id: str, name: str, *, amount: str, interval_h: float, set_by: str,
        begins: date, ends: date | None = None, way: str = "", note: str = "",
        person_id: str | None = None,
    ) -> Medicine:  # fmt: skip
        """Store a medicine as the vet has set it.

        Raises:
            CallerError: Its name, amount or vet is missing, or the interval is impossible.
        """
        if not 1 <= interval_h <= 24 * 92:
            msg = f"An interval of {interval_h:g} hours cannot be: give 1 hour to 3 months."
            raise CallerError(msg)
        if ends is not None and ends < begins:
            msg = (
                f"The medicine would end on {ends}, before it begins on {begins}: check the dates."
            )
            raise CallerError(msg)
        return self.medicines.add(
            person_id=person_id,
            dog_id=dog_id,
            name=checked_text(name, "The medicine's name"),
            amount=checked_text(amount, "The amount"),
            set_by=checked_text(set_by, "The vet who set it"),
            interval_h=float(interval_h), begins=begins, ends=ends, way=way, note=note,
        )  # fmt: skip

    def add_contact(
        self,
        dog_id: str,
        kind: ContactKind,
        name: str,
        *,
        person_id: str | None = None,
        **more: str,
    ) -> Contact:
        """Store whom to call about a dog; ``more``: phone, email, address."""
        return self.contacts.add(
            person_id=person_id, dog_id=dog_id, kind=kind,
            name=checked_text(name, "The contact's name"), **more,
        )  # fmt: skip

    def add_site(self, name: str, *, person_id: str | None = None) -> Site:
        """Store a site.

        Raises:
            CallerError: There is one of this name.
        """
        name = checked_text(name, "The site's name")
        self._refuse_double(name, self.sites.all(), "site")
        return self.sites.add(person_id=person_id, name=name)

    def add_row(
        self,
        site: Site,
        name: str,
        kind: RowKind = RowKind.HEALTHY,
        *,
        person_id: str | None = None,
    ) -> Row:
        """Store a row behind those of its site.

        Raises:
            CallerError: The site has one of this name.
        """
        name = checked_text(name, "The row's name")
        there = self.rows.all(site_id=site.id)
        self._refuse_double(name, there, "row")
        return self.rows.add(
            person_id=person_id, site_id=site.id, name=name, position=len(there) + 1, kind=kind
        )

    def add_pen(self, row: Row, name: str, *, person_id: str | None = None) -> Pen:
        """Store a pen behind those of its row.

        Raises:
            CallerError: The row has one of this name.
        """
        name = checked_text(name, "The pen's name")
        there = self.pens.all(row_id=row.id)
        self._refuse_double(name, there, "pen")
        return self.pens.add(person_id=person_id, row_id=row.id, name=name, position=len(there) + 1)

    @staticmethod
    def _refuse_double(name: str, there: tuple[Any, ...], what: str) -> None:
        if "/" in name:
            msg = f"A {what}'s name cannot hold a slash: {name!r}."
            raise CallerError(msg)
        if any(folded(one.name) == folded(name) for one in there):
            msg = f"There is a {what} {name!r} already: use it, or give another name."
            raise CallerError(msg)
