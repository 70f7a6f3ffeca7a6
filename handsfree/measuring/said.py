"""The rate of breathing from a short word said at each breath.

The words' onsets form an even series with some words missing and some said or heard twice. The
series' period is found by an alignment that lets words be left out and beats be empty, each at a
cost; the rate comes from a robust line through the words that were kept. No sound is known here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handsfree.measuring.statistics import rate_interval, student_t

__all__ = ["FEWEST_WORDS", "SaidRate", "may_stop", "said_rate"]

FEWEST_WORDS = 3
"""Fewer words give no rate."""
LOWEST_PER_MIN = 4.0
HIGHEST_PER_MIN = 80.0
"""Faster than this nobody says a word at each breath."""
_SLACK_S = 0.06
"""Standard deviation of speaking on the breath."""
_UNEVEN = 0.12
"""Standard deviation of a calm dog's breath-to-breath period, as a share of it."""
_COST_TWICE = 3.5
_COST_MISSED = 3.0
"""About minus the logarithm of how often each happens, a few in a hundred."""
_FARTHEST_TWICE = 2
_FARTHEST_MISSED = 3
_IRREGULAR = 0.30
"""Spread of periods, as a share, past which the words are no even series."""
_ALLOWANCE_FEW = 2.0
"""By how much an even series may fit worse than events at random and still be taken for one,
with seven words or fewer."""
_RIVAL = 2.0
"""Another period whose cost is within this of the best widens the interval."""
_LEAST_TO_STOP_S = 20.0
_NARROW_PER_MIN = 1.5
_FAR_PER_MIN = 4.0


@dataclass(frozen=True, kw_only=True)
class SaidRate:
    """A rate from said words.

    Attributes:
        per_min: Breaths a minute.
        low: Lower end of its 95 % interval.
        high: Upper end.
        words: Words given.
        used: Those that stand for a breath each.
        missed: Breaths that no word stands for, as far as the series shows.
        doubled: Words left out as said or heard twice.
        span_s: From the first used word to the last.
        regular: The words form an even series; otherwise the rate is a plain count and its
            interval that of events at random.
    """

    per_min: float
    low: float
    high: float
    words: int
    used: int
    missed: int
    doubled: int
    span_s: float
    regular: bool

    @property
    def method(self) -> tuple[tuple[str, str | float], ...]:
        """Facts for the record."""
        return (
            ("way", "a word at each breath"),
            ("words", float(self.words)),
            ("used", float(self.used)),
            ("missed", float(self.missed)),
            ("doubled", float(self.doubled)),
            ("span_s", round(self.span_s, 2)),
            ("low_per_min", round(self.low, 1)),
            ("high_per_min", round(self.high, 1)),
            ("regular", "yes" if self.regular else "no"),
        )


def said_rate(times_s: Sequence[float]) -> SaidRate | None:
    """Return the rate that said words tell, or None with fewer than FEWEST_WORDS of them.

    Args:
        times_s: Onset of each word in seconds on one stream, in any order.

    Raises:
        ValueError: A time is not finite.
    """
    times = np.sort(np.asarray(list(times_s), dtype=np.float64))
    if not bool(np.isfinite(times).all()):
        msg = "a word's time is not a finite number"
        raise ValueError(msg)
    if len(times) < FEWEST_WORDS or times[-1] - times[0] <= 0.0:
        return None
    cost, period, kept, beats, rivals = _fit(times)
    chosen = times[kept]
    steps = np.diff(beats)
    periods = np.diff(chosen) / steps
    missed = int(steps.sum()) - len(steps)
    doubled = len(times) - len(kept)
    uneven = float(np.std(periods)) / period if len(periods) > 1 else 0.0
    if uneven > _IRREGULAR or cost > _cost_at_random(times):
        return _at_random(times)
    low, high = _interval(period, np.diff(chosen), steps)
    low, high = min(low, *rivals), max(high, *rivals)
    return SaidRate(
        per_min=60.0 / period,
        low=60.0 / high,
        high=60.0 / low,
        words=len(times),
        used=len(kept),
        missed=missed,
        doubled=doubled,
        span_s=float(chosen[-1] - chosen[0]),
        regular=True,
    )


def may_stop(rate: SaidRate | None, caution_per_min: Sequence[float]) -> bool:
    """Return whether the words so far are enough.

    They are when twenty seconds were spoken, the series is even, its interval is narrow, and no
    caution line lies near.
    """
    if rate is None or not rate.regular or rate.span_s < _LEAST_TO_STOP_S:
        return False
    if (rate.high - rate.low) / 2.0 > _NARROW_PER_MIN:
        return False
    return all(
        line < rate.low - _FAR_PER_MIN or line > rate.high + _FAR_PER_MIN
        for line in caution_per_min
    )


@dataclass(frozen=True)
class _Fit:
    cost: float
    period: float
    kept: list[int]
    beats: list[int]


def _fit(
    times: NDArray[np.float64],
) -> tuple[float, float, NDArray[np.intp], NDArray[np.intp], tuple[float, ...]]:
    """Return cost, period, indices of the words kept, the beat of each, and periods as likely."""
    fits = [fit for fit in (_settle(times, guess) for guess in _guesses(times)) if fit is not None]
    if not fits:
        period = float(times[-1] - times[0]) / (len(times) - 1)
        everything = np.arange(len(times))
        return math.inf, period, everything, everything, (period, period)
    best = min(fits, key=lambda fit: fit.cost)
    at = np.asarray(best.beats)
    period = _line(times[best.kept], at)
    near = [fit.period for fit in fits if fit.cost <= best.cost + _RIVAL]
    rivals = (min([period, *near]), max([period, *near]))
    return best.cost, period, np.asarray(best.kept), at, rivals


