"""Every phrase that a JSGF grammar accepts, up to a number of words.

Phrases longer than asked for are left out while they grow, so a grammar of endless numbers costs
no more than its short forms.
"""

from __future__ import annotations

from pathlib import Path

from handsfree.errors import DataError
from handsfree.hearing.jsgf import (
    Alt,
    GrammarFile,
    Node,
    Opt,
    Plus,
    Ref,
    Seq,
    Star,
    Tagged,
    Word,
    parse,
)

__all__ = ["expand", "expand_text"]

_Phrases = frozenset[tuple[str, ...]]
_NOTHING: _Phrases = frozenset([()])


class _Expander:
    def __init__(self, grammar: GrammarFile, max_words: int) -> None:
        self._grammar = grammar
        self._max = max_words
        self._done: dict[str, _Phrases] = {"NULL": _NOTHING, "VOID": frozenset()}
        self._open: list[str] = []

    def rule(self, name: str) -> _Phrases:
        if name in self._done:
            return self._done[name]
        if name not in self._grammar.rules or name in self._open:
            what = "calls itself" if name in self._open else "is not in this file"
            raise DataError(
                f"{self._grammar.name}: the rule <{name}> {what}; mend the grammar file."
            )
        self._open.append(name)
        self._done[name] = self._node(self._grammar.rules[name])
        self._open.pop()
        return self._done[name]

    def _node(self, node: Node) -> _Phrases:
        match node:
            case Word(text):
                return frozenset([(text,)])
            case Ref(name):
                return self.rule(name)
            case Alt(parts):
                return frozenset().union(*(self._node(part) for part in parts))
            case Seq(parts):
                found = _NOTHING
                for part in parts:
                    more = self._node(part)
                    found = frozenset(
                        a + b for a in found for b in more if len(a) + len(b) <= self._max
                    )
                return found
            case Opt(part) | Star(part):  # once is enough for a list of phrases
                return self._node(part) | _NOTHING
            case Plus(part) | Tagged(part, _):
                return self._node(part)


def expand_text(text: str, max_words: int = 5, *, where: str = "grammar") -> set[str]:
    """The phrases of at most `max_words` words that the public rules of a JSGF text accept.

    Raises:
        DataError: The text is no JSGF, or a rule is missing or endless; the message says which.
    """
    grammar = parse(text, where=where)
    expander = _Expander(grammar, max_words)
    return {" ".join(words) for name in grammar.public for words in expander.rule(name) if words}


def expand(file: Path, max_words: int = 5) -> set[str]:
    """The same for a file."""
    return expand_text(file.read_text(encoding="utf-8"), max_words, where=file.name)
