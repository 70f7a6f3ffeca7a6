"""Whether to believe what was recognised: accept, ask back or ignore.

The recogniser under a grammar is one opinion, forced into some phrase; the second ear is another,
which also knows "none of ours". Everything is judged here and nowhere else, from one ``Evidence``.
No engine, stream or clock is imported.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from handsfree.hearing.evidence import Evidence
from handsfree.hearing.verdict import Candidate, Meaning, MeaningKind, Outcome, Verdict

__all__ = ["ALONE", "Thresholds", "judge"]

PERMISSIVE = frozenset({"stop", "pause"})
"""Commands obeyed in doubt: a growling dog may be why they are said."""
CAREFUL = frozenset({"skip", "goto", "cant_see", "wont_let", "dont_know", "scrap", "told"})
"""Commands that change the course of the check: they need more than others."""

SHORTEST_S = 0.09
"""Less speech than this is a click."""
MOST_CLIPPED = 0.08


@dataclass(frozen=True, kw_only=True)
class Thresholds:
    """Probabilities from which an utterance is accepted, or asked back."""

    accept: float
    ask_back: float
    strict: float
    permissive: float

    def accept_from(self, meaning: Meaning, strict: frozenset[str]) -> float:
        """Return the probability that this meaning needs."""
        if meaning.kind is MeaningKind.COMMAND:
            if meaning.value in PERMISSIVE:
                return self.permissive
            if meaning.value in CAREFUL:
                return self.strict
        return self.strict if str(meaning.value) in strict else self.accept


WITH_EAR = Thresholds(accept=0.6, ask_back=0.25, strict=0.85, permissive=0.3)
"""For a recogniser and the second ear together."""
ALONE = Thresholds(accept=0.55, ask_back=0.22, strict=0.72, permissive=0.35)
"""For a recogniser without a second ear."""


def judge(evidence: Evidence) -> Verdict:
    """Return the verdict on one utterance."""
    ask_nothing = _no_answer(evidence)
    if ask_nothing:
        return _verdict(evidence, Outcome.IGNORE, (), ask_nothing)
    opinion: Callable[[Evidence], tuple[Outcome, tuple[Candidate, ...], str]] = (
        _alone if evidence.ear is None else _with_ear
    )
    outcome, candidates, reason = opinion(evidence)
    if outcome is Outcome.ACCEPT and evidence.early:
        outcome, reason = Outcome.ASK_BACK, "early"
    if outcome is Outcome.ACCEPT and evidence.clipped > MOST_CLIPPED:
        outcome, reason = Outcome.ASK_BACK, "clipped"
    return _verdict(evidence, outcome, candidates, reason)


def _verdict(
    evidence: Evidence, outcome: Outcome, candidates: tuple[Candidate, ...], reason: str
) -> Verdict:
    return Verdict(
        outcome=outcome,
        candidates=candidates,
        start=evidence.start,
        end=evidence.end,
        words=evidence.hypothesis.times,
        reason=reason,
    )


def _no_answer(evidence: Evidence) -> str:
    """Return why this can be no answer whatever the words; empty if it can."""
    if evidence.too_long:
        return "too_long"
    if evidence.speech_s < SHORTEST_S:
        return "too_short"
    if evidence.clipped > 0.5:
        return "clipped"
    return ""


EAR_KNOWS = 0.4
"""From this share on the ear's one-word number goes before the recogniser's longer one."""
LONGEST_SHORT_S = 1.0
_EAR_WEIGHTS = (1.27, 0.65, 0.62, 1.38, -1.96, 1.84, -0.18)
_EAR_BIAS = -1.31
"""Fitted to natural voices, each five times; see docs/hearing.md."""


def _with_ear(evidence: Evidence) -> tuple[Outcome, tuple[Candidate, ...], str]:
    """Judge by both: the second ear leads for short phrases, the recogniser for open forms."""
    assert evidence.ear is not None
    heard = _heard_by_ear(evidence)
    words = evidence.hypothesis.words
    said = evidence.grammar.meaning(words) if words else None
    agree = bool(heard) and heard[0].meaning == said
    if said is not None and not agree and len(words) > 1 and isinstance(said.value, float):
        by_ear = heard[0].probability if heard else 0.0
        if by_ear < EAR_KNOWS or evidence.length_s > LONGEST_SHORT_S:
            return _alone(evidence)
    unlearnt = said is not None and " ".join(words) not in evidence.ear.probabilities
    if unlearnt and not (
        heard and heard[0].probability >= EAR_KNOWS and heard[0].meaning.kind is MeaningKind.ANSWER
    ):
        return _alone(evidence)  # the head has not learnt this phrase, and hears no other answer
    if not heard:
        return Outcome.IGNORE, (), "no_phrase"
    best = heard[0]
    probability = _joint_probability(
        best.probability,
        evidence.ear.other,
        agree=agree,
        silent=said is None,
        length_s=evidence.length_s,
        alone=alone_probability(evidence) if agree else 0.0,
    )
    candidates = (
        Candidate(
            meaning=best.meaning,
            words=" ".join(words) if agree else best.words,
            probability=probability,
        ),
        *heard[1:3],
    )
    if probability >= WITH_EAR.accept_from(best.meaning, evidence.listening.strict):
        return Outcome.ACCEPT, candidates, "agree" if agree else "ear"
    if probability >= WITH_EAR.ask_back:
        return Outcome.ASK_BACK, candidates, "doubt"
    return Outcome.IGNORE, candidates, "other"


def _heard_by_ear(evidence: Evidence) -> list[Candidate]:
    """Return the ear's meanings, best first, phrases of one meaning taken together."""
    assert evidence.ear is not None
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