def _settle(times: NDArray[np.float64], guess: float) -> _Fit | None:
    """Align and fit in turn from a guessed period until the cost falls no more."""
    period = guess
    cost, kept, beats = _align(times, period)
    for _ in range(3):
        if beats[-1] == 0:
            return None
        better = _line(times[kept], np.asarray(beats))
        if not 60.0 / HIGHEST_PER_MIN <= better <= 60.0 / LOWEST_PER_MIN:
            break
        again = _align(times, better)
        if again[0] >= cost:
            break
        period, (cost, kept, beats) = better, again
    return _Fit(cost, period, kept, beats) if beats[-1] > 0 else None


def _cost_at_random(times: NDArray[np.float64]) -> float:
    """Return the cost of the same words as events at random, on the scale of ``_align``."""
    gaps = np.diff(times)
    mean = float(gaps.mean())
    allowance = _ALLOWANCE_FEW if len(times) <= 7 else 0.0
    return len(gaps) * (math.log(mean) + 1.0 - 0.5 * math.log(2.0 * math.pi)) + allowance


def _guesses(times: NDArray[np.float64]) -> list[float]:
    """Return periods worth trying: gaps between near words, whole and divided."""
    gaps = np.concatenate([times[k:] - times[:-k] for k in (1, 2) if k < len(times)])
    low, high = 60.0 / HIGHEST_PER_MIN, 60.0 / LOWEST_PER_MIN
    tried = np.unique(np.concatenate([gaps, gaps / 2.0]))
    tried = tried[(tried >= low) & (tried <= high)]
    if len(tried) > 40:
        tried = np.quantile(tried, np.linspace(0.0, 1.0, 40))
    return [float(value) for value in tried]


def _align(times: NDArray[np.float64], period: float) -> tuple[float, list[int], list[int]]:
    """Return the cheapest way to lay words on beats of ``period``: cost, words kept, beats.

    Each kept word follows the last kept one by a whole number of periods; a word skipped and a
    beat without a word cost as rare events do, and an uneven step by its square.
    """
    count = len(times)
    costs = [_COST_TWICE * index for index in range(count)]
    back = [-1] * count
    step = [0] * count
    for here in range(1, count):
        for before in range(max(0, here - 1 - _FARTHEST_TWICE), here):
            gap = float(times[here] - times[before])
            near = max(1, round(gap / period))
            for whole in {max(1, near - 1), near}:
                if whole > 1 + _FARTHEST_MISSED:
                    continue
                sigma = math.sqrt(2.0 * _SLACK_S**2 + whole * (_UNEVEN * period) ** 2)
                off = (gap - whole * period) / sigma
                cost = (
                    costs[before]
                    + min(0.5 * off * off, 9.0)
                    + math.log(sigma)
                    + _COST_TWICE * (here - before - 1)
                    + _COST_MISSED * (whole - 1)
                )
                if back[here] == -1 or cost < costs[here]:
                    costs[here], back[here], step[here] = cost, before, whole
    ends = [costs[i] + _COST_TWICE * (count - 1 - i) for i in range(count)]
    last = int(np.argmin(ends[1:])) + 1
    total = ends[last]
    kept, beats_at = [last], [0]
    while back[kept[-1]] != -1:
        beats_at.append(beats_at[-1] + step[kept[-1]])
        kept.append(back[kept[-1]])
    kept.reverse()
    beats = [beats_at[-1] - value for value in reversed(beats_at)]
    return total, kept, beats


def _line(times: NDArray[np.float64], beats: NDArray[np.intp]) -> float:
    """Return the period: the mean of the robust line's slope and the mean step.

    Where the person's timing errs, the line is the better; where the dog's period wanders, the
    mean step is. Which it is a few words cannot tell.
    """
    i, j = np.triu_indices(len(times), k=1)
    run = (beats[j] - beats[i]).astype(np.float64)
    slope = float(np.median((times[j] - times[i])[run > 0] / run[run > 0]))
    mean = float(times[-1] - times[0]) / float(beats[-1] - beats[0])
    return (slope + mean) / 2.0


def _interval(
    period: float, gaps: NDArray[np.float64], steps: NDArray[np.intp]
) -> tuple[float, float]:
    """Return the 95 % interval of the period, wide enough for a period that wanders."""
    count = len(gaps)
    errors = (gaps - steps * period) / np.sqrt(steps)
    least = _SLACK_S
    spread = math.sqrt(float(np.sum(errors**2)) / max(1, count - 1)) if count > 1 else least
    error = max(spread, least) / math.sqrt(float(steps.sum()))
    reach = student_t(max(1, count - 1)) * error
    return max(period - reach, 60.0 / HIGHEST_PER_MIN / 2.0), period + reach


def _at_random(times: NDArray[np.float64]) -> SaidRate:
    span = float(times[-1] - times[0])
    count = len(times) - 1
    low, high = rate_interval(count, span)
    best = max(1, count - 1)  # the unbiased estimate from the span of count gaps
    return SaidRate(
        per_min=60.0 * best / span,
        low=low,
        high=high,
        words=len(times),
        used=len(times),
        missed=0,
        doubled=0,
        span_s=span,
        regular=False,
    )
