"""The live screen: what is asked now in very large letters, the level meter, the last answers.

For a helper, or for a person who hears little; never needed, and nothing waits for it. It is told
each event with its actions and only looks. Where output is no terminal, or NO_COLOR forbids more,
it writes one plain line for each prompt and answer instead.
"""

from __future__ import annotations

import os
from collections import deque
from types import TracebackType
from typing import TYPE_CHECKING, Self

from rich.console import Console, Group
from rich.live import Live
from rich.text import Text

from handsfree.dialogue.actions import (
    Action,
    Ask,
    Confirm,
    Confirmed,
    Finish,
    Listen,
    Record,
    Speak,
    SpeechKind,
    Status,
)
from handsfree.review.letters import large
from handsfree.review.wording import REASONS, number_words, sentence, side_title

if TYPE_CHECKING:
    from rich.console import RenderableType

    from handsfree.dialogue.events import Event
    from handsfree.protocol.model import Protocol

__all__ = ["Screen"]

ANSWERS = 4
"""So many of the last answers are shown."""

_LOWEST_DB, _LOUD_DB = -60.0, -6.0
_METER = 30
_REFRESH_HZ = 8


class Screen:
    """Shows a check as it runs. Use it as a context manager around the check.

    Args:
        protocol: For the words of answers.
        places: Known lumps' keys to their places.
        console: Where to draw; the terminal if not given.
    """

    def __init__(
        self,
        protocol: Protocol,
        *,
        places: dict[str, str] | None = None,
        console: Console | None = None,
    ) -> None:
        self._protocol = protocol
        self._places = places or {}
        self._console = console or Console()
        self._live: Live | None = None
        self._prompt = ""
        self._alarm = False
        self._region = ""
        self._choices: tuple[str, ...] = ()
        self._state = ""
        self._answers: deque[tuple[int, str, str]] = deque(maxlen=ANSWERS)
        self._level: float | None = None

    def __enter__(self) -> Self:
        plain = bool(os.environ.get("NO_COLOR")) or os.environ.get("TERM") == "dumb"
        if self._console.is_terminal and not plain:
            self._live = Live(
                get_renderable=self.picture,
                console=self._console,
                screen=True,
                refresh_per_second=_REFRESH_HZ,
            )
            self._live.start(refresh=True)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._live is not None:
            self._live.stop()
            self._live = None

    def __call__(self, event: Event, actions: tuple[Action, ...]) -> None:
        """Take note of what an event led to."""
        for action in actions:
            if isinstance(action, Ask):
                self._region = action.region or self._region
                self._choices = tuple(spoken for _, spoken in action.choices)
            elif isinstance(action, Speak):
                self._spoken(action)
            elif isinstance(action, Listen):
                self._state = "listening"
            elif isinstance(action, Record):
                self._record(action)
            elif isinstance(action, Confirm):
                self._settle(action)
            elif isinstance(action, Finish):
                self._state = "finished"

    def level(self, dbfs: float) -> None:
        """Take note of the microphone's level, in dB below full scale."""
        self._level = dbfs

    def picture(self) -> RenderableType:
        """Return the whole screen as it is now."""
        width, height = self._console.size
        below = self._below()
        rows = max(height - len(below) - 3, 1)
        style = "bold white on red" if self._alarm else "bold white on black"
        drawn = large(self._prompt, width - 2, rows) if self._prompt else None
        words = Text("\n".join(drawn), style, no_wrap=True) if drawn else Text(self._prompt, style)
        head = Text(f"{self._region.upper()}  {self._state}", "bold", no_wrap=True)
        return Group(head, Text(), words, Text(), *below)

    def _below(self) -> list[Text]:
        lines = [self._meter()]
        if self._choices:
            lines.append(Text("  ".join(f"{n} {c}" for n, c in enumerate(self._choices, 1))))
        lines += [Text(f"{words}{note}", no_wrap=True) for _, words, note in self._answers]
        return lines

    def _meter(self) -> Text:
        if self._level is None:
            return Text("microphone: no level yet")
        share = (min(self._level, 0.0) - _LOWEST_DB) / -_LOWEST_DB
        filled = min(max(round(share * _METER), 0), _METER)
        said = "too loud" if self._level > _LOUD_DB else f"{self._level:.0f} dB"
        return Text(f"microphone [{'#' * filled}{'.' * (_METER - filled)}] {said}", no_wrap=True)

    def _spoken(self, action: Speak) -> None:
        self._prompt = " ".join(action.sentences)
        self._alarm = action.kind is SpeechKind.ALARM
        self._state = "speaking"
        self._line(f"ALARM: {self._prompt}" if self._alarm else self._prompt)

    def _record(self, action: Record) -> None:
        if action.status is Status.NOT_APPLICABLE:
            return
        words = self._words(action)
        note = "" if action.confirmed is Confirmed.CONFIRMED else " (not settled)"
        self._answers.append((action.ref, words, note))
        self._line(f"Answer: {words}")

    def _settle(self, action: Confirm) -> None:
        note = {Confirmed.CONFIRMED: "", Confirmed.POSSIBLE: " (possible)"}
        for place, (ref, words, _) in enumerate(self._answers):
            if ref == action.ref:
                self._answers[place] = (
                    ref,
                    words,
                    note.get(action.confirmed, " (not settled)"),
                )

    def _words(self, action: Record) -> str:
        side = side_title(action.side, self._places)
        try:
            values = self._protocol.question(action.item).values
        except KeyError:
            values = {}
        title = action.item.replace(".", " ").replace("_", " ")
        title = f"{title}, {side}" if side else title
        if action.status is Status.NOT_OBSERVED:
            reason = action.reason or ""
            return f"{sentence(title)}: {REASONS.get(reason, reason.replace('_', ' '))}"
        if isinstance(action.value, float | int):
            name = values.get("number", title)
            told = f"{name} {number_words(float(action.value), action.unit)}"
        else:
            told = values.get(str(action.value), f"{title}: {action.value}")
        return sentence(told.replace("{side}", side).replace("{lump}", side))

    def _line(self, text: str) -> None:
        """Write one plain line where there is no picture."""
        if self._live is None:
            self._console.print(Text(text), soft_wrap=True, highlight=False)
