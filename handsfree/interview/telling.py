"""Telling a few sentences at the end of a talk, to be repeated on demand."""

from __future__ import annotations

from collections.abc import Sequence

from handsfree.dialogue.actions import SpeechKind
from handsfree.dialogue.events import Ticked
from handsfree.interview.talk import Talk

__all__ = ["Telling"]

_WAITS_S = 6.0
"""How long it waits for a wish to hear it again."""


class Telling(Talk):
    """Says something and ends, after a moment in which it can be asked to say it again."""

    def __init__(self, sentences: Sequence[str]) -> None:
        super().__init__()
        self._sentences = tuple(sentences)
        self._quiet_since: tuple[str, int] | None = None

    def begin(self) -> None:
        """Say it."""
        self.say(*self._sentences, kind=SpeechKind.RESULT)
        self.put("result", commands=frozenset({"repeat", "done", "stop"}), quiet=True)

    def repeat(self) -> None:
        """Say it again."""
        self._quiet_since = None
        self.begin()

    def spoken_out(self, event: object) -> None:
        """Wait from here."""
        assert self.event is not None
        self._quiet_since = (self.event.stream, self.event.sample)

    def ticked(self, event: Ticked) -> None:
        """End it when nobody asks."""
        if self._quiet_since is None:
            return
        stream, since = self._quiet_since
        if stream != event.stream or self.seconds(since, event.sample) >= _WAITS_S:
            self.over("complete")

    def command(self, token: str) -> bool:
        """End at done."""
        if token in {"done", "stop"}:
            self.over("complete")
            return True
        return False

    def yes(self) -> bool:
        """Enter ends it."""
        self.over("complete")
        return True

    def _silence(self) -> None:
        """Silence means that nobody asks."""
