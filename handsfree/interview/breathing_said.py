"""Resting breaths by a word at each: when what is said.

The rate from the words is found in ``measuring.said``.
"""

from __future__ import annotations

from handsfree.dialogue.actions import Confirmed, Tone, ToneName
from handsfree.dialogue.events import Event, Ticked
from handsfree.dialogue.phrases import number
from handsfree.dialogue.states import State
from handsfree.hearing.verdict import Meaning, Verdict
from handsfree.interview.breathing import RATE, STATE, TIMED, Breaths
from handsfree.measuring.said import SaidRate, may_stop, said_rate
from handsfree.protocol.model import Protocol

__all__ = ["LONGEST_S", "SaidBreaths"]

LONGEST_S = 60.0
"""The longest that words are said."""
_EMPTY_S = 20.0


class SaidBreaths(Breaths):
    """A short word at each breath, up to a minute; less where the rate is plain before.

    Args:
        protocol: The check's data: the dog's state, and the line for a second count.
    """

    def __init__(self, protocol: Protocol) -> None:
        super().__init__(protocol)
        self._stage = "state"
        self._start: tuple[str, int] = ("", 0)
        self._words: list[int] = []
        self._looked_at = 0
        self._voiced = False
        self._last = 0

    def begin(self) -> None:
        """Ask what the dog does."""
        question = self.question
        self.put(
            "question",
            question.prompt,
            grammars=(question.grammar,),
            choices=tuple(question.choices.items()),
            item=STATE,
        )

    def ready(self, *before: str) -> None:
        """Wait for the start."""
        self._stage = "ready"
        self.state = State.ASKING
        self.put(
            "start",
            "Say begin. Then say tick at each breath, until the tone.",
            grammars=("start_stop",),
            before=before,
            item=self.item,
        )

    def _begin_words(self) -> None:
        assert self.event is not None
        self._stage = "words"
        self.state = State.TIMING
        self._words, self._looked_at, self._voiced = [], 0, False
        self._start = (self.event.stream, self.event.sample)
        self._last = self.event.sample
        self.emit(Tone(name=ToneName.WINDOW_START))
        self.put("words", grammars=("breath",), commands=TIMED, timed=True, quiet=True,
                 item=self.item)  # fmt: skip

    def answered(self, meaning: Meaning, verdict: Verdict | None) -> None:
        """Take the dog's state, the start, a breath, or the yes to the read-back."""
        value = str(meaning.value)
        if self.reading is not None:
            self.answer_read_back(yes=value == "yes")
        elif self._stage == "state":
            self._take_state(value, verdict)
        elif self._stage == "ready":
            if value == "start":
                self._begin_words()
            else:
                self.not_understood()
        elif verdict is not None:
            self._voiced = True
            self._breath(verdict.words[0].start if verdict.words else verdict.start)

    def doubted(self, meaning: Meaning, verdict: Verdict) -> None:
        """A word in doubt among the breaths still is a sound at that moment."""
        if self._stage == "words" and self.reading is None:
            self.answered(meaning, verdict)
        else:
            self.not_understood()

    def not_understood(self, why: str = "") -> None:
        """Nothing may sound while breaths are said."""
        if self._stage != "words" or self.reading is not None:
            super().not_understood(why)

    def _take_state(self, value: str, verdict: Verdict | None) -> None:
        if value not in self.question.values:
            self.not_understood()
            return
        self.record(STATE, value, verdict=verdict, confirmed=Confirmed.CONFIRMED)
        if value in self.question.normal:
            self.ready(f"{self.question.values[value]}.")
        else:
            self.conclude(f"{self.question.values[value]}. Then no rate is counted.")

    def _breath(self, sample: int) -> None:
        assert self.event is not None
        if self.event.stream != self._start[0]:
            return
        self._words.append(sample)
        self._last = max(self._last, sample)
        self._look(self.event)

    def ticked(self, event: Ticked) -> None:
        """Stop when it is plain, when a minute is over, or when nothing is said."""
        self._look(event)

    def _look(self, event: Event) -> None:
        if self._stage != "words" or self.reading is not None:
            return
        stream, start = self._start
        if stream != event.stream:
            self.failed("The sound broke off. Once more.")
            return
        lasted = self.seconds(start, event.sample)
        nothing = self.seconds(self._last, event.sample) >= _EMPTY_S
        if nothing or lasted >= LONGEST_S or self._is_plain():
            self._close()

    def _is_plain(self) -> bool:
        """Whether the words so far are enough; looked at anew with each word alone."""
        if len(self._words) == self._looked_at:
            return False
        self._looked_at = len(self._words)
        return may_stop(self._rate(), self.caution)

    def _rate(self) -> SaidRate | None:
        assert self.opened is not None
        return said_rate([word / self.opened.rate for word in self._words])

    def _close(self) -> None:
        stream, start = self._start
        assert self.event is not None
        rate = self._rate()
        self.emit(Tone(name=ToneName.WINDOW_END))
        self._stage = "closed"
        self.state = State.ASKING
        samples = (
            ("window_start", start),
            *((f"breath{n}", word) for n, word in enumerate(self._words, start=1)),
            ("window_end", self.event.sample),
        )
        value = None if rate is None else round(rate.per_min, 1)
        spoiled = "" if rate is not None else "too few words"
        self.measure(RATE, "said", samples, stream=stream, value=value, unit="/min",
                     spoiled=spoiled)  # fmt: skip
        if rate is None or value is None:
            self.failed("I heard too few words. Once more.")
            return
        low, high = round(rate.low), round(rate.high)
        said = f"About {number(round(value))} breaths a minute"
        said += f", between {low} and {high}." if low < high else "."
        self.take_rate(value, said, rate.method, None, by="voice" if self._voiced else "keys")

    def command(self, token: str) -> bool:
        """Scrap and done while words are said."""
        if self._stage != "words" or self.reading is not None:
            return False
        if token == "done":
            self._close()
        elif token in {"scrap", "back"}:
            self.ready("Scrapped. Once more.")
        else:
            return False
        return True

    def back(self) -> None:
        """Take the reading back, or begin again; ask for the dog's state anew."""
        if self.reading is None and self._stage == "state":
            self.repeat()
        else:
            super().back()

    def yes(self) -> bool:
        """Enter: yes, begin, or a breath."""
        assert self.event is not None
        if self.reading is not None:
            self.answer_read_back(yes=True)
        elif self._stage == "ready":
            self._begin_words()
        elif self._stage == "words":
            self._breath(self.event.sample)
        else:
            return False
        return True

    def typed(self, text: str, *, number: bool) -> bool:
        """Take a typed choice, yes or no."""
        plain = text.strip().lower()
        if self.reading is not None:
            return self.type_read_back(plain)
        if self._stage == "state":
            values = list(self.question.choices)
            if plain.isdigit() and 0 < int(plain) <= len(values):
                plain = values[int(plain) - 1]
            self._take_state(plain.replace(" ", "_"), None)
            return True
        if self._stage == "ready" and plain in {"begin", "start"}:
            self._begin_words()
            return True
        return False

    def choices(self) -> str:
        """What can be said."""
        if self.reading is not None:
            return "Say yes or no."
        return self.question.again if self._stage == "state" else "Say begin."

    def help(self) -> str:
        """How it is done."""
        if self._stage == "state":
            return self.question.help
        return (
            "Watch the flank or rest a light hand on it. Say tick as it rises, each time. "
            "A missed or doubled word does no harm."
        )

    def may_speak(self) -> bool:
        """Nothing sounds while breaths are said."""
        return self._stage != "words"

    def _silence(self) -> None:
        if self._stage != "words":
            super()._silence()
