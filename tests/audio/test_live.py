"""The live stream through the real PortAudio, on a virtual sound card."""

import numpy as np
import pytest
from pulse import PulseServer

from handsfree.audio.choosing import find_device, list_devices, play_once, refresh_devices
from handsfree.audio.device import BLOCK_SAMPLES, Samples
from handsfree.audio.live import LiveDuplex
from handsfree.errors import CallerError, DeviceError

pytestmark = pytest.mark.portaudio


def noise(count: int, *, seed: int = 1, rms: float = 3_000.0) -> Samples:
    """Return a sound that is found again without doubt."""
    random = np.random.default_rng(seed)
    return np.clip(random.normal(0.0, rms, count), -32_000, 32_000).astype(np.int16)


def hear(stream: LiveDuplex, seconds: float) -> tuple[int, Samples, Samples]:
    """Return where it began, the microphone and the reference of so many seconds."""
    begin = stream.position()
    microphone, reference = [], []
    while stream.position() < begin + seconds * 16_000:
        block = stream.read(1.0)
        if block is None:  # a stream that stays silent is an error within a second
            continue
        microphone.append(block.samples)
        reference.append(block.reference)
    return begin, np.concatenate(microphone), np.concatenate(reference)


def find(sound: Samples, within: Samples) -> tuple[int, float]:
    """Return where `sound` begins in `within`, and the share of its energy found there."""
    size = 1 << (len(sound) + len(within)).bit_length()
    spectrum = np.fft.rfft(within, size) * np.conj(np.fft.rfft(sound, size))
    match = np.fft.irfft(spectrum, size)[: len(within)]
    at = int(np.argmax(match))
    return at, float(match[at] / np.dot(sound.astype(float), sound.astype(float)))


def test_speech_in_the_room_is_heard_on_an_unbroken_clock(pulse: PulseServer) -> None:
    """Blocks follow each other to the sample, none is lost, and what was spoken is in them."""
    stream = LiveDuplex("pulse", "pulse")
    speech = noise(8_000)
    player = pulse.speak_on(speech)
    starts, heard = [], []
    for _ in range(100):
        block = stream.read(1.0)
        assert block is not None
        assert block.overflow == 0
        assert len(block.samples) == len(block.reference) == BLOCK_SAMPLES
        starts.append(block.start)
        heard.append(block.samples)
    player.wait(timeout=10)
    stream.close()
    assert starts == list(range(0, 100 * BLOCK_SAMPLES, BLOCK_SAMPLES))
    assert (stream.overflows, stream.lost_samples) == (0, 0)
    _, share = find(speech, np.concatenate(heard))
    assert share > 0.8


def test_what_we_play_sounds_in_the_room(pulse: PulseServer) -> None:
    """Queued and placed sound reaches the loudspeaker, and the stream says until when."""
    stream = LiveDuplex("pulse", "pulse")
    recording = pulse.record()
    hear(stream, 0.2)
    first, second = noise(6_000, seed=2), noise(6_000, seed=3)
    end = stream.play(first)
    assert stream.play(second, at=end + 8_000) == end + 14_000
    assert stream.playing()
    hear(stream, 1.8)
    assert not stream.playing()
    stream.close()
    room = recording.stop()
    one, share_one = find(first, room)
    two, share_two = find(second, room)
    assert min(share_one, share_two) > 0.6
    assert abs(two - one - 14_000) < 800


def test_the_reference_is_what_the_microphone_hears_of_us(pulse: PulseServer) -> None:
    """Sound placed at a position is in the reference there, and in the microphone close by."""
    pulse.listen_to("room")
    stream = LiveDuplex("pulse", "pulse")
    hear(stream, 1.6)  # the driver's figure settles
    voice = noise(8_000, seed=4)
    at = stream.position() + 8_000
    assert stream.play(voice, at=at) == at + 8_000
    begin, microphone, reference = hear(stream, 1.4)
    stream.close()
    where, share = find(voice, reference)
    assert (begin + where, round(share, 6)) == (at, 1.0)
    where, share = find(voice, microphone)
    assert share > 0.6
    assert abs(begin + where - at) < 800  # 50 ms: the driver's own figure is no better


