"""One question while it is open: the answer being settled, the doubt, the rungs climbed so far.

Data alone; what is done with it is decided by the parts that hold it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from handsfree.hearing.verdict import Candidate, Meaning
from handsfree.protocol.plan import Step

__all__ = ["Answer", "Held", "Turn"]


@dataclass(frozen=True, kw_only=True)
class Answer:
    """An answer as taken, before it is recorded.

    Attributes:
        value: Token or number in the question's unit.
        unit: Unit of a number.
        words: As heard or typed.
        candidates: As hearing gave them.
        start: First sample of the utterance.
        end: One past its last.
        stream: Stream of these samples; empty for that of the event being handled.
        by: ``voice``, ``keys`` or ``machine``.
        method: How a number was taken.
        said: The amount in the person's own unit, where that is another: "12 pounds".
    """

    value: str | float
    unit: str | None = None
    words: str = ""
    candidates: tuple[Candidate, ...] = ()
    start: int = 0
    end: int = 0
    stream: str = ""
    by: str = "voice"
    method: tuple[tuple[str, str | float], ...] = ()
    said: str = ""


@dataclass(frozen=True, kw_only=True)
class Held:
    """An answer that is recorded and not settled: read back, or alarming and in doubt.

    Attributes:
        ref: Its number within the exam.
        answer: What was answered.
        alarming: It is never dropped.
        harmless: Silence may confirm it.
    """

    ref: int
    answer: Answer
    alarming: bool = False
    harmless: bool = False


@dataclass
class Turn:
    """One question while it is open.

    Attributes:
        step: What is asked.
        misheard: Rungs of the ladder climbed.
        attempt: 1 for the first asking.
        without: Values taken out of the grammar because the person said that they are wrong.
        doubt: The alarming answer that was denied, undone or given before, and that no confirmed
            answer stands in for.
        keeps: A settled answer stands from before: leaving the question leaves it as it is.
        by_touch: Asked by touch.
        pending: The answer read back, waiting for yes or no.
        doubtful_answer: What the question was answered with last, where that was doubtful.
        asked_back: How often the read-back was not understood.
        doubtful_reply: What the read-back was answered with, as far as it was understood.
        window_s: Set while the number asked for is a count made in a window of so many seconds.
        method: How the number asked for is being taken.
    """

    step: Step
    misheard: int = 0
    attempt: int = 1
    without: set[str] = field(default_factory=set)
    doubt: Held | None = None
    keeps: bool = False
    by_touch: bool = False
    pending: Held | None = None
    doubtful_answer: Meaning | None = None
    asked_back: int = 0
    doubtful_reply: Meaning | None = None
    window_s: int | None = None
    method: tuple[tuple[str, str | float], ...] = ()

    @property
    def place(self) -> tuple[str, str | None]:
        """Item and side."""
        return (self.step.item, self.step.side)
