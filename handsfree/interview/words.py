"""The practice round: twelve words, each asked for once or twice, and which were heard well.

Every word is listened for among all that its own question allows, so that it is heard as in a
check. Levels are no business of this talk: whoever runs it reads them from hearing.
"""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.dialogue.phrases import list_of, number
from handsfree.hearing.verdict import Meaning, Verdict
from handsfree.interview.talk import Talk

__all__ = ["WORDS", "PracticeWord", "WordPractice"]


@dataclass(frozen=True, kw_only=True)
class PracticeWord:
    """One word: what is said, the grammar it belongs to, and what it means there."""

    word: str
    grammar: str = ""
    value: str | float


WORDS = (
    PracticeWord(word="yes", grammar="yes_no", value="yes"),
    PracticeWord(word="no", grammar="yes_no", value="no"),
    PracticeWord(word="pink", grammar="gum_colour", value="pink"),
    PracticeWord(word="pale", grammar="gum_colour", value="pale"),
    PracticeWord(word="blue", grammar="gum_colour", value="blue"),
    PracticeWord(word="clean", grammar="teeth", value="clean"),
    PracticeWord(word="calm", grammar="mood", value="calm"),
    PracticeWord(word="seven", grammar="integer", value=7.0),
    PracticeWord(word="twelve", grammar="integer", value=12.0),
    PracticeWord(word="press", grammar="press", value="press"),
    PracticeWord(word="release", grammar="release_pink", value="release"),
    PracticeWord(word="help", value="help"),
)
"""Twelve words that a check lives on, some of them known to be weak."""
_TRIES = 2


class WordPractice(Talk):
    """Asks for the words, one after the other."""

    def __init__(self, words: tuple[PracticeWord, ...] = WORDS) -> None:
        super().__init__()
        self._words = words
        self._at = 0
        self._tried = 0
        self._well: list[str] = []
        self._badly: list[str] = []

    @property
    def well_heard(self) -> tuple[str, ...]:
        """Words that were heard rightly at the first try."""
        return tuple(self._well)

    @property
    def badly_heard(self) -> tuple[str, ...]:
        """Words that were not."""
        return tuple(self._badly)

    def begin(self) -> None:
        """Say how it goes, and ask for the first word."""
        count = number(len(self._words))
        self._ask(
            f"A practice round of {count} words.",
            "Stand where you will stand with the dog. Repeat each word after the tone.",
        )

    def _ask(self, *before: str) -> None:
        word = self._words[self._at]
        self.put(
            "word",
            f"Say: {word.word}.",
            grammars=(word.grammar,) if word.grammar else (),
            before=before,
            read_back=word.value,
        )

    def answered(self, meaning: Meaning, verdict: Verdict | None) -> None:
        """Take a word as it was heard."""
        word = self._words[self._at]
        if meaning.value == word.value:
            self._heard_right()
        else:
            heard = verdict.best.words if verdict is not None and verdict.best else "something else"
            self._missed(f"I heard {heard}.")

    def doubted(self, meaning: Meaning, verdict: Verdict) -> None:
        """A word in doubt was not heard well."""
        self._missed("I was not sure.")

    def not_understood(self, why: str = "") -> None:
        """Something was said that is no phrase here."""
        self._missed("I did not understand that.")

    def _silence(self) -> None:
        self._missed("I heard nothing.")

    def _heard_right(self) -> None:
        word = self._words[self._at].word
        if self._tried == 0:
            self._well.append(word)
            self._next("Well heard.")
        else:
            self._badly.append(word)
            self._next("Heard now.")

    def _missed(self, why: str) -> None:
        self._tried += 1
        if self._tried < _TRIES:
            self._ask(why, "Once more.")
            return
        self._badly.append(self._words[self._at].word)
        self._next(why)

    def _next(self, *before: str) -> None:
        self._at += 1
        self._tried = 0
        if self._at < len(self._words):
            self._ask(*before)
            return
        self.say(*before, *self._told())
        self.over("complete")

    def _told(self) -> tuple[str, ...]:
        count = f"I heard {number(len(self._well))} of {number(len(self._words))} words well."
        if not self._badly:
            return (count,)
        words = list_of(self._badly, "and")
        return (count, f"Not well: {words}.", "In a check I read those back, or you use a key.")

    def command(self, token: str) -> bool:
        """A command is a word too while it is asked for."""
        word = self._words[self._at]
        if token == word.value and not word.grammar:
            self._heard_right()
            return True
        return False

    def back(self) -> None:
        """The person spoke on: the word before is asked anew."""
        self._tried = 0
        if self._at > 0:
            self._at -= 1
            for heard in (self._well, self._badly):
                if self._words[self._at].word in heard:
                    heard.remove(self._words[self._at].word)
        self._ask()

    def skip(self) -> None:
        """Leave the word: it was not heard well."""
        self._tried = _TRIES
        self._missed("Left.")

    def yes(self) -> bool:
        """A key says nothing of hearing: the word is asked again."""
        self._ask()
        return True

    def help(self) -> str:
        """How it goes."""
        return "Say the word alone, as you would in a check. Say skip to leave it, or stop."
