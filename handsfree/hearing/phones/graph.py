"""The likeliest phrase of an open form: a Viterbi search over its phones.

An open form has too many phrases to score one by one (numbers), so the paths through its word graph
compete, each word spelt in its pronunciations, with blanks between the phones as in CTC. Where one
word ends with the phone that the next begins with ("eight two") one sound may serve both, as it
does when people speak.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from handsfree.hearing.automaton import WordGraph
from handsfree.hearing.phones.lexicon import Lexicon
from handsfree.hearing.phones.network import BLANK

__all__ = ["PhoneGraph"]

_NEVER = -1e9


class PhoneGraph:
    """The word graph of one open form, spelt.

    Args:
        graph: Which word may follow which.
        lexicon: Pronunciations; words it lacks are left out.
        outputs: The network's output for each phone.
    """

    def __init__(self, graph: WordGraph, lexicon: Lexicon, outputs: Mapping[str, int]) -> None:
        self._graph = graph
        labels: list[int] = []
        before: list[int] = []  # the node before in the same word, or -1 - its state if it begins
        words: list[str] = []
        last: list[tuple[int, int]] = []  # the node that ends a word, and the state behind it
        for state, steps in enumerate(graph.steps):
            for word, after in steps.items():
                for spelling in lexicon.of_word(word):
                    for place, phone in enumerate(spelling):
                        before.append(len(labels) - 1 if place else -1 - state)
                        labels.append(outputs[phone])
                        words.append(word)
                    last.append((len(labels) - 1, after))
        self._labels, self._words = np.array(labels, int), words
        came_from = np.array(before, int)
        self._first = np.flatnonzero(came_from < 0)
        self._source = -1 - came_from[self._first]
        self._inner = np.flatnonzero(came_from >= 0)
        self._before = came_from[self._inner]
        same = self._labels[self._inner] == self._labels[self._before]
        self._step = np.where(same, _NEVER, 0.0)  # the same phone twice needs a blank between
        into: list[list[int]] = [[] for _ in graph.steps]
        for node, after in last:
            into[after].append(node)
        widest = max(map(len, into), default=1)
        # One more node, which is never reached, fills the rows of states that fewer words reach.
        nowhere = len(labels)
        self._into = np.array([[*row, *[nowhere] * (widest - len(row))] for row in into], int)
        self._ends = [(node, after) for node, after in last if after in graph.ends]

    def best(self, log_probs: NDArray[np.float32]) -> tuple[str, ...]:
        """Return the likeliest phrase; empty where there are too few frames for any.

        Args:
            log_probs: The network's, shape (n, outputs).
        """
        nodes, begins = len(self._labels), len(self._first)
        phone = np.full(nodes + 1, _NEVER)  # score of being in the phone, and in the blank after it
        blank = np.full(nodes + 1, _NEVER)
        # Where the words of a path began: 0 for nowhere yet, else an entry of ``trail``.
        phone_from = np.zeros(nodes + 1, int)
        blank_from = np.zeros(nodes + 1, int)
        trail: list[NDArray[np.int_]] = []
        quiet = 0.0
        rows = np.arange(len(self._into))
        for time, frame in enumerate(log_probs.astype(np.float64)):
            whole = np.maximum(phone, blank)[self._into]
            pick = self._into[rows, whole.argmax(axis=1)]
            reached = np.maximum(phone[pick], blank[pick])
            reached_from = np.where(phone[pick] >= blank[pick], phone_from[pick], blank_from[pick])
            if quiet > reached[0]:
                reached[0], reached_from[0] = quiet, 0
            trail.append(reached_from[self._source])
            # Stay in the phone, come from the phone or the blank before, or begin a word.
            entered = np.full(nodes + 1, _NEVER)
            entered_from = np.zeros(nodes + 1, int)
            stepped = phone[self._before] + self._step
            rested = blank[self._before]
            entered[self._inner] = np.maximum(stepped, rested)
            entered_from[self._inner] = np.where(
                stepped >= rested, phone_from[self._before], blank_from[self._before]
            )
            entered[self._first] = reached[self._source]
            entered_from[self._first] = 1 + time * begins + np.arange(begins)
            kept = phone >= blank
            blank_from = np.where(kept, phone_from, blank_from)
            blank = np.maximum(phone, blank) + frame[BLANK]
            stays = phone >= entered
            phone_from = np.where(stays, phone_from, entered_from)
            phone = np.maximum(phone, entered)
            phone[:nodes] += frame[self._labels]
            phone[nodes] = blank[nodes] = _NEVER
            quiet += float(frame[BLANK])
        best, found = _NEVER / 2, 0
        for node, _ in self._ends:
            for score, came in (
                (phone[node], phone_from[node]),
                (blank[node], blank_from[node]),
            ):
                if score > best:
                    best, found = score, int(came)
        said: list[str] = []
        while found:
            time, place = divmod(found - 1, begins)
            said.append(self._words[self._first[place]])
            found = int(trail[time][place])
        return tuple(reversed(said))

    def neighbours(self, words: tuple[str, ...]) -> list[tuple[str, ...]]:
        """Return the phrases that differ from ``words`` by one word, more or less or another."""
        found: dict[tuple[str, ...], None] = {}
        for place in range(len(words) + 1):
            state = self._graph.state(words[:place])
            if state is None:
                break
            if place < len(words):
                self._try(found, words[:place], state, words[place + 1 :])
            for other, after in self._graph.steps[state].items():
                head = (*words[:place], other)
                self._try(found, head, after, words[place:])
                if place < len(words):
                    self._try(found, head, after, words[place + 1 :])
        found.pop(words, None)
        return list(found)

    def _try(
        self,
        found: dict[tuple[str, ...], None],
        head: tuple[str, ...],
        state: int,
        tail: tuple[str, ...],
    ) -> None:
        end = self._graph.state(tail, state)
        if end in self._graph.ends:
            found[(*head, *tail)] = None
