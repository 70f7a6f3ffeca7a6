"""A whole check by keys: no sound, no microphone, the same machine and the same records.

Time is a monotonic stand-in for the sample clock, with a stream id of its own, so that no interval
ever crosses into another stream. One fact a line, nothing redrawn: a screen reader can follow.
"""

from __future__ import annotations

import queue
import time
import uuid
from collections import deque
from collections.abc import Callable

from handsfree.audio.device import SAMPLE_RATE
from handsfree.dialogue.actions import Listen, Speak, SpeechKind, Tick, Tone, ToneName
from handsfree.dialogue.events import Key, Keyed, Opened, SpokenOut, Stopped, Ticked
from handsfree.dialogue.states import State
from handsfree.interview.fading import Fade
from handsfree.session.keys import keyed
from handsfree.session.runner import Driven

__all__ = ["TypedDriver"]

_TICK_S = 0.25
_TAKES_NO_ANSWER = {State.HOLDING, State.COUNTING, State.RESTING, State.CONCLUDING}
_ENTER = {
    "press": "Enter on pressing",
    "start": "Enter to begin",
    "paused": "Enter to go on, stop to end",
    "result": "Enter to finish, r to repeat",
}
"""What Enter does where there are no choices."""
_SOUNDED = {
    ToneName.WINDOW_START: "Count now.",
    ToneName.WINDOW_END: "Stop counting.",
}


class TypedDriver:
    """Runs one exam by typed lines.

    Args:
        lines: Typed lines; None in it marks the end of input.
        write: Writes one line for the person.
        clock: Seconds that only go forward.
    """

    def __init__(
        self,
        *,
        lines: queue.SimpleQueue[str | None],
        write: Callable[[str], None],
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._lines = lines
        self._write = write
        self._clock = clock
        self._began = clock()
        self._stream = f"keys-{uuid.uuid4()}"
        self._held: deque[str | None] = deque()
        self._spoken_at: float | None = None
        self._stop_why: str | None = None
        self._runner: Driven | None = None

    # Output, for the runner

    def speak(self, action: Speak) -> None:
        """Write what would be spoken, a line a sentence."""
        mark = "! " if action.kind is SpeechKind.ALARM else ""
        for sentence in action.sentences:
            text = sentence.replace("Answer after the tone. ", "")
            if "tone means" not in text and "soft tone" not in text:  # nothing sounds here
                self._write(f"{mark}{text}")
        self._spoken_at = self._clock()

    def tone(self, action: Tone) -> None:
        """Write what a tone would say, where it says more than that we listen."""
        if action.name in _SOUNDED:
            self._write(_SOUNDED[action.name])
        self._spoken_at = self._clock()

    def tick(self, action: Tick) -> None:
        """Give the hold its time: the exam is told when the last tick has passed."""
        self._write(
            f"Hold for {action.count} seconds. Press Enter on letting go, and again when "
            "the colour is back."
        )
        self._spoken_at = self._clock() + action.count * action.every_s

    def fade(self, action: Fade) -> None:
        """Nothing can be heard here: the talk is told at once that it is over."""
        self._spoken_at = self._clock()

    def hush(self) -> None:
        """Nothing sounds here."""

    def listen(self, action: Listen) -> None:
        """Typed lines are always taken; the choices are written beside a question."""
        asked = self._runner.asked if self._runner else None
        if asked is None:
            return
        if asked.stage == "question" and asked.choices:
            listed = ", ".join(f"{n} {word}" for n, (_, word) in enumerate(asked.choices, start=1))
            self._write(f"  {listed}")
        elif asked.stage == "confirm":
            self._write("  Enter or 1 yes, 2 no")
        elif asked.stage in _ENTER:
            self._write(f"  {_ENTER[asked.stage]}")

    def pace(self, step: int) -> None:
        """Nothing is spoken here."""

    def next_line(self) -> str | None:
        """Return the next line that no exam has taken; None once the input ended or stopped."""
        while self._stop_why is None:
            if self._held:
                line = self._held.popleft()
            else:
                try:
                    line = self._lines.get(timeout=_TICK_S)
                except queue.Empty:
                    continue
            if line is None:
                self._stop_why = "the input ended"
            return line
        return None

    # running

    def stop(self, why: str) -> None:
        """End the run soon; safe to call from a signal handler."""
        self._stop_why = why

    def run(self, runner: Driven, opened: Callable[[str, int], Opened]) -> str:
        """Run the exam to its end and return its outcome; the end of input stops and saves."""
        self._runner = runner
        runner.feed(opened(self._stream, self._sample()))
        while runner.finished is None:
            if self._spoken_at is not None and self._clock() >= self._spoken_at:
                self._spoken_at = None
                runner.feed(SpokenOut(stream=self._stream, sample=self._sample()))
                continue
            if self._stop_why is not None:
                runner.feed(Stopped(stream=self._stream, sample=self._sample(), why=self._stop_why))
                break
            self._take_line(runner)
        assert runner.finished is not None
        return runner.finished

    def _take_line(self, runner: Driven) -> None:
        if not self._held:
            try:
                self._held.append(self._lines.get(timeout=_TICK_S))
            except queue.Empty:
                runner.feed(Ticked(stream=self._stream, sample=self._sample()))
                return
        line = self._held[0]
        if line is None:
            self._stop_why = "the input ended"
            return
        typed = keyed(line, runner.asked)
        if runner.exam.state in _TAKES_NO_ANSWER and typed.key is not Key.COMMAND:
            time.sleep(_TICK_S / 5)
            runner.feed(Ticked(stream=self._stream, sample=self._sample()))
            return
        self._held.popleft()
        runner.feed(
            Keyed(stream=self._stream, sample=self._sample(), key=typed.key, text=typed.text)
        )

    def _sample(self) -> int:
        return round((self._clock() - self._began) * SAMPLE_RATE)
