"""Resting breaths in two more ways: a word at each breath, and in silence beside a sleeping dog.

The rate from words is found in ``measuring.said``; here stands when what is said. Over the caution
line a rate is taken twice, as in a check.
"""

from __future__ import annotations

from handsfree.dialogue.actions import Confirmed, Tone, ToneName
from handsfree.dialogue.events import Event, Ticked
from handsfree.dialogue.phrases import amount, number
from handsfree.dialogue.states import State
from handsfree.hearing.verdict import Meaning, Verdict
from handsfree.interview.measured import Measured, Method
from handsfree.interview.talk import ALWAYS
from handsfree.measuring.rates import resolution
from handsfree.measuring.said import SaidRate, may_stop, said_rate
from handsfree.protocol.model import Protocol

__all__ = ["LEAST_S", "LONGEST_S", "AsleepBreaths", "SaidBreaths"]

LONGEST_S = 60.0
"""The longest that words are said."""
LEAST_S = 30.0
"""A count over less than this is taken again: never fifteen seconds."""
_EMPTY_S = 20.0
_TRIES = 3
_TIMED = frozenset({"back", "pause", "stop", "scrap", "done", "skip", "wont_let"})
_STATE, _RATE, _RECOUNT = "breaths.state", "breaths.rate", "breaths.recount"


class _Breaths(Measured):
    """What both ways share: which item is due, the read-back, the second count."""

    def __init__(self, protocol: Protocol) -> None:
        super().__init__()
        self._question = protocol.question(_STATE)
        above = [condition.above for condition in protocol.question(_RECOUNT).when]
        self._limits = protocol.question(_RATE).limits
        self._caution = tuple(line for line in above if line is not None)
        self._item = _RATE
        self._reading: int | None = None
        self._value = 0.0
        self._tries = 0
        self._wrong: int | None = None

    def ready(self, *before: str) -> None:
        """Ask for the start."""
        raise TypeError(f"{type(self).__name__} does not say how it starts")

    def _take_rate(
        self, value: float, said: str, method: Method, verdict: Verdict | None, *, by: str = ""
    ) -> None:
        """Store a rate, then read it back."""
        self._value = value
        self._reading = self.record(
            self._item,
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
            item=self._item,
        )

    def _settled(self, *, yes: bool) -> None:
        assert self._reading is not None
        reading, self._reading = self._reading, None
        if not yes:
            self._wrong = reading
            self.ready("Then once more.")
            return
        self.settle(reading)
        if self._item == _RATE and any(self._value > line for line in self._caution):
            self._item = _RECOUNT
            self._tries = 0
            self.ready("That is fast. Let it settle, then count once more.")
            return
        self.conclude("Stored.")

    def _failed(self, why: str) -> None:
        """An attempt gave no rate: try again, and leave it in the end."""
        self._tries += 1
        if self._tries >= _TRIES:
            self.record(self._item, None, reason="not_measured", supersedes=self._wrong)
            self.conclude(why, "I leave it.")
        else:
            self.ready(why)

    def skip(self) -> None:
        """Leave the measurement."""
        self.record(self._item, None, reason="skipped", supersedes=self._wrong)
        self.conclude("Left.")

    def resumed(self) -> None:
        """After a pause an attempt begins anew."""
        if self._reading is not None:
            self.repeat()
        else:
            self.ready()


class SaidBreaths(_Breaths):
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
        question = self._question
        self.put(
            "question",
            question.prompt,
            grammars=(question.grammar,),
            choices=tuple(question.choices.items()),
            item=_STATE,
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
            item=self._item,
        )

    def _begin_words(self) -> None:
        assert self.event is not None
        self._stage = "words"
        self.state = State.TIMING
        self._words, self._looked_at, self._voiced = [], 0, False
        self._start = (self.event.stream, self.event.sample)
        self._last = self.event.sample
        self.emit(Tone(name=ToneName.WINDOW_START))
        self.put("words", grammars=("breath",), commands=_TIMED, timed=True, quiet=True,
                 item=self._item)  # fmt: skip

    def answered(self, meaning: Meaning, verdict: Verdict | None) -> None:
        """Take the dog's state, the start, a breath, or the yes to the read-back."""
        value = str(meaning.value)
        if self._reading is not None:
            self._settled(yes=value == "yes")
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
        if self._stage == "words" and self._reading is None:
            self.answered(meaning, verdict)
        else:
            self.not_understood()

    def not_understood(self, why: str = "") -> None:
        """Nothing may sound while breaths are said."""
        if self._stage != "words" or self._reading is not None:
            super().not_understood(why)

    def _take_state(self, value: str, verdict: Verdict | None) -> None:
        if value not in self._question.values:
            self.not_understood()
            return
        self.record(_STATE, value, verdict=verdict, confirmed=Confirmed.CONFIRMED)
        if value in self._question.normal:
            self.ready(f"{self._question.values[value]}.")
        else:
            self.conclude(f"{self._question.values[value]}. Then no rate is counted.")

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
        if self._stage != "words" or self._reading is not None:
            return
        stream, start = self._start
        if stream != event.stream:
            self._failed("The sound broke off. Once more.")
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
        return may_stop(self._rate(), self._caution)

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
        self.measure(_RATE, "said", samples, stream=stream, value=value, unit="/min",
                     spoiled=spoiled)  # fmt: skip
        if rate is None or value is None:
            self._failed("I heard too few words. Once more.")
            return
        low, high = round(rate.low), round(rate.high)
        said = f"About {number(round(value))} breaths a minute"
        said += f", between {low} and {high}." if low < high else "."
        self._take_rate(value, said, rate.method, None, by="voice" if self._voiced else "keys")

    def command(self, token: str) -> bool:
        """Scrap and done while words are said."""
        if self._stage != "words" or self._reading is not None:
            return False
        if token == "done":
            self._close()
        elif token in {"scrap", "back"}:
            self.ready("Scrapped. Once more.")
        else:
            return False
        return True

    def back(self) -> None:
        """Take the reading back, or begin again."""
        if self._reading is not None:
            self._settled(yes=False)
        elif self._stage == "state":
            self.repeat()
        else:
            self.ready()

    def yes(self) -> bool:
        """Enter: yes, begin, or a breath."""
        assert self.event is not None
        if self._reading is not None:
            self._settled(yes=True)
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
        if self._reading is not None:
            if plain not in {"1", "yes", "y", "2", "no", "n"}:
                return False
            self._settled(yes=plain in {"1", "yes", "y"})
            return True
        if self._stage == "state":
            values = list(self._question.choices)
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
        if self._reading is not None:
            return "Say yes or no."
        return self._question.again if self._stage == "state" else "Say begin."

    def help(self) -> str:
        """How it is done."""
        if self._stage == "state":
            return self._question.help
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


