"""Where in a stretch of sound words may stand, and the search for one that was missed.

A recogniser may miss a short word in noise. The stopwatch knows which word has to come next, so the
stretches of sound that stand out of the room are tried for it, by whatever ear is given. No engine
is imported here: the ear is a function.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handsfree.hearing.verdict import WordTime
from handsfree.measuring.onset import Onset, onsets
from handsfree.measuring.spectrum import HOP, RATE, frames_of, smoothed

__all__ = ["Island", "Scorer", "islands", "search"]

Scorer = Callable[[NDArray[np.int16], Sequence[str]], dict[str, float]]
"""An ear: (sound of one stretch with some room on both sides, words) to a share for each word."""

_RISE_DB = 3.0
"""Mean rise over the bands of voices that makes an island."""
_JOIN_S = 0.16
"""Islands nearer than this are one word."""
_SHORTEST_S = 0.12
_LONGEST_S = 1.4
_ROOM_S = 0.25
_BELIEVED = 0.5
"""Share from which an ear's word is believed; below it the word is marked as doubtful."""


@dataclass(frozen=True, kw_only=True)
class Island:
    """A stretch that stands out of the room: its samples, and the area above the room's floor."""

    start: int
    end: int
    weight: float


def islands(samples: NDArray[np.int16], start: int = 0) -> tuple[Island, ...]:
    """Return the stretches of sound that may be words, in order.

    Args:
        samples: Mono 16-bit sound at 16 kHz; a second or more, mostly without words.
        start: Position of its first sample.
    """
    frames = frames_of(samples, start)
    if len(frames) == 0:
        return ()
    voice = frames.bands[:, 1:8]
    slow = smoothed(voice, _frames(0.03))
    floor = np.quantile(slow, 0.3, axis=0)
    rise = smoothed(np.clip(slow - floor - 2.0, 0.0, 25.0).mean(axis=1), _frames(0.04))
    out = rise > _RISE_DB
    edges = np.flatnonzero(np.diff(np.concatenate([[0], out.astype(np.int8), [0]])))
    runs: list[list[int]] = []
    for begin, end in zip(edges[::2], edges[1::2], strict=True):
        if runs and begin - runs[-1][1] < _frames(_JOIN_S):
            runs[-1][1] = int(end)
        else:
            runs.append([int(begin), int(end)])
    return tuple(
        Island(
            start=frames.position(begin),
            end=frames.position(end),
            weight=float(rise[begin:end].sum()) * HOP / RATE,
        )
        for begin, end in runs
        if _frames(_SHORTEST_S) <= end - begin <= _frames(_LONGEST_S)
    )


def search(
    samples: NDArray[np.int16],
    start: int,
    heard: Sequence[WordTime],
    expected: Sequence[str],
    ear: Scorer | None = None,
) -> tuple[Onset, ...]:
    """Return the expected words in order: those heard, refined, and those found where missing.

    A missing word is sought between its neighbours that were heard. With an ear the island that it
    takes for the word is chosen; without one, or where the ear is unsure, the island that stands
    out most, and the word is marked as doubtful. A word without an island stays missing.

    Args:
        samples: The whole stretch, from before the first word, mono 16-bit at 16 kHz.
        start: Position of its first sample.
        heard: What the recogniser timed, on the same clock, in order of time.
        expected: The words that should come, in order.
        ear: Scores words over a stretch of sound; None if there is no such ear.
    """
    refined = list(onsets(samples, start, heard))
    placed: dict[int, Onset] = {}
    used = 0
    for index, word in enumerate(expected):
        for at in range(used, len(refined)):
            if refined[at].word == word:
                placed[index] = refined[at]
                used = at + 1
                break
    candidates = islands(samples, start)
    for index, word in enumerate(expected):
        if index in placed:
            continue
        before = max((o.end for i, o in placed.items() if i < index), default=start)
        after = min((o.start for i, o in placed.items() if i > index), default=start + len(samples))
        taken = [(o.start, o.end) for o in refined]
        free = [
            island
            for island in candidates
            if island.start >= before - _samples(0.05)
            and island.end <= after + _samples(0.05)
            and not any(a < island.end and island.start < b for a, b in taken)
        ]
        found = _best(samples, start, free, word, expected, ear)
        if found is not None:
            placed[index] = found
    return tuple(placed[index] for index in sorted(placed))


def _best(
    samples: NDArray[np.int16],
    start: int,
    free: Sequence[Island],
    word: str,
    expected: Sequence[str],
    ear: Scorer | None,
) -> Onset | None:
    if not free:
        return None
    shares: list[float] = []
    for island in free:
        low = max(0, island.start - start - _samples(_ROOM_S))
        cut = samples[low : island.end - start + _samples(_ROOM_S)]
        shares.append(ear(cut, expected).get(word, 0.0) if ear is not None else 0.0)
    best = max(range(len(free)), key=lambda i: (round(shares[i], 2), free[i].weight))
    chosen = free[best]
    guess = WordTime(word=word, start=chosen.start, end=max(chosen.end, chosen.start))
    onset = onsets(samples, start, [guess])[0]
    sure = shares[best] >= _BELIEVED
    if sure or onset.doubt:
        return onset
    return Onset(
        word=onset.word,
        start=onset.start,
        end=onset.end,
        raw=onset.raw,
        snr_db=onset.snr_db,
        doubt="found by its place in the order alone",
    )


def _samples(seconds: float) -> int:
    return round(seconds * RATE)


def _frames(seconds: float) -> int:
    return max(1, round(seconds * RATE / HOP))
