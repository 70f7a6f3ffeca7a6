"""What was said of a dog's routine care: done, own intervals, due days. One edit for each saying.

Edits are never changed, so the history stays; what they mean is judging's care calendar.
"""

from __future__ import annotations

import json
from typing import Any

from handsfree.records.database import RecordsFile

__all__ = ["Care"]


class Care:
    """The sayings about care in one database."""

    def __init__(self, file: RecordsFile, station_id: str) -> None:
        self._file = file
        self._station_id = station_id

    def note(
        self, dog_id: str, task: str, said: dict[str, Any], *, person_id: str | None = None
    ) -> str:
        """Store one saying of a task, plain data; return its key."""
        with self._file.writing():
            return self._file.add(
                "edits",
                {
                    "entity": "care",
                    "entity_id": dog_id,
                    "field": task,
                    "value": json.dumps(said, ensure_ascii=False),
                },
                station_id=self._station_id,
                person_id=person_id,
            )

    def of_dog(self, dog_id: str) -> tuple[tuple[str, dict[str, Any]], ...]:
        """Return each saying of a dog as task and data, oldest first."""
        rows = self._file.rows(
            "SELECT field, value FROM edits WHERE entity = 'care' AND entity_id = ? "
            "ORDER BY at, id",
            (dog_id,),
        )
        return tuple((row["field"], json.loads(row["value"])) for row in rows)
