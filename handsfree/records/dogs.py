"""The dogs: adding, finding, editing with a history of each field, retiring; weights and lumps."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from handsfree.errors import CallerError
from handsfree.protocol.subject import Neutered, Sex
from handsfree.records.database import RecordsFile
from handsfree.records.edits import Standing, checked_text
from handsfree.records.matching import find, folded, short_key
from handsfree.records.model import BirthPrecision, Dog, Edit

__all__ = ["Dogs", "age_in_words", "age_months", "described"]


def age_months(dog: Dog, on: date) -> int | None:
    """Return the dog's age in whole months on a day; None if its birth is unknown."""
    if dog.birth is None:
        return None
    months = (on.year - dog.birth.year) * 12 + on.month - dog.birth.month
    return max(0, months - (on.day < dog.birth.day))


def age_in_words(dog: Dog, on: date) -> str:
    """Return the age as people say it: "7 months", "about 4 years"; empty if unknown."""
    months = age_months(dog, on)
    if months is None:
        return ""
    about = "" if dog.birth_precision is BirthPrecision.DAY else "about "
    if months < 24:
        return f"{about}{months} month{'' if months == 1 else 's'}"
    return f"{about}{months // 12} years"


def described(dog: Dog, on: date) -> str:
    """Return one line that tells this dog from another, never by colour alone."""
    sex = "" if dog.sex is Sex.UNKNOWN else dog.sex.value
    if dog.neutered is not Neutered.UNKNOWN:
        sex = f"{sex} neutered" if dog.neutered is Neutered.YES else f"{sex} entire"
    facts = (
        sex.strip(),
        age_in_words(dog, on),
        dog.breed,
        dog.looks,
        f"with {dog.owner}" if dog.owner else "",
        f"chip {dog.chip}" if dog.chip else "",
        f"retired{': ' if dog.retired_why else ''}{dog.retired_why}" if dog.retired_at else "",
        f"added {dog.added_at:%Y-%m-%d}",
    )
    return f"{dog.name} [{short_key(dog.id)}]: " + ", ".join(fact for fact in facts if fact)


class Dogs:
    """The dogs in one database."""

    def __init__(self, file: RecordsFile, station_id: str) -> None:
        self._file = file
        self._standing = Standing(file, station_id, table="dogs", entity="dog", kind=Dog)

    def add(self, name: str, *, person_id: str | None = None, **fields: Any) -> Dog:
        """Store a new dog and return it; ``fields`` are those of Dog.

        Raises:
            CallerError: The name is empty, or a field is unknown or impossible.
        """
        values = self._checked({"name": name, **fields})
        return self.get(self._standing.add(values, person_id=person_id))

    def edit(self, dog_id: str, *, person_id: str | None = None, **fields: Any) -> Dog:
        """Set fields of a dog and return it; what they were before stays in the history.

        Raises:
            CallerError: No such dog, or a field is unknown or impossible.
        """
        self._standing.change(dog_id, self._checked(fields), person_id=person_id)
        return self.get(dog_id)

    def retire(self, dog_id: str, why: str = "", *, person_id: str | None = None) -> Dog:
        """Put a dog away: it is no longer offered, and everything stored of it stays."""
        return self.edit(
            dog_id, person_id=person_id, retired_at=self._file.clock(), retired_why=why.strip()
        )

    def bring_back(self, dog_id: str, *, person_id: str | None = None) -> Dog:
        """Undo a retirement."""
        return self.edit(dog_id, person_id=person_id, retired_at=None, retired_why="")

    def history(self, dog_id: str, field: str | None = None) -> tuple[Edit, ...]:
        """Return what was set when, oldest first."""
        return self._standing.history(dog_id, field)

    def get(self, dog_id: str) -> Dog:
        """Return the dog with this key.

        Raises:
            CallerError: There is none.
        """
        row = self._file.one("SELECT * FROM dogs WHERE id = ?", (dog_id,))
        if row is None:
            msg = f"No dog has the key {dog_id}. See them with: handsfree dog list"
            raise CallerError(msg)
        return Dog(**self._standing.read(row))

    def all(self, *, retired: bool = False) -> tuple[Dog, ...]:
        """Return the dogs by name, the retired ones only if asked for."""
        where = "" if retired else "WHERE retired_at IS NULL"
        rows = self._file.rows(f"SELECT * FROM dogs {where} ORDER BY name COLLATE NOCASE, id")
        return tuple(Dog(**self._standing.read(row)) for row in rows)

    def find(self, text: str, *, retired: bool = False) -> Dog:
        """Return the one dog that ``text`` means: name, end of a key, chip number.

        Raises:
            CallerError: No dog or more than one could be meant; says which.
        """
        today = self._file.clock().date()
        dogs = self.all(retired=retired)
        if not retired:
            _refuse_if_retired(text, dogs, self.all(retired=True))
        return find(
            text,
            dogs,
            what="dog",
            describe=lambda dog: described(dog, today),
            add_hint="handsfree dog add NAME",
            also=lambda dog: (dog.chip,) if dog.chip else (),
        )

    def _checked(self, fields: Mapping[str, Any]) -> dict[str, Any]:
        values = dict(fields)
        for name, value in values.items():
            if name == "name":
                values[name] = checked_text(value, "The dog's name")
            elif isinstance(value, str) and value:
                values[name] = checked_text(value, f"The dog's {name.replace('_', ' ')}")
        today = self._file.clock().date()
        for name in ("birth", "season_began"):
            day = values.get(name)
            if day is not None and day > today:
                msg = f"{day} as {name.replace('_', ' ')} lies in the future: check the year."
                raise CallerError(msg)
        if values.get("birth") is not None:
            values.setdefault("birth_precision", BirthPrecision.DAY)
        return values


def _refuse_if_retired(text: str, active: tuple[Dog, ...], everyone: tuple[Dog, ...]) -> None:
    def fits(dog: Dog) -> bool:
        return folded(dog.name) == folded(text) or short_key(dog.id) == text.strip().lower()

    gone = [dog for dog in everyone if dog.retired_at is not None and fits(dog)]
    if gone and not any(fits(dog) for dog in active):
        msg = (
            f"{gone[0].name} is retired: see it with handsfree dog show, or bring it back with "
            f"handsfree dog retire --back {short_key(gone[0].id)}"
        )
        raise CallerError(msg)
