"""Whether to believe what was recognised: accept, ask back or ignore.

The recogniser under a grammar is one opinion, forced into some phrase; the second ear is another,
which also knows "none of ours"; the phone network is a third, which can spell anything. All is
judged here and nowhere else, from one ``Evidence``. No engine, stream or clock is imported.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from handsfree.hearing import agreement, joint
from handsfree.hearing.evidence import Evidence
from handsfree.hearing.meant import meant_times
from handsfree.hearing.odds import probability_of
from handsfree.hearing.opinions import Opinions, is_number, opinions
from handsfree.hearing.verdict import Candidate, Meaning, MeaningKind, Outcome, Verdict

__all__ = ["ALONE", "FITTED", "WITH_EAR", "Thresholds", "judge"]

PERMISSIVE = frozenset({"stop", "pause"})
"""Commands obeyed in doubt: a growling dog may be why they are said."""
MOST_URGENT_WORDS = 2
"""Who is in a hurry says "stop" or "hold on"; a sentence may sound like "end the check"."""
CAREFUL = frozenset({"skip", "goto", "scrap", "told"})
"""Commands that change the course of the check: they need more than others."""

FITTED = frozenset({"pocketsphinx", "scripted"})
"""Engines on whose results the probabilities were fitted; others need more certainty."""
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
    noisier: float

    def accept_from(self, best: Candidate, strict: frozenset[str]) -> float:
        """Return the probability that this needs."""
        meaning = best.meaning
        if _may_be_urgent(meaning) and len(best.words.split()) <= MOST_URGENT_WORDS:
            return self.permissive
        if meaning.kind is MeaningKind.COMMAND and meaning.value in CAREFUL:
            return self.strict
        return self.strict if str(meaning.value) in strict else self.accept

    def ask_back_from(self, meaning: Meaning) -> float:
        """Return the probability from which this meaning is asked back, or obeyed in doubt."""
        return 0.6 * self.ask_back if _may_be_urgent(meaning) else self.ask_back


def _may_be_urgent(meaning: Meaning) -> bool:
    return meaning.kind is MeaningKind.COMMAND and meaning.value in PERMISSIVE


WITH_EAR = Thresholds(accept=0.75, ask_back=0.2, strict=0.88, permissive=0.45, noisier=-0.05)
"""For PocketSphinx and the second ear together, on which the probabilities were fitted. In noise
0.70: beside dishes as loud as the voice 80.1 rather than 77.6 % of 201 answers of held-back voices
were right, as many wrong, and of 708 asides 1.4 rather than 1.1 % were accepted."""
ALONE = Thresholds(accept=0.55, ask_back=0.22, strict=0.72, permissive=0.35, noisier=0.05)
"""For a recogniser without a second ear."""
STRICTER = 0.1
"""Added where nothing was fitted: another engine, no reading."""
NOISIER = 0.05
"""In noise so much more is needed where more or less than others is needed anyhow, else `noisier`:
what is sure is wrong oftener."""
TIMED_ASK_BACK = 0.1
"""What is asked back, by nothing that sounds, where words are timed."""
EAR_SURE = 0.9
"""Share of the second ear from which what the recogniser says too is asked back at the least: a
whisper has other phones, and silence would leave the person to guess why."""
TOGETHER, ONE_WORD_TOGETHER = 0.25, 0.7
"""Probability from which such an answer is accepted in quiet, though its phones are unlike. What is
said to dogs is one word: "heel" was taken as "pale" at 0.42."""
READ_TOO = 0.3
"""Share of the reading that it takes: the phones may be unlike, but not another answer's."""
EAR_SURE_ENOUGH, READ_NEARLY, FIT_TOO = 0.6, 0.2, -3.2
"""Where the phones are near it (nats a phone), the ear may be less sure and the reading rather
another's: people's "zero" was read as "four" so."""
READ_AS_WELL, READ_CLEARLY = 0.05, 0.99
"""Share of the reading from which the recogniser's longer number may be what was said; and that a
number needs in noise where the recogniser says nothing."""
HALF_READ, MOSTLY_READ = 0.5, 0.9
"""Share of the reading that a stop or pause takes to need less than others: for what the recogniser
says too, and for the rest. "Wet" and "four" are read as "wait" and "pause"."""
UNBACKED_ASK_BACK = 0.5
"""What neither the recogniser says nor the ear hears is asked back from even odds on: clatter
spells something, and whoever washes up would be asked all the time."""
AGREED = 0.95
"""Probability of what the opinions are enough for together: rather less than what was measured."""
MOSTLY_OVER_US = 0.3
"""Share of an utterance from which our own voice beside it matters."""
LIKE_US = 8.5
"""Sound so like what we play is what the canceller left of it. None of 271 answers into prompts
reached 7.6; of our own voice, where the room had changed, seven eighths lay above."""


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
    if outcome is Outcome.ACCEPT and _is_of_talk(evidence, candidates[0]):
        outcome, reason = Outcome.ASK_BACK, "talk"
    if outcome is Outcome.ACCEPT and evidence.clipped > MOST_CLIPPED:
        outcome, reason = Outcome.ASK_BACK, "clipped"
    return _verdict(evidence, outcome, candidates, reason)


