"""Word onsets on sound that is put together here, so that the truth is known."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from handsfree.hearing.verdict import WordTime
from handsfree.measuring.islands import islands, search, voicing
from handsfree.measuring.onset import onsets, refine

RATE = 16_000


def spoken(rng: np.random.Generator, *, burst: bool) -> NDArray[np.float64]:
    """Return something like a word of 0.4 s: a burst and breath if wanted, then a voice."""
    time = np.arange(int(0.35 * RATE)) / RATE
    pitch = 130.0 - 40.0 * time
    voice = sum(np.sin(2 * np.pi * k * np.cumsum(pitch) / RATE) / k for k in range(1, 25))
    shape = np.minimum(1.0, np.minimum(time / 0.03, (0.35 - time) / 0.08))
    sound = 4000.0 * voice * shape
    if not burst:
        return np.asarray(sound)
    breath = rng.normal(0.0, 700.0, int(0.05 * RATE))
    breath[: int(0.008 * RATE)] *= 3.0
    return np.concatenate([breath, sound])


def scene(
    rng: np.random.Generator, places_s: list[float], *, burst: bool, noise: float
) -> NDArray[np.int16]:
    """Return six seconds of room with words that begin at ``places_s``."""
    sound = rng.normal(0.0, noise, 6 * RATE)
    for place in places_s:
        word = spoken(rng, burst=burst)
        begin = round(place * RATE)
        sound[begin : begin + len(word)] += word
    return np.clip(sound, -32768, 32767).astype(np.int16)


def raw(word: str, truth_s: float, early_s: float) -> WordTime:
    """Return a recogniser's time for a word: early by ``early_s``, ending near the true end."""
    return WordTime(
        word=word, start=round((truth_s - early_s) * RATE), end=round((truth_s + 0.36) * RATE)
    )


@pytest.mark.parametrize("early_s", [0.35, 0.04, -0.08])
@pytest.mark.parametrize("burst", [True, False])
def test_onset_is_found_wherever_the_recogniser_began(early_s: float, burst: bool) -> None:
    """A start 0.35 s early or 0.08 s late is moved to the first audible energy."""
    rng = np.random.default_rng(5)
    word = "pink" if burst else "release"
    sound = scene(rng, [3.0], burst=burst, noise=30.0)
    (found,) = refine(sound, 0, [raw(word, 3.0, early_s)])
    assert abs(found.start / RATE - 3.0) <= 0.02
    assert not found.doubtful


def test_positions_follow_the_streams_clock() -> None:
    """A stretch that begins at any position gives the same onset on that clock."""
    rng = np.random.default_rng(5)
    sound = scene(rng, [3.0], burst=True, noise=30.0)
    (plain,) = refine(sound, 0, [raw("pink", 3.0, 0.1)])
    moved = WordTime(
        word="pink", start=raw("pink", 3.0, 0.1).start + 777_000,
        end=raw("pink", 3.0, 0.1).end + 777_000,
    )  # fmt: skip
    (far,) = refine(sound, 777_000, [moved])
    assert far.start - plain.start == 777_000


@pytest.mark.parametrize("burst", [True, False])
def test_noise_costs_some_accuracy_only(burst: bool) -> None:
    """About 10 dB of noise: within 0.12 s."""
    rng = np.random.default_rng(8)
    sound = scene(rng, [3.0], burst=burst, noise=900.0)
    (found,) = refine(sound, 0, [raw("pink" if burst else "release", 3.0, 0.2)])
    assert abs(found.start / RATE - 3.0) <= 0.12


def test_a_word_no_louder_than_the_room_is_marked() -> None:
    """A word that the room hides keeps a time, and is marked as doubtful."""
    rng = np.random.default_rng(2)
    sound = scene(rng, [3.0], burst=True, noise=7000.0)
    (found,) = onsets(sound, 0, [raw("pink", 3.0, 0.2)])
    assert found.doubt


