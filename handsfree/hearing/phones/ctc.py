"""How likely the network finds a whole sequence of phones: the forward sum of CTC.

Graves, Fernández, Gomez and Schmidhuber, "Connectionist temporal classification" (2006), section
4.1, for many sequences at once.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from handsfree.hearing.phones.network import BLANK

__all__ = ["IMPOSSIBLE", "free_score", "sequence_scores"]

IMPOSSIBLE = -700.0
"""Log probability of what cannot be: of a sequence with more phones than there are frames."""


def free_score(log_probs: NDArray[np.float32]) -> float:
    """Return the log probability of the likeliest path, whatever it spells."""
    return float(log_probs.max(axis=1).sum(dtype=np.float64)) if len(log_probs) else 0.0


def sequence_scores(
    log_probs: NDArray[np.float32], sequences: Sequence[Sequence[int]]
) -> NDArray[np.float64]:
    """Return the log probability of each sequence, shape (len(sequences),).

    Args:
        log_probs: The network's, shape (n, outputs).
        sequences: Output numbers of phones; each has at least one.
    """
    if not sequences or not len(log_probs):
        return np.full(len(sequences), IMPOSSIBLE)
    lengths = np.array([len(sequence) for sequence in sequences])
    labels = np.full((len(sequences), 2 * int(lengths.max()) + 1), BLANK)
    for row, sequence in enumerate(sequences):
        labels[row, 1 : 2 * len(sequence) : 2] = sequence
    # A blank between two phones may be skipped unless they are the same phone.
    skips = np.zeros(labels.shape)
    skips[:, 3::2] = labels[:, 3::2] != labels[:, 1:-2:2]
    probs = np.exp(log_probs.astype(np.float64))
    alpha = np.zeros(labels.shape)
    alpha[:, 0] = probs[0, BLANK]
    alpha[:, 1] = probs[0, labels[:, 1]]
    total = np.zeros(len(sequences))
    for frame in probs[1:]:
        # Each row is brought to a greatest value of one, and its scale kept as a logarithm.
        largest = np.maximum(alpha.max(axis=1), 1e-280)
        total += np.log(largest)
        alpha /= largest[:, None]
        moved = alpha.copy()
        moved[:, 1:] += alpha[:, :-1]
        moved[:, 2:] += alpha[:, :-2] * skips[:, 2:]
        alpha = moved * frame[labels]
    rows = np.arange(len(sequences))
    ends = alpha[rows, 2 * lengths] + alpha[rows, 2 * lengths - 1]
    found: NDArray[np.float64] = np.maximum(total + np.log(np.maximum(ends, 1e-300)), IMPOSSIBLE)
    return found