def _joint_probability(
    share: float, other: float, *, agree: bool, silent: bool, length_s: float, alone: float
) -> float:
    """Return that the ear's best meaning was said to us: a logistic of seven figures."""
    own = share / max(1.0 - other, 1e-6)
    figures = (
        float(agree),
        _logit(share),
        _logit(min(own, 1.0 - 1e-6)),
        float(silent),
        length_s,
        alone,
        _logit(share) * agree,
    )
    total = _EAR_BIAS + sum(w * f for w, f in zip(_EAR_WEIGHTS, figures, strict=True))
    return 1.0 / (1.0 + math.exp(-max(-30.0, min(30.0, total))))


def _logit(share: float) -> float:
    return math.log(max(share, 1e-6) / max(1.0 - share, 1e-6))


def _alone(evidence: Evidence) -> tuple[Outcome, tuple[Candidate, ...], str]:
    """Judge by the recogniser and the shape of the sound."""
    words = evidence.hypothesis.words
    meaning = evidence.grammar.meaning(words) if words else None
    if meaning is None:
        # Words that begin a phrase were probably for us; nothing at all was probably not.
        if words and evidence.grammar.may_go_on(words) and evidence.outside_s < 0.2:
            return Outcome.ASK_BACK, (), "half_said"
        return Outcome.IGNORE, (), "no_phrase"
    probability = alone_probability(evidence)
    candidate = Candidate(meaning=meaning, words=" ".join(words), probability=probability)
    if probability >= ALONE.accept_from(meaning, evidence.listening.strict):
        return Outcome.ACCEPT, (candidate,), "fits"
    if probability >= ALONE.ask_back:
        return Outcome.ASK_BACK, (candidate,), "doubt"
    return Outcome.IGNORE, (candidate,), "unlike"


FEATURES = ("loop", "phones_outside", "outside", "phone_rate", "pace_low", "pace_high", "length",
            "words", "snr", "unknown")  # fmt: skip
_MEAN = (-0.00123, 0.76016, 0.07148, 1.03944, 0.0898, 0.12256, 0.86992, 1.90854, 36.01444, 0.0)
_SCALE = (0.00022, 1.86958, 0.1945, 0.41722, 0.01466, 0.03839, 0.34418, 1.07151, 8.0, 1.0)
_WEIGHTS = (-0.122, -0.616, -0.876, -0.509, 0.634, 0.116, -0.388, -0.213, 0.0, -2.0)
_BIAS = -0.225
"""Logistic regression on 806 utterances of 16 synthetic voices, half of them asides; the last two
weights, for levels and for engines with a token for other speech, are our own judgement."""


def alone_features(evidence: Evidence) -> tuple[float, ...]:
    """Return the figures that a judgement without second ear rests on, in the order FEATURES."""
    hypothesis = evidence.hypothesis
    detail = dict(hypothesis.detail)
    times = hypothesis.times
    first = times[0].start if times else evidence.start
    last = times[-1].end if times else evidence.end
    span_s = max((last - first) / 16000.0, 0.05)
    loop, outside_phones, inside_phones = 0.0, 0.0, 0.0
    if evidence.phones is not None and "acoustic" in detail:
        total = sum(score for *_, score in evidence.phones)
        loop = (detail["acoustic"] - total) / max(evidence.length_s, 0.2) / 10_000.0
        for phone, start, end, _ in evidence.phones:
            if phone in {"SIL", "+SPN+", "+NSN+"}:
                continue
            if start >= first - 960 and end <= last + 960:
                inside_phones += 1
            elif end > evidence.start and start < evidence.end:
                outside_phones += 1
    letters = sum(len(word) for word in hypothesis.words)
    pace = span_s / max(letters, 1)
    return (
        loop,
        outside_phones,
        evidence.outside_s,
        inside_phones / max(letters, 1),
        min(pace, 0.1),
        max(pace, 0.1),
        evidence.length_s,
        float(len(hypothesis.words)),
        min(evidence.snr_db, 40.0),
        detail.get("unknown", 0.0),
    )


def alone_probability(evidence: Evidence) -> float:
    """Return the probability that the recogniser's phrase was said, and said to us."""
    sum_ = _BIAS
    for value, mean, scale, weight in zip(
        alone_features(evidence), _MEAN, _SCALE, _WEIGHTS, strict=True
    ):
        sum_ += weight * (value - mean) / scale
    return 1.0 / (1.0 + math.exp(-max(-30.0, min(30.0, sum_))))
