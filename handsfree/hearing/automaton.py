"""A grammar's rules as a small automaton: matching, listing and flattening.

Works on the tree that ``jsgf`` read; words and tags are mere text here.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

from handsfree.errors import DataError
from handsfree.hearing.jsgf import Alt, GrammarFile, Node, Opt, Plus, Ref, Seq, Star, Tagged, Word

__all__ = ["Automaton", "WordGraph"]

_NO_END = 10**9


@dataclass(frozen=True, kw_only=True)
class WordGraph:
    """Which word may follow which: state 0 begins.

    Attributes:
        steps: For each state the state that each word leads to.
        ends: States in which a phrase is whole.
    """

    steps: tuple[dict[str, int], ...]
    ends: frozenset[int]

    def state(self, words: tuple[str, ...], start: int = 0) -> int | None:
        """Return where ``words`` lead from ``start``, or None where they lead nowhere."""
        at = start
        for word in words:
            if word not in self.steps[at]:
                return None
            at = self.steps[at][word]
        return at


class Automaton:
    """The public rules of a file, with all references followed.

    States are numbered; an arc carries a word, a tag or nothing.

    Raises:
        DataError: A rule is missing, refers to itself, or repeats a part.
    """

    def __init__(self, file: GrammarFile) -> None:
        self._file = file
        roots = tuple(self._follow(Ref(name), ()) for name in file.public)
        self._root: Node = roots[0] if len(roots) == 1 else Alt(roots)
        self.words = frozenset(_words(self._root))
        self._arcs: list[list[tuple[str, str, int]]] = []
        start = self._state()
        self._start, self._end = start, self._build(self._root, start)

    def _follow(self, node: Node, above: tuple[str, ...]) -> Node:
        """Put each referred rule in the place of its reference."""
        match node:
            case Word():
                return node
            case Tagged(part, tag):
                return Tagged(self._follow(part, above), tag)
            case Seq(parts):
                return Seq(tuple(self._follow(part, above) for part in parts))
            case Alt(parts):
                return Alt(tuple(self._follow(part, above) for part in parts))
            case Opt(part):
                return Opt(self._follow(part, above))
            case Star() | Plus():
                self._refuse("a part is repeated with * or +, on which PocketSphinx can crash")
            case Ref(name):
                if name in above:
                    self._refuse(f"rule <{name}> refers to itself")
                if name not in self._file.rules:
                    self._refuse(f"rule <{name}> is missing")
                return self._follow(self._file.rules[name], (*above, name))
        raise AssertionError(node)

    def _refuse(self, why: str) -> None:
        msg = f"{self._file.name}.jsgf: {why}. Write it out with alternatives instead."
        raise DataError(msg)

    def _state(self) -> int:
        self._arcs.append([])
        return len(self._arcs) - 1

    def _build(self, node: Node, at: int) -> int:
        match node:
            case Word(text):
                return self._arc(at, "word", text)
            case Tagged(part, tag):
                return self._arc(self._build(part, at), "tag", tag)
            case Seq(parts):
                for part in parts:
                    at = self._build(part, at)
                return at
            case Alt(parts):
                end = self._state()
                for part in parts:
                    self._arcs[self._build(part, at)].append(("", "", end))
                return end
            case Opt(part):
                end = self._build(part, at)
                after = self._state()
                self._arcs[end].append(("", "", after))
                self._arcs[at].append(("", "", after))
                return after
        raise AssertionError(node)

    def _arc(self, at: int, kind: str, text: str) -> int:
        after = self._state()
        self._arcs[at].append((kind, text, after))
        return after

    def match(self, words: tuple[str, ...]) -> tuple[str, ...] | None:
        """Return the tags of the first way to say exactly ``words``, or None."""
        dead: set[tuple[int, int]] = set()

        def walk(state: int, i: int) -> tuple[str, ...] | None:
            if state == self._end and i == len(words):
                return ()
            if (state, i) in dead:
                return None
            for kind, text, after in self._arcs[state]:
                if kind == "word":
                    if i == len(words) or words[i] != text:
                        continue
                    tags = walk(after, i + 1)
                else:
                    tags = walk(after, i)
                if tags is not None:
                    return (text, *tags) if kind == "tag" else tags
            dead.add((state, i))
            return None

        return walk(self._start, 0)

    def may_go_on(self, words: tuple[str, ...]) -> bool:
        """Whether a longer phrase begins with ``words``."""
        states = self._closure({self._start})
        for word in words:
            states = self._closure(
                {
                    after
                    for state in states
                    for kind, text, after in self._arcs[state]
                    if kind == "word" and text == word
                }
            )
        return any(kind == "word" for state in states for kind, _, _ in self._arcs[state])

    def _closure(self, states: set[int]) -> set[int]:
        found, open_ = set(states), list(states)
        while open_:
            for kind, _, after in self._arcs[open_.pop()]:
                if kind != "word" and after not in found:
                    found.add(after)
                    open_.append(after)
        return found

    def word_graph(self) -> WordGraph:
        """Return it as the smallest deterministic automaton over words alone."""
        numbers = {frozenset(self._closure({self._start})): 0}
        steps: list[dict[str, int]] = []
        open_ = list(numbers)
        for states in open_:
            reached: dict[str, set[int]] = {}
            for state in states:
                for kind, text, after in self._arcs[state]:
                    if kind == "word":
                        reached.setdefault(text, set()).add(after)
            steps.append({})
            for word in sorted(reached):
                next_ = frozenset(self._closure(reached[word]))
                if next_ not in numbers:
                    numbers[next_] = len(numbers)
                    open_.append(next_)
                steps[-1][word] = numbers[next_]
        ends = frozenset(number for states, number in numbers.items() if self._end in states)
        return _smallest(steps, ends)

    def count_phrases(self) -> int:
        """Return how many ways to say something there are."""
        return min(_count(self._root), _NO_END)

    def phrases(self) -> Iterator[tuple[tuple[str, ...], tuple[str, ...]]]:
        """Yield words and tags of each way to say something, in the file's order."""
        yield from _spell(self._root)

    def expansion(self, lacking: frozenset[str]) -> str:
        """Return the whole as one expansion without tags and references; empty if none is left."""
        return _write(self._root, lacking) or ""


