"""Words of a stopwatch that ran together: judged one by one, as if each had come alone.

The second ear learnt its phrases said in one breath, or alone. Two words with a short pause between
are neither, so each is judged on its own stretch and the less likely one decides.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from handsfree.hearing import trust
from handsfree.hearing.evidence import EarScores, Evidence, Reading
from handsfree.hearing.grammar import Phrase
from handsfree.hearing.meant import phrases_of
from handsfree.hearing.recogniser import Hypothesis
from handsfree.hearing.verdict import Candidate, Meaning, MeaningKind, Outcome, Verdict

__all__ = ["Opinions", "judge_parts"]

Opinions = tuple[EarScores | None, Reading | None]
"""What the second ear and the phone network say of one stretch."""

_RANK = {Outcome.IGNORE: 0, Outcome.ASK_BACK: 1, Outcome.ACCEPT: 2}


def judge_parts(
    evidence: Evidence, whole: Verdict, hear: Callable[[int, int, Phrase], Opinions]
) -> Verdict:
    """Return the verdict on an utterance of several timed words, or ``whole`` where that is better.

    Args:
        evidence: The utterance, in a timed listening.
        whole: The verdict on it as one.
        hear: Asks the ear and the phone network about a stretch in which words may lie.
    """
    parts = phrases_of(evidence)
    if whole.outcome is Outcome.ACCEPT or len(parts) < 2 or evidence.ear is None:
        return whole
    verdicts: list[Verdict] = []
    for number, (token, times) in enumerate(parts):
        start = evidence.start if number == 0 else times[0].start
        end = evidence.end if number == len(parts) - 1 else times[-1].end
        start, end = max(start, evidence.start), min(end, evidence.end)
        if end <= start:
            return whole
        words = tuple(time.word for time in times)
        ear, reading = hear(start, end, words)
        part = replace(
            evidence,
            start=start,
            end=end,
            speech=tuple(at for at in evidence.speech if start <= at < end),
            hypothesis=Hypothesis(words=words, times=times),
            ear=ear,
            reading=reading,
        )
        verdict = trust.judge(part)
        if verdict.best is None or verdict.best.meaning.value != token:
            return whole
        verdicts.append(verdict)
    outcome = min((v.outcome for v in verdicts), key=_RANK.__getitem__)
    if _RANK[outcome] <= _RANK[whole.outcome]:
        return whole
    said = " ".join(token for token, _ in parts)
    candidate = Candidate(
        meaning=Meaning(kind=MeaningKind.ANSWER, value=said),
        words=" ".join(evidence.hypothesis.words),
        probability=min(v.best.probability for v in verdicts if v.best),
    )
    return Verdict(
        outcome=outcome,
        candidates=(candidate,),
        start=evidence.start,
        end=evidence.end,
        words=tuple(word for v in verdicts for word in v.words),
        reason="parts",
    )
