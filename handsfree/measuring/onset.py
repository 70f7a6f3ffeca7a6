"""Where a word truly begins: its first audible energy on the sample clock.

A recogniser's boundary says which word and roughly where; the signal says when. Each word is sought
in its own window, on the room's own floor, and an onset that may be far off is marked. No engine is
imported here.

How it works. (1) The floor of each band comes from the frames around the word. (2) The word's
nucleus, its loudest tenth of a second, is found inside the window. (3) From there we walk back
while the sound stands out of the floor, over gaps no longer than a closure inside a word. (4) The
first such frame whose level is within 35 dB of the word's peak is the onset: for "pink" that is
its burst. (5) Where the room hides the word's first faint part, its usual length is taken off.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handsfree.hearing.verdict import WordTime
from handsfree.measuring.spectrum import HOP, RATE, Floor, Frames, floor_of, frames_of, smoothed

__all__ = ["AUDIBLE_DB", "Onset", "onsets", "refine"]

AUDIBLE_DB = 35.0
"""A word begins where its level first comes within this many dB of its peak."""

_BEFORE_S = 0.20
"""How much before the recogniser's start a word may begin."""
_AFTER_S = 0.10
"""How much after the recogniser's end its nucleus may lie."""
_CONTEXT_S = 1.5
"""Sound before the window that tells the room's floor."""
_GAP_S = 0.03
"""The longest silence inside a word's beginning ..."""
_GAP_STOP_S = 0.06
"""... and after a burst, whose breath a noisy room may hide."""
_CLOSURE_S = 0.12
"""The longest silence further on in a word."""
_HOLD_S = 0.010
"""What stands out for less than this is no part of a word."""
_RESTING = 0.97
"""Share of the room's own frames that must not stand out."""
_STOPS = "pbtdkg"
"""First letters of words that begin with a closure and a burst."""
_HIDDEN_STOP_MS_PER_DB = 2.5
_HIDDEN_MS_PER_DB = 1.0
"""How much of a word's beginning is lost for each dB that the room leaves too little, by the
development voices in four noises at 10 and 5 dB."""
_FULL_MARGIN_DB = 28.0
"""With this much between the word's peak and the room's median nothing is hidden."""
_MOST_LACKING_DB = 15.0
_LEAST_MARGIN_DB = 9.0
_SHORTEST_S = 0.10
_LONGEST_RISE_S = 0.32
_NEAR_S = 0.35
_NEAR_DB = 18.0
_RIVAL_DB = 8.0
_LEAST_SNR_DB = 5.0
_SUDDEN_S = 0.02
_SUDDEN_WITHIN_S = 0.14
_SUDDEN_DB = 2.0
_SUDDEN_BANDS = slice(3, 10)
"""A bark is at full strength at once, also above 900 Hz; a word's first sound is not both."""
_DETECTORS = (
    (slice(0, 3), 0.006, 5.0),
    (slice(3, 7), 0.006, 5.0),
    (slice(6, 11), 0.006, 5.0),
    (slice(0, 3), 0.030, 4.5),
    (slice(3, 7), 0.030, 4.5),
    (slice(6, 11), 0.030, 4.5),
)
"""Bands, seconds of averaging, and the robust standard deviations that count as standing out."""


@dataclass(frozen=True, kw_only=True)
class Onset:
    """One word with its refined onset and how far it can be trusted.

    Attributes:
        word: As recognised.
        start: Refined first audible sample.
        end: One past the word's last audible sample, at least ``start``.
        raw: Where the recogniser put the start.
        snr_db: The word's peak above what the room reaches.
        doubt: Why the onset is in doubt; empty where it is not.
    """

    word: str
    start: int
    end: int
    raw: int
    snr_db: float
    doubt: str = ""


def refine(
    samples: NDArray[np.int16], start: int, words: Sequence[WordTime]
) -> tuple[WordTime, ...]:
    """Return ``words`` with each start moved to the word's first audible energy.

    Args:
        samples: The utterance with what came before it (half a second or more serves best), mono
            16-bit at 16 kHz, shape (n,).
        start: Position of its first sample on the stream's clock.
        words: As the recogniser timed them, on the same clock, in order.
    """
    return tuple(
        WordTime(word=o.word, start=o.start, end=o.end, doubtful=bool(o.doubt))
        for o in onsets(samples, start, words)
    )