def test_a_clatter_close_before_the_word_is_marked() -> None:
    """A loud sound just before the word could be its burst: the word is doubtful."""
    rng = np.random.default_rng(2)
    sound = scene(rng, [3.0], burst=True, noise=30.0)
    clatter = round(2.85 * RATE)
    sound[clatter : clatter + 640] += rng.normal(0.0, 5000.0, 640).astype(np.int16)
    (found,) = onsets(sound, 0, [raw("pink", 3.0, 0.3)])
    assert found.doubt


@pytest.mark.parametrize("samples", [0, 50, 400])
def test_too_little_sound_is_marked_not_fatal(samples: int) -> None:
    """A stretch too short to tell anything gives the raw time back, marked."""
    word = WordTime(word="pink", start=10, end=20)
    (found,) = refine(np.zeros(samples, np.int16), 0, [word])
    assert found.doubtful


def test_silence_and_square_wave_do_no_harm() -> None:
    """Digital silence and a full-scale square wave give marked times, and no island."""
    square = np.where(np.arange(3 * RATE) % 80 < 40, 32767, -32768).astype(np.int16)
    for sound in (np.zeros(3 * RATE, np.int16), square):
        (found,) = refine(sound, 0, [WordTime(word="pink", start=RATE, end=RATE + 6000)])
        assert found.doubtful
        assert islands(sound) == ()


@pytest.mark.parametrize("early_s", [0.3, 0.2])
def test_a_bark_that_runs_into_the_word_leaves_a_doubt(early_s: float) -> None:
    """A sound that is at full strength at once is no word of ours; a softer beginning is."""
    rng = np.random.default_rng(6)
    plain = scene(rng, [3.0], burst=True, noise=30.0).astype(np.float64)
    time = np.arange(int(0.3 * RATE)) / RATE
    bark = 9000.0 * np.sign(np.sin(2 * np.pi * (520.0 - 400.0 * time) * time))
    begin = round((3.0 - early_s) * RATE)
    plain[begin : begin + len(bark)] += bark
    sound = np.clip(plain, -32768, 32767).astype(np.int16)
    (found,) = onsets(sound, 0, [raw("pink", 3.0, early_s + 0.05)])
    assert found.doubt


def test_islands_are_the_words() -> None:
    """Two words in a room are two islands at their places, more voiced than noise."""
    rng = np.random.default_rng(4)
    sound = scene(rng, [1.5, 4.0], burst=True, noise=30.0)
    found = islands(sound)
    assert len(found) == 2
    assert abs(found[0].start / RATE - 1.5) < 0.08
    assert abs(found[1].start / RATE - 4.0) < 0.08
    assert voicing(sound[round(1.6 * RATE) : round(1.9 * RATE)]) > 0.5
    assert voicing(rng.normal(0, 3000, 4800).astype(np.int16)) < 0.2


def test_a_missed_word_is_found_by_its_place() -> None:
    """Release was heard and pink was not: the sound that follows is pink."""
    rng = np.random.default_rng(4)
    sound = scene(rng, [1.5, 4.0], burst=True, noise=30.0)
    found = search(sound, 0, [raw("release", 1.5, 0.05)], ("release", "pink"))
    assert [onset.word for onset in found] == ["release", "pink"]
    assert abs(found[1].start / RATE - 4.0) <= 0.02


def test_two_sounds_for_one_word_leave_a_doubt() -> None:
    """Where two sounds alike could be the missed word, it is marked."""
    rng = np.random.default_rng(4)
    sound = scene(rng, [1.0, 2.5, 4.0], burst=True, noise=30.0)
    found = search(sound, 0, [raw("release", 1.0, 0.05)], ("release", "pink"))
    assert found[1].doubt


def test_nothing_there_stays_missing() -> None:
    """Silence has no word in it."""
    rng = np.random.default_rng(4)
    sound = scene(rng, [], burst=True, noise=30.0)
    assert search(sound, 0, [], ("release", "pink")) == ()
