"""The people who check dogs: adding, finding, editing, disabling."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from handsfree.errors import CallerError
from handsfree.records.database import RecordsFile
from handsfree.records.edits import Standing, checked_text
from handsfree.records.matching import find, short_key
from handsfree.records.model import Edit, Person

__all__ = ["RATE_WPM", "People", "checked_rate", "described"]

RATE_WPM = (160, 300)
"""Lowest and highest speaking rate that can be set, words a minute: what the voice takes."""

_SELECT = """SELECT people.*, (
    SELECT count(*) FROM exams
    WHERE exams.person_id = people.id AND exams.outcome = 'complete'
) AS rounds_done FROM people"""


def checked_rate(rate_wpm: int) -> int:
    """Return the speaking rate, if it can be set.

    Raises:
        CallerError: It is out of reach.
    """
    low, high = RATE_WPM
    if not low <= rate_wpm <= high:
        msg = f"A speaking rate of {rate_wpm} words a minute is out of reach: {low} to {high}."
        raise CallerError(msg)
    return rate_wpm


def described(person: Person) -> str:
    """Return one line that tells this person from another."""
    facts = (
        f"sight {person.sight.value}" if person.sight else "",
        f"{person.rounds_done} checks done",
        f"added {person.added_at:%Y-%m-%d}",
        "disabled" if person.disabled_at else "",
    )
    return f"{person.name} [{short_key(person.id)}]: " + ", ".join(f for f in facts if f)


class People:
    """The people in one database."""

    def __init__(self, file: RecordsFile, station_id: str) -> None:
        self._file = file
        self._standing = Standing(file, station_id, table="people", entity="person", kind=Person)

    def add(self, name: str, *, by: str | None = None, **fields: Any) -> Person:
        """Store a new person and return them; ``fields`` are those of Person.

        Raises:
            CallerError: The name is empty, or a field is unknown or impossible.
        """
        return self.get(self._standing.add(self._checked({"name": name, **fields}), person_id=by))

    def edit(self, person_id: str, *, by: str | None = None, **fields: Any) -> Person:
        """Set fields of a person and return them; what they were before stays in the history."""
        self._standing.change(person_id, self._checked(fields), person_id=by)
        return self.get(person_id)

    def disable(self, person_id: str, *, by: str | None = None) -> Person:
        """Offer this person no longer; everything that they did stays under their name."""
        return self.edit(person_id, by=by, disabled_at=self._file.clock())

    def enable(self, person_id: str, *, by: str | None = None) -> Person:
        """Undo a disabling."""
        return self.edit(person_id, by=by, disabled_at=None)

    def history(self, person_id: str, field: str | None = None) -> tuple[Edit, ...]:
        """Return what was set when, oldest first."""
        return self._standing.history(person_id, field)

    def get(self, person_id: str) -> Person:
        """Return the person with this key.

        Raises:
            CallerError: There is none.
        """
        row = self._file.one(f"{_SELECT} WHERE id = ?", (person_id,))
        if row is None:
            msg = f"No person has the key {person_id}. See them with: handsfree person list"
            raise CallerError(msg)
        return self._person(row)

    def all(self, *, disabled: bool = False) -> tuple[Person, ...]:
        """Return the people by name, the disabled ones only if asked for."""
        where = "" if disabled else "WHERE disabled_at IS NULL"
        rows = self._file.rows(f"{_SELECT} {where} ORDER BY name COLLATE NOCASE, id")
        return tuple(self._person(row) for row in rows)

    def find(self, text: str, *, disabled: bool = False) -> Person:
        """Return the one person that ``text`` means: name or end of a key.

        Raises:
            CallerError: Nobody or more than one could be meant; says who.
        """
        return find(
            text,
            self.all(disabled=disabled),
            what="person",
            describe=described,
            add_hint="handsfree person add NAME",
        )

    def _person(self, row: Mapping[str, Any]) -> Person:
        return Person(**self._standing.read(row), rounds_done=row["rounds_done"])

    def _checked(self, fields: Mapping[str, Any]) -> dict[str, Any]:
        values = dict(fields)
        if "name" in values:
            values["name"] = checked_text(values["name"], "The person's name")
        if values.get("rate_wpm") is not None:
            checked_rate(values["rate_wpm"])
        return values
