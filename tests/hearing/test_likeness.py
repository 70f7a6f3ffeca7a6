"""What we played, heard again, is told from another's word of the same loudness."""

import numpy as np
import pytest
from numpy.typing import NDArray

from benchmarks.echo import EchoRoom
from handsfree.hearing.likeness import LATEST_S, likeness
from handsfree.hearing.trust import LIKE_US

RATE = 16_000
BEFORE = round(LATEST_S * RATE)
Floats = NDArray[np.float64]


def _voice(seed: int, loudness: Floats) -> Floats:
    """Return speech-like sound of a given course of loudness."""
    spectrum = np.fft.rfft(np.random.default_rng(seed).normal(0.0, 1.0, len(loudness)))
    hertz = np.fft.rfftfreq(len(loudness), 1.0 / RATE)
    shaped = np.fft.irfft(spectrum / (1.0 + (hertz / 700.0) ** 1.5), len(loudness))
    return np.asarray(3000.0 * shaped / shaped.std() * loudness)


def _loudness(seed: int, samples: int) -> Floats:
    """Return syllables, as in `test_echo`."""
    points = np.random.default_rng(seed).uniform(0.05, 1.0, -(-samples // 2000))
    return np.interp(np.arange(samples), np.arange(0, samples, 2000), points)


def _steps(sound: Floats) -> NDArray[np.int16]:
    """Return the sound in a quiet room."""
    noise = np.random.default_rng(9).normal(0.0, 30.0, len(sound))
    return np.clip(np.rint(sound + noise), -32768, 32767).astype(np.int16)


def _echo(played: Floats, level_db: float, delay_ms: float) -> Floats:
    room = EchoRoom(delay_ms=delay_ms, level_db=level_db)
    return room.echo(played, 2500.0, np.random.default_rng(3))[BEFORE:]


@pytest.mark.parametrize("seconds", [0.4, 0.8, 1.5])
@pytest.mark.parametrize("delay_ms", [20, 120, 250])
def test_what_we_played_is_known_through_a_ringing_room(seconds: float, delay_ms: float) -> None:
    """The room rings for 0.3 s, and the echo comes soon or late."""
    played = _voice(1, _loudness(2, BEFORE + int(seconds * RATE)))
    heard = _steps(_echo(played, 0.0, delay_ms))
    assert likeness(heard, np.rint(played).astype(np.int16)) > LIKE_US


@pytest.mark.parametrize("seconds", [0.4, 0.8, 1.5])
@pytest.mark.parametrize("alike", [True, False])
def test_another_word_is_not_ours(seconds: float, alike: bool) -> None:
    """It may run as loud and soft as what we play, or have a rest of our own voice under it."""
    played = _voice(1, _loudness(2, BEFORE + int(seconds * RATE)))
    word = _voice(5, _loudness(2 if alike else 6, len(played)))[BEFORE:]
    word *= 2500.0 / np.std(word)
    rest = 0.0 if alike else _echo(played, -12.0, 120.0)
    assert likeness(_steps(word + rest), np.rint(played).astype(np.int16)) < LIKE_US


def test_next_to_nothing_tells_nothing() -> None:
    """A sound of 40 ms, silence, and nothing kept from before it: no opinion, and no error."""
    played = np.rint(_voice(1, _loudness(2, BEFORE + RATE))).astype(np.int16)
    assert likeness(played[-640:], played[-640 - BEFORE :]) == 0.0
    assert likeness(np.zeros(RATE, np.int16), played) == 0.0
    assert likeness(played[-RATE:], np.zeros(BEFORE + RATE, np.int16)) == 0.0
    assert likeness(played[-RATE:], played[-RATE:]) == 0.0
