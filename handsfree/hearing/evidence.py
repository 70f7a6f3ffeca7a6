"""Everything known of one utterance before it is judged. Data alone; judging lives in ``trust``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from handsfree.audio.device import SAMPLE_RATE, Samples
from handsfree.hearing.grammar import ListeningGrammar
from handsfree.hearing.recogniser import Hypothesis
from handsfree.hearing.verdict import Listening

__all__ = ["Ear", "EarScores", "Evidence", "Phone", "PhoneLoop"]

Phone = tuple[str, int, int, float]
"""A phone, its start and end in samples, and its acoustic score."""


class EarScores(Protocol):
    """What the second ear says of one utterance."""

    @property
    def probabilities(self) -> Mapping[str, float]:
        """For each phrase that it knows; with ``other`` they sum to 1."""
        ...

    @property
    def other(self) -> float:
        """That it is none of them."""
        ...

    @property
    def unknown(self) -> tuple[str, ...]:
        """Phrases it was asked about and does not know."""
        ...


class Ear(Protocol):
    """The second ear: follows the stream and scores phrases over a stretch of it."""

    def feed(self, block: Samples, position: int, /) -> None:
        """Take in samples that begin at ``position`` on the stream's clock."""
        ...

    def known_phrases(self) -> frozenset[str]:
        """Return every phrase that it knows."""
        ...

    def score(self, start: int, end: int, phrases: Sequence[str], /) -> EarScores:
        """Return shares of the ``phrases`` and of "none of these" for a stretch of the stream."""
        ...


class PhoneLoop(Protocol):
    """Any phones in any order, decoded beside the grammar."""

    def start(self) -> None:
        """Begin an utterance."""
        ...

    def feed(self, samples: Samples) -> None:
        """Feed the same sound as the recogniser gets."""
        ...

    def finish(self) -> tuple[Phone, ...]:
        """End the utterance; positions count from the first fed sample."""
        ...


@dataclass(frozen=True, kw_only=True)
class Evidence:
    """One utterance.

    Attributes:
        listening: What was listened for.
        grammar: The same, composed.
        start: First sample of speech.
        end: One past the last.
        hypothesis: The recogniser's words; its times are on the stream's clock here.
        speech: 10 ms frames with speech, as positions.
        clipped: Share of samples at full scale.
        level_db: Level of the speech frames, dB against full scale.
        noise_db: The room's level.
        early: It began before anything was listened for.
        too_long: It was cut at the longest length of an answer.
        fitted: The probabilities were fitted with this engine.
        over_us: Share of its speech during which our own voice sounded.
        like_us: How alike its loudness runs to what we played, 0 to 1.
        ear: What the second ear says; None where there is none.
        phones: What the phone loop says; None where it did not run.
    """

    listening: Listening
    grammar: ListeningGrammar
    start: int
    end: int
    hypothesis: Hypothesis
    speech: tuple[int, ...] = ()
    clipped: float = 0.0
    level_db: float = -30.0
    noise_db: float = -60.0
    early: bool = False
    too_long: bool = False
    fitted: bool = True
    over_us: float = 0.0
    like_us: float = 0.0
    ear: EarScores | None = None
    phones: Sequence[Phone] | None = field(default=None)

    @property
    def length_s(self) -> float:
        """Seconds from start to end."""
        return (self.end - self.start) / SAMPLE_RATE

    @property
    def speech_s(self) -> float:
        """Seconds of speech frames."""
        return len(self.speech) / 100.0

    @property
    def outside_s(self) -> float:
        """Seconds of speech that lie outside the recognised words, by more than 60 ms."""
        times = self.hypothesis.times
        if not times:
            return self.speech_s
        slack = SAMPLE_RATE * 60 // 1000
        first, last = times[0].start - slack, times[-1].end + slack
        return sum(not first <= at < last for at in self.speech) / 100.0

    @property
    def snr_db(self) -> float:
        """Level of the speech above the room."""
        return self.level_db - self.noise_db
