"""Makes a head's scores mean probabilities, and says how well they do.

Every held-back example is put to a few sets of open phrases, as a check would; the temperature and
the weight of phrases that are not open are those that give the outcomes the best likelihood.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

__all__ = ["Calibration", "Trial", "calibrate", "draw_trials", "outcomes", "reliability"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Trial:
    """One example put to one set of open phrases.

    Attributes:
        row: The example.
        columns: Outputs of the open phrases.
        target: Place of the right phrase in `columns`, or -1 where none of them was said.
    """

    row: int
    columns: NDArray[np.int64]
    target: int


@dataclass(frozen=True, kw_only=True)
class Calibration:
    """What turns outputs into probabilities."""

    temperature: float
    closed_weight: float


def draw_trials(
    labels: NDArray[np.int64], sets: Sequence[NDArray[np.int64]], seed: int, each: int = 2
) -> list[Trial]:
    """Put each phrase to up to `each` sets that hold it and to one that does not; asides to any.

    A phrase said while it is not open is an answer to nothing, as an aside is.
    """
    rng = np.random.default_rng(seed)
    trials: list[Trial] = []
    for row, label in enumerate(labels.tolist()):
        holding = [s for s in sets if label and label in s]
        lacking = [s for s in sets if not label or label not in s]
        for group, count in ((holding, each), (lacking, 1 if label else each)):
            for number in rng.permutation(len(group))[:count]:
                columns = group[number]
                place = np.flatnonzero(columns == label)
                target = int(place[0]) if label and place.size else -1
                trials.append(Trial(row=row, columns=columns, target=target))
    return trials


def shares(outputs: Floats, columns: NDArray[np.int64], calibration: Calibration) -> Floats:
    """Shares of the open phrases, then of other, for one row of outputs."""
    scaled = outputs / calibration.temperature
    powers = np.exp(scaled - scaled.max())
    open_powers = powers[columns]
    closed = max(0.0, float(powers[1:].sum() - open_powers.sum()))
    other = powers[0] + calibration.closed_weight * closed
    return np.asarray(np.append(open_powers, other) / (open_powers.sum() + other), np.float64)


def outcomes(
    outputs: NDArray[np.float32], trials: Sequence[Trial], calibration: Calibration
) -> tuple[Floats, NDArray[np.bool_], NDArray[np.bool_], Floats]:
    """How each trial comes out, four arrays.

    The score of the best phrase, whether that is right, whether an open phrase was said at all, and
    the logarithm of the share that the truth got.
    """
    best = np.empty(len(trials))
    right = np.empty(len(trials), bool)
    said = np.empty(len(trials), bool)
    truth = np.empty(len(trials))
    for number, trial in enumerate(trials):
        share = shares(outputs[trial.row].astype(np.float64), trial.columns, calibration)
        place = int(share[:-1].argmax())
        best[number] = share[place]
        right[number] = place == trial.target
        said[number] = trial.target >= 0
        truth[number] = np.log(max(1e-9, share[trial.target]))
    return best, right, said, truth


def calibrate(outputs: NDArray[np.float32], trials: Sequence[Trial]) -> Calibration:
    """The temperature and weight with the best likelihood, found on a grid, then a finer one."""
    best = (-np.inf, Calibration(temperature=1.0, closed_weight=0.3))
    temperatures = np.geomspace(0.4, 4.0, 9)
    weights = np.array([0.01, 0.03, 0.1, 0.3, 1.0])
    for _ in range(2):
        for temperature in temperatures:
            for weight in weights:
                tried = Calibration(temperature=float(temperature), closed_weight=float(weight))
                score = float(outcomes(outputs, trials, tried)[3].mean())
                if score > best[0]:
                    best = (score, tried)
        temperatures = best[1].temperature * np.geomspace(0.85, 1.18, 5)
        weights = np.minimum(1.0, best[1].closed_weight * np.geomspace(0.5, 2, 5))
    return best[1]


def reliability(best: Floats, right: NDArray[np.bool_]) -> list[tuple[float, float, int, float]]:
    """Rows of (from, to, how many, share right) over the scores of the best phrase."""
    edges = [0.0, 0.1, 0.3, 0.5, 0.7, 0.8, 0.9, 0.95, 0.99, 1.0001]
    rows = []
    for low, high in pairwise(edges):
        inside = (best >= low) & (best < high)
        count = int(inside.sum())
        rows.append((low, min(1.0, high), count, float(right[inside].mean()) if count else 0.0))
    return rows
