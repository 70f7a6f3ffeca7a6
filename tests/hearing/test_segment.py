"""Segmenting: where sound begins and ends, and how loud the room is."""

import numpy as np
import pytest
from numpy.typing import NDArray

from handsfree.hearing.segment import (
    FRAME_SAMPLES,
    Dither,
    Frame,
    Loudness,
    Segmenter,
    level_dbfs,
)

RATE = 16_000


def _room(seconds: float, rms: float = 30.0, seed: int = 1) -> NDArray[np.float64]:
    return np.random.default_rng(seed).normal(0.0, rms, int(seconds * RATE))


def _vowel(seconds: float, peak: float = 6000.0) -> NDArray[np.float64]:
    t = np.arange(int(seconds * RATE)) / RATE
    voice = sum(np.sin(2 * np.pi * 130 * k * t) / k for k in range(1, 40))
    return np.asarray(peak * voice / np.abs(voice).max())


def _sound(word_at: float, word_s: float, total_s: float, rms: float = 30.0) -> NDArray[np.int16]:
    sound = _room(total_s, rms)
    begin = int(word_at * RATE)
    vowel = _vowel(word_s)
    sound[begin : begin + len(vowel)] += vowel
    return np.clip(sound, -32768, 32767).astype(np.int16)


def _frames(sound: NDArray[np.int16], cut: int) -> list[Frame]:
    segmenter = Segmenter()
    return [f for k in range(0, len(sound), cut) for f in segmenter.feed(sound[k : k + cut])]


def test_a_word_is_found_where_it_is() -> None:
    """Begin and end lie within 30 ms and 80 ms of the truth."""
    frames = _frames(_sound(1.0, 0.4, 2.5), 320)
    began = [f.began for f in frames if f.began is not None]
    last = max(f.start for f in frames if f.speech) + FRAME_SAMPLES
    assert len(began) == 1
    assert abs(began[0] - RATE) <= 0.03 * RATE
    assert abs(last - 1.4 * RATE) <= 0.08 * RATE


@pytest.mark.parametrize("cut", [1, 37, 160, 320, 4000, 10**6])
def test_cutting_into_blocks_changes_nothing(cut: int) -> None:
    """The same samples give the same frames, however they come."""
    sound = _sound(0.6, 0.3, 1.2)
    assert _frames(sound, cut) == _frames(sound, 320)


def test_steady_noise_is_no_speech() -> None:
    """White noise at any level begins nothing."""
    for rms in (5.0, 300.0, 6000.0):
        frames = _frames(_room(6.0, rms).clip(-32768, 32767).astype(np.int16), 320)
        assert not any(f.began is not None for f in frames)


def test_a_click_is_no_speech() -> None:
    """A sound of 10 ms is shorter than any word."""
    assert not any(f.began is not None for f in _frames(_sound(1.0, 0.01, 2.0), 320))


def test_noise_that_comes_and_stays_is_taken_in() -> None:
    """A tap turned on begins something once, and is the room's floor within seconds."""
    sound = np.concatenate([_room(2.0), _room(9.0, 1500.0, 2)]).astype(np.int16)
    segmenter = Segmenter()
    began = []
    for frame in segmenter.feed(sound):
        if frame.began is not None:
            began.append(frame.began)
        if not frame.speech:
            segmenter.end_speech()
    assert len(began) <= 2
    assert not [at for at in began if at > 7 * RATE]


def test_skipping_keeps_the_clock() -> None:
    """Sound that is not to be believed is passed over, and positions go on."""
    segmenter = Segmenter()
    list(segmenter.feed(_room(1.0).astype(np.int16)))
    segmenter.skip_to(50_000)
    first = next(iter(segmenter.feed(_room(0.1).astype(np.int16))))
    assert first.start == 50_000


def test_dither_fills_only_silence_and_by_position() -> None:
    """Exact zeros get noise that depends on the position alone; sound is left as it is."""
    dither = Dither()
    sound = np.zeros(3200, np.int16)
    sound[1000:2000] = 500
    whole = dither.fill(sound, 100)
    parts = np.concatenate([dither.fill(sound[:777], 100), dither.fill(sound[777:], 877)])
    assert np.array_equal(whole, parts)
    assert np.all(whole[1000:2000] == 500)
    assert 20 < np.std(whole[:1000]) < 40


def test_levels_are_against_full_scale() -> None:
    """A full-scale square wave is 0 dB; a sine of half the height lies 9 dB below."""
    t = np.arange(RATE) / RATE
    square = np.where(np.sin(2 * np.pi * 100 * t) > 0, 32767, -32768).astype(np.int16)
    sine = (16384 * np.sin(2 * np.pi * 100 * t)).astype(np.int16)
    assert level_dbfs(square) == pytest.approx(0.0, abs=0.01)
    assert level_dbfs(sine) == pytest.approx(-9.03, abs=0.01)
    assert level_dbfs(np.zeros(10, np.int16)) == -120.0


def test_too_loud_is_told_once_each_way() -> None:
    """A loud room is told when it begins and when it ends; talking in a quiet one is not."""
    loudness = Loudness(voice_db=-26.0)
    quiet = _room(8.0, 30.0)
    loud = _room(8.0, 4000.0)
    talk = np.concatenate([np.concatenate([_vowel(0.7), np.zeros(RATE // 2)]) for _ in range(6)])
    parts = [quiet, talk + _room(len(talk) / RATE), loud, quiet]
    sound = np.concatenate(parts).clip(-32768, 32767).astype(np.int16)
    told = [new for f in _frames(sound, 320) if (new := loudness.add(f)) is not None]
    assert told == [True, False]