def _verdict(
    evidence: Evidence, outcome: Outcome, candidates: tuple[Candidate, ...], reason: str
) -> Verdict:
    best = candidates[0] if candidates else None
    words = evidence.hypothesis.times
    if evidence.listening.timed:
        words = meant_times(evidence, best.meaning if best else None)
        # Nothing is said back while words are timed, and a word lost spoils what runs.
        answer = best is not None and best.meaning.kind is MeaningKind.ANSWER
        if reason == "other" and answer and best and best.probability >= TIMED_ASK_BACK:
            outcome, reason = Outcome.ASK_BACK, "faint"
    return Verdict(
        outcome=outcome,
        candidates=candidates,
        start=evidence.start,
        end=evidence.end,
        words=words,
        reason=reason,
    )


def _is_of_talk(evidence: Evidence, best: Candidate) -> bool:
    """Whether somebody talked right before: an answer stands alone, "he sits" is part of talk.

    Who says the same again was not understood, and a stop may follow anything.
    """
    before = evidence.after
    return before is not None and not (
        best.meaning == before.meaning or _may_be_urgent(best.meaning)
    )


def _no_answer(evidence: Evidence) -> str:
    """Return why this can be no answer whatever the words; empty if it can."""
    if evidence.too_long:
        return "too_long"
    if evidence.speech_s < SHORTEST_S:
        return "too_short"
    if evidence.clipped > 0.5:
        return "clipped"
    if evidence.over_us > MOSTLY_OVER_US and evidence.like_us > LIKE_US:
        return "own_voice"
    return ""


EAR_KNOWS = 0.4
"""From this share on the ear's answer stands against a phrase that it has not learnt."""


def _need(
    thresholds: Thresholds, evidence: Evidence, best: Candidate, heard: Sequence[Candidate] = ()
) -> float:
    """Return the probability from which ``best`` is accepted here."""
    need = thresholds.accept_from(best, evidence.listening.strict)
    if need < thresholds.accept:
        said = joint.by_recogniser(evidence)
        likeliest = max(heard, key=lambda c: c.probability, default=best).meaning
        # "Wound" sounds like "wait", and "stopped" like "stop".
        if any(one is not None and one.kind is MeaningKind.ANSWER for one in (said, likeliest)):
            need = thresholds.accept
    if evidence.noisy:
        need += thresholds.noisier if need == thresholds.accept else NOISIER
    unlike = not evidence.fitted or (evidence.ear is not None and evidence.reading is None)
    return min(need + STRICTER, 0.95) if unlike else need


def _with_ear(evidence: Evidence) -> tuple[Outcome, tuple[Candidate, ...], str]:
    """Judge by all opinions: the best short phrase, or the best of what the ear does not know."""
    heard = joint.lead(evidence)
    if _neither_knows(evidence, heard):
        return _alone(evidence)
    options = _options(evidence, heard)
    if not options:
        return Outcome.IGNORE, (), "no_phrase"
    best, reason = max(options, key=lambda option: option[0].probability)
    outcome, reason = _decided(evidence, best, reason, heard)
    agreed = _agreed(evidence, heard) if outcome is not Outcome.ACCEPT else None
    if agreed is not None:
        best, outcome, reason = agreed, Outcome.ACCEPT, "together"
    of = opinions(evidence, best.meaning, heard)
    believed = evidence.noisy and outcome is Outcome.ACCEPT  # weighed with barks and clatter
    if agreement.is_hardly_speech(of) and not believed:
        outcome, reason = Outcome.IGNORE, "hardly_speech"
    others = (c for c in (*(o for o, _ in options), *heard[:3]) if c.meaning != best.meaning)
    return outcome, (best, *sorted(others, key=lambda c: -c.probability)[:2]), reason


def _neither_knows(evidence: Evidence, heard: Sequence[Candidate]) -> bool:
    """Whether neither network knows the recogniser's phrase, and the ear hears no other."""
    assert evidence.ear is not None
    if " ".join(evidence.hypothesis.words) not in evidence.ear.unknown:
        return False
    said = joint.by_recogniser(evidence)
    if said is None or (evidence.reading is not None and evidence.reading.of(said) is not None):
        return False
    answer = heard and heard[0].meaning.kind is MeaningKind.ANSWER
    return not (answer and heard[0].probability >= EAR_KNOWS)


def _options(evidence: Evidence, heard: Sequence[Candidate]) -> list[tuple[Candidate, str]]:
    """Return the best short phrase and the best open form with their probabilities, and why."""
    options: list[tuple[Candidate, str]] = []
    if heard:
        best, agree = heard[0], heard[0].meaning == joint.by_recogniser(evidence)
        probability = joint.models()[joint.short_model(evidence)].probability(
            joint.short_figures(evidence, heard)
        )
        words = " ".join(evidence.hypothesis.words) if agree else best.words
        taken = Candidate(meaning=best.meaning, words=words, probability=probability)
        options.append((taken, "agree" if agree else "ear"))
    open_ = joint.open_form(evidence)
    if open_ is not None:
        figures = joint.open_figures(evidence, open_, heard)
        probability = joint.models()["open"].probability(figures)
        options.append((replace(open_, probability=probability), "open"))
    return options


