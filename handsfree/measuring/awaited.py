"""Whether a doubtful sound was the very word that the stopwatch waits for.

Hearing weighs every sound as if talk to the dog were as likely as a word to us. While the stopwatch
runs, one certain word is awaited and hardly anything else is said, so less is needed for it.
"""

from __future__ import annotations

from handsfree.hearing.verdict import MeaningKind, Outcome, Verdict

__all__ = ["AWAITED", "RIVAL", "USUAL_S", "is_awaited"]

AWAITED = 0.25
"""Probability from which the awaited word is taken: odds that are even become nine to one where
nine sounds in ten are that word, and then 0.25 is 0.75, more than an answer needs elsewhere."""
RIVAL = 0.15
"""Another reading as likely as this leaves the doubt."""
USUAL_S = {"press": 0.75, "release": 0.85, "pink": 0.65}
"""What is longer is likely more than the one word ..."""
_PER_S = 2.0
"""... and needs so much more probability for each second: "I think so" ends much like "pink"."""
_REASONS = frozenset({"doubt"})
"""Unsure for want of probability alone; what was clipped, early or faint stays in doubt."""


def is_awaited(verdict: Verdict, word: str, *, rate: int = 16_000) -> bool:
    """Return whether ``verdict`` is good enough to be the awaited ``word``.

    Args:
        verdict: Of hearing, on a sound while nothing but ``word`` was awaited.
        word: A word of the stopwatch.
        rate: Samples a second of its clock.
    """
    best = verdict.best
    if best is None or best.meaning.kind is not MeaningKind.ANSWER or best.meaning.value != word:
        return False
    if verdict.outcome is Outcome.ACCEPT:
        return True
    longer_s = (verdict.end - verdict.start) / rate - USUAL_S.get(word, 0.0)
    rivals = (c.probability for c in verdict.candidates[1:])
    return (
        verdict.reason in _REASONS
        and best.probability >= AWAITED + _PER_S * max(0.0, longer_s)
        and max(rivals, default=0.0) < RIVAL
    )