def _smallest(steps: list[dict[str, int]], ends: frozenset[int]) -> WordGraph:
    """Return the graph with states of one future merged (Moore's partition refinement)."""
    group = [int(state in ends) for state in range(len(steps))]
    while True:
        futures = [
            (group[state], tuple((word, group[after]) for word, after in step.items()))
            for state, step in enumerate(steps)
        ]
        numbers = {future: n for n, future in enumerate(dict.fromkeys(futures))}
        finer = [numbers[future] for future in futures]
        if len(numbers) == len(set(group)):
            break
        group = finer
    # Numbered in the order of first use, the first state keeps 0.
    merged = [{word: finer[after] for word, after in steps[at].items()} for at in _firsts(finer)]
    return WordGraph(steps=tuple(merged), ends=frozenset(finer[state] for state in ends))


def _firsts(groups: list[int]) -> list[int]:
    """Return the first place of each group, in the order of the groups."""
    return [groups.index(group) for group in range(max(groups) + 1)]


def _words(node: Node) -> Iterator[str]:
    match node:
        case Word(text):
            yield text
        case Seq(parts) | Alt(parts):
            for part in parts:
                yield from _words(part)
        case Opt(part) | Tagged(part, _):
            yield from _words(part)


def _count(node: Node) -> int:
    match node:
        case Seq(parts):
            number = 1
            for part in parts:
                number *= _count(part)
            return number
        case Alt(parts):
            return sum(map(_count, parts))
        case Opt(part):
            return 1 + _count(part)
        case Tagged(part, _):
            return _count(part)
    return 1


def _spell(node: Node) -> Iterator[tuple[tuple[str, ...], tuple[str, ...]]]:
    match node:
        case Word(text):
            yield (text,), ()
        case Tagged(part, tag):
            for words, tags in _spell(part):
                yield words, (*tags, tag)
        case Alt(parts):
            for part in parts:
                yield from _spell(part)
        case Opt(part):
            yield (), ()
            yield from _spell(part)
        case Seq(parts):
            for ways in itertools.product(*(tuple(_spell(part)) for part in parts)):
                yield (
                    tuple(itertools.chain.from_iterable(words for words, _ in ways)),
                    tuple(itertools.chain.from_iterable(tags for _, tags in ways)),
                )


def _write(node: Node, lacking: frozenset[str]) -> str | None:
    """Return an expansion, or None when it cannot be said without a lacking word."""
    match node:
        case Word(text):
            return None if text in lacking else text
        case Tagged(part, _):
            return _write(part, lacking)
        case Seq(parts):
            written = [_write(part, lacking) for part in parts]
            if None in written:
                return None
            return " ".join(filter(None, written))
        case Alt(parts):
            known = list(filter(None, (_write(part, lacking) for part in parts)))
            return f"({' | '.join(known)})" if known else None
        case Opt(part):
            inner = _write(part, lacking)
            return f"[{inner}]" if inner else ""
    raise AssertionError(node)
