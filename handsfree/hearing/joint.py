"""How likely it is that a phrase was said, and said to us, from all that is known of a sound.

Two logistic models over named figures: one for short phrases, where the second ear proposes, one
for open forms (numbers of several words), where the recogniser does. Their weights stand in
``joint.json``, written by ``python -m benchmarks.trust``, and are fitted on voices that the ear was
not trained on. What follows from a probability is decided in ``trust``.
"""

from __future__ import annotations

import functools
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib import resources

from handsfree.audio.device import SAMPLE_RATE
from handsfree.errors import DataError
from handsfree.hearing.evidence import Evidence
from handsfree.hearing.verdict import Candidate, Meaning, MeaningKind

__all__ = ["OPEN", "SHORT", "Model", "by_ear", "by_recogniser", "models", "open_figures"]
__all__ += ["is_open", "lead", "short_figures"]

SHORT = (
    "share", "own_share", "agree", "agree_share", "rec_silent", "length", "outside",
    "too_short", "too_long", "command", "words", "goes_on", "noise", "unknown",
)  # fmt: skip
OPEN = (
    "other", "ear_best", "ear_command", "outside", "words", "too_short", "too_long", "length",
    "noise", "unknown", "unit",
)  # fmt: skip


_NEARLY = 0.25
"""Share of the best from which another may stand in its place when the recogniser says it."""
_CLEAR = 3.0
"""Log odds from which one of ours stands clear of the others: more would outvote "none"."""


@dataclass(frozen=True, kw_only=True)
class Model:
    """One logistic model.

    Attributes:
        figures: Names, in order.
        weights: One each.
        bias: Added.
    """

    figures: tuple[str, ...]
    weights: tuple[float, ...]
    bias: float

    def probability(self, figures: Sequence[float]) -> float:
        """Return the probability for these figures."""
        total = self.bias + sum(w * f for w, f in zip(self.weights, figures, strict=True))
        return 1.0 / (1.0 + math.exp(-max(-30.0, min(30.0, total))))


@functools.cache
def models() -> Mapping[str, Model]:
    """Return the shipped models, ``short`` and ``open``.

    Raises:
        DataError: The file is broken or of another version.
    """
    file = resources.files("handsfree.hearing") / "joint.json"
    try:
        told = json.loads(file.read_text("utf-8"))
        found = {
            name: Model(
                figures=tuple(told[name]["figures"]),
                weights=tuple(map(float, told[name]["weights"])),
                bias=float(told[name]["bias"]),
            )
            for name in ("short", "open")
        }
    except (OSError, ValueError, KeyError, TypeError) as wrong:
        msg = f"the weights of hearing, joint.json, cannot be read ({wrong}). Install it again."
        raise DataError(msg) from None
    if found["short"].figures != SHORT or found["open"].figures != OPEN:
        msg = "the weights of hearing, joint.json, are of another version. Install it again."
        raise DataError(msg)
    return found


def logit(share: float) -> float:
    """Return the log odds of ``share``, kept within 1 to 10000."""
    kept = min(max(share, 1e-4), 1.0 - 1e-4)
    return math.log(kept / (1.0 - kept))


def by_ear(evidence: Evidence) -> list[Candidate]:
    """Return the ear's meanings with its shares, best first; phrases of one meaning are summed."""
    if evidence.ear is None:
        return []
    shares: dict[Meaning, float] = {}
    words: dict[Meaning, tuple[float, str]] = {}
    for phrase, share in evidence.ear.probabilities.items():
        meaning = evidence.grammar.meaning(phrase)
        if meaning is not None:
            shares[meaning] = shares.get(meaning, 0.0) + share
            words[meaning] = max(words.get(meaning, (0.0, "")), (share, phrase))
    ranked = sorted(shares.items(), key=lambda pair: -pair[1])
    return [
        Candidate(meaning=meaning, words=words[meaning][1], probability=min(share, 1.0))
        for meaning, share in ranked
    ]