def _decided(
    evidence: Evidence, best: Candidate, reason: str, heard: Sequence[Candidate]
) -> tuple[Outcome, str]:
    """Return what follows from the likeliest proposal and its probability, and why."""
    of = opinions(evidence, best.meaning, heard)
    need = _need(WITH_EAR, evidence, best, heard)
    if reason == "open":  # the ear has not learnt long numbers
        against = _may_be_another(evidence, best.words, agreed=of.said)
    elif evidence.noisy and not _may_be_urgent(best.meaning):
        against = False  # the probability weighs all of it together
    else:
        against = of.ear_other >= agreement.AGAINST or (
            evidence.reading is not None and _speaks_against(of, best.probability, need)
        )
        if evidence.reading is not None:
            against = against or agreement.is_too_little(of)
    if need == WITH_EAR.accept:  # in quiet, where it needs neither more nor less than others
        need = min(need, _need_together(of, one_word=" " not in best.words))
    if best.probability >= need and not against:
        return Outcome.ACCEPT, reason
    sure, backed = of.said and of.ear >= EAR_SURE, of.said or of.ear >= agreement.BACKED
    if sure or best.probability >= _ask_back_from(best.meaning, backed):
        return Outcome.ASK_BACK, "doubt"
    return Outcome.IGNORE, "other"


def _speaks_against(of: Opinions, probability: float, need: float) -> bool:
    """Whether opinions on a short phrase, of which one is a reading, forbid to accept it."""
    if need < WITH_EAR.accept and probability < WITH_EAR.accept:  # a stop or a pause, in doubt
        return of.read < (HALF_READ if of.said else MOSTLY_READ)
    return agreement.are_against(of)


def _need_together(of: Opinions, *, one_word: bool) -> float:
    """Return the probability that an answer needs on which ear and recogniser agree."""
    if not of.said:
        return 1.0
    if of.ear >= EAR_SURE_ENOUGH and of.read >= READ_NEARLY and of.fit >= FIT_TOO:
        return TOGETHER
    if of.ear >= EAR_SURE and of.read >= READ_TOO:  # the phones say nothing else
        return ONE_WORD_TOGETHER if one_word else TOGETHER
    return 1.0


def _may_be_another(evidence: Evidence, words: str, *, agreed: bool) -> bool:
    """Whether a longer number may be another: the recogniser's, or in noise a like one.

    In quiet a number and what is recognised in its place share a word; a laugh and a number do not.
    """
    if evidence.reading is None or agreed:
        return False
    shares = evidence.reading.shares
    said = joint.by_recogniser(evidence)
    if said is not None and shares.get(said, 0.0) >= READ_AS_WELL:
        return True
    if not evidence.noisy:
        return " " in words and set(words.split()).isdisjoint(evidence.hypothesis.words)
    return said is None and max(shares.values(), default=0.0) < READ_CLEARLY


def _agreed(evidence: Evidence, heard: Sequence[Candidate]) -> Candidate | None:
    """Return what is read first, or likeliest, where the opinions on it are enough."""
    if evidence.reading is None or not evidence.reading.ranked or not evidence.fitted:
        return None
    first = evidence.reading.ranked[0]
    proposals = [Candidate(meaning=first.meaning, words=first.words, probability=AGREED)]
    proposals += [replace(likeliest, probability=AGREED) for likeliest in heard[:1]]
    return next((one for one in proposals if _is_agreed_on(evidence, one, heard)), None)


def _is_agreed_on(evidence: Evidence, one: Candidate, heard: Sequence[Candidate]) -> bool:
    """Whether the opinions on ``one`` are enough, and it needs no more than others.

    Nor less: a pause is obeyed in doubt already, and much that is said to dogs sounds like one.
    """
    needs_more = WITH_EAR.accept_from(one, evidence.listening.strict) != WITH_EAR.accept
    if needs_more or _may_be_urgent(one.meaning):
        return False
    of = opinions(evidence, one.meaning, heard)
    lone_number = is_number(one.meaning) and " " not in one.words
    if lone_number and agreement.are_enough_for_number(of):
        return True
    if evidence.noisy:  # there the probability of a short phrase is all that counts
        return False
    listed = evidence.grammar.is_listed(one.words)
    if not listed and _may_be_another(evidence, one.words, agreed=of.said):
        return False
    return agreement.are_enough(of)


def _ask_back_from(meaning: Meaning, backed: bool) -> float:
    """Return the probability from which ``meaning`` is asked back: more if only phones tell it."""
    need = WITH_EAR.ask_back_from(meaning)
    return need if backed or need < WITH_EAR.ask_back else UNBACKED_ASK_BACK


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
    if probability >= _need(ALONE, evidence, candidate):
        return Outcome.ACCEPT, (candidate,), "fits"
    if probability >= ALONE.ask_back_from(meaning):
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
    return probability_of(sum_)
