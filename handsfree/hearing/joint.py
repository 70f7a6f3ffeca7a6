"""How likely it is that a phrase was said, and said to us, from all that is known of a sound.

Three opinions meet here: the second ear's share for a phrase, the phone network's reading of the
sound, and the recogniser's words. Models over named figures: for short phrases, which the ear
knows, once for quiet and once for noise, and for open forms (numbers of several words), which it
does not. In noise it is a model of trees: there a figure says much beside one and nothing beside
another. All stand in ``joint.json``, written by ``python -m benchmarks.trust``, and are fitted on
voices that no network was trained on. What follows is decided in ``trust``.
"""

from __future__ import annotations

import functools
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib import resources
from typing import Any

from handsfree.errors import DataError
from handsfree.hearing.evidence import Evidence
from handsfree.hearing.odds import probability_of
from handsfree.hearing.trees import Trees, read_trees
from handsfree.hearing.verdict import Candidate, Meaning, MeaningKind

__all__ = ["FIGURES", "OPEN", "SHORT", "Model", "by_ear", "by_recogniser", "lead"]
__all__ += ["likelihoods", "models", "open_figures", "open_form", "short_figures"]
__all__ += ["SHORT_IN_NOISE", "short_model"]

SHORT = (
    "share", "own_share", "agree", "agree_share", "rec_silent", "length", "outside",
    "too_short", "too_long", "command", "words", "goes_on", "noise", "unknown",
    "spelt", "fit", "gap",
)  # fmt: skip
OPEN = (
    "other", "ear_best", "ear_command", "outside", "words", "too_short", "too_long", "length",
    "noise", "unknown", "unit", "said", "spelt", "fit", "gap",
)  # fmt: skip


SHORT_IN_NOISE = "short, in noise"
FIGURES: Mapping[str, tuple[str, ...]] = {"short": SHORT, SHORT_IN_NOISE: SHORT, "open": OPEN}
_READING = 0.5
"""How much the logarithm of the reading's share counts beside that of the ear's."""
_SAID = 1.5
"""What it adds to a phrase's log score that the recogniser says it too."""
_SURE = 7.0
"""Log odds beyond which a reading is no surer."""
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
        return probability_of(total)


def short_model(evidence: Evidence) -> str:
    """Return the name of the model for short phrases that was fitted in rooms like this one.

    In noise another ear listens, and the recogniser and the lengths of sounds say less.
    """
    return SHORT_IN_NOISE if evidence.noisy else "short"


@functools.cache
def models() -> Mapping[str, Model | Trees]:
    """Return the shipped models: ``short``, the same in noise, and ``open``.

    Raises:
        DataError: The file is broken or of another version.
    """
    file = resources.files("handsfree.hearing") / "joint.json"
    try:
        told = json.loads(file.read_text("utf-8"))
        found = {name: _read(told[name]) for name in FIGURES}
    except (OSError, ValueError, KeyError, TypeError) as wrong:
        msg = f"the weights of hearing, joint.json, cannot be read ({wrong}). Install it again."
        raise DataError(msg) from None
    if any(found[name].figures != figures for name, figures in FIGURES.items()):
        msg = "the weights of hearing, joint.json, are of another version. Install it again."
        raise DataError(msg)
    return found


def _read(told: Mapping[str, Any]) -> Model | Trees:
    """Return one model of the file, of whichever form it is."""
    if "asked" in told:
        return read_trees(told)
    return Model(
        figures=tuple(told["figures"]),
        weights=tuple(map(float, told["weights"])),
        bias=float(told["bias"]),
    )


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
    """Return the ear's meanings with its shares, the likeliest by all three opinions first."""
    heard = by_ear(evidence)
    scores = likelihoods(evidence, heard)
    first = max(heard, key=lambda candidate: scores[candidate.meaning], default=None)
    return [] if first is None else [first, *(c for c in heard if c is not first)]


def likelihoods(evidence: Evidence, heard: Sequence[Candidate]) -> dict[Meaning, float]:
    """Return how likely each of the ear's meanings is by all three opinions, in nats."""
    said = by_recogniser(evidence)
    shares = evidence.reading.shares if evidence.reading is not None else None

    def likely(candidate: Candidate) -> float:
        score = math.log(max(candidate.probability, 1e-3))
        if shares is not None:
            score += _READING * math.log(max(shares.get(candidate.meaning, 0.0), 1e-5))
        return score + _SAID * (candidate.meaning == said)

    return {candidate.meaning: likely(candidate) for candidate in heard}


def by_recogniser(evidence: Evidence) -> Meaning | None:
    """Return what the recogniser's words mean."""
    words = evidence.hypothesis.words
    return evidence.grammar.meaning(words) if words else None


def open_form(evidence: Evidence) -> Candidate | None:
    """Return the likeliest phrase that the ear does not know: a longer number, a name.

    The phone network's, with some weight on what the recogniser says; its share is the
    probability. Without a reading, the recogniser's.
    """
    said = by_recogniser(evidence)
    if evidence.reading is None:
        words = " ".join(evidence.hypothesis.words)
        if said is None or _ear_knows(evidence, words) or evidence.grammar.is_listed(words):
            return None
        return Candidate(meaning=said, words=words, probability=0.5)
    unknown = [spelt for spelt in evidence.reading.ranked if not _ear_knows(evidence, spelt.words)]
    best = max(
        unknown, key=lambda spelt: spelt.score + _SAID * (spelt.meaning == said), default=None
    )
    if best is None:
        return None
    share = evidence.reading.shares[best.meaning]
    return Candidate(meaning=best.meaning, words=best.words, probability=share)


def _ear_knows(evidence: Evidence, words: str) -> bool:
    return evidence.ear is not None and words in evidence.ear.probabilities


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


def _reading_figures(evidence: Evidence, best: Candidate) -> tuple[float, float, float]:
    """Return the reading's log odds, and how far from the free reading it is: a phone, in all."""
    if evidence.reading is None:  # half way between what fits and what does not
        return min(max(logit(best.probability), -_SURE), _SURE), -1.0, -8.0
    spelt = evidence.reading.of(best.meaning)
    if spelt is None:
        return -_SURE, -3.0, -25.0
    share = logit(evidence.reading.shares[best.meaning])
    gap = spelt.score - evidence.reading.free
    return (
        min(max(share, -_SURE), _SURE),
        min(max(gap / spelt.phones, -3.0), 0.2),
        min(max(gap, -25.0), 2.0),
    )


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
        *_reading_figures(evidence, best),
    )


def open_figures(
    evidence: Evidence, open_: Candidate, heard: Sequence[Candidate]
) -> tuple[float, ...]:
    """Return the figures of an open form beside what the ear hears, in the order OPEN."""
    said = by_recogniser(evidence) == open_.meaning
    short, long = _length_misfit(open_.words, evidence.length_s)
    best = heard[0] if heard else None
    is_command = best is not None and best.meaning.kind is MeaningKind.COMMAND
    return (
        logit(evidence.ear.other) if evidence.ear is not None else 0.0,
        logit(best.probability) if best is not None else logit(0.0),
        logit(best.probability) if best is not None and is_command else logit(0.0),
        min(evidence.outside_s, 0.6) if said else 0.0,
        float(min(len(open_.words.split()), 7)),
        short,
        long,
        min(evidence.length_s, 4.0),
        _noise(evidence),
        _unknown(evidence),
        float(open_.meaning.unit is not None),
        float(said),
        *_reading_figures(evidence, open_),
    )