def lead(evidence: Evidence) -> list[Candidate]:
    """Return the ear's meanings, with what the recogniser says first where the ear nearly does.

    Of two that the ear cannot tell apart the other opinion decides.
    """
    heard = by_ear(evidence)
    said = by_recogniser(evidence)
    for place, candidate in enumerate(heard[1:4], start=1):
        if candidate.meaning == said and candidate.probability >= _NEARLY * heard[0].probability:
            return [candidate, *heard[:place], *heard[place + 1 :]]
    return heard


def by_recogniser(evidence: Evidence) -> Meaning | None:
    """Return what the recogniser's words mean."""
    words = evidence.hypothesis.words
    return evidence.grammar.meaning(words) if words else None


def is_open(evidence: Evidence) -> bool:
    """Whether the recogniser's words are an open form, which only it can know: a long number."""
    words = evidence.hypothesis.words
    said = " ".join(words)
    known = evidence.ear is not None and said in evidence.ear.probabilities
    return len(words) > 1 and not known and not evidence.grammar.is_listed(words)


def _length_misfit(words: str, length_s: float) -> tuple[float, float]:
    """Return by how much a sound is too short and too long for ``words``, in log units.

    Spoken English runs at about 14 letters a second, with 0.2 s for a word's own ends.
    """
    expected = 0.22 + len(words.replace(" ", "")) / 16.0
    ratio = math.log(max(length_s, 0.05) / expected)
    return min(max(-ratio, 0.0), 1.5), min(max(ratio, 0.0), 1.5)


def _noise(evidence: Evidence) -> float:
    """Return how little the speech stands above the room: 0 from 25 dB on, 1 at 0 dB."""
    return min(max(1.0 - evidence.snr_db / 25.0, 0.0), 1.2)


def _unknown(evidence: Evidence) -> float:
    return min(dict(evidence.hypothesis.detail).get("unknown", 0.0), 3.0)


def short_figures(evidence: Evidence, heard: Sequence[Candidate]) -> tuple[float, ...]:
    """Return the figures of the ear's best meaning, in the order SHORT."""
    assert evidence.ear is not None
    best = heard[0]
    said = by_recogniser(evidence)
    agree = float(said == best.meaning)
    share = logit(best.probability)
    short, long = _length_misfit(best.words, evidence.length_s)
    outside = min(evidence.outside_s, 0.6) if agree else 0.0
    return (
        share,
        min(logit(best.probability / max(1.0 - evidence.ear.other, 1e-6)), _CLEAR),
        agree,
        agree * share,
        float(said is None),
        min(evidence.length_s, 3.0),
        outside,
        short,
        long,
        float(best.meaning.kind is MeaningKind.COMMAND),
        float(len(best.words.split())),
        float(evidence.grammar.may_go_on(evidence.hypothesis.words)),
        _noise(evidence),
        _unknown(evidence),
    )


def open_figures(evidence: Evidence, heard: Sequence[Candidate]) -> tuple[float, ...]:
    """Return the figures of the recogniser's open form, in the order OPEN."""
    words = " ".join(evidence.hypothesis.words)
    times = evidence.hypothesis.times
    spoken_s = (times[-1].end - times[0].start) / SAMPLE_RATE if times else evidence.length_s
    short, long = _length_misfit(words, spoken_s)
    meaning = by_recogniser(evidence)
    best = heard[0] if heard else None
    is_command = best is not None and best.meaning.kind is MeaningKind.COMMAND
    return (
        logit(evidence.ear.other) if evidence.ear is not None else 0.0,
        logit(best.probability) if best is not None else logit(0.0),
        logit(best.probability) if best is not None and is_command else logit(0.0),
        min(evidence.outside_s, 0.6),
        float(min(len(evidence.hypothesis.words), 7)),
        short,
        long,
        min(evidence.length_s, 4.0),
        _noise(evidence),
        _unknown(evidence),
        float(meaning is not None and meaning.unit is not None),
    )