def onsets(samples: NDArray[np.int16], start: int, words: Sequence[WordTime]) -> tuple[Onset, ...]:
    """Return the refined onset of each word, with reasons for doubt."""
    frames = frames_of(samples, start)
    found: list[Onset] = []
    for index, word in enumerate(words):
        earliest = found[-1].end if found else start
        latest = words[index + 1].start if index + 1 < len(words) else start + len(samples)
        found.append(_onset(frames, word, words, earliest, max(latest, word.start + 1)))
    return tuple(found)


def _onset(
    frames: Frames, word: WordTime, words: Sequence[WordTime], earliest: int, latest: int
) -> Onset:
    low = frames.frame(max(earliest, word.start - _samples(_BEFORE_S)))
    high = frames.frame(min(latest, word.end + _samples(_AFTER_S))) + 1
    if len(frames) == 0 or high - low < 2:
        return Onset(
            word=word.word, start=word.start, end=word.end, raw=word.start, snr_db=0.0,
            doubt="too short",
        )  # fmt: skip
    quiet = _quiet(frames, words, low, high)
    floor = floor_of(frames, quiet)
    loud = smoothed(_above(frames, floor), _frames(0.08))
    nucleus = low + int(np.argmax(loud[low:high]))
    peak = float(frames.level[max(low, nucleus - _frames(0.1)) : nucleus + _frames(0.1)].max())
    out = _stands_out(frames, floor, peak, quiet)
    gap_s = _GAP_STOP_S if word.word[:1] in _STOPS else _GAP_S
    first = _walk_back(out, nucleus, low, _frames(gap_s))
    last = _walk_on(out, nucleus, high)
    margin_db = peak - floor.level
    begin = frames.position(first) - _hidden(word.word, margin_db)
    begin = max(begin, earliest)
    end = max(frames.position(last), begin)
    snr_db = peak - floor.high
    doubt = _doubt(frames, out, (low, high), (first, nucleus, last), (margin_db, snr_db))
    return Onset(word=word.word, start=begin, end=end, raw=word.start, snr_db=snr_db, doubt=doubt)


def _quiet(frames: Frames, words: Sequence[WordTime], low: int, high: int) -> NDArray[np.bool_]:
    """Mark the frames that tell the room: near the window, outside every word, not loud."""
    quiet = np.zeros(len(frames), dtype=np.bool_)
    quiet[max(0, low - _frames(_CONTEXT_S)) : high + _frames(_CONTEXT_S / 3)] = True
    for word in words:
        begin = frames.frame(word.start - _samples(0.05))
        quiet[begin : frames.frame(word.end + _samples(0.1)) + 1] = False
    if int(quiet.sum()) < _frames(0.15):
        quiet[:] = False
        quiet[low:high] = True
        ceiling = np.quantile(frames.level[low:high], 0.3)
        return quiet & (frames.level <= ceiling)
    level = smoothed(frames.level, _frames(0.03))
    return quiet & (level <= np.quantile(level[quiet], 0.3) + 9.0)


def _above(frames: Frames, floor: Floor) -> NDArray[np.float64]:
    """Return how far each frame stands above the floor in the bands of voices, dB."""
    voice = slice(1, 8)
    excess = np.maximum(frames.bands[:, voice] - floor.bands[voice] - floor.spread[voice], 0.0)
    mean: NDArray[np.float64] = excess.mean(axis=1)
    return mean


