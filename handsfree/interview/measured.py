"""What measurements in other ways than the exam's share: records, read-back, the result at the end.

A measurement is a talk whose answers are stored like those of a check: before they are spoken of,
as unconfirmed, and confirmed by the person.
"""

from __future__ import annotations

from handsfree.dialogue.actions import (
    Conclude,
    Confirm,
    Confirmed,
    Measure,
    Record,
    SpeechKind,
    Status,
)
from handsfree.dialogue.events import Concluded
from handsfree.dialogue.states import State
from handsfree.hearing.verdict import Verdict
from handsfree.interview.talk import Talk

__all__ = ["Measured", "Method"]

Method = tuple[tuple[str, str | float], ...]


class Measured(Talk):
    """A talk that stores answers."""

    def __init__(self) -> None:
        super().__init__()
        self._ref = 0
        self._ordinal = 0
        self._result: tuple[str, ...] = ()

    def record(
        self,
        item: str,
        value: str | float | None,
        *,
        unit: str | None = None,
        reason: str | None = None,
        method: Method = (),
        verdict: Verdict | None = None,
        by: str = "",
        supersedes: int | None = None,
        confirmed: Confirmed = Confirmed.UNCONFIRMED,
    ) -> int:
        """Store an answer and return its ref; ``reason`` says why it was not observed.

        ``by`` is voice with a verdict and keys without one, unless it is named.
        """
        assert self.event is not None
        self._ref += 1
        self.emit(
            Record(
                ref=self._ref,
                supersedes=supersedes,
                item=item,
                status=Status.NOT_OBSERVED if value is None else Status.OBSERVED,
                reason=reason,
                value=value,
                unit=unit,
                words=verdict.best.words if verdict is not None and verdict.best else "",
                candidates=verdict.candidates if verdict is not None else (),
                confirmed=confirmed,
                stream=self.event.stream,
                start=verdict.start if verdict is not None else self.event.sample,
                end=verdict.end if verdict is not None else self.event.sample,
                by=by or ("keys" if verdict is None else "voice"),
                method=method,
            )
        )
        return self._ref

    def settle(self, ref: int) -> None:
        """The person said that the answer is right."""
        self.emit(Confirm(ref=ref, confirmed=Confirmed.CONFIRMED))

    def measure(
        self,
        item: str,
        kind: str,
        samples: tuple[tuple[str, int], ...],
        *,
        stream: str,
        value: float | None,
        unit: str,
        spoiled: str = "",
    ) -> None:
        """Store one raw repeat."""
        self._ordinal += 1
        self.emit(
            Measure(
                item=item,
                kind=kind,
                ordinal=self._ordinal,
                stream=stream,
                samples=samples,
                value=value,
                unit=unit,
                spoiled=spoiled,
            )
        )

    def conclude(self, *before: str) -> None:
        """Judge what is stored, and tell it."""
        self.say(*before)
        self.state = State.CONCLUDING
        self.emit(Conclude(outcome="complete"))

    def concluded(self, event: Concluded) -> None:
        """Tell the result and end."""
        self.say(*event.sentences, kind=SpeechKind.RESULT)
        self.over("complete")

    def ending(self, why: str) -> tuple[str, ...]:
        """What is stored stays."""
        return ("I stop here. What was stored stays.",)
