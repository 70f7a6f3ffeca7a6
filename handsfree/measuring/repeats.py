"""What the refill stopwatch gives: repeats, why one does not count, and their result.

Data and its short sentences alone; what makes a repeat good stands in ``refill``.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["SOURCES", "SPOILED", "RefillResult", "Repeat"]

SOURCES = (
    "Hold of 4 s: Chalifoux and others, J Vet Emerg Crit Care 2021;31(5):585.",
    "Three repeats: Claret and others, J Am Vet Med Assoc.",
    "A longer press lengthens, a stopwatch narrows the spread: Fleming and others, review.",
    "Ten seconds apart, limits of an interval and of the hold: our own judgement, awaiting a vet.",
)

SPOILED = {
    "scrapped": "That one does not count.",
    "pink_first": "I heard the colour come back before release.",
    "wrong_order": "I heard the words out of order.",
    "early_release": "That was released before the fourth tick.",
    "long_hold": "That was held too long.",
    "no_release": "I did not hear release.",
    "no_pink": "I did not hear that the colour was back.",
    "unclear": "I heard a sound, and could not tell which word it was.",
    "gap": "The sound broke off in the middle.",
    "another_stream": "The microphone changed in the middle.",
    "too_fast": "That was too fast to be real.",
    "too_slow": "That took longer than ten seconds.",
    "too_soon": "Less than ten seconds have passed.",
}
"""Why a repeat does not count, as said in one short sentence."""


@dataclass(frozen=True, kw_only=True)
class Repeat:
    """One repeat, good or not, with every raw time.

    Attributes:
        ordinal: 1 for the first press.
        stream: Stream of the samples.
        samples: ``press``, ``hold_end``, ``release`` and ``pink``, as far as they were reached.
        interval: Samples from release to pink; None where spoiled before pink, or impossible.
        interval_s: The same in seconds.
        hold_s: Seconds from press to release, if both are there.
        spoiled: A key of SPOILED; empty if it counts.
        doubtful: Why its timing is in doubt; empty if it is not.
    """

    ordinal: int
    stream: str
    samples: tuple[tuple[str, int], ...]
    interval: int | None = None
    interval_s: float | None = None
    hold_s: float | None = None
    spoiled: str = ""
    doubtful: str = ""

    @property
    def good(self) -> bool:
        """Whether it counts and its timing is not in doubt."""
        return not self.spoiled and not self.doubtful

    @property
    def why(self) -> str:
        """What is said of a spoiled repeat; empty otherwise."""
        return SPOILED.get(self.spoiled, "")


@dataclass(frozen=True, kw_only=True)
class RefillResult:
    """What the repeats come to.

    Attributes:
        median_s: The raw median: the one that is judged.
        spread_s: Longest less shortest.
        low_s: Lower edge of the range, a multiple of half a second.
        high_s: Upper edge, the same.
        spoken: The range in words.
        shown: The range in figures.
        repeats: How many repeats it rests on.
        doubtful: It rests on repeats in doubt, or they stay far apart.
        method: Facts for the record.
    """

    median_s: float
    spread_s: float
    low_s: float
    high_s: float
    spoken: str
    shown: str
    repeats: int
    doubtful: bool
    method: tuple[tuple[str, str | float], ...]
