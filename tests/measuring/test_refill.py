"""The spoken stopwatch: what counts, what is void, and why."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from handsfree.hearing.verdict import WordTime
from handsfree.measuring.refill import MOST_TRIES, SPOILED, Refill, RefillStep, Repeat

RATE = 16_000


def at(seconds: float) -> int:
    """Return a position."""
    return round(seconds * RATE)


def word(text: str, seconds: float, *, doubtful: bool = False) -> WordTime:
    """Return a word of 0.4 s."""
    return WordTime(word=text, start=at(seconds), end=at(seconds + 0.4), doubtful=doubtful)


def one(
    refill: Refill, begin: float, interval: float, *, doubtful: bool = False, stream: str = "a"
) -> Repeat | None:
    """Run one clean repeat that is pressed at ``begin`` and released 4.2 s later."""
    refill.press(at(begin), stream)
    refill.held(at(begin + 4.0), stream)
    refill.words([word("release", begin + 4.2)], stream)
    return refill.words([word("pink", begin + 4.2 + interval, doubtful=doubtful)], stream)


def test_three_good_repeats_give_a_range() -> None:
    """Three repeats give the median, the spread, and a range in half seconds."""
    refill = Refill()
    for number, interval in enumerate((1.2, 1.3, 1.1)):
        assert refill.result() is None
        one(refill, 20.0 * number, interval)
    result = refill.result()
    assert refill.step is RefillStep.DONE
    assert result is not None
    assert result.median_s == pytest.approx(1.2)
    assert result.spread_s == pytest.approx(0.2)
    assert result.spoken == "between one and one and a half seconds"
    assert dict(result.method)["hold_s"] == pytest.approx(4.2)
    assert not result.doubtful


def test_raw_times_are_kept_in_samples() -> None:
    """Every raw time of a repeat is kept as it came."""
    repeat = one(Refill(), 1.0, 1.5)
    assert repeat is not None
    assert dict(repeat.samples) == {
        "press": at(1.0), "hold_end": at(5.0), "release": at(5.2), "pink": at(6.7),
    }  # fmt: skip
    assert repeat.interval == at(1.5)


def test_wide_spread_asks_for_a_fourth() -> None:
    """A spread over half a second asks for one more, and the median takes all four."""
    refill = Refill()
    for number, interval in enumerate((1.0, 1.7, 1.2)):
        one(refill, 20.0 * number, interval)
    assert refill.still_needed == 1
    one(refill, 80.0, 1.3)
    result = refill.result()
    assert refill.step is RefillStep.DONE
    assert result is not None
    assert result.repeats == 4
    assert result.doubtful


def test_lag_widens_the_lower_edge_alone() -> None:
    """A learned lag moves the lower edge only; the median stays raw."""
    plain, lagged = Refill(), Refill(lag_s=0.4)
    for refill in (plain, lagged):
        for number in range(3):
            one(refill, 20.0 * number, 1.3)
    a, b = plain.result(), lagged.result()
    assert a is not None
    assert b is not None
    assert a.median_s == b.median_s
    assert b.low_s < a.low_s
    assert b.high_s == a.high_s


Spoil = Callable[[Refill], Repeat | None]


def _pressed(refill: Refill) -> Refill:
    refill.press(at(0.0), "a")
    refill.held(at(4.0), "a")
    return refill


def _released(refill: Refill) -> Refill:
    _pressed(refill).words([word("release", 4.3)], "a")
    return refill


CASES: list[tuple[str, Spoil]] = [
    ("pink_first", lambda r: _pressed(r).words([word("pink", 5.0)], "a")),
    ("pink_first", lambda r: _pressed(r).words([word("pink", 5.0), word("release", 6.0)], "a")),
    ("wrong_order", lambda r: _released(r).words([word("release", 6.0)], "a")),
    ("wrong_order", lambda r: _released(r).press(at(6.0), "a")),
    ("too_fast", lambda r: _released(r).words([word("pink", 4.4)], "a")),
    ("too_slow", lambda r: _released(r).words([word("pink", 15.0)], "a")),
    ("long_hold", lambda r: _pressed(r).words([word("release", 9.5)], "a")),
    ("scrapped", lambda r: _released(r).scrap(at(5.0))),
    ("gap", lambda r: _released(r).gap(at(5.0))),
    ("another_stream", lambda r: _released(r).words([word("pink", 5.0)], "b")),
    ("another_stream", lambda r: _released(r).lost()),
    ("no_pink", lambda r: _released(r).silent(at(14.0))),
    ("no_release", lambda r: _pressed(r).silent(at(14.0))),
]


@pytest.mark.parametrize(("why", "spoil"), CASES)
def test_a_spoiled_repeat_says_why_and_the_good_ones_stay(why: str, spoil: Spoil) -> None:
    """Whatever spoils a repeat is named in one short sentence, and the good ones are kept."""
    refill = Refill()
    repeat = spoil(refill)
    assert repeat is not None
    assert repeat.spoiled == why
    assert repeat.why == SPOILED[why]
    assert len(repeat.why) < 60
    for number in range(3):
        one(refill, 30.0 + 20.0 * number, 1.2)
    assert len(refill.good) == 3
    assert refill.step is RefillStep.DONE


def test_release_before_the_fourth_tick_is_void() -> None:
    """A hold that ends before the ticks do is no full hold."""
    refill = Refill()
    refill.press(at(0.0), "a")
    repeat = refill.words([word("release", 2.0)], "a")
    assert repeat is not None
    assert repeat.spoiled == "early_release"


def test_too_soon_is_void_and_waits_again() -> None:
    """A press within ten seconds of the last repeat does not count."""
    refill = Refill()
    one(refill, 0.0, 1.2)
    assert refill.wait_s(at(6.0), "a") == pytest.approx(9.4)
    repeat = refill.press(at(8.0), "a")
    assert repeat is not None
    assert repeat.spoiled == "too_soon"


def test_scrap_after_the_word_voids_the_last_repeat() -> None:
    """Scrap that, said between repeats, takes back the last one."""
    refill = Refill()
    one(refill, 0.0, 1.2)
    repeat = refill.scrap()
    assert repeat is not None
    assert repeat.spoiled == "scrapped"
    assert refill.good == ()
    assert refill.scrap() is None


def test_doubtful_repeats_are_kept_marked_and_taken_again() -> None:
    """A doubtful onset is stored and marked, and does not count towards three."""
    refill = Refill()
    repeat = one(refill, 0.0, 1.2, doubtful=True)
    assert repeat is not None
    assert repeat.doubtful
    assert not repeat.spoiled
    assert refill.still_needed == 3


def test_a_sound_that_was_not_understood_leaves_a_doubt() -> None:
    """A bark that may have hidden the word makes the repeat doubtful."""
    refill = _released(Refill())
    refill.unclear(at(4.9), "a")
    repeat = refill.words([word("pink", 6.5)], "a")
    assert repeat is not None
    assert repeat.doubtful


def test_tries_are_bounded() -> None:
    """After the last try nothing more is asked, and doubtful repeats give a doubtful result."""
    refill = Refill()
    for number in range(MOST_TRIES):
        assert refill.step is RefillStep.PRESS
        one(refill, 20.0 * number, 1.2, doubtful=True)
    assert refill.step is RefillStep.SPENT
    result = refill.result()
    assert result is not None
    assert result.doubtful


def test_only_two_good_repeats_give_no_result() -> None:
    """Two repeats are kept, and are no result."""
    refill = Refill()
    one(refill, 0.0, 1.2)
    one(refill, 20.0, 1.3)
    assert refill.result() is None
    assert len(refill.good) == 2


def test_keys_stand_for_the_words() -> None:
    """A pedal gives release and pink in turn."""
    refill = _pressed(Refill())
    assert refill.key(at(4.3), "a") is None
    repeat = refill.key(at(5.6), "a")
    assert repeat is not None
    assert repeat.interval_s == pytest.approx(1.3)


def test_longer_phrases_count_at_their_first_word() -> None:
    """Let go and back to pink are timed at their first word."""
    refill = _pressed(Refill())
    refill.words([word("let", 4.3), word("go", 4.5)], "a")
    repeat = refill.words([word("back", 5.6), word("to", 5.8), word("pink", 5.9)], "a")
    assert repeat is not None
    assert repeat.interval_s == pytest.approx(1.3)
