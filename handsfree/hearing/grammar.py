"""Listening grammars: what may be said now, for engines, and what words mean, from the tags.

A ``Grammar`` is one file under ``grammars/``; a ``ListeningGrammar`` is what is open at one moment:
answer grammars joined with the open commands. Engines get text from here and hand words back; no
engine is imported.
"""

from __future__ import annotations

import functools
import hashlib
import json
from collections.abc import Iterator, Mapping
from pathlib import Path

import handsfree
from handsfree.errors import CallerError, DataError
from handsfree.hearing import jsgf, numbers
from handsfree.hearing.automaton import Automaton, WordGraph
from handsfree.hearing.verdict import Listening, Meaning, MeaningKind

__all__ = ["COMMANDS", "Grammar", "ListeningGrammar", "Phrase", "compose", "grammar_dir", "load"]

COMMANDS = "commands"
"""Name of the grammar that holds the commands."""

MOST_PHRASES = 600
"""A grammar with more phrases than this is an open form: its phrases are not listed."""

Phrase = tuple[str, ...]
"""Words said one after the other, lower case."""


def grammar_dir() -> Path:
    """Return the folder of the grammar files: inside an installed package, else beside it.

    Raises:
        DataError: There is none.
    """
    package = Path(handsfree.__file__).parent
    for folder in (package / "grammars", package.parent / "grammars"):
        if folder.is_dir():
            return folder
    msg = f"the grammars are missing beside {package}. Install handsfree again."
    raise DataError(msg)


class Grammar:
    """One grammar file, ready to match.

    Args:
        text: The file's content.
        name: Its name, for messages.

    Raises:
        DataError: Not JSGF, or a form that engines cannot take; the message names file and rule.
    """

    def __init__(self, text: str, *, name: str) -> None:
        self.name = name
        self.file = jsgf.parse(text, where=f"{name}.jsgf")
        if self.file.imports:
            msg = f"{name}.jsgf: imports are not used here. Copy the rules into the file."
            raise DataError(msg)
        self.digest = hashlib.sha256(text.encode()).hexdigest()[:16]
        self._automaton = Automaton(self.file)
        self.is_open_form = self._automaton.count_phrases() > MOST_PHRASES

    def meaning(self, words: Phrase, kind: MeaningKind) -> Meaning | None:
        """Return what ``words`` mean, or None when this grammar has no such phrase."""
        tags = self._automaton.match(words)
        return None if tags is None else _meaning(tags, kind)

    def listed(self, kind: MeaningKind) -> Iterator[tuple[Phrase, Meaning]]:
        """Yield every phrase with its meaning; nothing for an open form.

        Raises:
            DataError: A phrase has no meaning.
        """
        if self.is_open_form:
            return
        for words, tags in self._automaton.phrases():
            meaning = _meaning(tags, kind)
            if meaning is None:
                told = " ".join(tags) or "none"
                msg = (
                    f"{self.name}.jsgf: {' '.join(words)!r} means nothing (tags: {told}). "
                    f"Give it a tag as grammars/README.md says."
                )
                raise DataError(msg)
            yield words, meaning

    def words(self) -> frozenset[str]:
        """Return all words of the grammar."""
        return self._automaton.words

    def may_go_on(self, words: Phrase) -> bool:
        """Whether a longer phrase begins with ``words``."""
        return self._automaton.may_go_on(words)

    @functools.cached_property
    def word_graph(self) -> WordGraph:
        """Which word may follow which."""
        return self._automaton.word_graph()

    def body(self, lacking: frozenset[str]) -> str:
        """Return its phrases as one JSGF expansion without tags or rules; empty if none is left.

        Args:
            lacking: Words an engine does not know: what needs one of them is left out.
        """
        return self._automaton.expansion(lacking)


def _meaning(tags: tuple[str, ...], kind: MeaningKind) -> Meaning | None:
    if not tags:
        return None
    if all(map(numbers.is_number_tag, tags)):
        number = numbers.evaluate(tags)
        if number is None:
            return None
        return Meaning(kind=kind, value=number.value, unit=number.unit, target=number.like)
    return Meaning(kind=kind, value=" ".join(tags))


@functools.lru_cache(maxsize=256)
def _read(path: Path, name: str) -> Grammar:
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        known = ", ".join(sorted(file.stem for file in path.parent.glob("*.jsgf"))) or "none"
        msg = f"there is no grammar {name!r} in {path.parent}. There are: {known}."
        raise CallerError(msg) from None
    except (OSError, UnicodeDecodeError) as wrong:
        msg = f"{path.name} cannot be read ({wrong}). Install handsfree again or mend the file."
        raise DataError(msg) from None
    return Grammar(text, name=name)


def load(name: str, folder: Path | None = None) -> Grammar:
    """Return the grammar ``name``; read once and kept.

    Raises:
        CallerError: There is no such grammar.
        DataError: The file is broken.
    """
    return _read((folder or grammar_dir()) / f"{name}.jsgf", name)


