"""The five looks that "all well" covers, stored as observed, said in one go.

Stands between an exam and its judging. Once the exam ends with the one answer settled, five answers
of their own are stored and judged like any other, each with the method that says how it was given.
Until then the person can take it back, so nothing is stored of it before.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable, Sequence

from handsfree.dialogue.actions import Confirm, Confirmed, Record, Status
from handsfree.dialogue.events import PriorAnswer
from handsfree.session.runner import Judge, Warning_

__all__ = ["FIRST_REF", "FIVE", "IN_ONE_GO", "ITEM", "Looks"]

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
        tell: What is told of a dog once its exam was judged.
        rate: Samples a second of the clock.
    """

    def __init__(
        self,
        inner: Judge,
        store: Callable[[Record], object],
        tell: Callable[[], tuple[str, ...]] = tuple,
        *,
        rate: int = 16_000,
    ) -> None:
        self._inner = inner
        self._store = store
        self._tell = tell
        self._rate = rate
        self._before: tuple[str, int] | None = None
        self._fine: Record | None = None
        self._settled = False
        self.looked_s: float | None = None
        """From the answer before to "all well", seconds; None unless all was well at once."""
        self.values: dict[str, object] = {}
        """The last value of each item."""

    def taken_up(self, prior: Iterable[PriorAnswer]) -> None:
        """Take over what an exam that goes on has answered already."""
        for answer in prior:
            self.values[answer.item] = answer.value
            if answer.item == ITEM and answer.value == FINE:
                self._fine = Record(
                    ref=answer.ref, item=ITEM, status=Status.OBSERVED, value=FINE,
                    confirmed=Confirmed(answer.confirmed),
                )  # fmt: skip
                self._settled = answer.confirmed == Confirmed.CONFIRMED

    def take(self, action: Record | Confirm) -> Sequence[Warning_]:
        """Take note of a stored answer; see ``Judge``."""
        if isinstance(action, Record):
            self.values[action.item] = action.value
            if action.item == ITEM:
                self._fine = action if action.value == FINE else None
                self._settled = action.confirmed is Confirmed.CONFIRMED
                self.looked_s = self._since(action) if self._fine is not None else None
            self._before = (action.stream, action.end)
        elif self._fine is not None and action.ref == self._fine.ref:
            self._settled = action.confirmed is Confirmed.CONFIRMED
        return self._inner.take(action)

    def _since(self, action: Record) -> float | None:
        """Return how long it took from the answer before; None across two streams."""
        if self._before is None or self._before[0] != action.stream:
            return None
        return (action.start - self._before[1]) / self._rate

    def standing(self) -> Sequence[Warning_]:
        """Return what fires on earlier answers; see ``Judge``."""
        return self._inner.standing()

    def conclude(self, outcome: str) -> tuple[str, ...]:
        """Put the five in, judge the exam, and return what is told of it; see ``Judge``."""
        if outcome == "complete" and self._fine is not None and self._settled:
            for number, (item, value) in enumerate(FIVE):
                record = dataclasses.replace(
                    self._fine, ref=FIRST_REF + number, supersedes=None, item=item, value=value,
                    status=Status.OBSERVED, confirmed=Confirmed.CONFIRMED, method=IN_ONE_GO,
                )  # fmt: skip
                self._store(record)
                self.values[item] = value
                self._inner.take(record)
            self._fine = None
        self._inner.conclude(outcome)
        return self._tell()
