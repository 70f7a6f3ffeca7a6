"""The refill stopwatch as a part of the talk: press, four ticks, release, pink; three times.

What a repeat is worth is decided in ``measuring.refill``; here stands when what is said. From the
fourth tick on nothing sounds until pink is heard.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from handsfree.dialogue import phrases, vocabulary
from handsfree.dialogue.actions import Hush, Measure, SpeechKind, Status, Tick
from handsfree.dialogue.events import Keyed, SpokenOut, Ticked
from handsfree.dialogue.states import State
from handsfree.dialogue.turn import Answer
from handsfree.hearing.verdict import Meaning, MeaningKind, Verdict, WordTime
from handsfree.measuring.awaited import is_awaited
from handsfree.measuring.refill import Refill, RefillStep, Repeat

if TYPE_CHECKING:
    from handsfree.dialogue.parts import Parts

__all__ = ["RefillStage"]

_STAGES = (State.PRESSING, State.HOLDING, State.TIMING, State.RESTING)
_COUNTS = {1: "One", 2: "Two", 3: "Three", 4: "Four"}
_OVER_S = 8.0
"""Seconds without a word after the hold until a repeat is given up."""
_LONGEST_S = 15.0
"""Seconds after the hold until it is given up although other sounds keep coming."""
_WORDS = ("After four ticks let go, and say release.", "When the colour is back, say now.")
"""Said the first time, ahead of the question: nothing can be said once the ticks run."""
_AWAITS = {RefillStep.RELEASE: "release", RefillStep.PINK: "pink"}
_NO_SPEECH = frozenset({"too_short", "own_voice"})
"""Ignored for these reasons a sound was no word of anybody's."""


