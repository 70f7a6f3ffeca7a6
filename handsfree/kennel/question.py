"""One question between two dogs, as a talk: asked by voice and by keys alike, and always ended.

It stores nothing and decides nothing about the round: it ends with a token, and whoever asked goes
on from there. What is asked, and by which words it is answered, stands in ``wordings``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from handsfree.dialogue.actions import Hush
from handsfree.dialogue.events import Keyed
from handsfree.dialogue.keying import typed_yes
from handsfree.hearing.verdict import Meaning, Verdict
from handsfree.interview.talk import ALWAYS, Talk

__all__ = ["STOP", "Asked", "Question", "Saying", "Topic"]

STOP = "stop"
"""What a question ends with when the person says stop."""
BACK = "back"


class Topic:
    """What a question is about, as a title: for screens and for whoever listens along."""

    PLACE = "in its place"
    INSTEAD = "who is here"
    WHICH = "which dog"
    CONFIRM = "is it this one"
    PERSON = "who leads"
    LOOKED = "five looks"
    STOPPING = "the end of the round"
    GO_ON = "the round before"
    DOSE = "medicine"
    TOLD = "who was told"
    WHEN = "when"
    ACKNOWLEDGED = "acknowledged"


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What is asked.

    Attributes:
        topic: One of ``Topic``.
        text: The question.
        about: Which dog, person or medicine it is about; empty for none.
        choices: Token and word, in the order of the numbered keys.
        help: What can be said.
        grammars: What it listens with.
        enter: Token of the one key that says yes; None where it has no meaning.
        otherwise: Token taken where nothing was understood to the last.
        left: What is said then.
        read_back: How a spoken token is read back where hearing is in doubt; others are asked
            again.
        always_back: It is read back where hearing is sure as well.
        typed: Token of a typed line that is no choice; None where it means nothing.
        numbers: Whether a number is an answer.
        keeps_capitals: Typed lines are names.
        can_go_back: Whether going back means something here.
    """

    topic: str
    text: str
    about: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    help: str = "Say yes or no."
    grammars: tuple[str, ...] = ("yes_no",)
    enter: str | None = None
    otherwise: str = "no"
    left: str = "I take that as no."
    read_back: Mapping[str, str] = field(default_factory=dict)
    always_back: bool = False
    typed: Callable[[str], str | None] = lambda _text: None
    numbers: bool = False
    keeps_capitals: bool = False
    can_go_back: bool = False


class Question(Talk):
    """Asks one thing.

    Args:
        asked: What.
        before: Said first and not repeated.
    """

    def __init__(self, asked: Asked, *, before: tuple[str, ...] = ()) -> None:
        super().__init__()
        self._asked = asked
        self._before = before
        self._doubted: str | None = None
        self._confirming: str | None = None
        self.value: str | None = None
        """The answer once it ended complete."""
        self.is_sure = False
        """It was answered by keys, or by a stop out of a pause: nothing to ask back."""

    # asking

    def begin(self) -> None:
        """Ask."""
        self._put(*self._before)

    def _put(self, *before: str) -> None:
        asked = self._asked
        self._confirming = None
        self.put(
            "spell" if asked.keeps_capitals else "question",
            asked.text,
            grammars=asked.grammars,
            commands=ALWAYS,
            choices=asked.choices,
            before=before,
            region=asked.topic,
            read_back=asked.about or None,
        )

    def _confirm(self, token: str, text: str) -> None:
        self._confirming = token
        self.put(
            "confirm", text, grammars=("confirm",), commands=ALWAYS, region=Topic.CONFIRM,
            read_back=token,
        )  # fmt: skip

    # answers

    def _end(self, token: str, *, typed: bool) -> None:
        self.value = token
        self.is_sure = typed
        self.over("complete")

    def answered(self, meaning: Meaning, verdict: Verdict | None) -> None:
        """Take an answer."""
        token = self._token(meaning)
        if self._confirming is not None:
            if token == "yes":
                self._end(self._confirming, typed=False)
            else:
                self._put()
        elif token is None:
            self.not_understood()
        elif self._asked.always_back and verdict is not None and token in self._asked.read_back:
            self._confirm(token, self._asked.read_back[token])
        else:
            self._end(token, typed=False)

    def _token(self, meaning: Meaning) -> str | None:
        if isinstance(meaning.value, str):
            return meaning.value
        return f"{meaning.value:g}" if self._asked.numbers else None

    def doubted(self, meaning: Meaning, verdict: Verdict) -> None:
        """Read back what may have been heard wrongly; the same doubtful word twice counts."""
        token = self._token(meaning)
        same, self._doubted = token is not None and token == self._doubted, token
        if token is not None and same:
            self.answered(meaning, verdict)
        elif token is not None and self._confirming is None and token in self._asked.read_back:
            self._confirm(token, self._asked.read_back[token])
        else:
            self.not_understood()

    def left(self) -> None:
        """Nothing was understood to the last: the harmless way."""
        self.say(self._asked.left)
        self._end(self._asked.otherwise, typed=False)

    def skip(self) -> None:
        """Leave it: the harmless way as well."""
        self._end(self._asked.otherwise, typed=False)

    # commands

    def command(self, token: str) -> bool:
        """Stop ends the question; going back means something at some."""
        if token == STOP:
            self.emit(Hush())
            self._end(STOP, typed=self._by_key)
            return True
        if token == BACK and self._confirming is not None:
            self._put()
            return True
        if token == BACK and self._asked.can_go_back:
            self._end(BACK, typed=self._by_key)
            return True
        return False

    def _stop(self) -> None:
        """Stop out of a pause: it was said twice by then."""
        self.emit(Hush())
        self._end(STOP, typed=True)

    @property
    def _by_key(self) -> bool:
        return isinstance(self.event, Keyed)

    def help(self) -> str:
        """Return the help."""
        return "Say yes or no." if self._confirming is not None else self._asked.help

    def choices(self) -> str:
        """Return what can be said."""
        return self.help()

    def ending(self, why: str) -> tuple[str, ...]:
        """Return what is said where nobody answers."""
        return ("All is saved. Begin the round again to go on from here.",)

    # keys

    def yes(self) -> bool:
        """Take Enter."""
        if self._confirming is not None:
            self._end(self._confirming, typed=True)
        elif self._asked.enter is not None:
            self._end(self._asked.enter, typed=True)
        else:
            return False
        return True

    def typed(self, text: str, *, number: bool) -> bool:
        """Take a typed line: a choice by its number, its word or its token, or a name."""
        plain = " ".join(text.split()).lower()
        if self._confirming is not None:
            says_yes = typed_yes(plain)
            if says_yes is None:
                return False
            if says_yes:
                self._end(self._confirming, typed=True)
            else:
                self._put()
            return True
        tokens = [token for token, _ in self._asked.choices]
        if plain.isdigit() and not self._asked.numbers and 0 < int(plain) <= len(tokens):
            self._end(tokens[int(plain) - 1], typed=True)
            return True
        short = {"y": "yes", "n": "no"}.get(plain, plain)
        words = {word: token for token, word in self._asked.choices}
        token = short if short in tokens else words.get(short) or self._asked.typed(text.strip())
        if token is None:
            return False
        self._end(token, typed=True)
        return True


class Saying(Talk):
    """Says something and is over: nothing is asked."""

    def __init__(self, sentences: tuple[str, ...]) -> None:
        super().__init__()
        self._sentences = sentences

    def begin(self) -> None:
        """Say it."""
        self.say(*self._sentences)
        self.over("complete")
