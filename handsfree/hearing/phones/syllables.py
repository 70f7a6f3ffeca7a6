"""Where the phone network's output is speech, and where something that sounds like a syllable.

A dog barks in syllables: a bark has two or three sounds that are rather phones than none, and none
that is one phone for certain. A person who speaks has phones that are certain.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handsfree.hearing.evidence import SURELY
from handsfree.hearing.phones.network import BLANK

__all__ = ["Stretch", "clearly_speech", "stretches"]

RATHER = 2.0
"""Nats, below which a stretch before or after such speech is none. Of 774 stretches of seven
recorded dogs' barking 5 in a thousand had more and none 2.8; of 142 words said in quiet 99 in a
hundred, of 156 amid those barks 97."""
APART_STEPS = 7
"""Steps of 20 ms without a phone, from which on two stretches are apart."""
_MOSTLY = np.log(0.5)
_MOST_ODDS = np.log(99.0)
"""What one phone may tell at most."""


@dataclass(frozen=True, kw_only=True)
class Stretch:
    """Phones that follow each other closely.

    Attributes:
        first: The first step with one.
        last: One past the last.
        steps: How many steps have one.
        best: Probability of the likeliest phone in it.
        nats: The log odds of its phones, of those that are rather that phone than anything else.
    """

    first: int
    last: int
    steps: int
    best: float
    nats: float


def stretches(log_probs: NDArray[np.float32], inside: NDArray[np.bool_]) -> list[Stretch]:
    """Return where there are phones, in order.

    Args:
        log_probs: The network's output, shape (steps, outputs).
        inside: The steps that count, shape (steps,).
    """
    places = np.flatnonzero((log_probs[:, BLANK] < _MOSTLY) & inside)
    if not len(places):
        return []
    parts = np.split(places, np.flatnonzero(np.diff(places) > APART_STEPS) + 1)
    return [_stretch(log_probs, part) for part in parts]


def _stretch(log_probs: NDArray[np.float32], places: NDArray[np.intp]) -> Stretch:
    first, last = int(places[0]), int(places[-1]) + 1
    likeliest = log_probs[first:last].argmax(axis=1)
    sizes = np.exp(log_probs[first:last].max(axis=1).astype(np.float64))
    odds = np.log(sizes / np.maximum(1.0 - sizes, 1e-9)).clip(0.0, _MOST_ODDS)
    nats = 0.0
    # A phone may fill several steps; it counts once, by its best.
    for run in np.split(np.arange(last - first), np.flatnonzero(np.diff(likeliest)) + 1):
        if likeliest[run[0]] != BLANK:
            nats += float(odds[run].max())
    phones = np.delete(log_probs[first:last], BLANK, axis=1)
    best = float(np.exp(phones.max()))
    return Stretch(first=first, last=last, steps=len(places), best=best, nats=nats)


def clearly_speech(found: Sequence[Stretch]) -> list[Stretch]:
    """Return what is speech beyond doubt, with what lies between and what is rather speech."""
    sure = [place for place, stretch in enumerate(found) if stretch.nats >= SURELY]
    return [
        stretch
        for place, stretch in enumerate(found)
        if sure and (sure[0] <= place <= sure[-1] or stretch.nats >= RATHER)
    ]
