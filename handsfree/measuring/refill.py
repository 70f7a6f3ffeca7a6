"""The spoken stopwatch for capillary refill: press, hold, release, pink.

A small state object without clock, sound or voice: it is told positions on the sample clock and
says what each repeat is worth. What is spoken and when belongs to the exam; how long is too long
belongs to judging.

Method (``SOURCES``): a fresh, wet, unpigmented spot of gum or inner lip is pressed for four counts;
three good repeats at least ten seconds apart; the median counts. A person by voice is no better
than half a second, so the result is a range in half seconds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from handsfree.hearing.verdict import WordTime
from handsfree.measuring.repeats import SOURCES, SPOILED, RefillResult, Repeat
from handsfree.measuring.statistics import median
from handsfree.measuring.wording import range_of, spoken_range

__all__ = [
    "APART_S",
    "GOOD_REPEATS",
    "MOST_TRIES",
    "SOURCES",
    "SPOILED",
    "WIDE_SPREAD_S",
    "Refill",
    "RefillResult",
    "RefillStep",
    "Repeat",
]

GOOD_REPEATS = 3
"""Good repeats that a result needs."""
MOST_TRIES = 7
"""Presses after which no further one is asked for: no dog is bothered without end."""
APART_S = 10.0
"""From the end of one repeat to the next press."""
WIDE_SPREAD_S = 0.5
"""A larger spread of the good repeats asks for one more."""
EARLY_S = 0.5
"""How much before the last tick a release still counts as a full hold."""
LONGEST_HOLD_S = 9.0
"""A longer press lengthens the refill."""
FASTEST_S = 0.3
"""Nobody can say two words faster: an interval below is a mishearing."""
SLOWEST_S = 10.0
"""After this the repeat ends without a time."""
RELEASE_WORDS = frozenset({"release", "released", "let"})
PINK_WORDS = frozenset({"pink", "back"})
"""First words of the phrases that the grammar takes for each; where several follow each other
("back to pink") the first one counts."""
_UNCLEAR = "another sound came before the word"
_ECHO_S = 0.3
"""A word heard twice within this is one word."""


class RefillStep(StrEnum):
    """What is waited for."""

    PRESS = "press"
    HOLD = "hold"
    RELEASE = "release"
    PINK = "pink"
    DONE = "done"
    """Enough good repeats."""
    SPENT = "spent"
    """No further try; ``result`` gives what the repeats allow, or None."""


@dataclass(frozen=True, kw_only=True)
class _Open:
    """The repeat under way."""

    stream: str
    press: int
    hold_end: int | None = None
    release: int | None = None
    doubtful: str = ""


class Refill:
    """Three good repeats of press, hold, release, pink.

    Args:
        rate: Samples a second.
        lag_s: The person's own median lag, as learned in practice; widens the lower edge only.
        lag_spread_s: Its spread.
        hold_ticks: Ticks of the hold, for the record.
    """

    def __init__(
        self,
        *,
        rate: int = 16_000,
        lag_s: float | None = None,
        lag_spread_s: float | None = None,
        hold_ticks: int = 4,
    ) -> None:
        self._rate = rate
        self._lag_s = lag_s
        self._lag_spread_s = lag_spread_s
        self._hold_ticks = hold_ticks
        self._open: _Open | None = None
        self._repeats: list[Repeat] = []
        self._ended: tuple[str, int] | None = None

    @property
    def step(self) -> RefillStep:
        """What is waited for now."""
        if self._open is not None:
            if self._open.hold_end is None:
                return RefillStep.HOLD
            return RefillStep.RELEASE if self._open.release is None else RefillStep.PINK
        if len(self.good) >= self._needed():
            return RefillStep.DONE
        if len(self._repeats) >= MOST_TRIES:
            return RefillStep.SPENT
        return RefillStep.PRESS

    @property
    def repeats(self) -> tuple[Repeat, ...]:
        """All repeats so far, spoiled ones included."""
        return tuple(self._repeats)

    @property
    def good(self) -> tuple[Repeat, ...]:
        """Those that count and are not in doubt."""
        return tuple(r for r in self._repeats if r.good)

    @property
    def still_needed(self) -> int:
        """How many more good repeats are asked for."""
        return max(0, self._needed() - len(self.good))

    def wait_s(self, sample: int, stream: str) -> float:
        """Return how many seconds to let pass before the next press.

        On a new stream the time that passed is not known, so it counts from the stream's start.
        """
        if self._ended is None:
            return 0.0
        ended_stream, ended = self._ended
        since = sample - ended if stream == ended_stream else sample
        return max(0.0, APART_S - since / self._rate)

    def press(self, sample: int, stream: str) -> Repeat | None:
        """Begin a repeat at the word "press" (or its key).

        Returns:
            The repeat that this spoils: the one still open (no new one begins), or this one when
            it comes too soon after the last; None where a repeat simply begins. When none is due,
            nothing happens.
        """
        if self._open is not None:
            return self._close("wrong_order", at=sample)
        if self.step is not RefillStep.PRESS:
            return None
        too_soon = self.wait_s(sample, stream) > 0.0
        self._open = _Open(stream=stream, press=sample)
        return self._close("too_soon", at=None) if too_soon else None

    def held(self, sample: int, stream: str) -> Repeat | None:
        """The last tick has sounded at ``sample``. Returns the repeat if this spoils it."""
        if self._open is None:
            return None
        if stream != self._open.stream:
            return self._close("another_stream", at=None)
        if self._open.hold_end is None:
            self._open = replace(self._open, hold_end=sample)
        return None

    def words(self, words: Sequence[WordTime], stream: str) -> Repeat | None:
        """Take the words of one utterance, in order; other words than the two mean nothing here.

        Returns:
            The repeat that these words complete or spoil, or None.
        """
        for word in words:
            if word.word in RELEASE_WORDS:
                repeat = self._release(word.start, stream, doubtful=word.doubtful)
            elif word.word in PINK_WORDS:
                repeat = self._pink(word.start, stream, doubtful=word.doubtful)
            else:
                continue
            if repeat is not None:
                return repeat
        return None

    def key(self, sample: int, stream: str) -> Repeat | None:
        """A key or pedal stands for the word that is waited for (press apart)."""
        if self.step in (RefillStep.HOLD, RefillStep.RELEASE):
            return self._release(sample, stream, doubtful=False)
        if self.step is RefillStep.PINK:
            return self._pink(sample, stream, doubtful=False)
        return None

    def unclear(self, start: int, stream: str) -> None:
        """Some sound that may have been a word came: a repeat past its hold is in doubt."""
        if self._open is None or self._open.hold_end is None or stream != self._open.stream:
            return
        if start >= self._open.hold_end - round(EARLY_S * self._rate):
            self._open = replace(self._open, doubtful=_UNCLEAR)

    def scrap(self, sample: int | None = None) -> Repeat | None:
        """The dog spoiled it: void the open repeat, or the last good one if none is open."""
        if self._open is not None:
            return self._close("scrapped", at=sample)
        if self._repeats and not self._repeats[-1].spoiled:
            self._repeats[-1] = replace(self._repeats[-1], spoiled="scrapped")
            return self._repeats[-1]
        return None

    def silent(self, sample: int) -> Repeat | None:
        """Nothing more came: end the open repeat for want of a word."""
        if self._open is None:
            return None
        if self._open.doubtful == _UNCLEAR:
            return self._close("unclear", at=sample)
        return self._close("no_release" if self._open.release is None else "no_pink", at=sample)

    def gap(self, sample: int) -> Repeat | None:
        """The device lost samples: no interval crosses the gap."""
        return self._close("gap", at=sample) if self._open is not None else None

    def lost(self) -> Repeat | None:
        """The stream ended: no interval crosses two streams."""
        return self._close("another_stream", at=None) if self._open is not None else None

    def overdue(self, sample: int, stream: str) -> bool:
        """Whether pink has been waited for longer than an interval can be."""
        release = self._open.release if self._open is not None else None
        if release is None or self._open is None or stream != self._open.stream:
            return False
        return sample - release > SLOWEST_S * self._rate

    def result(self) -> RefillResult | None:
        """Return what the repeats come to, or None while there are fewer than three.

        Repeats in doubt are used only when no further try is left and the good ones are too few.
        """
        chosen = self.good
        if len(chosen) < GOOD_REPEATS:
            if self.step is not RefillStep.SPENT:
                return None
            chosen = tuple(r for r in self._repeats if not r.spoiled)
        seconds = [r.interval_s for r in chosen if r.interval_s is not None]
        if len(seconds) < GOOD_REPEATS:
            return None
        middle = median(seconds)
        spread = max(seconds) - min(seconds)
        low, high = range_of(middle, spread, self._lag_s or 0.0)
        doubtful = any(r.doubtful for r in chosen) or spread > WIDE_SPREAD_S
        return RefillResult(
            median_s=middle,
            spread_s=spread,
            low_s=low,
            high_s=high,
            spoken=spoken_range(low, high),
            shown=f"{low:g}–{high:g} s",
            repeats=len(seconds),
            doubtful=doubtful,
            method=self._method(chosen, middle, spread, (low, high), doubtful=doubtful),
        )

    def _needed(self) -> int:
        seconds = [r.interval_s for r in self.good if r.interval_s is not None]
        wide = len(seconds) >= GOOD_REPEATS and max(seconds) - min(seconds) > WIDE_SPREAD_S
        return GOOD_REPEATS + 1 if wide else GOOD_REPEATS

    def _release(self, sample: int, stream: str, *, doubtful: bool) -> Repeat | None:
        if self._open is None:
            return None
        if stream != self._open.stream:
            return self._close("another_stream", at=None)
        if self._open.release is not None:
            if sample - self._open.release < _ECHO_S * self._rate:
                return None
            return self._close("wrong_order", at=sample)
        early = self._open.hold_end is None or (
            sample < self._open.hold_end - round(EARLY_S * self._rate)
        )
        why = "the release is uncertain" if doubtful else self._open.doubtful
        self._open = replace(self._open, release=sample, doubtful=why)
        if early:
            return self._close("early_release", at=sample)
        if sample - self._open.press > LONGEST_HOLD_S * self._rate:
            return self._close("long_hold", at=sample)
        return None

    def _pink(self, sample: int, stream: str, *, doubtful: bool) -> Repeat | None:
        if self._open is None:
            return None
        if stream != self._open.stream:
            return self._close("another_stream", at=None)
        release = self._open.release
        if release is None:
            # A sound that was no clear word may have been the release.
            why = "no_release" if self._open.doubtful else "pink_first"
            return self._close(why, at=sample, pink=sample)
        if doubtful:
            self._open = replace(self._open, doubtful="pink is uncertain")
        interval = sample - release
        if interval < 0:
            return self._close("wrong_order", at=sample, pink=sample)
        if interval < FASTEST_S * self._rate:
            return self._close("too_fast", at=sample, pink=sample)
        if interval > SLOWEST_S * self._rate:
            return self._close("too_slow", at=sample, pink=sample)
        return self._close("", at=sample, pink=sample)

    def _close(self, spoiled: str, *, at: int | None, pink: int | None = None) -> Repeat:
        run = self._open
        if run is None:
            msg = "no repeat is open"
            raise ValueError(msg)
        named = (
            ("press", run.press),
            ("hold_end", run.hold_end),
            ("release", run.release),
            ("pink", pink),
        )
        samples = tuple((name, value) for name, value in named if value is not None)
        interval = None
        if pink is not None and run.release is not None and pink >= run.release:
            interval = pink - run.release
        repeat = Repeat(
            ordinal=len(self._repeats) + 1,
            stream=run.stream,
            samples=samples,
            interval=interval,
            interval_s=None if interval is None else interval / self._rate,
            hold_s=None if run.release is None else (run.release - run.press) / self._rate,
            spoiled=spoiled,
            doubtful=run.doubtful,
        )
        self._repeats.append(repeat)
        self._open = None
        last = max((value for _, value in samples), default=run.press)
        self._ended = (run.stream, max(last, at if at is not None else last))
        return repeat

    def _method(
        self,
        chosen: Sequence[Repeat],
        middle: float,
        spread: float,
        edges: tuple[float, float],
        *,
        doubtful: bool,
    ) -> tuple[tuple[str, str | float], ...]:
        holds = [r.hold_s for r in chosen if r.hold_s is not None]
        facts: list[tuple[str, str | float]] = [
            ("way", "spoken stopwatch"),
            ("repeats", float(len(chosen))),
            ("tries", float(len(self._repeats))),
            ("median_s", round(middle, 3)),
            ("spread_s", round(spread, 3)),
            ("range_low_s", edges[0]),
            ("range_high_s", edges[1]),
            ("hold_ticks", float(self._hold_ticks)),
            ("hold_s", round(median(holds), 3) if holds else 0.0),
            ("no_better_than_s", 0.5),
            ("doubtful", "yes" if doubtful else "no"),
            ("doubtful_repeats", float(sum(1 for r in chosen if r.doubtful))),
        ]
        if self._lag_s is not None:
            facts.append(("lag_s", round(self._lag_s, 3)))
        if self._lag_spread_s is not None:
            facts.append(("lag_spread_s", round(self._lag_spread_s, 3)))
        return tuple(facts)
