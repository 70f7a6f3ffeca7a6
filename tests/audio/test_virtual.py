"""The computed room: its clock, its noise, its echo, and its loss."""

import numpy as np
import pytest

from handsfree.audio.device import BLOCK_SAMPLES, Samples
from handsfree.audio.virtual import RoomNoise, VirtualDuplex
from handsfree.errors import DeviceError


def read(room: VirtualDuplex, blocks: int) -> tuple[Samples, Samples]:
    """Return microphone and reference of so many blocks."""
    got = [room.read(0.0) for _ in range(blocks)]
    present = [block for block in got if block is not None]
    assert len(present) == blocks
    return (
        np.concatenate([block.samples for block in present]),
        np.concatenate([block.reference for block in present]),
    )


def count_up(start: int, count: int) -> Samples:
    """Give each sample's own position: a source that shows misplacement."""
    return np.arange(start, start + count, dtype=np.int64).astype(np.int16)


def test_blocks_follow_the_sample_clock() -> None:
    """Starts rise by a block, the source is asked for just these samples."""
    room = VirtualDuplex(count_up)
    for number in range(5):
        assert room.position() == number * BLOCK_SAMPLES
        block = room.read(0.0)
        assert block is not None
        assert block.start == number * BLOCK_SAMPLES
        assert block.samples.tolist() == count_up(block.start, BLOCK_SAMPLES).tolist()
        assert block.overflow == 0


def test_each_stream_has_its_own_name() -> None:
    """No interval can cross two streams unnoticed."""
    assert VirtualDuplex().stream_id != VirtualDuplex().stream_id


def test_noise_is_seeded_and_the_same_however_it_is_cut() -> None:
    """Same seed and position, same room; about the level asked for."""
    whole = RoomNoise(seed=3, rms=40).at(15_000, 4_000)
    noise = RoomNoise(seed=3, rms=40)
    pieces = np.concatenate([noise.at(15_000 + at, 400) for at in range(0, 4_000, 400)])
    assert np.array_equal(whole, pieces)
    assert np.array_equal(RoomNoise(seed=3, rms=40).at(15_000, 4_000), whole)
    assert not np.array_equal(RoomNoise(seed=4, rms=40).at(15_000, 4_000), whole)
    assert 36 < whole.std() < 44


def test_our_voice_comes_back_as_reference_and_as_echo() -> None:
    """The reference has no delay, the echo has the one that was asked for, and its gain."""
    room = VirtualDuplex(echo_gain_db=-20.0, echo_delay=500)
    voice = np.full(1_000, 10_000, dtype=np.int16)
    assert room.play(voice, at=640) == 1_640
    microphone, reference = read(room, 10)
    assert np.flatnonzero(reference).tolist() == list(range(640, 1_640))
    assert np.flatnonzero(microphone).tolist() == list(range(1_140, 2_140))
    assert set(microphone[1_140:2_140].tolist()) == {1_000}


def test_a_known_sound_can_be_taken_out_of_the_microphone() -> None:
    """With the delay known, microphone less reference is the person alone."""
    room = VirtualDuplex(count_up, echo_gain_db=0.0, echo_delay=0)
    room.play(np.full(700, 1_000, dtype=np.int16), at=333)
    microphone, reference = read(room, 10)
    assert (microphone - reference).tolist() == count_up(0, 3_200).tolist()


def test_stop_and_duck_reach_what_is_played() -> None:
    """The stream's controls are those of its output."""
    room = VirtualDuplex()
    room.duck(-20.0)
    room.play(np.full(10_000, 10_000, dtype=np.int16))
    assert room.playing()
    _, reference = read(room, 5)
    assert abs(int(reference[-1]) - 1_000) <= 1
    room.stop_playing()
    _, reference = read(room, 5)
    assert not reference[-1_000:].any()
    assert not room.playing()


def test_the_listener_gets_both_sides_in_step() -> None:
    """What a dialogue's recording needs: every block, once, from the first."""
    passed: list[tuple[int, int, int]] = []
    room = VirtualDuplex(
        count_up, listener=lambda start, ours, theirs: passed.append((start, ours[0], theirs[0]))
    )
    room.play(np.full(320, 5, dtype=np.int16))
    read(room, 3)
    assert passed == [(0, 5, 0), (320, 0, 320), (640, 0, 640)]


def test_a_lost_device_says_so_at_every_read() -> None:
    """Losing and closing are errors, not silence."""
    room = VirtualDuplex()
    room.lose()
    for _ in range(2):
        with pytest.raises(DeviceError, match="taken away"):
            room.read(0.0)
    closed = VirtualDuplex()
    closed.close()
    closed.close()
    with pytest.raises(DeviceError, match="closed"):
        closed.read(0.0)


def test_a_source_that_gives_too_little_is_a_mistake() -> None:
    """A wrong length is never padded in silence."""
    room = VirtualDuplex(lambda start, count: np.zeros(count - 1, dtype=np.int16))
    with pytest.raises(ValueError, match="319"):
        room.read(0.0)