class RefillStage:
    """Runs a REFILL question."""

    def __init__(self, parts: Parts) -> None:
        self._parts = parts
        self._desk = parts.desk
        self._refill: Refill | None = None
        self._item = ""
        self._since = ("", 0)
        """When the hold ended."""

    @property
    def running(self) -> bool:
        """Whether the stopwatch is what is being asked."""
        return self._desk.flow.state in _STAGES

    def begin(self) -> None:
        """Ask for a press: the first time in full, then for a fresh spot."""
        desk, turn = self._desk, self._desk.turn
        assert turn is not None
        assert desk.opened is not None
        if self._refill is None or self._item != turn.step.item:
            self._refill = Refill(
                rate=desk.opened.rate,
                lag_s=desk.opened.lag_s,
                lag_spread_s=desk.opened.lag_spread_s,
            )
            self._item = turn.step.item
        desk.flow.move("press")
        if self._refill.step is not RefillStep.PRESS:
            self._finish()
            return
        desk.ask("press")
        first = not self._refill.repeats
        texts: tuple[str, ...] = ("A fresh spot: press, and say press.",)
        if first:
            asked = phrases.prompt(turn.step, turn.by_touch, brief=desk.brief)
            texts = (asked,) if desk.brief else (*_WORDS, asked)
        desk.say(*self._parts.settling.take_echo(), *texts, kind=SpeechKind.PROMPT)
        self.listen_press()

    def listen_press(self, *, quiet: bool = False) -> None:
        """Open the microphone for "press"."""
        self._desk.listen("press", commands=vocabulary.TIMED, timed=True, quiet=quiet)

    def heard(self, meaning: Meaning, verdict: Verdict) -> None:
        """Take the words of the stopwatch."""
        assert self._desk.event is not None
        stream = self._desk.event.stream
        if self._desk.flow.state is State.PRESSING:
            if meaning.value == "press":
                self._press(verdict.words[0].start if verdict.words else verdict.start, stream)
            return
        assert self._refill is not None
        words = verdict.words or (
            WordTime(word=str(meaning.value), start=verdict.start, end=verdict.end, doubtful=True),
        )
        repeat = self._refill.words(words, stream)
        if repeat is not None:
            self._closed(repeat)

    def key(self, event: Keyed) -> None:
        """A key or pedal stands for the word that is waited for."""
        if self._desk.flow.state is State.PRESSING:
            self._press(event.sample, event.stream)
            return
        assert self._refill is not None
        repeat = self._refill.key(event.sample, event.stream)
        if repeat is not None:
            self._closed(repeat)

    def doubtful(self, verdict: Verdict) -> None:
        """Something was heard past the hold that may have been a word.

        It is taken where it fits the one word that is waited for; otherwise the repeat is in doubt.
        """
        desk, refill = self._desk, self._refill
        assert refill is not None
        assert desk.event is not None
        assert desk.opened is not None
        best, stream = verdict.best, desk.event.stream
        if best is None or best.meaning.kind is not MeaningKind.ANSWER or not verdict.words:
            refill.unclear(verdict.start, stream)
            return
        words = verdict.words
        if not is_awaited(verdict, _AWAITS.get(refill.step, ""), rate=desk.opened.rate):
            words = tuple(replace(word, doubtful=True) for word in words)
        repeat = refill.words(words, stream)
        if repeat is not None:
            self._closed(repeat)

    def ignored(self, verdict: Verdict) -> None:
        """A sound that was not for us, or lost samples: neither is silently waited over."""
        desk, refill = self._desk, self._refill
        assert refill is not None
        assert desk.event is not None
        if verdict.reason == "lost":
            repeat = refill.gap(desk.event.sample)
            if repeat is not None:
                self._closed(repeat)
        elif desk.flow.state is State.TIMING and verdict.reason not in _NO_SPEECH:
            refill.unclear(verdict.start, desk.event.stream)
            desk.note("unclear_sound", item=self._item)

    def held(self, event: SpokenOut) -> None:
        """The fourth tick has sounded."""
        assert self._refill is not None
        repeat = self._refill.held(event.sample, event.stream)
        if repeat is not None:
            self._closed(repeat)
            return
        self._since = (event.stream, event.sample)
        self._desk.flow.move("time")
        self._desk.ask("release")

    def silent(self) -> None:
        """Nothing was said for a while."""
        assert self._refill is not None
        assert self._desk.event is not None
        repeat = self._refill.silent(self._desk.event.sample)
        if repeat is not None:
            self._closed(repeat)

    def ticked(self, event: Ticked) -> None:
        """Between repeats ask for the next press in time; in one, give up what takes too long."""
        assert self._refill is not None
        if self._desk.flow.state is State.RESTING:
            if self._refill.wait_s(event.sample, event.stream) <= 0.0:
                self.begin()
            return
        stream, sample = self._since
        if stream != event.stream or self._desk.seconds(sample, event.sample) > _LONGEST_S:
            self.silent()

    def scrap(self) -> None:
        """The dog spoiled it: the open repeat, or the last one, does not count."""
        assert self._desk.event is not None
        repeat = self._refill.scrap(self._desk.event.sample) if self._refill else None
        if repeat is not None:
            self._closed(repeat)
        else:
            self._parts.asking.reask("Nothing to scrap.")

    def abandon(self, why: str) -> None:
        """A pause, an alarm or a lost device: the open repeat is void, good ones are kept."""
        if self._refill is None or not self.running:
            return
        assert self._desk.event is not None
        repeat = self._refill.gap(self._desk.event.sample)
        if repeat is not None:
            self._silence_ticks()
            self._store(repeat)
            self._desk.note("repeat_void", why=why)

    def _silence_ticks(self) -> None:
        if self._desk.flow.state is State.HOLDING:
            self._desk.emit(Hush())

    def _press(self, sample: int, stream: str) -> None:
        assert self._refill is not None
        self._parts.settling.settle_echo()
        spoiled = self._refill.press(sample, stream)
        if spoiled is not None:
            self._closed(spoiled)
            return
        desk = self._desk
        desk.flow.move("hold")
        desk.ask("hold")
        desk.emit(Tick(count=4, every_s=1.0))
        desk.listen(
            "release_pink", commands=vocabulary.TIMED, timed=True, quiet=True, window_s=_OVER_S
        )

    def _closed(self, repeat: Repeat) -> None:
        """Store a finished repeat, and go on: result, rest, or give up."""
        assert self._refill is not None
        desk, refill = self._desk, self._refill
        self._silence_ticks()
        self._store(repeat)
        if refill.step is RefillStep.DONE or refill.step is RefillStep.SPENT:
            self._finish()
        else:
            said = "Good." if repeat.good else (repeat.why or "That one is in doubt.")
            left = _COUNTS.get(refill.still_needed, str(refill.still_needed))
            if desk.flow.state is not State.RESTING:
                desk.flow.move("rest")
            desk.ask("rest")
            rest = "Let the spot rest, and find a fresh one." if desk.once("rest") else ""
            desk.say(said, f"{left} more.", rest, kind=SpeechKind.NOTICE)
            desk.listen(commands=vocabulary.TIMED, quiet=True)

    def _finish(self) -> None:
        assert self._refill is not None
        desk, turn = self._desk, self._desk.turn
        assert turn is not None
        assert desk.event is not None
        result = self._refill.result()
        self._refill = None
        if result is None:
            said = "I could not time that well enough."
            if turn.keeps and desk.progress.answers[turn.place].is_settled:
                desk.progress.reopened.discard(turn.place)
                said += " I keep what you said before."
            else:
                desk.record_missing(turn.step, Status.NOT_OBSERVED, "not_measured")
            desk.turn = None
            self._parts.asking.next(said)
            return
        self._parts.taker.take_measured(
            Answer(
                value=round(result.median_s, 3),
                unit="s",
                words="press release pink",
                start=desk.event.sample,
                end=desk.event.sample,
                method=(*result.method, ("spoken", result.spoken)),
            ),
            f"Refill {result.spoken}.",
        )

    def _store(self, repeat: Repeat) -> None:
        turn = self._desk.turn
        self._desk.emit(
            Measure(
                item=self._item,
                kind="refill",
                ordinal=repeat.ordinal,
                stream=repeat.stream,
                samples=repeat.samples,
                value=repeat.interval_s,
                unit="s",
                spoiled=repeat.spoiled,
                doubtful=bool(repeat.doubtful),
                side=turn.step.side if turn else None,
            )
        )
