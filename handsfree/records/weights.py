"""The dogs' weights: those of exams and those entered by hand, as one series."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from handsfree.dialogue.actions import Status
from handsfree.errors import CallerError
from handsfree.records.database import RecordsFile, from_stamp, to_stamp
from handsfree.records.exam_rows import NOT_CORRECTED
from handsfree.records.exams import Exams
from handsfree.records.model import Weight
from handsfree.units import convert

__all__ = ["Weights", "checked_weight"]

WEIGHT_ITEM = "weight.kg"
SCALE_ITEM = "weight.scale"
WEIGHT_KG = (0.05, 130.0)
"""Lightest newborn and heaviest dog that are taken for true; our own judgement."""


def checked_weight(weight_kg: float) -> float:
    """Return a weight, if a dog can have it.

    Raises:
        CallerError: No dog is so light or so heavy.
    """
    low, high = WEIGHT_KG
    if not low <= weight_kg <= high:
        msg = f"{weight_kg:g} kg is no dog's weight ({low:g} to {high:g} kg): weigh again."
        raise CallerError(msg)
    return weight_kg


class Weights:
    """The weights in one database."""

    def __init__(self, file: RecordsFile, station_id: str, exams: Exams) -> None:
        self._file = file
        self._station_id = station_id
        self._exams = exams

    def enter(
        self,
        dog_id: str,
        weight_kg: float,
        *,
        at: datetime | None = None,
        how: str = "",
        person_id: str | None = None,
        corrects: str | None = None,
    ) -> str:
        """Store a weight taken outside of an exam; return its key.

        Args:
            dog_id: The dog.
            weight_kg: Kilograms.
            at: When it was taken, with offset; now if not given.
            how: Scale or way, free words.
            person_id: Who enters it.
            corrects: Key of the entered weight that this one corrects.

        Raises:
            CallerError: No dog has such a weight, or it was taken in the future.
        """
        now = self._file.clock()
        if at is not None and at > now:
            msg = f"{at:%Y-%m-%d %H:%M} lies in the future: check when the weight was taken."
            raise CallerError(msg)
        return self._store(dog_id, checked_weight(weight_kg), at or now, how, person_id, corrects)

    def withdraw(self, dog_id: str, key: str, *, person_id: str | None = None) -> None:
        """Take back a weight that was entered by mistake; the row itself stays."""
        self._store(dog_id, None, self._file.clock(), "", person_id, key)

    def of_dog(self, dog_id: str, *, limit: int | None = None) -> tuple[Weight, ...]:
        """Return a dog's weights, newest first; a doubted one is left out."""
        weights = [*self._entered(dog_id, limit), *self._of_exams(dog_id, limit)]
        weights.sort(key=lambda weight: weight.at, reverse=True)
        return tuple(weights[:limit])

    def _store(
        self,
        dog_id: str,
        weight_kg: float | None,
        at: datetime,
        how: str,
        person_id: str | None,
        corrects: str | None,
    ) -> str:
        taken = to_stamp(at)
        row = {
            "dog_id": dog_id,
            "taken_at": taken.at,
            "taken_offset_min": taken.offset_min,
            "weight_kg": weight_kg,
            "how": how,
            "corrects": corrects,
        }
        with self._file.writing():
            return self._file.add("weights", row, station_id=self._station_id, person_id=person_id)

    def _entered(self, dog_id: str, limit: int | None) -> list[Weight]:
        rows = self._file.rows(
            "SELECT * FROM weights WHERE dog_id = ? AND weight_kg IS NOT NULL AND id NOT IN "
            "(SELECT corrects FROM weights WHERE dog_id = ? AND corrects IS NOT NULL) "
            "ORDER BY taken_at DESC, id DESC LIMIT ?",
            (dog_id, dog_id, -1 if limit is None else limit),
        )
        return [
            Weight(
                id=row["id"],
                dog_id=dog_id,
                at=from_stamp(row["taken_at"], row["taken_offset_min"]),
                weight_kg=row["weight_kg"],
                how=row["how"],
            )
            for row in rows
        ]

    def _of_exams(self, dog_id: str, limit: int | None) -> list[Weight]:
        numbers = self._exams.numbers(dog_id, WEIGHT_ITEM, limit=limit)
        if not numbers:
            return []
        scales = self._scales(dog_id, [] if limit is None else [one.exam_id for one in numbers])
        return [
            Weight(
                id=one.answer_id,
                dog_id=dog_id,
                at=one.at,
                weight_kg=convert(one.value, one.unit or "kg", "kg"),
                exam_id=one.exam_id,
                how=scales.get(one.exam_id, ""),
            )
            for one in numbers
        ]

    def _scales(self, dog_id: str, exam_ids: Sequence[str]) -> dict[str, str]:
        """Return the scale used in each of these exams; in all of the dog's if none is named."""
        if exam_ids:
            scales: dict[str, str] = {}
            for exam_id in exam_ids:  # few, and a whole check is much to read for one answer
                row = self._file.one(
                    "SELECT value_text FROM answers WHERE exam_id = ? AND item = ? "
                    f"AND {NOT_CORRECTED} ORDER BY ref DESC LIMIT 1",
                    (exam_id, SCALE_ITEM),
                )
                if row is not None and row["value_text"] is not None:
                    scales[exam_id] = row["value_text"]
            return scales
        return {
            answer.exam_id: str(answer.value)
            for answer in self._exams.item_history(dog_id, SCALE_ITEM)
            if answer.status is Status.OBSERVED
        }
