"""Trees of two questions: what they add up to, and that what is written is what was grown."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from benchmarks.trust import as_trees, grown, written
from handsfree.hearing.trees import Trees, read_trees

TOLD: dict[str, Any] = {
    "figures": ["share", "length"],
    "asked": [[0, 1, 1], [1, 0, 0]],
    "bounds": [[0.5, 1.0, 2.0], [3.0, 0.0, 0.0]],
    "values": [[-1.0, -2.0, 3.0, 4.0], [0.25, 0.25, 0.5, 0.5]],
    "bias": 0.1,
}


@pytest.mark.parametrize(
    ("figures", "log_odds"),
    [
        ((0.2, 0.9), 0.1 - 1.0 + 0.25),
        ((0.5, 1.0), 0.1 - 1.0 + 0.25),  # on a bound is within it
        ((0.2, 1.5), 0.1 - 2.0 + 0.25),
        ((0.9, 1.5), 0.1 + 3.0 + 0.25),
        ((0.9, 5.0), 0.1 + 4.0 + 0.5),
    ],
)
def test_each_tree_adds_the_value_of_one_leaf(figures: tuple[float, ...], log_odds: float) -> None:
    """Worked by hand: bias, and of each tree the leaf that two answers lead to."""
    assert read_trees(TOLD).probability(figures) == pytest.approx(1 / (1 + np.exp(-log_odds)))


def test_what_is_written_is_what_scikit_learn_grew() -> None:
    """Against the reference library: its own probabilities, of figures that it has not seen."""
    from sklearn.ensemble import GradientBoostingClassifier

    rng = np.random.default_rng(4)
    rows = np.column_stack([rng.normal(size=(500, 3)), rng.integers(0, 2, 500)])
    right = rows[:, 0] * rows[:, 3] + 0.3 * rng.normal(size=500) > 0.2
    theirs = GradientBoostingClassifier(
        max_depth=2,
        n_estimators=40,
        learning_rate=0.03,
        subsample=0.5,
        min_samples_leaf=15,
        random_state=1,
    ).fit(rows, right)
    trees = read_trees({**written(as_trees(theirs)), "figures": list("abcd")})
    unseen = np.column_stack([rng.normal(size=(50, 3)), rng.integers(0, 2, 50)])
    ours = [trees.probability(tuple(row)) for row in unseen]
    # Bounds and values are written with five digits.
    assert ours == pytest.approx(theirs.predict_proba(unseen)[:, 1], abs=2e-3)
    assert len(set(ours)) > 5


def test_a_tree_that_asks_once_is_a_tree_of_two_questions() -> None:
    """Too few rows for a second question: both of its leaves have the value of the first's."""
    rows = np.array([[0.0]] * 40 + [[1.0]] * 40)
    trees = grown(rows, np.array([False] * 40 + [True] * 40), trees=5)
    assert np.allclose(trees.values[:, 0], trees.values[:, 1])
    whole = Trees(**{**vars(trees), "figures": ("a",)})
    assert whole.probability((1.0,)) > 0.5 > whole.probability((0.0,))


@pytest.mark.parametrize(
    ("broken", "told"),
    [
        ({"asked": [[0, 1, 1]]}, "shapes"),
        ({"values": [[1.0, 2.0], [1.0, 2.0]]}, "shapes"),
        ({"asked": [[0, 1, 2], [1, 0, 0]]}, "not there"),
        ({"bias": "much"}, "float"),
    ],
)
def test_trees_that_do_not_fit_together_are_refused(broken: dict[str, Any], told: str) -> None:
    """A file that was cut, or a figure that is not there."""
    with pytest.raises(ValueError, match=told):
        read_trees({**TOLD, **broken})
