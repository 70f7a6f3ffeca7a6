"""Everything known of one utterance before it is judged. Data alone; judging lives in ``trust``."""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from handsfree.audio.device import SAMPLE_RATE, Samples
from handsfree.hearing.grammar import ListeningGrammar, Phrase
from handsfree.hearing.recogniser import Hypothesis
from handsfree.hearing.verdict import Listening, Meaning

__all__ = ["Ear", "EarScores", "Evidence", "Phone", "PhoneLoop", "Reader"]
__all__ += ["Reading", "Spelt", "Talk"]

NOISY_DB = 15.0
"""Speech that stands out of the room by less is heard in noise."""

SURELY = 3.0
"""Nats of its phones, from which on a stretch is speech beyond doubt (`phones.syllables`)."""

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

    def score(self, start: int, end: int, phrases: Sequence[str], /, *, snr_db: float) -> EarScores:
        """Return shares of the ``phrases`` and of "none of these" for a stretch of the stream.

        ``snr_db`` is how far the speech stands out of the room.
        """
        ...


@dataclass(frozen=True, kw_only=True)
class Spelt:
    """The likeliest phrase of one meaning, by the phone network.

    Attributes:
        words: The phrase.
        meaning: What it means.
        score: Natural logarithm of the probability that the sound spells it.
        phones: How many phones it has.
    """

    words: str
    meaning: Meaning
    score: float
    phones: int


@dataclass(frozen=True, kw_only=True)
class Reading:
    """What the phone network makes of one utterance.

    Attributes:
        ranked: Every meaning that may be said, best first; of an open form those near the best.
        free: Logarithm of the probability of the likeliest phones, whatever they spell.
        rivals: Log scores of what is said to dogs and means nothing now.
        speech_nats: Log odds of the phones in the clearest stretch; a bark's are low.
    """

    ranked: tuple[Spelt, ...]
    free: float
    rivals: tuple[float, ...] = ()
    speech_nats: float = math.inf

    @property
    def is_speech(self) -> bool:
        """Whether somebody spoke beyond doubt, whatever it was."""
        return self.speech_nats >= SURELY

    @functools.cached_property
    def shares(self) -> Mapping[Meaning, float]:
        """Each meaning's share among all that may be said, to us or to the dog."""
        if not self.ranked:
            return {}
        best = max((self.ranked[0].score, *self.rivals))
        powers = {spelt.meaning: math.exp(spelt.score - best) for spelt in self.ranked}
        total = sum(powers.values()) + sum(math.exp(score - best) for score in self.rivals)
        return {meaning: power / total for meaning, power in powers.items()}

    def of(self, meaning: Meaning) -> Spelt | None:
        """Return the likeliest phrase of ``meaning``, or None where it was not thought of."""
        return next((spelt for spelt in self.ranked if spelt.meaning == meaning), None)


@dataclass(frozen=True, kw_only=True)
class Spoken:
    """Where somebody speaks, as far as is known.

    Attributes:
        start: First sample of what may be speech; a bark may be taken for a syllable of it.
        end: One past the last.
        clear: From where to where it is speech beyond doubt; None if nothing is.
    """

    start: int
    end: int
    clear: tuple[int, int] | None


class Reader(Protocol):
    """Reads utterances by their phones; follows the same stream as the second ear."""

    def prepare(self, grammar: ListeningGrammar, /) -> None:
        """Make ready for a grammar."""
        ...

    def read(
        self,
        start: int,
        end: int,
        grammar: ListeningGrammar,
        also: Phrase = (),
        /,
        *,
        snr_db: float,
    ) -> Reading:
        """Return how likely each meaning was said between two samples; ``also`` is scored too.

        ``snr_db`` is how far the speech stands out of the room.
        """
        ...

    def spoken(self, start: int, end: int, /) -> Spoken | None:
        """Return from where to where somebody speaks between two samples; None if nobody does."""
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
class Talk:
    """Speech beyond doubt, of which nothing was accepted: somebody may go on with it.

    Attributes:
        end: One past its last sample.
        meaning: What it may have meant, where that was in doubt.
    """

    end: int
    meaning: Meaning | None = None


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
        after: What was said right before it; None where nobody spoke.
        too_long: It was cut at the longest length of an answer.
        fitted: The probabilities were fitted with this engine.
        over_us: Share of its speech during which our own voice sounded.
        like_us: How far it is what we played, heard again, as `likeness` tells.
        ear: What the second ear says; None where there is none.
        reading: What the phone network says; None where there is none.
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
    after: Talk | None = None
    too_long: bool = False
    fitted: bool = True
    over_us: float = 0.0
    like_us: float = 0.0
    ear: EarScores | None = None
    reading: Reading | None = None
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

    @property
    def noisy(self) -> bool:
        """Whether it was heard in noise, where other opinions count."""
        return self.snr_db < NOISY_DB
