"""Numbers of several words, drawn by lot from the grammars whose phrases are too many to list.

Each walks a grammar's word graph from word to word. What the numbers mean is of no concern here.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np

from handsfree.errors import CallerError
from handsfree.hearing import grammar
from handsfree.hearing.automaton import WordGraph

__all__ = ["ODDS", "draw"]

ODDS: Mapping[str, float] = {
    "weight": 5,
    "temperature": 5,
    "number": 3,
    "integer": 3,
    "length": 1,
    "volume": 1,
}
"""How often each grammar is drawn from; most often where a number misheard costs most."""

FEWEST_WORDS, MOST_WORDS = 2, 8
"""Single words are among the listed phrases; no number that is said has more than eight."""
_STOP = 0.35
"""How likely a number ends where it may end: of the same order as going on."""
_TRIES = 50
"""Walks for each number wanted: many are too short, too long or drawn before."""


def _walk(graph: WordGraph, rng: np.random.Generator) -> tuple[str, ...]:
    said: list[str] = []
    state = 0
    while graph.steps[state]:
        if state in graph.ends and rng.random() < _STOP:
            break
        steps = graph.steps[state]
        said.append(list(steps)[int(rng.integers(len(steps)))])
        state = steps[said[-1]]
    return tuple(said)


def draw(
    count: int, seed: int, *, folder: Path | None = None, odds: Mapping[str, float] = ODDS
) -> list[str]:
    """Return `count` different numbers of two to eight words, in the order drawn.

    Args:
        count: How many.
        seed: The same gives the same numbers; more of them begin with the fewer.
        folder: Folder of the grammar files, if it is another.
        odds: How often each grammar is drawn from.

    Raises:
        CallerError: A grammar is missing, or together they have too few numbers.
    """
    if not count:
        return []
    rng = np.random.default_rng(seed)
    graphs = [grammar.load(name, folder).word_graph for name in odds]
    shares = np.array(list(odds.values()), float)
    shares /= shares.sum()
    found: dict[str, None] = {}
    for _ in range(_TRIES * count):
        words = _walk(graphs[int(rng.choice(len(graphs), p=shares))], rng)
        if FEWEST_WORDS <= len(words) <= MOST_WORDS:
            found[" ".join(words)] = None
        if len(found) == count:
            return list(found)
    msg = (
        f"The grammars {', '.join(odds)} gave {len(found)} different numbers in {_TRIES * count} "
        f"walks where {count} are wanted. Ask for fewer."
    )
    raise CallerError(msg)
