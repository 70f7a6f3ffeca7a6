"""Weights, temperatures, sizes, and a person's lag."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from handsfree.dialogue.numbers import in_unit
from handsfree.errors import CallerError, HeardError
from handsfree.hearing.verdict import Meaning, MeaningKind
from handsfree.measuring import amounts as am
from handsfree.measuring.lag import LagPractice
from handsfree.protocol.loader import load


@pytest.mark.parametrize(
    ("kind", "value", "last", "verdict", "why"),
    [
        ("weight", 12.4, 12.1, am.Verdict.TAKE, ""),
        ("weight", 124.0, 12.4, am.Verdict.ASK_BACK, "ten_times"),
        ("weight", 1.24, 12.4, am.Verdict.ASK_BACK, "a_tenth"),
        ("weight", 17.0, 12.4, am.Verdict.ASK_BACK, "far_from_last"),
        ("weight", 400.0, None, am.Verdict.REFUSE, "cannot_be"),
        ("temperature", 12.0, None, am.Verdict.REFUSE, "cannot_be"),
        ("temperature", 41.8, None, am.Verdict.ASK_BACK, "unusual"),
        ("temperature", 38.6, 38.4, am.Verdict.TAKE, ""),
        ("lump", 8.0, None, am.Verdict.TAKE, ""),
        ("weight", float("nan"), None, am.Verdict.REFUSE, "cannot_be"),
    ],
)
def test_plausible(
    kind: str, value: float, last: float | None, verdict: am.Verdict, why: str
) -> None:
    """What cannot be is refused; what is odd is asked back."""
    said = am.plausible(am.LIMITS[kind], value, last)
    assert (said.verdict, said.why) == (verdict, why)
    assert bool(said.say) is (verdict is not am.Verdict.TAKE)


def test_limits_name_their_source() -> None:
    """Every limit says where it comes from."""
    assert all(limits.source for limits in am.LIMITS.values())
    assert all(size.source and size.low_mm < size.mm < size.high_mm for size in am.SIZES.values())


def test_difference_needs_pairs() -> None:
    """Readings come in pairs, and the dog weighs something."""
    weight = am.weight_by_difference([82.4, 82.5, 82.4], [70.0, 70.1, 70.1])
    assert weight.kg == pytest.approx(12.4)
    assert not weight.coarse
    with pytest.raises(CallerError):
        am.weight_by_difference([82.4], [])
    with pytest.raises(HeardError):
        am.weight_by_difference([70.0], [70.0])


def test_an_everyday_size_keeps_its_coarseness() -> None:
    """A lump like a grape is 18 mm, and is kept as 14 to 24; a measured one has no such range."""
    question = load().question("lumps.known_length")
    grape = Meaning(kind=MeaningKind.ANSWER, value=18.0, unit="mm", target="grape")
    kept = in_unit(question, grape, "metric")
    assert (kept.value, kept.said) == (18.0, "like a grape")
    assert dict(kept.method) == {"like": "grape", "low_mm": 14, "high_mm": 24}
    ruler = Meaning(kind=MeaningKind.ANSWER, value=18.0, unit="mm")
    assert in_unit(question, ruler, "metric").method == ()


def test_sizes_are_those_of_the_grammar() -> None:
    """The length grammar and the table of sizes name the same things at the same size."""
    text = (Path(__file__).parents[2] / "grammars" / "length.jsgf").read_text(encoding="utf-8")
    found = {w: float(n) for n, w in re.findall(r"\{size:([\d.]+):mm:(\w+)\}", text)}
    assert found == {word: size.mm for word, size in am.SIZES.items()}


def test_lag_is_a_median_of_good_trials() -> None:
    """Guesses, lapses and doubtful words do not count; five good trials give the lag."""
    practice = LagPractice()
    assert practice.heard(faded=16_000, word=16_100, stream="a").why
    assert practice.heard(faded=16_000, word=None, stream="a").why
    assert practice.heard(faded=16_000, word=60_000, stream="a").why
    assert practice.heard(faded=16_000, word=21_000, stream="a", doubtful=True).why
    assert practice.heard(faded=16_000, word=21_000, stream="a", word_stream="b").why
    assert practice.result() is None
    for lag_ms in (300, 340, 320, 360, 330):
        assert practice.next_fade_s is not None
        practice.heard(faded=16_000, word=16_000 + lag_ms * 16, stream="a")
    lag = practice.result()
    assert practice.next_fade_s is None
    assert lag is not None
    assert lag.median_s == pytest.approx(0.33)
    assert lag.spoken == "You speak about three tenths of a second after the change."
