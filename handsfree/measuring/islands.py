"""Where in a stretch of sound words may stand, and the search for one that was missed.

A recogniser may miss a short word in noise. The stopwatch knows which word has to come next, so the
stretches of sound that stand out of the room are tried for it, by whatever ear is given. No engine
is imported here: the ear is a function.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from handsfree.hearing.verdict import WordTime
from handsfree.measuring.onset import Onset, onsets
from handsfree.measuring.spectrum import HOP, RATE, frames_of, smoothed

__all__ = ["Island", "Scorer", "islands", "search", "voicing"]

Scorer = Callable[[NDArray[np.int16], Sequence[str]], dict[str, float]]
"""An ear: (sound of one stretch with some room on both sides, words) to a share for each word."""

_RISE_DB = 3.0
"""Mean rise over the bands of voices that makes an island."""
_JOIN_S = 0.16
"""Islands nearer than this are one word."""
_SHORTEST_S = 0.12
_LONGEST_S = 1.4
_ROOM_S = 0.25
_RIVAL_SHARE = 0.5
"""Another sound of this share of the word's weight could have been it."""
_FAINT_SHARE = 0.1
_FAR_FAINTER = 0.25
_MOST_ISLANDS = 9
_EAR = 0.6
_HEARD = 0.4
"""What the ear's share and a word that was heard count for."""
_BELIEVED = 0.6
"""Share from which a word is taken for sure: recogniser and ear have to agree."""


@dataclass(frozen=True, kw_only=True)
class Island:
    """A stretch that stands out of the room.

    Attributes:
        start: Its first sample.
        end: One past its last.
        weight: Its area above the room's floor, dB s, times how far it sounds like a voice.
    """

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
            weight=float(rise[begin:end].sum())
            * HOP
            / RATE
            * voicing(samples[begin * HOP : end * HOP + _samples(0.04)]),
        )
        for begin, end in runs
        if _frames(_SHORTEST_S) <= end - begin <= _frames(_LONGEST_S)
    )


