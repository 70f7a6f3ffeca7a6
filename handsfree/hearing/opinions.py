"""What the second ear, the phone network and the recogniser each say of one meaning."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from handsfree.hearing import joint
from handsfree.hearing.evidence import Evidence, Reading, Spelt
from handsfree.hearing.verdict import Candidate, Meaning, MeaningKind

__all__ = ["Opinions", "is_number", "opinions"]


@dataclass(frozen=True, kw_only=True)
class Opinions:
    """What the three say of one meaning.

    Attributes:
        ear: The second ear's share for it.
        ear_other: Its largest share for another meaning.
        said: The recogniser says it.
        said_other: The recogniser says what the ear likes best of the others.
        said_number: It says some number.
        other_words: What it says for this meaning is not what the reading spells.
        read: The reading's share for it.
        fit: How far it lies below the likeliest phones, nats a phone.
        phones: How many phones it has.
        above_rivals: Nats by which it is likelier to be read than anything said to dogs.
        clear_by: Nats by which it is likelier by all three together than anything else.
        speech_nats: The reading's own: how clear the phones are, whatever they spell.
    """

    ear: float
    ear_other: float
    said: bool
    said_other: bool
    said_number: bool = False
    other_words: bool = False
    read: float
    fit: float
    phones: int
    above_rivals: float = 0.0
    clear_by: float = 0.0
    speech_nats: float = math.inf


def opinions(evidence: Evidence, meaning: Meaning, heard: Sequence[Candidate]) -> Opinions:
    """Return the three opinions on ``meaning``.

    Without a reading its share is nought and its fit beyond any bound.

    Args:
        evidence: Of the utterance.
        meaning: What they are of.
        heard: The ear's meanings with its shares, in any order.
    """
    others = (c for c in heard if c.meaning != meaning)
    other = max(others, key=lambda c: c.probability, default=None)
    said = joint.by_recogniser(evidence)
    reading = evidence.reading
    spelt = reading.of(meaning) if reading is not None else None
    return Opinions(
        ear=next((c.probability for c in heard if c.meaning == meaning), 0.0),
        ear_other=other.probability if other is not None else 0.0,
        said=said == meaning,
        said_other=said is not None and other is not None and said == other.meaning,
        said_number=said is not None and is_number(said),
        other_words=spelt is not None and spelt.words != " ".join(evidence.hypothesis.words),
        read=reading.shares.get(meaning, 0.0) if reading is not None else 0.0,
        fit=(spelt.score - reading.free) / spelt.phones if reading and spelt else -math.inf,
        phones=spelt.phones if spelt is not None else 0,
        above_rivals=_above_rivals(reading, spelt),
        clear_by=_clear_by(joint.likelihoods(evidence, heard), meaning),
        speech_nats=reading.speech_nats if reading is not None else math.inf,
    )


def is_number(meaning: Meaning) -> bool:
    """Whether it answers a question for a number."""
    return meaning.kind is MeaningKind.ANSWER and isinstance(meaning.value, float)


def _above_rivals(reading: Reading | None, spelt: Spelt | None) -> float:
    if reading is None or spelt is None:
        return 0.0
    return spelt.score - max(reading.rivals) if reading.rivals else math.inf


def _clear_by(scores: Mapping[Meaning, float], meaning: Meaning) -> float:
    others = max((score for other, score in scores.items() if other != meaning), default=-math.inf)
    return scores[meaning] - others if meaning in scores else -math.inf