def test_stop_and_duck_reach_the_loudspeaker(pulse: PulseServer) -> None:
    """A stop ends the sound within the driver's latency; ducking makes it quieter."""
    stream = LiveDuplex("pulse", "pulse")
    recording = pulse.record()
    hear(stream, 0.3)
    stream.play(noise(160_000, seed=5))
    hear(stream, 1.0)
    stream.duck(-20.0)
    hear(stream, 1.0)
    stream.stop_playing()
    hear(stream, 0.7)
    assert not stream.playing()
    hear(stream, 0.5)
    stream.close()
    room = recording.stop().astype(float)
    loud = np.sqrt((room[: len(room) // 320 * 320].reshape(-1, 320) ** 2).mean(axis=1))
    assert 0.6 < (loud > 1_500).sum() / 50 < 1.4
    assert 0.6 < ((loud > 150) & (loud < 600)).sum() / 50 < 1.4
    assert (loud[-20:] < 2).all()


def test_a_device_that_is_taken_away_is_told_and_can_come_back(pulse: PulseServer) -> None:
    """No endless waiting: one clear error; a new stream on the new device has a new name."""
    stream = LiveDuplex("pulse", "pulse")
    hear(stream, 0.3)
    pulse.kill()
    with pytest.raises(DeviceError, match="counts as lost"):
        hear(stream, 30.0)
    stream.close()
    stream.close()
    with pytest.raises(DeviceError, match="closed"):
        stream.read(0.1)
    refresh_devices()
    with pytest.raises(DeviceError, match="No microphone"):
        LiveDuplex()
    pulse.stop()
    pulse.start()
    refresh_devices()
    again = LiveDuplex("pulse", "pulse")
    assert again.stream_id != stream.stream_id
    begin, _, _ = hear(again, 0.3)
    assert begin == 0
    again.close()


def test_a_microphone_of_nothing_but_zeros_is_noticed(pulse: PulseServer) -> None:
    """Exact silence counts up, and any sound ends it."""
    stream = LiveDuplex("pulse", "pulse")
    hear(stream, 1.2)
    assert stream.silent_s >= 1.0
    player = pulse.speak_on(noise(12_000))
    hear(stream, 0.8)
    assert stream.silent_s < 0.8
    player.wait(timeout=10)
    stream.close()


def test_devices_are_listed_and_chosen_by_number_or_name(pulse: PulseServer) -> None:
    """A wrong or an ambiguous choice names what there is."""
    devices = list_devices()
    assert any(device.name == "pulse (ALSA)" and device.inputs for device in devices)
    assert sum(device.default for device in devices) >= 1
    wanted = next(device for device in devices if device.name.startswith("pulse"))
    assert find_device("PULSE", output=False) == wanted
    assert find_device(str(wanted.index), output=True) == wanted
    assert find_device(wanted.index, output=True) == wanted
    assert find_device(None, output=False).inputs
    with pytest.raises(CallerError, match=r"none is called so.*pulse \(ALSA\)"):
        find_device("gramophone", output=False)
    with pytest.raises(CallerError, match="more than one fits"):
        find_device("alsa", output=True)
    with pytest.raises(CallerError, match="none is called so"):
        find_device(99, output=True)


def test_a_loudspeaker_can_be_tried_by_ear(pulse: PulseServer) -> None:
    """One sound on one device, whole."""
    recording = pulse.record()
    sound = noise(8_000, seed=6)
    play_once("pulse", sound)
    play_once("pulse", np.zeros(8_000, dtype=np.int16))
    _, share = find(sound, recording.stop())
    assert share > 0.6
