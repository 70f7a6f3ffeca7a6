"""Tones and tick: there for every name, short, quiet, clean at both ends, and told apart."""

import itertools

import numpy as np
import pytest

from handsfree.dialogue.actions import ToneName
from handsfree.speaking.tones import TONE_NAMES, tick, tone


def test_every_tone_that_an_exam_can_ask_for_exists() -> None:
    """No name of the dialogue lacks its sound, and no sound lacks its name."""
    assert {str(name) for name in ToneName} == set(TONE_NAMES)
    assert all(len(tone(name)) for name in ToneName)


@pytest.mark.parametrize("name", TONE_NAMES)
def test_a_tone_is_short_quiet_and_clean(name: str) -> None:
    """At most 0.65 s, a good deal below full scale, and no click where it starts or ends."""
    sound = tone(name).astype(int)
    assert 0.05 < len(sound) / 16_000 < 0.65
    assert 1_500 < np.abs(sound).max() < 8_000
    assert np.abs(sound[[0, 1, -2, -1]]).max() < 60


def test_tones_differ_by_more_than_loudness() -> None:
    """Any two differ in length by a third, or in what they contain at each moment."""
    for one, two in itertools.combinations(TONE_NAMES, 2):
        a, b = tone(one).astype(float), tone(two).astype(float)
        shared = min(len(a), len(b))
        likeness = abs(np.corrcoef(a[:shared], b[:shared])[0, 1])
        assert likeness < 0.5 or max(len(a), len(b)) > 1.33 * shared, (one, two)


def test_the_tick_is_soft_and_always_the_same() -> None:
    """20 ms, quieter than any tone, exact samples that nobody can change."""
    assert len(tick()) == 320
    assert np.abs(tick()).max() < 1_000
    assert np.array_equal(tick(), tick())
    with pytest.raises(ValueError, match="read-only"):
        tick()[0] = 1


def test_an_unknown_tone_is_refused() -> None:
    """A mistyped name does not pass for silence."""
    with pytest.raises(KeyError):
        tone("fanfare")
