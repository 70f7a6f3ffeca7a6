"""Photos kept with a dog's findings: inside the database, so that a backup holds them too.

What is stored is a clean copy that ``review.pictures`` made; no file of the user is touched here.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from handsfree.records.database import RecordsFile, from_stamp

__all__ = ["Photo", "Photos"]


@dataclass(frozen=True, kw_only=True)
class Photo:
    """One photo.

    Attributes:
        id: UUIDv7.
        dog_id: Its dog.
        exam_id: The exam that it belongs to; None if none.
        item: ``region.question``.
        side: Side, or a known lump's key; None if it has none.
        at: When it was attached, with offset.
        person_id: By whom.
        kind: Media type: ``image/jpeg`` or ``image/png``.
        width: In pixels.
        height: In pixels.
        note: Free words.
        data: The picture itself.
    """

    id: str
    dog_id: str
    exam_id: str | None
    item: str
    side: str | None
    at: datetime
    person_id: str | None
    kind: str
    width: int
    height: int
    note: str
    data: bytes


class Photos:
    """The photos in one database."""

    def __init__(self, file: RecordsFile, station_id: str) -> None:
        self._file = file
        self._station_id = station_id

    def add(
        self,
        dog_id: str,
        *,
        item: str,
        kind: str,
        width: int,
        height: int,
        data: bytes,
        side: str | None = None,
        exam_id: str | None = None,
        note: str = "",
        person_id: str | None = None,
    ) -> str:
        """Store a photo in one transaction; return its key."""
        with self._file.writing():
            return self._file.add(
                "photos",
                {
                    "dog_id": dog_id,
                    "exam_id": exam_id,
                    "item": item,
                    "side": side,
                    "kind": kind,
                    "width": width,
                    "height": height,
                    "note": note,
                    "data": data,
                },
                station_id=self._station_id,
                person_id=person_id,
            )

    def of_dog(self, dog_id: str, *, limit: int | None = None) -> tuple[Photo, ...]:
        """Return a dog's photos, newest first."""
        rows = self._file.rows(
            "SELECT * FROM photos WHERE dog_id = ? ORDER BY id DESC LIMIT ?",
            (dog_id, -1 if limit is None else limit),
        )
        return tuple(_photo(row) for row in rows)


def _photo(row: Any) -> Photo:
    fields = ("id", "dog_id", "exam_id", "item", "side", "person_id", "kind", "width", "height")
    return Photo(
        **{name: row[name] for name in fields},
        at=from_stamp(row["at"], row["offset_min"]),
        note=row["note"],
        data=row["data"],
    )
