"""What every way of counting resting breaths shares: what is due, the read-back, the second count.

Over the caution line a rate is taken twice, as in a check. How breaths are told stands in the
modules of the ways: ``breathing_said`` and ``breathing_asleep``.
"""

from __future__ import annotations

from handsfree.dialogue.keying import typed_yes
from handsfree.hearing.verdict import Verdict
from handsfree.interview.measured import Measured, Method
from handsfree.interview.talk import ALWAYS
from handsfree.protocol.model import Protocol

__all__ = ["RATE", "STATE", "TIMED", "Breaths"]

STATE, RATE = "breaths.state", "breaths.rate"
_RECOUNT = "breaths.recount"
_TRIES = 3
TIMED = frozenset({"back", "pause", "stop", "scrap", "done", "skip", "wont_let"})
"""Commands that are open while breaths are counted."""


class Breaths(Measured):
    """A talk that counts resting breaths; a way says how an attempt starts and goes.

    Attributes:
        question: Asks what the dog does.
        limits: What a rate can be.
        caution: A rate above one of these is counted twice.
        item: The item that is due: the rate, or its second count.
        reading: Ref of the rate that is read back; None while none is.
    """

    def __init__(self, protocol: Protocol) -> None:
        super().__init__()
        self.question = protocol.question(STATE)
        above = [condition.above for condition in protocol.question(_RECOUNT).when]
        self.limits = protocol.question(RATE).limits
        self.caution = tuple(line for line in above if line is not None)
        self.item = RATE
        self.reading: int | None = None
        self._value = 0.0
        self._tries = 0
        self._wrong: int | None = None

    def ready(self, *before: str) -> None:
        """Ask for the start."""
        raise TypeError(f"{type(self).__name__} does not say how it starts")

    def take_rate(
        self, value: float, said: str, method: Method, verdict: Verdict | None, *, by: str = ""
    ) -> None:
        """Store a rate, then read it back."""
        self._value = value
        self.reading = self.record(
            self.item,
            value,
            unit="/min",
            method=method,
            verdict=verdict,
            by=by,
            supersedes=self._wrong,
        )
        self._wrong = None
        self.put(
            "confirm",
            f"{said} Right?",
            grammars=("confirm",),
            commands=ALWAYS,
            read_back=value,
            item=self.item,
        )

    def answer_read_back(self, *, yes: bool) -> None:
        """Take the yes or no to a rate: keep it, or count again; over the line count twice."""
        assert self.reading is not None
        reading, self.reading = self.reading, None
        if not yes:
            self._wrong = reading
            self.ready("Then once more.")
            return
        self.settle(reading)
        if self.item == RATE and any(self._value > line for line in self.caution):
            self.item = _RECOUNT
            self._tries = 0
            self.ready("That is fast. Let it settle, then count once more.")
            return
        self.conclude("Stored.")

    def back(self) -> None:
        """Take the reading back, or begin again."""
        if self.reading is not None:
            self.answer_read_back(yes=False)
        else:
            self.ready()

    def type_read_back(self, text: str) -> bool:
        """Take a typed yes or no to a rate; return whether it is one."""
        says_yes = typed_yes(text)
        if says_yes is None:
            return False
        self.answer_read_back(yes=says_yes)
        return True

    def failed(self, why: str) -> None:
        """An attempt gave no rate: try again, and leave it in the end."""
        self._tries += 1
        if self._tries >= _TRIES:
            self.record(self.item, None, reason="not_measured", supersedes=self._wrong)
            self.conclude(why, "I leave it.")
        else:
            self.ready(why)

    def skip(self) -> None:
        """Leave the measurement."""
        self.record(self.item, None, reason="skipped", supersedes=self._wrong)
        self.conclude("Left.")

    def resumed(self) -> None:
        """After a pause an attempt begins anew."""
        if self.reading is not None:
            self.repeat()
        else:
            self.ready()