class ListeningGrammar:
    """What may be said now: answers first, then the open commands.

    Where one phrase stands in two grammars, the first keeps it.

    Attributes:
        key: Equal for equal content, so that engines need to compile it only once.
        is_open_form: Numbers or other phrases without end are among the answers.

    Args:
        listening: What is listened for.
        folder: Folder of the grammar files, if it is another.
        own: Grammars that are in no file, by name: those that hold people's and dogs' names.
    """

    def __init__(
        self,
        listening: Listening,
        folder: Path | None = None,
        *,
        own: Mapping[str, Grammar] | None = None,
    ) -> None:
        self._open: list[Grammar] = []
        self._closed: dict[Phrase, Meaning] = {}
        self._without = listening.without
        own = own or {}
        members = [
            (own.get(name) or load(name, folder), MeaningKind.ANSWER) for name in listening.grammars
        ]
        if listening.commands:
            members.append((load(COMMANDS, folder), MeaningKind.COMMAND))
        for grammar, kind in members:
            if grammar.is_open_form:
                self._open.append(grammar)
            for words, meaning in grammar.listed(kind):
                if kind is MeaningKind.COMMAND and meaning.value not in listening.commands:
                    continue
                if any(earlier.meaning(words, kind) for earlier in self._open):
                    continue
                self._closed.setdefault(words, meaning)
        # Taken out last, so that a later grammar cannot bring back what the person called wrong.
        self._closed = {
            words: meaning
            for words, meaning in self._closed.items()
            if meaning.kind is MeaningKind.COMMAND or not self._is_out(meaning)
        }
        self.is_open_form = bool(self._open)
        self._prefixes = {words[:n] for words in self._closed for n in range(1, len(words))}
        self._turning = {
            words[:n]
            for words, meaning in self._closed.items()
            for n in range(1, len(words))
            if self._closed.get(words[:n], meaning) != meaning
        }
        content = [[" ".join(words) for words in self._closed], [g.digest for g in self._open]]
        self.key = hashlib.sha256(json.dumps(content).encode()).hexdigest()[:24]

    def _is_out(self, meaning: Meaning) -> bool:
        value = meaning.value
        said = value if isinstance(value, str) else f"{value:g}"
        return said in self._without or (isinstance(value, float) and str(value) in self._without)

    @property
    def phrases(self) -> tuple[str, ...]:
        """Every phrase that can be listed (all but those of open forms), in order."""
        return tuple(" ".join(words) for words in self._closed)

    @property
    def open_forms(self) -> tuple[Grammar, ...]:
        """The grammars among it whose phrases are too many to list."""
        return tuple(self._open)

    @functools.cached_property
    def words(self) -> frozenset[str]:
        """All words that may be said."""
        closed = {word for words in self._closed for word in words}
        return frozenset(closed.union(*(grammar.words() for grammar in self._open)))

    def meaning(self, words: Phrase | str) -> Meaning | None:
        """Return what ``words`` mean now, or None when they are no phrase of it."""
        said = tuple(words.split()) if isinstance(words, str) else tuple(words)
        if said in self._closed:
            return self._closed[said]
        for grammar in self._open:
            meaning = grammar.meaning(said, MeaningKind.ANSWER)
            if meaning is not None:
                return None if self._is_out(meaning) else meaning
        return None

    def is_listed(self, words: Phrase | str) -> bool:
        """Whether ``words`` are one of ``phrases``."""
        return (tuple(words.split()) if isinstance(words, str) else tuple(words)) in self._closed

    def may_go_on(self, words: Phrase) -> bool:
        """Whether a longer phrase begins with ``words``: then the wait for its end is longer."""
        return words in self._prefixes or any(g.may_go_on(words) for g in self._open)

    def may_turn(self, words: Phrase) -> bool:
        """Whether a longer phrase that begins with ``words`` means something else than they do."""
        return words in self._turning or any(g.may_go_on(words) for g in self._open)

    def jsgf(self, lacking: frozenset[str] = frozenset()) -> str:
        """Return one flat grammar without tags, for PocketSphinx; phrases with a lacking word go.

        Only alternatives, groups and optional parts are written: PocketSphinx can crash on
        repeats.
        """
        branches = [grammar.body(lacking) for grammar in self._open]
        branches += [" ".join(words) for words in self._closed if lacking.isdisjoint(words)]
        body = "\n  | ".join(branch for branch in branches if branch) or "<VOID>"
        return f"#JSGF V1.0;\ngrammar listening;\npublic <listening> = {body};\n"

    def vosk(self, lacking: frozenset[str] = frozenset(), unknown: str = "[unk]") -> str:
        """Return a JSON list for Vosk: phrases, and single words of open forms.

        Args:
            lacking: Words the model does not know.
            unknown: Its token for other speech; empty where the model has none.
        """
        told = [" ".join(words) for words in self._closed if lacking.isdisjoint(words)]
        loose = sorted(frozenset().union(*(g.words() for g in self._open)) - lacking)
        listed = list(dict.fromkeys([*told, *loose, *([unknown] if unknown else [])]))
        return json.dumps(listed, ensure_ascii=False)


@functools.lru_cache(maxsize=128)
def _composed(listening: Listening, folder: Path | None) -> ListeningGrammar:
    return ListeningGrammar(listening, folder)


def compose(listening: Listening, folder: Path | None = None) -> ListeningGrammar:
    """Return the grammar of what is listened for; equal requests share one.

    Raises:
        CallerError: A grammar it names does not exist.
        DataError: A grammar file is broken.
    """
    bare = Listening(
        grammars=listening.grammars, commands=listening.commands, without=listening.without
    )
    return _composed(bare, folder)
