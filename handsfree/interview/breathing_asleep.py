"""Resting breaths in silence beside a sleeping dog: the person counts, the clock runs.

No sound is made until the count is over.
"""

from __future__ import annotations

from handsfree.dialogue.actions import Confirmed
from handsfree.dialogue.phrases import amount, number
from handsfree.dialogue.states import State
from handsfree.hearing.verdict import Meaning, Verdict
from handsfree.interview.breathing import STATE, TIMED, Breaths
from handsfree.measuring.rates import resolution
from handsfree.protocol.model import Protocol

__all__ = ["LEAST_S", "AsleepBreaths"]

LEAST_S = 30.0
"""A count over less than this is taken again: never fifteen seconds."""


class AsleepBreaths(Breaths):
    """Breaths of a sleeping dog: started and stopped by a key or a whisper, in silence between.

    Args:
        protocol: The check's data.
    """

    def __init__(self, protocol: Protocol) -> None:
        super().__init__(protocol)
        self._stage = "ready"
        self._start: tuple[str, int] = ("", 0)
        self._lasted = 0.0

    def begin(self) -> None:
        """Say how it goes, then fall silent."""
        self.record(STATE, "asleep", confirmed=Confirmed.CONFIRMED)
        self.ready(
            "Go to the sleeping dog. From now on I make no sound.",
            "Whisper begin, or press Enter, and count the breaths.",
            "After a minute or more whisper finished, or press Enter again.",
        )

    def ready(self, *before: str) -> None:
        """Wait for the start without a sound."""
        self._stage = "ready"
        self.state = State.ASKING
        words = before if len(before) > 1 else (*before, "Begin again when you like.")
        self.put("start", *words, grammars=("start_stop",), quiet=True, item=self.item)

    def answered(self, meaning: Meaning, verdict: Verdict | None) -> None:
        """Take the start, the end, the number, or the yes."""
        value = meaning.value
        if self.reading is not None:
            self.answer_read_back(yes=value == "yes")
        elif self._stage == "number":
            self._take_number(value, verdict)
        elif self._stage == "ready" and value == "start":
            self._begin_count(verdict.start if verdict else None)
        elif self._stage == "count" and value == "finish":
            self._end_count(verdict.start if verdict else None)

    def doubted(self, meaning: Meaning, verdict: Verdict) -> None:
        """A whisper is often in doubt: it is taken; a number is read back in any case."""
        if self.reading is None:
            self.answered(meaning, verdict)
        else:
            self.not_understood()

    def not_understood(self, why: str = "") -> None:
        """No sound beside the dog."""
        if self._stage == "number" or self.reading is not None:
            super().not_understood(why)

    def _begin_count(self, sample: int | None) -> None:
        assert self.event is not None
        self._stage = "count"
        self.state = State.TIMING
        self._start = (self.event.stream, self.event.sample if sample is None else sample)
        self.put("stop", grammars=("start_stop",), commands=TIMED, timed=True, quiet=True,
                 item=self.item)  # fmt: skip

    def _end_count(self, sample: int | None) -> None:
        assert self.event is not None
        stream, start = self._start
        end = self.event.sample if sample is None else sample
        self.state = State.ASKING
        if stream != self.event.stream:
            self.failed("The sound broke off.")
            return
        self._lasted = self.seconds(start, end)
        short = self._lasted < LEAST_S
        self.measure(
            self.item,
            "window",
            (("window_start", start), ("window_end", end)),
            stream=stream,
            value=None if short else round(self._lasted, 2),
            unit="s",
            spoiled="too short" if short else "",
        )
        if short:
            self.failed("That was under half a minute. Count longer.")
            return
        self._stage = "number"
        self.put("count", "How many breaths?", grammars=("integer",), item=self.item)

    def _take_number(self, value: str | float, verdict: Verdict | None) -> None:
        if isinstance(value, str) or value != int(value):
            self.not_understood("I need the number that you counted.")
            return
        per_min = value * 60.0 / self._lasted
        limits = self.limits
        if limits is not None and not limits.hard_low <= per_min <= limits.hard_high:
            seconds = number(round(self._lasted))
            self.not_understood(f"{number(value)} in {seconds} seconds cannot be right.")
            return
        off = resolution(self._lasted)
        said = f"{amount(value, None)} breaths, so {number(round(per_min))} a minute."
        self.take_rate(
            round(per_min, 1),
            said,
            (
                ("way", "counted in silence"),
                ("count", float(value)),
                ("window_s", round(self._lasted, 2)),
                ("resolution_per_min", round(off, 2)),
            ),
            verdict,
        )

    def command(self, token: str) -> bool:
        """Scrap while it counts."""
        if self._stage == "count" and token in {"scrap", "back"}:
            self.ready("Scrapped.")
            return True
        if self._stage == "count" and token == "done":
            self._end_count(None)
            return True
        return False

    def yes(self) -> bool:
        """Enter: begin, end, yes."""
        if self.reading is not None:
            self.answer_read_back(yes=True)
        elif self._stage == "ready":
            self._begin_count(None)
        elif self._stage == "count":
            self._end_count(None)
        else:
            return False
        return True

    def typed(self, text: str, *, number: bool) -> bool:
        """Take a typed number, yes or no."""
        plain = text.strip().lower()
        if self.reading is not None:
            return self.type_read_back(plain)
        if self._stage == "number" and plain.isdigit():
            self._take_number(float(plain), None)
        elif self._stage == "ready" and plain in {"begin", "start"}:
            self._begin_count(None)
        elif self._stage == "count" and plain in {"finished", "end"}:
            self._end_count(None)
        else:
            return False
        return True

    def choices(self) -> str:
        """What can be said."""
        return "Say yes or no." if self.reading is not None else "Say the number of breaths."

    def help(self) -> str:
        """How it is done."""
        return (
            "One rise and one fall together are one breath. Don't count while it dreams. "
            "Whisper begin, count for a minute, whisper finished."
        )

    def may_speak(self) -> bool:
        """Nothing sounds beside the sleeping dog."""
        return self._stage == "number" or self.reading is not None

    def _silence(self) -> None:
        if self._stage == "number" or self.reading is not None:
            super()._silence()
