"""Where the phone network's output is speech, and where something that sounds like a syllable.

A dog barks in syllables: a bark has two or three sounds that are rather phones than none, and none
that is one phone for certain. A person who speaks has phones that are certain.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handsfree.hearing.phones.network import BLANK

__all__ = ["Stretch", "speech", "stretches"]

CERTAIN = 0.7
"""Probability from which a phone is certain. Of 168 barks of 15 recorded dogs, at other speeds and
levels, 1 had two of them; of 150 asides 95 in a hundred had two within 0.4 s, 98 within 0.6 s."""
ENOUGH = 2
"""Certain phones, from which on it is speech beyond doubt."""
APART_STEPS = 7
"""Steps of 20 ms without a phone, from which on two stretches are apart."""
_MOSTLY = np.log(0.5)


@dataclass(frozen=True, kw_only=True)
class Stretch:
    """Phones that follow each other closely.

    Attributes:
        first: The first step with one.
        last: One past the last.
        steps: How many steps have one.
        best: Probability of the likeliest phone in it.
        certain: Number of phones that are certain, one after the other.
    """

    first: int
    last: int
    steps: int
    best: float
    certain: int


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
    alone = log_probs[first:last].copy()
    alone[:, BLANK] = -np.inf
    phones, sizes = alone.argmax(axis=1), np.exp(alone.max(axis=1))
    is_certain = sizes >= CERTAIN
    begins = is_certain.copy()  # a phone may fill two steps
    begins[1:] &= ~(is_certain[:-1] & (phones[1:] == phones[:-1]))
    return Stretch(
        first=first,
        last=last,
        steps=len(places),
        best=float(sizes.max()),
        certain=int(begins.sum()),
    )


def speech(found: Sequence[Stretch]) -> Sequence[Stretch]:
    """Return what is left when stretches before and after speech that are none are left out.

    Where nothing is speech beyond doubt all is left: it may be whispered, or covered by noise.
    """
    sure = [place for place, stretch in enumerate(found) if stretch.certain >= ENOUGH]
    if not sure:
        return found
    return [s for place, s in enumerate(found) if sure[0] <= place <= sure[-1] or s.certain]
