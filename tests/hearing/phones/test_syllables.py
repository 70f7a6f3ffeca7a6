"""Speech told from what sounds like a syllable, by how certain its phones are."""

from collections.abc import Sequence

import numpy as np
import pytest
from numpy.typing import NDArray

from handsfree.hearing.evidence import SURELY
from handsfree.hearing.phones.network import BLANK
from handsfree.hearing.phones.syllables import clearly_speech, stretches

OUTPUTS = 40


def _heard(steps: int, phones: Sequence[tuple[int, int, float]]) -> NDArray[np.float32]:
    """Return log probabilities: blank but for phones at (step, phone, probability)."""
    powers = np.full((steps, OUTPUTS), 0.01 / OUTPUTS)
    powers[:, BLANK] = 1.0
    for step, phone, size in phones:
        powers[step] = (1 - size) / (OUTPUTS - 1)
        powers[step, phone] = size
    found: NDArray[np.float32] = np.log(powers / powers.sum(1, keepdims=True)).astype(np.float32)
    return found


def _all(log_probs: NDArray[np.float32]) -> NDArray[np.bool_]:
    return np.ones(len(log_probs), np.bool_)


BARK = [(10, 3, 0.45), (12, 5, 0.5), (14, 9, 0.3)]
WORD = [(40, 2, 0.97), (43, 7, 0.9), (46, 11, 0.99)]


def test_silence_has_no_stretch() -> None:
    """Nothing but blanks."""
    log_probs = _heard(50, [])
    assert stretches(log_probs, _all(log_probs)) == []


def test_a_word_is_surely_speech_and_a_bark_is_not() -> None:
    """Both have three phones; only the word's are certain."""
    log_probs = _heard(80, [*BARK, *WORD])
    bark, word = stretches(log_probs, _all(log_probs))
    assert (bark.first, bark.last, bark.steps) == (10, 15, 3)
    assert bark.nats < 0.5
    assert (word.first, word.last, word.steps) == (40, 47, 3)
    # Log odds of 0.97, 0.9 and 0.99.
    assert word.nats == pytest.approx(np.log(0.97 / 0.03) + np.log(9) + np.log(99), abs=0.01)


def test_a_phone_of_many_steps_counts_once() -> None:
    """However long a vowel is howled, it is one phone; said again after a blank it is another."""
    one = _heard(40, [(10 + n, 4, 0.9) for n in range(5)])
    two = _heard(40, [(10, 4, 0.9), (13, 4, 0.9)])
    assert stretches(one, _all(one))[0].nats == pytest.approx(np.log(9), abs=0.01)
    assert stretches(two, _all(two))[0].nats == pytest.approx(2 * np.log(9), abs=0.01)


def test_steps_outside_do_not_count() -> None:
    """What was heard before the utterance is there only to be heard with it."""
    log_probs = _heard(80, [*BARK, *WORD])
    inside = np.arange(80) >= 20
    (word,) = stretches(log_probs, inside)
    assert word.first == 40


def test_barks_around_a_word_are_left_out() -> None:
    """One before it and one after it; between two words nothing is taken out."""
    after = [(step + 60, phone, size) for step, phone, size in BARK]
    log_probs = _heard(100, [*BARK, *WORD, *after])
    found = stretches(log_probs, _all(log_probs))
    assert [s.first for s in clearly_speech(found)] == [40]
    second = [(step + 45, phone, size) for step, phone, size in WORD]
    both = _heard(120, [*WORD, *after, *second])
    assert [s.first for s in clearly_speech(stretches(both, _all(both)))] == [40, 70, 85]


def test_where_nothing_is_sure_nothing_is_clear() -> None:
    """A whisper may be no clearer than a bark."""
    log_probs = _heard(50, BARK)
    found = stretches(log_probs, _all(log_probs))
    assert found[0].nats < SURELY
    assert clearly_speech(found) == []