def _stands_out(
    frames: Frames, floor: Floor, peak: float, quiet: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Mark the frames that stand out of the floor and are audible beside the word's peak."""
    z = (frames.bands - floor.bands) / floor.spread
    out = np.zeros(len(frames), dtype=np.bool_)
    for bands, width_s, threshold in _DETECTORS:
        score = smoothed(z[:, bands].mean(axis=1), _frames(width_s))
        resting = score[quiet] if bool(quiet.any()) else score
        middle = float(np.median(resting))
        spread = 1.4826 * float(np.median(np.abs(resting - middle)))
        least = float(np.quantile(resting, _RESTING))
        out |= score > max(middle + threshold * max(spread, 0.1), least)
    power = 10.0 ** (frames.level / 10.0) - 10.0 ** (floor.level / 10.0)
    audible = power >= 10.0 ** ((peak - AUDIBLE_DB) / 10.0)
    out &= audible | (floor.level > peak - AUDIBLE_DB)
    runs: NDArray[np.bool_] = smoothed(out.astype(np.float64), _frames(_HOLD_S)) > 0.5
    return out & runs


def _walk_back(out: NDArray[np.bool_], nucleus: int, low: int, gap: int) -> int:
    first = nucleus
    for frame in range(nucleus, low - 1, -1):
        if out[frame]:
            first = frame
        elif first - frame > gap:
            break
    return first


def _walk_on(out: NDArray[np.bool_], nucleus: int, high: int) -> int:
    last = nucleus
    for frame in range(nucleus, high):
        if out[frame]:
            last = frame
        elif frame - last > _frames(_CLOSURE_S):
            break
    return last


def _hidden(word: str, margin_db: float) -> int:
    """Return the samples by which a word's faint beginning is likely hidden by the room."""
    slope_ms = _HIDDEN_STOP_MS_PER_DB if word[:1] in _STOPS else _HIDDEN_MS_PER_DB
    lacking_db = min(max(_FULL_MARGIN_DB - margin_db, 0.0), _MOST_LACKING_DB)
    return _samples(slope_ms * lacking_db / 1000.0)


def _doubt(
    frames: Frames,
    out: NDArray[np.bool_],
    window: tuple[int, int],
    span: tuple[int, int, int],
    above: tuple[float, float],
) -> str:
    """Return why an onset may be far off.

    Args:
        frames: The sound.
        out: Which frames stand out.
        window: First frame of the word's window and one past its last.
        span: The word's first frame, nucleus and last frame.
        above: The word's peak above the room's median and above what the room reaches, dB.
    """
    low, high = window
    first, nucleus, last = span
    margin_db, snr_db = above
    peak = float(frames.level[first : last + 1].max())
    if margin_db < _LEAST_MARGIN_DB or snr_db < _LEAST_SNR_DB:
        return "the room is as loud as the word"
    if last - first < _frames(_SHORTEST_S):
        return "too short for a word"
    high_bands = frames.bands[:, _SUDDEN_BANDS].mean(axis=1)
    if _is_sudden(frames.level, first) and _is_sudden(high_bands, first):
        return "it begins at full strength, as a bark does"
    if nucleus - first > _frames(_LONGEST_RISE_S):
        return "another sound runs into the word"
    before = slice(max(0, first - _frames(_NEAR_S)), max(0, first - _frames(0.02)))
    near = out[before] & (frames.level[before] > peak - _NEAR_DB)
    if int(near.sum()) >= _frames(0.02):
        return "another sound stands close before the word"
    rival = out[low:high] & (frames.level[low:high] > peak - _RIVAL_DB)
    rival[max(0, first - low - _frames(0.02)) : last - low + _frames(0.15)] = False
    if int(rival.sum()) >= _frames(0.04):
        return "another sound as loud stands in the word's window"
    if first <= low + 1 and low > 0:
        return "the word reaches back past its window"
    return ""


def _is_sudden(level: NDArray[np.float64], first: int) -> bool:
    """Whether a level hardly rises any more after its first moment."""
    at_once = float(level[first : first + _frames(_SUDDEN_S) + 1].max())
    soon = float(level[first : first + _frames(_SUDDEN_WITHIN_S) + 1].max())
    return soon - at_once < _SUDDEN_DB


def _samples(seconds: float) -> int:
    return round(seconds * RATE)


def _frames(seconds: float) -> int:
    return max(1, round(seconds * RATE / HOP))