def voicing(samples: NDArray[np.int16]) -> float:
    """Return how periodic the most periodic tenth of a second is, 0 (noise) to 1 (a steady voice).

    The highest normalised autocorrelation at the periods of voices, 70 to 400 Hz, below 1 kHz.
    """
    slow = samples[: len(samples) // 8 * 8].astype(np.float64).reshape(-1, 8).mean(axis=1)
    size, longest = 80, 28
    found: list[float] = []
    for begin in range(0, len(slow) - size - longest, 20):
        cut = slow[begin : begin + size + longest]
        cut = cut - cut.mean()
        now = cut[:size]
        best = 0.0
        for lag in range(5, longest + 1):
            then = cut[lag : lag + size]
            power = math.sqrt(float(now @ now) * float(then @ then))
            best = max(best, float(now @ then) / power if power > 0.0 else 0.0)
        found.append(best)
    if len(found) < 3:
        return 0.05
    return max(0.05, float(np.mean(np.sort(found)[-max(3, min(10, len(found) // 2)) :])) ** 2)


def search(
    samples: NDArray[np.int16],
    start: int,
    heard: Sequence[WordTime],
    expected: Sequence[str],
    ear: Scorer | None = None,
    *,
    within: tuple[int, int] | None = None,
) -> tuple[Onset, ...]:
    """Return the expected words in order, each with its refined onset.

    The words are laid on the stretches that stand out, in order and all at once, by what the
    recogniser heard there, by what the ear takes each for, and by how far each stands out. A word
    that neither of the two is sure of, or that another sound as weighty could have been, is
    marked as doubtful. With fewer stretches than words the least likely words stay missing.

    Args:
        samples: The whole stretch, from before the first word, mono 16-bit at 16 kHz.
        start: Position of its first sample.
        heard: What the recogniser timed, on the same clock, in order of time.
        expected: The words that should come, in order.
        ear: Scores words over a stretch of sound; None if there is no such ear.
        within: Only stretches that touch these positions are tried; the rest tells the room.
    """
    spots = _spots(samples, start, heard)
    if within is not None:
        low, high = within
        spots = [s for s in spots if s.island.start < high and low < s.island.end]
    if not spots or not expected:
        return ()
    shares = [_shares(samples, start, spot, expected, ear) for spot in spots]
    pairs = _assign(spots, shares, expected)
    placed = {index: _found(samples, start, expected[index], spots[at]) for index, at in pairs}
    sure = {index: shares[at].get(expected[index], 0.0) >= _BELIEVED for index, at in pairs}
    candidates = [spot.island for spot in spots]
    return tuple(_rivalled(index, placed, candidates, sure=sure[index]) for index in sorted(placed))


@dataclass(frozen=True, kw_only=True)
class _Spot:
    """An island with the word that the recogniser heard there, if any."""

    island: Island
    heard: WordTime | None


def _spots(samples: NDArray[np.int16], start: int, heard: Sequence[WordTime]) -> list[_Spot]:
    """Return the weightiest islands, in order, and a place for each word heard outside them."""
    refined = [
        (word, onset) for word, onset in zip(heard, onsets(samples, start, heard), strict=True)
    ]
    found = sorted(islands(samples, start), key=lambda island: island.weight)[-_MOST_ISLANDS:]
    spots: list[_Spot] = []
    for island in found:
        over = [w for w, o in refined if o.start < island.end and island.start < o.end]
        spots.append(_Spot(island=island, heard=over[0] if over else None))
    least = min((island.weight for island in found), default=1.0)
    for word, onset in refined:
        if not any(onset.start < i.end and i.start < onset.end for i in found):
            island = Island(start=onset.start, end=max(onset.end, onset.start + 1), weight=least)
            spots.append(_Spot(island=island, heard=word))
    return sorted(spots, key=lambda spot: spot.island.start)


def _shares(
    samples: NDArray[np.int16],
    start: int,
    spot: _Spot,
    expected: Sequence[str],
    ear: Scorer | None,
) -> dict[str, float]:
    """Return what the recogniser and the ear together take a spot for."""
    shares: dict[str, float] = {}
    if ear is not None:
        low = max(0, spot.island.start - start - _samples(_ROOM_S))
        cut = samples[low : spot.island.end - start + _samples(_ROOM_S)]
        shares = {word: share * _EAR for word, share in ear(cut, expected).items()}
    if spot.heard is not None:
        shares[spot.heard.word] = shares.get(spot.heard.word, 0.0) + _HEARD
    return shares


def _assign(
    spots: Sequence[_Spot], shares: Sequence[dict[str, float]], expected: Sequence[str]
) -> list[tuple[int, int]]:
    """Return pairs of a word's and a spot's index, both rising, that fit best together."""
    heaviest = max(spot.island.weight for spot in spots)

    def worth(word: int, spot: int) -> float:
        share = shares[spot].get(expected[word], 0.0)
        return math.log(0.05 + share) + math.log(spots[spot].island.weight / heaviest)

    count = min(len(expected), len(spots))
    chosen = max(
        (
            (which, on)
            for which in itertools.combinations(range(len(expected)), count)
            for on in itertools.combinations(range(len(spots)), count)
        ),
        key=lambda pair: sum(worth(w, s) for w, s in zip(*pair, strict=True)),
    )
    return list(zip(*chosen, strict=True))


def _found(samples: NDArray[np.int16], start: int, word: str, spot: _Spot) -> Onset:
    if spot.heard is not None and spot.heard.word == word:
        guess = spot.heard
    else:
        island = spot.island
        guess = WordTime(word=word, start=island.start, end=max(island.end, island.start))
    return onsets(samples, start, [guess])[0]


def _rivalled(
    index: int, placed: dict[int, Onset], candidates: Sequence[Island], *, sure: bool
) -> Onset:
    """Mark a word as doubtful where another sound could have been it.

    A sound as weighty could, or a much fainter one where neither ear was sure of the word.
    """
    onset = placed[index]
    if onset.doubt:
        return onset
    share = _RIVAL_SHARE if sure else _FAINT_SHARE
    before = max((o.end for i, o in placed.items() if i < index), default=-(2**62))
    after = min((o.start for i, o in placed.items() if i > index), default=2**62)
    own = max(
        (i.weight for i in candidates if i.start < onset.end and onset.start < i.end), default=0.0
    )
    if not sure and own < _FAR_FAINTER * max(i.weight for i in candidates):
        return replace(onset, doubt="far fainter than the other words")
    taken = [(o.start, o.end) for o in placed.values()]
    rivals = [
        island
        for island in candidates
        if island.start >= before
        and island.end <= after
        and island.weight >= share * own
        and not any(a < island.end and island.start < b for a, b in taken)
    ]
    return replace(onset, doubt="another sound could have been the word") if rivals else onset


def _samples(seconds: float) -> int:
    return round(seconds * RATE)


def _frames(seconds: float) -> int:
    return max(1, round(seconds * RATE / HOP))
