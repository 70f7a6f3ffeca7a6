"""Breaths or beats counted in a window: start, count in silence, say the number.

The person counts; the machine keeps the time on the sample clock and makes no sound in between. The
window's ends are stored in samples; a window that a pause or a lost device cut is void.
"""

from __future__ import annotations

from handsfree.dialogue import phrases, vocabulary
from handsfree.dialogue.actions import Measure, SpeechKind, ToneName
from handsfree.dialogue.answers import AnswerTaker
from handsfree.dialogue.desk import Desk
from handsfree.dialogue.events import SpokenOut, Ticked
from handsfree.dialogue.states import State

__all__ = ["CountStage"]


class CountStage:
    """Runs the window of a COUNT question."""

    def __init__(self, desk: Desk, taker: AnswerTaker) -> None:
        self._desk = desk
        self._taker = taker
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
            *self._taker.take_echo(),
            phrases.prompt(turn.step, by_touch=turn.by_touch),
            f"Say start. I tell you when {window_s} seconds are over.",
            kind=SpeechKind.PROMPT,
        )
        self.listen_ready()

    def listen_ready(self, *, quiet: bool = False) -> None:
        """Open the microphone for the start."""
        self._desk.listen("start_stop", commands=vocabulary.QUESTION, quiet=quiet)

    def started(self, sample: int) -> None:
        """The person said start, or pressed the key: the window opens with a tone."""
        desk = self._desk
        self._taker.settle_echo()
        desk.flow.move("count")
        self._start = None
        desk.ask("counting")
        desk.tone(ToneName.WINDOW_START)
        desk.listen(commands=vocabulary.TIMED - {"scrap"}, quiet=True)

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
            self.begin()
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

    def is_number_open(self) -> bool:
        """Whether the count is being asked for."""
        turn = self._desk.turn
        return turn is not None and turn.window_s is not None

    def ask_number(self) -> None:
        """Ask for the number counted."""
        desk = self._desk
        desk.flow.move("ask")
        desk.ask("count")
        desk.say("Stop. How many did you count?", kind=SpeechKind.PROMPT)
        self._taker.listen()

    def abandon(self) -> None:
        """A pause, an alarm or a lost device: the running window is void."""
        turn = self._desk.turn
        if self._desk.flow.state is State.COUNTING and turn is not None:
            self._desk.note("window_void", item=turn.step.item)
        self._start = None

    def _window_s(self) -> int:
        turn = self._desk.turn
        assert turn is not None
        assert turn.step.window_s is not None
        return turn.step.window_s
