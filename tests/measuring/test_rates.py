"""Counted windows and said breaths."""

from __future__ import annotations

import numpy as np
import pytest

from handsfree.errors import CallerError, HeardError
from handsfree.measuring.rates import count, resolution
from handsfree.measuring.said import may_stop, said_rate


def test_windows_are_those_allowed() -> None:
    """A window shorter than the usual one is marked, and none is shorter than half a minute."""
    whole = count(18, 60, lowest=2, highest=200, usual_s=60)
    assert (whole.per_min, whole.quick) == (18.0, False)
    quick = count(9, 30, lowest=2, highest=200, usual_s=60)
    assert (quick.per_min, quick.resolution_per_min, quick.quick) == (18.0, 2.0, True)
    assert dict(quick.method) == {
        "count": 9.0, "window_s": 30.0, "resolution_per_min": 2.0, "short_window": "yes"
    }  # fmt: skip
    assert "short_window" not in dict(whole.method)
    with pytest.raises(CallerError, match="30 s or longer"):
        count(5, 15, lowest=2, highest=200)


@pytest.mark.parametrize("events", [400, 12.5, -3, 0, 1])
def test_counts_that_cannot_be_are_asked_again(events: float) -> None:
    """A count of 400, of half a breath or of none is refused in one sentence."""
    with pytest.raises(HeardError, match=r"^[^.]+\.$"):
        count(events, 60, lowest=2, highest=200)


def test_no_window_no_resolution() -> None:
    """A window of no length is refused."""
    with pytest.raises(ValueError, match="window"):
        resolution(0.0)


def series(rng: np.random.Generator, per_min: float, wander: float) -> tuple[list[float], float]:
    """Return said words in 30 s with 5 % missed and 5 % doubled, and the true rate."""
    period = 60.0 / per_min
    breaths = [float(rng.uniform(0.0, period))]
    while True:
        step = period * max(0.4, 1.0 + wander * float(rng.normal()))
        if breaths[-1] + step > 30.0:
            break
        breaths.append(breaths[-1] + step)
    truth = 60.0 * (len(breaths) - 1) / (breaths[-1] - breaths[0])
    words: list[float] = []
    for breath in breaths:
        if rng.random() < 0.05:
            continue
        words.append(breath + float(rng.normal(0.0, 0.06)))
        if rng.random() < 0.05:
            words.append(words[-1] + float(rng.uniform(0.15, 0.45)))
    return words, truth


@pytest.mark.parametrize("wander", [0.0, 0.08])
@pytest.mark.parametrize("per_min", [8, 12, 20, 30, 45, 60])
def test_said_breaths_are_within_one(per_min: int, wander: float) -> None:
    """With missed and doubled words the rate is within one breath a minute."""
    rng = np.random.default_rng(per_min)
    within, total = 0, 60
    for _ in range(total):
        words, truth = series(rng, per_min, wander)
        rate = said_rate(words)
        within += rate is not None and abs(rate.per_min - truth) <= 1.0
    assert within / total >= 0.95


def test_missed_and_doubled_words_are_found() -> None:
    """One gap and one double are told, and the rate is that of the rest."""
    words = [0.0, 4.0, 8.0, 8.3, 12.0, 20.0, 24.0, 28.0]
    rate = said_rate(words)
    assert rate is not None
    assert (rate.missed, rate.doubled) == (1, 1)
    assert rate.per_min == pytest.approx(15.0, abs=0.2)
    assert rate.low <= 15.0 <= rate.high


def test_two_words_are_no_rate() -> None:
    """Two words tell nothing; a time that is no number is refused."""
    assert said_rate([1.0, 5.0]) is None
    with pytest.raises(ValueError, match="finite"):
        said_rate([1.0, float("nan"), 2.0])


def test_stops_early_only_far_from_a_line() -> None:
    """An even series may stop early, unless a caution line is near or too little was said."""
    even = said_rate([4.0 * n for n in range(8)])
    assert may_stop(even, [30.0])
    assert not may_stop(even, [17.0])
    assert not may_stop(said_rate([4.0 * n for n in range(4)]), [30.0])
    assert not may_stop(None, [])
