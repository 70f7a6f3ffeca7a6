"""Running a talk that stores nothing by itself: what the commands and a round share."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Protocol

from handsfree.dialogue.actions import Action, Confirm, LogFact, Measure, Record
from handsfree.dialogue.events import Event, Opened
from handsfree.protocol.subject import Sight, Subject
from handsfree.session.runner import ExamRunner

if TYPE_CHECKING:
    from handsfree.session.runner import Driven, Observer, Output, Steps

__all__ = ["Runs", "run_unstored"]


class Runs(Protocol):
    """A driver: runs one exam or talk to its end."""

    def run(self, runner: Driven, opened: Callable[[str, int], Opened]) -> str:
        """Run it and return its outcome."""
        ...


class _Unstored:
    """Recorder and judge of a talk that stores nothing."""

    def record(self, action: Record) -> None:
        """Nothing is kept."""

    def confirm(self, action: Confirm) -> None:
        """Nothing is kept."""

    def measure(self, action: Measure) -> None:
        """Nothing is kept."""

    def fact(self, action: LogFact) -> None:
        """Nothing is kept."""

    def log(self, event: Event, actions: Sequence[Action]) -> None:
        """Nothing is kept."""

    def finish(self, outcome: str) -> None:
        """Nothing is kept."""

    def take(self, action: Record | Confirm) -> tuple[()]:
        """Nothing is judged."""
        return ()

    def standing(self) -> tuple[()]:
        """Nothing is judged."""
        return ()

    def conclude(self, outcome: str) -> tuple[str, ...]:
        """Nothing is judged."""
        return ()


def run_unstored(
    driver: Runs,
    output: Output,
    talk: Steps,
    *,
    observers: Sequence[Observer] = (),
    sight: Sight = Sight.FULL,
    person: str = "",
    units: str = "metric",
) -> str:
    """Run a talk that stores nothing by itself, and return its outcome."""

    def opened(stream: str, sample: int) -> Opened:
        return Opened(
            stream=stream,
            sample=sample,
            subject=Subject(name="the dog"),
            routine="talk",
            sight=sight,
            person=person,
            units=units,
        )

    nothing = _Unstored()
    runner = ExamRunner(talk, recorder=nothing, judge=nothing, output=output, observers=observers)
    return driver.run(runner, opened)
