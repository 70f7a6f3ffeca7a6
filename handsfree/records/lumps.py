"""The dogs' known lumps: entered by hand or taken over from the exam that found them."""

from __future__ import annotations

from typing import Any

from handsfree.dialogue.actions import Status
from handsfree.errors import CallerError
from handsfree.records.database import RecordsFile
from handsfree.records.edits import Standing, checked_text
from handsfree.records.exams import Exams
from handsfree.records.model import Answer, Lump

__all__ = ["Lumps"]

KNOWN, LENGTH, WIDTH = "lumps.known", "lumps.known_length", "lumps.known_width"
NEW_PLACE, NEW_SIDE, NEW_LANDMARK = "lumps.new_place", "lumps.new_side", "lumps.new_landmark"
NEW_LENGTH, NEW_WIDTH = "lumps.new_length", "lumps.new_width"

_PLACES = {"legs": "leg", "teats": "line of teats"}


class Lumps:
    """The lumps in one database."""

    def __init__(self, file: RecordsFile, station_id: str, exams: Exams) -> None:
        self._file = file
        self._exams = exams
        self._standing = Standing(file, station_id, table="lumps", entity="lump", kind=Lump)

    def add(self, dog_id: str, place: str, *, person_id: str | None = None, **fields: Any) -> Lump:
        """Store a lump of a dog and return it.

        Raises:
            CallerError: The place is empty, or a field is unknown.
        """
        values = {"place": checked_text(place, "The lump's place"), "dog_id": dog_id, **fields}
        with self._file.writing():
            count = len(self.of_dog(dog_id, gone=True))
            key = self._standing.add({**values, "key": f"lump{count + 1}"}, person_id=person_id)
        return self.get(key)

    def edit(self, lump_id: str, *, person_id: str | None = None, **fields: Any) -> Lump:
        """Set fields of a lump (``place``, ``vet_result``, ``gone_at``) and return it."""
        self._standing.change(lump_id, fields, person_id=person_id)
        return self.get(lump_id)

    def get(self, lump_id: str) -> Lump:
        """Return the lump with this key.

        Raises:
            CallerError: There is none.
        """
        row = self._file.one("SELECT * FROM lumps WHERE id = ?", (lump_id,))
        if row is None:
            msg = f"No lump has the key {lump_id}."
            raise CallerError(msg)
        return Lump(**self._standing.read(row))

    def of_dog(self, dog_id: str, *, gone: bool = False) -> tuple[Lump, ...]:
        """Return a dog's lumps, oldest first; those that are gone only if asked for."""
        where = "" if gone else "AND gone_at IS NULL"
        rows = self._file.rows(
            f"SELECT * FROM lumps WHERE dog_id = ? {where} ORDER BY id", (dog_id,)
        )
        return tuple(Lump(**self._standing.read(row)) for row in rows)

    def last_size_mm(self, lump: Lump) -> tuple[float | None, float | None]:
        """Return the last length and width of a lump, in mm; None where never measured."""
        return self._last(lump, LENGTH, NEW_LENGTH), self._last(lump, WIDTH, NEW_WIDTH)

    def take_over(self, exam_id: str) -> tuple[Lump, ...]:
        """Make known what an exam found, and put away what it found gone; return the new ones.

        A lump that no vet has named is never put away: it may come back, and is asked after.
        May be called again for the same exam: nothing is taken over twice.
        """
        exam = self._exams.get(exam_id)
        answers = {(a.item, a.side): a for a in self._exams.answers(exam_id)}
        with self._file.writing():
            lumps = self.of_dog(exam.dog_id, gone=True)
            taken = {lump.found_side for lump in lumps if lump.found_exam_id == exam_id}
            new = []
            for (item, side), answer in answers.items():
                if item == NEW_PLACE and answer.status is Status.OBSERVED and side not in taken:
                    place = _place(
                        answer, answers.get((NEW_SIDE, side)), answers.get((NEW_LANDMARK, side))
                    )
                    new.append(
                        self.add(
                            exam.dog_id,
                            place,
                            person_id=exam.person_id,
                            found_exam_id=exam_id,
                            found_side=side,
                        )
                    )
            for lump in lumps:
                known = answers.get((KNOWN, lump.key))
                settled = lump.vet_result is not None and lump.gone_at is None
                if known is not None and known.value == "gone" and settled:
                    self.edit(lump.id, person_id=exam.person_id, gone_at=known.at)
        return tuple(new)

    def _last(self, lump: Lump, item: str, first_item: str) -> float | None:
        for answer in self._exams.item_history(lump.dog_id, item, side=lump.key):
            if isinstance(answer.value, float):
                return answer.value
        if lump.found_exam_id is not None:
            for answer in self._exams.answers(lump.found_exam_id):
                if (answer.item, answer.side) == (first_item, lump.found_side) and isinstance(
                    answer.value, float
                ):
                    return answer.value
        return None


def _place(where: Answer, side: Answer | None, landmark: Answer | None) -> str:
    place = _PLACES.get(str(where.value), str(where.value))
    if side is None or side.value is None:
        words = f"the {place}"
    elif side.value == "middle":
        words = f"the middle of the {place}"
    else:
        words = f"the {side.value} {place}"
    if landmark is not None and landmark.value is not None:
        words += f", near the {str(landmark.value).replace('_', ' ')}"
    return words
