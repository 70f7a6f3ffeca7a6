"""What a typed line, a key or a pedal means at the moment. Pure, but for the reading thread.

Enter alone is yes. A number picks the choice with that number. A word is a command or a value. The
mapping never looks at sound, so a whole check can be led by keys in a room that is too loud.
"""

from __future__ import annotations

import queue
import threading
from dataclasses import dataclass
from typing import TextIO

from handsfree.dialogue.actions import Ask
from handsfree.dialogue.events import Key
from handsfree.hearing.verdict import MeaningKind

__all__ = ["Typed", "keyed", "read_lines"]

_SHORT = {
    "?": "help",
    "h": "help",
    "r": "repeat",
    "b": "back",
    "p": "pause",
    "s": "skip",
    "q": "stop",
    "o": "options",
}
"""One-letter commands; each can also be written out as it is spoken."""


@dataclass(frozen=True, kw_only=True)
class Typed:
    """A line as the exam takes it."""

    key: Key
    text: str = ""


def keyed(line: str, asked: Ask | None) -> Typed:
    """Return what a typed line means while ``asked`` is open."""
    text = line.strip().lower()
    if not text:
        return Typed(key=Key.YES)
    if text in {"again", "a"}:
        return Typed(key=Key.AGAIN)
    stage = asked.stage if asked else "question"
    if stage == "spell" and len(text) > 1 and _as_command(text) is None:
        return Typed(key=Key.VALUE, text=line.strip())  # a name keeps its capitals
    if stage == "confirm" and text in {"1", "2", "yes", "no", "y", "n"}:
        return Typed(key=Key.NUMBER, text=text)
    values = {value for value, _ in asked.choices} if asked else set()
    if text in values and stage in {"question", "confirm"}:
        return Typed(key=Key.VALUE, text=text)
    command = _SHORT.get(text) or _as_command(text)
    if command is not None:
        return Typed(key=Key.COMMAND, text=command)
    if stage == "goto":
        return Typed(key=Key.VALUE, text=_as_region(text))
    if text.isdigit() and asked is not None and asked.choices and stage == "question":
        return Typed(key=Key.NUMBER, text=text)
    return Typed(key=Key.VALUE, text=text)


def read_lines(source: TextIO) -> queue.SimpleQueue[str | None]:
    """Read lines in a daemon thread; return their queue. None marks the end of the input."""
    lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()

    def read() -> None:
        for line in source:
            lines.put(line)
        lines.put(None)

    threading.Thread(target=read, name="keys", daemon=True).start()
    return lines


def _as_command(text: str) -> str | None:
    """A command as its token or as it is spoken."""
    return _meaning("commands", text.replace("_", " "), MeaningKind.COMMAND)


def _as_region(text: str) -> str:
    return _meaning("region", text, MeaningKind.ANSWER) or text


def _meaning(grammar: str, text: str, kind: MeaningKind) -> str | None:
    from handsfree.hearing.grammar import load  # a parser is needed only once keys are used

    meaning = load(grammar).meaning(tuple(text.split()), kind)
    return None if meaning is None else str(meaning.value)
