"""The times of spoken words as a live check measures them: refined, or sought in the utterance.

What the recogniser timed is moved to the word's first audible energy; a word whose place nobody
knew, because another ear heard it, is sought on the sound. No engine is imported here.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from handsfree.hearing.verdict import WordTime
from handsfree.measuring.islands import search
from handsfree.measuring.onset import refine

__all__ = ["place"]


def place(
    samples: NDArray[np.int16], start: int, words: Sequence[WordTime]
) -> tuple[WordTime, ...]:
    """Return ``words`` with each start at the word's first audible energy.

    Args:
        samples: The utterance with a second of what came before it, mono 16-bit at 16 kHz.
        start: Position of its first sample on the stream's clock.
        words: In order. A doubtful one spans the stretch in which it is to be sought; it stays
            doubtful where nothing, or more than one thing, could have been it.
    """
    if not any(word.doubtful for word in words):
        return refine(samples, start, words)
    low, high = min(word.start for word in words), max(word.end for word in words)
    heard = refine(samples, start, [word for word in words if not word.doubtful])
    expected = [word.word for word in words]
    found = search(samples, start, heard, expected, within=(low, high))
    if [onset.word for onset in found] != expected:
        return tuple(words)
    return tuple(
        WordTime(word=o.word, start=o.start, end=o.end, doubtful=bool(o.doubt)) for o in found
    )
