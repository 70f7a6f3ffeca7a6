"""A probability from many small trees of questions, each of which corrects those before it.

Friedman, "Greedy function approximation: a gradient boosting machine" (2001), with trees of two
levels: each asks about one figure, then about one more, so that two figures together may say what
neither says alone. They are grown by scikit-learn (``python -m benchmarks.trust``); here they are
only asked.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handsfree.hearing.odds import probability_of

__all__ = ["Trees", "read_trees"]


@dataclass(frozen=True, kw_only=True)
class Trees:
    """Trees of two levels.

    Attributes:
        figures: Names of what is asked about, in order.
        asked: Which figure each tree asks about first, then where that one is at most its bound,
            and where it is above; shape (trees, 3).
        bounds: The bound of each question, shape (trees, 3).
        values: Log odds that are added: within both bounds, above the second, within the second
            above the first, above both; shape (trees, 4).
        bias: Log odds before any.
    """

    figures: tuple[str, ...]
    asked: NDArray[np.intp]
    bounds: NDArray[np.float64]
    values: NDArray[np.float64]
    bias: float

    def probability(self, figures: Sequence[float]) -> float:
        """Return the probability for these figures."""
        # scikit-learn compares in single precision: a figure on a bound falls where it fell there.
        above = np.asarray(figures, np.float32)[self.asked] > self.bounds
        second = np.where(above[:, 0], above[:, 2], above[:, 1])
        leaf = 2 * above[:, 0].astype(np.intp) + second
        total = self.bias + float(self.values[np.arange(len(leaf)), leaf].sum())
        return probability_of(total)


def read_trees(told: Mapping[str, Any]) -> Trees:
    """Return the trees of one entry of ``joint.json``.

    Raises:
        ValueError: Their shapes do not fit together, or a figure is asked about that is not there.
        KeyError: Something is missing.
        TypeError: Something is no number.
    """
    figures = tuple(map(str, told["figures"]))
    asked = np.array(told["asked"], np.intp)
    bounds, values = np.array(told["bounds"], np.float64), np.array(told["values"], np.float64)
    count = len(asked)
    if (asked.shape, bounds.shape, values.shape) != ((count, 3), (count, 3), (count, 4)):
        raise ValueError("trees whose parts are of other shapes")
    if count and not (asked.min() >= 0 and asked.max() < len(figures)):
        raise ValueError("a tree asks about a figure that is not there")
    return Trees(
        figures=figures, asked=asked, bounds=bounds, values=values, bias=float(told["bias"])
    )
