"""The five looks that "all well" covers, stored as observed, said in one go.

Stands between an exam and its judging: once the one answer is settled, five answers of their own
are stored and judged like any other, each with the method that says how it was given.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence

from handsfree.dialogue.actions import Confirm, Confirmed, Record, Status
from handsfree.session.runner import Judge, Warning_

__all__ = ["FIVE", "IN_ONE_GO", "Looks"]

ITEM, FINE = "kennel.looks", "fine"
FIVE = (
    ("watch.attitude", "bright"),
    ("watch.breathing", "easy"),
    ("kennel.eyes_nose", "clean"),
    ("coat.look", "normal"),
    ("watch.gait", "normal"),
)
"""The named looks and what well means at each."""

IN_ONE_GO = (("how", "said in one go"),)
FIRST_REF = 100_000
"""Numbers of these answers lie far above those that the machine counts."""


class Looks:
    """Judging with the five looks put in.

    Args:
        inner: Judging.
        store: Stores an answer.
        moment: Seconds that only go forward.
    """

    def __init__(
        self, inner: Judge, store: Callable[[Record], object], moment: Callable[[], float]
    ) -> None:
        self._inner = inner
        self._store = store
        self._moment = moment
        self._before = moment()
        self._open: Record | None = None
        self._done = False
        self.looked_s: float | None = None
        """From the answer before to "all well", seconds; None unless all was well at once."""
        self.values: dict[str, object] = {}
        """The last value of each item."""

    def take(self, action: Record | Confirm) -> Sequence[Warning_]:
        """Take note of a stored answer; see ``Judge``."""
        found = list(self._inner.take(action))
        settled = False
        if isinstance(action, Record):
            self.values[action.item] = action.value
            if action.item == ITEM:
                self._open = action if action.value == FINE else None
                self.looked_s = self._moment() - self._before if self._open else None
                settled = action.confirmed is Confirmed.CONFIRMED
            else:
                self._before = self._moment()
        elif self._open is not None and action.ref == self._open.ref:
            settled = action.confirmed is Confirmed.CONFIRMED
        if settled and self._open is not None and not self._done:
            self._done = True
            for number, (item, value) in enumerate(FIVE):
                record = dataclasses.replace(
                    self._open, ref=FIRST_REF + number, supersedes=None, item=item, value=value,
                    status=Status.OBSERVED, confirmed=Confirmed.CONFIRMED, method=IN_ONE_GO,
                )  # fmt: skip
                self._store(record)
                self.values[item] = value
                found += self._inner.take(record)
        return found

    def standing(self) -> Sequence[Warning_]:
        """Return what fires on earlier answers; see ``Judge``."""
        return self._inner.standing()

    def conclude(self, outcome: str) -> tuple[str, ...]:
        """Judge the exam; see ``Judge``."""
        return self._inner.conclude(outcome)