class AsleepBreaths(_Breaths):
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
        self.record(_STATE, "asleep", confirmed=Confirmed.CONFIRMED)
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
        self.put("start", *words, grammars=("start_stop",), quiet=True, item=self._item)

    def answered(self, meaning: Meaning, verdict: Verdict | None) -> None:
        """Take the start, the end, the number, or the yes."""
        value = meaning.value
        if self._reading is not None:
            self._settled(yes=value == "yes")
        elif self._stage == "number":
            self._take_number(value, verdict)
        elif self._stage == "ready" and value == "start":
            self._begin_count(verdict.start if verdict else None)
        elif self._stage == "count" and value == "finish":
            self._end_count(verdict.start if verdict else None)

    def doubted(self, meaning: Meaning, verdict: Verdict) -> None:
        """A whisper is often in doubt: it is taken; a number is read back in any case."""
        if self._reading is None:
            self.answered(meaning, verdict)
        else:
            self.not_understood()

    def not_understood(self, why: str = "") -> None:
        """No sound beside the dog."""
        if self._stage == "number" or self._reading is not None:
            super().not_understood(why)

    def _begin_count(self, sample: int | None) -> None:
        assert self.event is not None
        self._stage = "count"
        self.state = State.TIMING
        self._start = (self.event.stream, self.event.sample if sample is None else sample)
        self.put("stop", grammars=("start_stop",), commands=_TIMED, timed=True, quiet=True,
                 item=self._item)  # fmt: skip

    def _end_count(self, sample: int | None) -> None:
        assert self.event is not None
        stream, start = self._start
        end = self.event.sample if sample is None else sample
        self.state = State.ASKING
        if stream != self.event.stream:
            self._failed("The sound broke off.")
            return
        self._lasted = self.seconds(start, end)
        short = self._lasted < LEAST_S
        self.measure(
            self._item,
            "window",
            (("window_start", start), ("window_end", end)),
            stream=stream,
            value=None if short else round(self._lasted, 2),
            unit="s",
            spoiled="too short" if short else "",
        )
        if short:
            self._failed("That was under half a minute. Count longer.")
            return
        self._stage = "number"
        self.put("count", "How many breaths?", grammars=("integer",), item=self._item)

    def _take_number(self, value: str | float, verdict: Verdict | None) -> None:
        if isinstance(value, str) or value != int(value):
            self.not_understood("I need the number that you counted.")
            return
        per_min = value * 60.0 / self._lasted
        limits = self._limits
        if limits is not None and not limits.hard_low <= per_min <= limits.hard_high:
            seconds = number(round(self._lasted))
            self.not_understood(f"{number(value)} in {seconds} seconds cannot be right.")
            return
        off = resolution(self._lasted)
        said = f"{amount(value, None)} breaths, so {number(round(per_min))} a minute."
        self._take_rate(
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

    def back(self) -> None:
        """Take the reading back, or begin again."""
        if self._reading is not None:
            self._settled(yes=False)
        else:
            self.ready()

    def yes(self) -> bool:
        """Enter: begin, end, yes."""
        if self._reading is not None:
            self._settled(yes=True)
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
        if self._reading is not None:
            if plain not in {"1", "yes", "y", "2", "no", "n"}:
                return False
            self._settled(yes=plain in {"1", "yes", "y"})
        elif self._stage == "number" and plain.isdigit():
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
        return "Say yes or no." if self._reading is not None else "Say the number of breaths."

    def help(self) -> str:
        """How it is done."""
        return (
            "One rise and one fall together are one breath. Don't count while it dreams. "
            "Whisper begin, count for a minute, whisper finished."
        )

    def may_speak(self) -> bool:
        """Nothing sounds beside the sleeping dog."""
        return self._stage == "number" or self._reading is not None

    def _silence(self) -> None:
        if self._stage == "number" or self._reading is not None:
            super()._silence()
