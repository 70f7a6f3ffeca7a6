"""A clock that a test moves, so that no test waits or knows what time it is."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone

__all__ = ["MovedClock"]

BEGIN = datetime(2026, 3, 14, 9, 0, tzinfo=timezone(timedelta(hours=2)))


class MovedClock:
    """A clock that stands still until it is moved; two hours east of UTC unless told otherwise."""

    def __init__(self, begin: datetime = BEGIN) -> None:
        self.now = begin

    def __call__(self) -> datetime:
        """Return the time; a microsecond more at each look, as time does."""
        self.now += timedelta(microseconds=1)
        return self.now

    def move(self, **by: float) -> None:
        """Move on by a timedelta's arguments."""
        self.now += timedelta(**by)
