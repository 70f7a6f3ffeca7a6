"""The output: queue, placing, ducking and stopping, to the sample."""

import numpy as np
import pytest

from handsfree.audio.device import Samples
from handsfree.audio.mixer import FADE_SAMPLES, Mixer


def level(value: int, count: int) -> Samples:
    """Return a constant sound."""
    return np.full(count, value, dtype=np.int16)


@pytest.mark.parametrize("step", [1, 7, 320, 1_000])
def test_queued_sounds_follow_each_other_without_a_gap(step: int) -> None:
    """However it is pulled, one sound begins where the other ends."""
    mixer = Mixer(position=50)
    assert mixer.play(level(1, 100)) == 150
    assert mixer.play(level(2, 60)) == 210
    heard = np.concatenate([mixer.pull(step) for _ in range(-(-200 // step))])[:200]
    assert heard.tolist() == [1] * 100 + [2] * 60 + [0] * 40
    assert not mixer.playing()


def test_a_placed_sound_is_mixed_in_where_it_was_asked() -> None:
    """Placing neither waits for the queue nor moves it."""
    mixer = Mixer()
    mixer.play(level(100, 50))
    assert mixer.play(level(5, 10), at=30) == 40
    assert mixer.play(level(7, 10), at=80) == 90
    mixer.play(level(200, 10))
    heard = mixer.pull(100).tolist()
    assert (
        heard == [100] * 30 + [105] * 10 + [100] * 10 + [200] * 10 + [0] * 20 + [7] * 10 + [0] * 10
    )


def test_a_sound_placed_too_late_is_played_at_once_and_whole() -> None:
    """The caller learns from the result that it is late."""
    mixer = Mixer()
    mixer.pull(100)
    assert mixer.play(level(9, 10), at=20) == 110
    assert mixer.pull(12).tolist() == [9] * 10 + [0] * 2


def test_a_pause_does_not_let_the_queue_fall_behind() -> None:
    """What is queued after a silence starts now, not where the last sound ended."""
    mixer = Mixer()
    mixer.play(level(1, 10))
    mixer.pull(1_000)
    assert mixer.play(level(2, 10)) == 1_010


def test_stop_fades_and_drops_everything() -> None:
    """The sound dies within 20 ms without a jump; what was queued or placed never comes."""
    mixer = Mixer()
    mixer.play(level(10_000, 5_000))
    mixer.play(level(5_000, 5_000))
    mixer.play(level(5_000, 100), at=8_000)
    mixer.pull(100)
    mixer.stop()
    heard = mixer.pull(9_000).astype(int)
    assert 9_900 < heard[0] <= 10_000
    assert np.diff(heard[:FADE_SAMPLES]).min() > -100
    assert not heard[FADE_SAMPLES:].any()
    assert not mixer.playing()


def test_stop_in_silence_leaves_nothing_to_play() -> None:
    """Stopping when nothing sounds is harmless."""
    mixer = Mixer()
    mixer.stop()
    assert not mixer.playing()
    assert mixer.play(level(3, 5)) == 5


def test_after_a_stop_new_sound_follows_the_fade() -> None:
    """A reply after an interruption is not swallowed."""
    mixer = Mixer()
    mixer.play(level(10_000, 5_000))
    mixer.pull(10)
    mixer.stop()
    end = mixer.play(level(7, 100))
    heard = mixer.pull(end - 10)
    assert heard[-100:].tolist() == [7] * 100


def test_ducking_is_a_smooth_gain() -> None:
    """-20 dB is a tenth, reached within 20 ms without a jump, and back."""
    mixer = Mixer()
    mixer.play(level(10_000, 5_000))
    mixer.pull(1)
    mixer.duck(-20.0)
    heard = np.concatenate([mixer.pull(50) for _ in range(20)]).astype(int)
    assert abs(heard[-1] - 1_000) <= 1
    assert np.abs(np.diff(heard)).max() < 60
    mixer.duck(0.0)
    heard = mixer.pull(1_000).astype(int)
    assert heard[-1] == 10_000
    assert np.abs(np.diff(heard)).max() < 60


def test_too_loud_a_mix_is_clipped() -> None:
    """Two loud sounds together do not wrap around."""
    mixer = Mixer()
    mixer.play(level(30_000, 10))
    mixer.play(level(30_000, 10), at=0)
    assert mixer.pull(10).tolist() == [32_767] * 10
