"""Keys of the records: time-ordered UUIDs, version 7 of RFC 9562.

``uuid-utils`` makes them until the standard library does (Python 3.14); it counts within a
millisecond and never steps back within a process, so that keys sort in the order of making.
"""

from __future__ import annotations

import uuid
from datetime import UTC, datetime

import uuid_utils

__all__ = ["is_uuid7", "new_id", "time_of"]


def new_id() -> str:
    """Return a new UUIDv7 as text, greater than every one made before in this process."""
    return str(uuid_utils.uuid7())


def is_uuid7(text: str) -> bool:
    """Return whether ``text`` is a UUID of version 7 in its usual form."""
    try:
        key = uuid.UUID(text)
    except ValueError:
        return False
    return key.version == 7 and str(key) == text.lower()


def time_of(key: str) -> datetime:
    """Return when ``key`` was made, in UTC, to the millisecond.

    Raises:
        ValueError: ``key`` is no UUID of version 7.
    """
    if not is_uuid7(key):
        msg = f"{key!r} is not a UUID of version 7"
        raise ValueError(msg)
    milliseconds = uuid.UUID(key).int >> 80
    return datetime.fromtimestamp(milliseconds // 1000, UTC).replace(
        microsecond=milliseconds % 1000 * 1000
    )
