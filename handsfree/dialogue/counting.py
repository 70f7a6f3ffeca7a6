"""Breaths or beats counted in a window: start, count in silence, say the number.

The person counts; the machine keeps the time on the sample clock and makes no sound in between. The
window's ends are stored in samples; a window that a pause or a lost device cut is void.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from handsfree.dialogue import phrases, vocabulary
from handsfree.dialogue.actions import Measure, SpeechKind, ToneName
from handsfree.dialogue.events import SpokenOut, Ticked
from handsfree.dialogue.states import State

if TYPE_CHECKING:
    from handsfree.dialogue.parts import Parts

__all__ = ["CountStage"]


class CountStage:
    """Runs the window of a COUNT question."""

    def __init__(self, parts: Parts) -> None:
        self._parts = parts
        self._desk = parts.desk
        self._start: tuple[str, int] | None = None
        self._ordinal = 0

    def begin(self) -> None:
        """Say what is counted and wait for the start."""
        desk, turn = self._desk, self._desk.turn
        assert turn is not None
        turn.window_s = None
        self._start = None
        desk.flow.move("get_ready")
        desk.ask("start")
        window_s = self._window_s()
        desk.say(
            *self._parts.settling.take_echo(),
            phrases.prompt(turn.step, turn.by_touch, brief=desk.brief),
            "Say begin."
            if desk.brief
            else f"Say begin, and count from tone to tone: {window_s} seconds.",
            kind=SpeechKind.PROMPT,
        )
        self.listen_ready()

    def listen_ready(self, *, quiet: bool = False) -> None:
        """Open the microphone for the start."""
        self._desk.listen("start_stop", commands=vocabulary.QUESTION, quiet=quiet)

    def started(self, sample: int) -> None:
        """The person said start, or pressed the key: the window opens with a tone."""
        desk = self._desk
        self._parts.settling.settle_echo()
        desk.flow.move("count")
        self._start = None
        desk.ask("counting")
        desk.tone(ToneName.WINDOW_START)
        desk.listen(commands=vocabulary.TIMED, quiet=True)

    def spoken_out(self, event: SpokenOut) -> None:
        """The start tone has been played: the window runs from here."""
        if self._start is None:
            self._start = (event.stream, event.sample)

    def ticked(self, event: Ticked) -> None:
        """Close the window when it is over and ask for the number."""
        desk, turn = self._desk, self._desk.turn
        assert turn is not None
        if self._start is None:
            return
        stream, start = self._start
        if stream != event.stream:
            self.scrap()
            return
        window_s = self._window_s()
        if desk.seconds(start, event.sample) < window_s:
            return
        turn.window_s = window_s
        self._ordinal += 1
        turn.method = (("window_start", float(start)), ("window_end", float(event.sample)))
        desk.tone(ToneName.WINDOW_END)
        desk.emit(
            Measure(
                item=turn.step.item,
                kind="window",
                ordinal=self._ordinal,
                stream=stream,
                samples=(("window_start", start), ("window_end", event.sample)),
                value=float(window_s),
                unit="s",
                side=turn.step.side,
            )
        )
        self.ask_number()

    def ask_number(self) -> None:
        """Ask for the number counted."""
        self._parts.asking.put("How many did you count?")

    def scrap(self) -> None:
        """The dog moved: the window does not count."""
        self.abandon("scrapped")
        self.begin()

    def abandon(self, why: str) -> None:
        """A pause, an alarm or a lost device: the running window is void."""
        turn = self._desk.turn
        if self._desk.flow.state is State.COUNTING and turn is not None:
            self._desk.note("window_void", item=turn.step.item, why=why)
        self._start = None

    def _window_s(self) -> int:
        turn = self._desk.turn
        assert turn is not None
        assert turn.step.window_s is not None
        return turn.step.window_s
