"""What is done to sound for every batch, its frames, and training with them: all in PyTorch.

PyTorch comes with the extra ``train`` alone: without it these tests are left out, and say so.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from handsfree.errors import EngineError
from handsfree.hearing import phones
from handsfree.hearing.ear.embedding import Embedder, EmbeddingStream
from handsfree.hearing.phones import PhoneNetwork, load_network
from handsfree.hearing.phones.frames import utterance_frames
from handsfree.hearing.training import espeak
from handsfree.hearing.training.clips import trim
from handsfree.hearing.training.phone_batches import Batches, alone
from handsfree.hearing.training.phone_fit import JUDGED, Recipe, RunningMean, fit, held_errors
from handsfree.hearing.training.phone_harm import Bank, Harm, Mixed, fill_bank
from handsfree.hearing.training.phone_material import PHONES, PhoneMaterial
from handsfree.hearing.training.phone_model import Model, read_weights, write_network
from handsfree.hearing.training.phone_net import worked_example
from handsfree.hearing.training.recorded_barks import Dogs
from handsfree.hearing.training.torch_mel import MelFrames, levelled

torch: Any = pytest.importorskip("torch", reason="PyTorch comes with the extra 'train' alone")


def _sound(samples: int, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    swell = 10 ** (rng.uniform(-2, 0) + np.sin(np.linspace(0, 9, samples)))
    return np.clip(rng.normal(0, 600, samples) * swell, -32768, 32767).astype(np.int16)


def test_frames_are_the_programs_own() -> None:
    """Within 0.01 dB of ``Embedder.frames``, from near silence to clipping."""
    sounds = np.stack([_sound(16000, 1), _sound(16000, 2), np.zeros(16000, np.int16)])
    found = MelFrames(torch, "cpu")(torch.from_numpy(sounds).float()).numpy()
    embedder = Embedder()
    for ours, sound in zip(found, sounds, strict=True):
        wanted = embedder.frames(sound)
        assert ours.shape == wanted.shape
        assert np.abs(ours - wanted).max() < 0.01


@pytest.mark.parametrize("end", [20000, 23111])
def test_utterances_are_cut_out_and_levelled_as_the_program_does(end: int) -> None:
    """Within 0.02 dB of ``utterance_frames``, also where sound ends before the utterance's rest."""
    start, sound = 7933, _sound(24000, 3)
    stream = EmbeddingStream()
    stream.feed(sound, 0)
    wanted = utterance_frames(stream, start, end)
    frames = MelFrames(torch, "cpu")(torch.from_numpy(sound).float()[None])
    both = frames.expand(2, -1, -1)  # beside a shorter one: filling up changes nothing
    found, counts = levelled(torch, both, torch.tensor([start, 9000]), torch.tensor([end, 12000]))
    assert counts[0] == len(wanted)
    assert np.abs(found[0, : counts[0]].numpy() - wanted).max() < 0.02


@pytest.fixture(scope="module")
def bank() -> Bank:
    """A few sounds of each kind."""
    return fill_bank(2, 8, 4, 7)


@pytest.fixture(scope="module")
def material() -> PhoneMaterial:
    """Four words by one voice, the last two held back too: there is nothing new in them."""
    from scipy.signal import resample_poly

    waves = []
    for text in ("pink", "no", "pink", "no"):
        clip = trim(resample_poly(espeak.speak(text, "en-US"), 320, 441))
        waves.append((clip * 16384 / np.abs(clip).max()).astype(np.int16))
    spelt = {
        text: tuple(PHONES.index(one) + 1 for one in phones.split())
        for text, phones in (("pink", "P IH NG K"), ("no", "N OW"))
    }
    return PhoneMaterial(
        waves=np.concatenate(waves),
        lengths=np.array([one.size for one in waves], np.int64),
        phones=(spelt["pink"], spelt["no"]) * 2,
        held=np.array([False, False, True, True]),
        groups=np.array(["phrases"] * 4),
        speakers=np.array(["espeak:en-US"] * 4),
    )


def _program_frames(clip: np.ndarray) -> np.ndarray:
    """Frames of a clip at the level of clean batches, over the silence of a converter."""
    rng = np.random.default_rng(5)
    clip = clip * (1200 / np.sqrt(np.mean(clip.astype(float) ** 2)))
    sound = np.concatenate([np.zeros(16000), clip, np.zeros(16000)])
    sound = sound + rng.normal(0, 20, sound.size)
    stream = EmbeddingStream()
    stream.feed(np.round(sound).astype(np.int16), 0)
    return utterance_frames(stream, 16000, 16000 + clip.size)


def test_a_clean_batch_is_what_the_program_hears(material: PhoneMaterial, bank: Bank) -> None:
    """Loud bands within 1.5 dB: only the hiss of 20 LSB is drawn anew."""
    batch = Batches(torch, material, bank, "cpu", 7)(alone(np.arange(2)), harm=False)
    assert batch.phones == list(material.phones[:2])
    for row in range(2):
        start = material.starts[row]
        wanted = _program_frames(material.waves[start : start + material.lengths[row]])
        found = batch.frames[row, : int(batch.counts[row])].numpy()
        assert found.shape == wanted.shape
        loud = wanted > 70
        assert loud.sum() > 50
        assert np.abs(found - wanted)[loud].max() < 1.5
    assert batch.x.shape == (2, 32, batch.frames.shape[1])
    assert batch.mask.shape == (2, 1, -(-batch.frames.shape[1] // 2))
    assert batch.mask.sum((1, 2)).tolist() == batch.steps.tolist()
    assert not batch.x[1, :, int(batch.counts[1]) :].any()


def test_two_in_one_breath_follow_each_other(material: PhoneMaterial, bank: Bank) -> None:
    """Frames before the pause are the first's, those behind it the second's."""
    batches = Batches(torch, material, bank, "cpu", 7)
    gap = 3200
    both = batches(np.array([[0, 1, gap]]), harm=False)
    assert both.phones == [material.phones[0] + material.phones[1]]
    length = int(material.lengths[:2].sum()) + gap
    assert abs(int(both.counts[0]) - (length + 8320) // 160) <= 1
    loud = both.frames[0].amax(1).numpy()
    first, second = 30, 30 + (int(material.lengths[0]) + gap) // 160
    pause = loud[30 + int(material.lengths[0]) // 160 + 4 : second - 4]
    assert pause.max() < 60 < min(loud[first : first + 20].max(), loud[second : second + 20].max())


def test_speed_bends_a_tone_and_its_length(bank: Bank) -> None:
    """440 Hz at a speed of 1.1 is 484 Hz, in 10/11 of the time; within 1 % of a sine."""
    tone = (10000 * np.sin(2 * np.pi * 440 * np.arange(8800) / 16000)).astype(np.int16)
    one = PhoneMaterial(
        waves=tone,
        lengths=np.array([8800]),
        phones=((1,),),
        held=np.array([False]),
        groups=np.array(["tones"]),
        speakers=np.array(["nobody"]),
    )
    batches = Batches(torch, one, bank, "cpu", 7)
    speed, begin = torch.tensor([1.1]), torch.tensor([100])
    found, length = batches.placed(alone(np.array([0])), speed, begin, 10000)
    assert length.tolist() == [8000]
    assert not found[0, :99].any()
    assert not found[0, 8101:].any()
    wanted = 10000 * np.sin(2 * np.pi * 484 * np.arange(8000) / 16000)
    assert np.abs(found[0, 100:8100].numpy() - wanted)[5:-5].max() < 100


def test_other_sounds_and_the_microphone_keep_to_the_level(bank: Bank) -> None:
    """Nothing is laid where nothing is drawn; hiss is never within 8 dB of the voice's level."""
    level, none = torch.full((200,), 1000.0), torch.zeros(200, dtype=torch.bool)
    harm = _harm(bank)
    laid = harm.others(torch.zeros(200, 16000), level, torch.full((200,), 12000), none)
    touched = int((laid.abs().amax(1) > 0).sum())
    assert 12 < touched < 50  # 15 of 100; some lie before the first sample
    laid = harm.others(torch.zeros(200, 16000), level, torch.full((200,), 12000), ~none)
    assert int((laid.abs().amax(1) > 0).sum()) > 120  # four in five where nobody speaks
    heard = harm.microphone(torch.zeros(200, 16000), torch.full((200,), 10.0))
    rms = heard.pow(2).mean(1).sqrt()
    assert float(rms.median()) == pytest.approx(10 * 10 ** (-8 / 20), rel=0.05)


@pytest.fixture(scope="module")
def barking() -> Bank:
    """With a recorded dog, for whom half a second of a falling tone stands."""
    tone = np.sin(2 * np.pi * np.cumsum(np.linspace(900, 400, 4000)) / 16000)
    return fill_bank(4, 60, 4, 7, barks=Dogs([[tone]]))


def test_recorded_dogs_bark_close_to_speech(barking: Bank) -> None:
    """Beside a fifth of 400, most often before the first word; three at most, and never none."""
    begin, end = torch.full((400,), 8000), torch.full((400,), 16000)
    none = torch.zeros(400, dtype=torch.bool)
    harm, level = _harm(barking), torch.full((400,), 1000.0)
    found = harm.barked(torch.zeros(400, 24000), level, (begin, end), none, none)
    touched = found.abs().amax(1) > 0
    assert 50 < int(touched.sum()) < 110
    loud = found[touched].abs() > 1
    before, begins, after = (
        loud[:, a:b].any(1) for a, b in ((3000, 8000), (8000, 9000), (16000, 21000))
    )
    assert int(before.sum()) > int(after.sum()) > 10
    assert int((before & ~begins).sum()) > 10  # these end before the first word
    every = harm.barked(torch.zeros(400, 24000), level, (begin, end), ~none, none)
    assert int((every.abs().amax(1) > 0).sum()) > 390
    alone_ = harm.barked(torch.zeros(400, 24000), level, (begin, end), none, ~none)
    assert 200 < int((alone_.abs().amax(1) > 0).sum()) < 290


def test_bounds_take_in_what_a_dog_said(material: PhoneMaterial, barking: Bank) -> None:
    """Up to half a second longer than without dogs; what is said stays, nothing is left open."""
    rows = alone(np.tile(np.arange(2), 60))
    found = Batches(torch, material, barking, "cpu", 7)(rows)
    assert torch.isfinite(found.x).all()
    assert found.x.shape[2] == int(found.counts.max())
    assert {one for one in found.phones if one} == set(material.phones)


def test_harm_is_drawn_anew_and_from_the_seed(material: PhoneMaterial, bank: Bank) -> None:
    """No two batches are alike, the same seed makes the same, and every value can be used."""
    rows = alone(np.tile(np.arange(2), 40))
    one, same, other = (Batches(torch, material, bank, "cpu", seed) for seed in (7, 7, 8))
    first = one(rows)
    assert torch.equal(first.x, same(rows).x)
    assert first.x.shape != (again := one(rows).x).shape or not torch.equal(first.x, again)
    third = other(rows).x
    assert third.shape != first.x.shape or not torch.equal(first.x, third)
    frames = torch.cat([f[:n] for f, n in zip(first.frames, first.counts.tolist(), strict=True)])
    assert torch.isfinite(first.x).all()
    assert 25 <= float(frames.min()) < float(frames.max()) < 127
    # One in 14 has its speech taken out, and says nothing; speeds and bounds differ.
    silent = sum(not said for said in first.phones)
    assert 0 < silent < 20
    assert len(set(first.counts.tolist())) > 10


def _harm(bank: Bank) -> Harm:
    speech = torch.from_numpy(_sound(40000, 4))
    return Harm(torch, bank, speech, "cpu", 7)


@pytest.mark.parametrize("kind", ["bank", "coloured"])
def test_noise_has_the_strength_that_is_asked_for(bank: Bank, kind: str) -> None:
    """5 dB below the speech in each: 20 log10 of the two root mean squares."""
    level = torch.tensor([300.0, 2000.0, 20.0])
    silence = torch.zeros(3, 16000)
    found = _harm(bank).noise(silence, level, Mixed(kind=kind, snr_db=5.0))
    rms = (found**2).mean(1).sqrt()
    assert torch.allclose(20 * torch.log10(level / rms), torch.full((3,), 5.0), atol=0.01)
    assert not torch.allclose(found[0] / rms[0], found[1] / rms[1], atol=0.1)


def test_coloured_noise_differs_in_colour_and_swells(bank: Bank) -> None:
    """Low against high bands by more than 20 dB from one to the next; loudness is not steady."""
    found = _harm(bank).coloured(24, 32000)
    power = torch.fft.rfft(found).abs() ** 2  # 0.5 Hz a bin
    balance = 10 * torch.log10(power[:, 400:1600].mean(1) / power[:, 6000:14000].mean(1))
    assert float(balance.max() - balance.min()) > 20
    pieces = found.reshape(24, 20, 1600).pow(2).mean(2).sqrt()
    assert float((pieces.std(1) / pieces.mean(1)).max()) > 0.3


def test_rooms_ring_on_and_keep_the_beginning(bank: Bank) -> None:
    """A click: in about half something follows 50 ms later; nothing comes before it."""
    clicks = torch.zeros(60, 16000)
    clicks[:, 4000] = 20000.0
    found = _harm(bank).room_and_tone(clicks)
    loudest = found.abs().amax(1)
    before = found[:, :3000].abs().amax(1) / loudest
    after = found[:, 4800:].abs().amax(1) / loudest
    assert float(before.max()) < 0.01
    assert 15 < int((after > 0.005).sum()) < 50


def test_a_whisper_has_the_colours_and_no_voice(bank: Bank) -> None:
    """One in twenty: a harmonic tone becomes noise of its envelope, with less below 300 Hz."""
    t = torch.arange(32000) / 16000
    tone = sum(torch.sin(2 * torch.pi * 200 * k * t) for k in range(1, 20)) * 500
    many = tone.repeat(400, 1)
    found = _harm(bank).whispered(many)
    changed = (found != many).any(1)
    assert 8 < int(changed.sum()) < 36
    power = torch.fft.rfft(found[changed][:, 4000:-4000]).abs() ** 2
    plain = torch.fft.rfft(tone[4000:-4000]).abs() ** 2
    # Between harmonics as loud as on them; above the highest nothing comes.
    on, between = (
        sum(power[:, int((200 * k + off) * 1.5)].mean() for k in range(6, 18)) for off in (0, 100)
    )
    assert 0.5 < float(on / between) < 2
    assert float(power[:, 9000:].sum() / power.sum()) < 0.01
    low, high = slice(225, 375), slice(2925, 3075)
    before, after = (p[..., low].sum() / p[..., high].sum() for p in (plain, power))
    assert float(after) < 0.5 * float(before)


def test_band_limits_take_only_what_lies_outside(bank: Bank) -> None:
    """1 kHz passes everywhere, within 1 dB; 6 kHz is taken from about four in ten."""
    t = torch.arange(16000) / 16000
    for hz, low, high in ((1000, 0, 0), (6000, 40, 120)):
        tones = (1000 * torch.sin(2 * torch.pi * hz * t)).repeat(200, 1)
        found = _harm(bank).band_limits(tones)[:, 2000:-2000]
        change = 20 * torch.log10(found.pow(2).mean(1).sqrt() / (1000 / 2**0.5))
        assert low <= int((change < -1).sum()) <= high


def test_the_mean_of_the_weights_follows_them_slowly() -> None:
    """Each step leaves (1 + n) / (10 + n) of what was, 0.999 at most: worked out by hand."""
    module = torch.nn.Linear(1, 1)
    torch.nn.init.zeros_(module.weight)
    mean = RunningMean(module)
    torch.nn.init.ones_(module.weight)
    mean.add(1)
    mean.add(2)
    torch.nn.init.constant_(module.weight, 5.0)
    mean.use()
    assert float(module.weight.detach()) == pytest.approx(1 - 2 / 11 * 3 / 12)
    mean.add(10**6)
    mean.use()
    assert float(module.weight.detach()) == pytest.approx(1 - 2 / 11 * 3 / 12)
    torch.nn.init.ones_(module.weight)
    mean.add(10**6)
    mean.use()
    assert float(module.weight.detach()) == pytest.approx(1 - 2 / 11 * 3 / 12 * 0.999)


def test_a_small_network_learns_and_is_read(
    material: PhoneMaterial, bank: Bank, tmp_path: Any
) -> None:
    """Two words in twenty epochs, on the processor: the loss falls, and the written file agrees."""
    told: list[str] = []
    recipe = Recipe(channels=16, blocks=1, epochs=20, batch=300, step=1e-2)
    torch.set_num_threads(1)
    many = replace(
        material,
        waves=np.tile(material.waves, 6),
        lengths=np.tile(material.lengths, 6),
        phones=material.phones * 6,
        held=np.tile(material.held, 6),
        groups=np.tile(material.groups, 6),
        speakers=np.tile(material.speakers, 6),
    )
    model = fit(torch, many, bank, recipe, 7, "cpu", told.append)
    losses = [float(line.rpartition(" ")[2].rstrip(".")) for line in told[1:]]
    assert len(losses) == 20
    assert np.mean(losses[-3:]) < 0.6 * losses[0]
    errors = held_errors(torch, model, material, bank, "cpu")
    assert {f"phrases, {condition}" for condition in JUDGED} <= set(errors) | {"phrases, rough"}
    assert errors["phrases, clean"].takes == 2
    assert errors["phrases, clean"].phones == 6
    file = tmp_path / "network.npz"
    write_network(file, PHONES, model.folded())
    frames = _sound(3200, 9)[: 30 * 32].reshape(30, 32).astype(np.float32) % 60 + 30
    wanted, found = worked_example(torch, model, frames), PhoneNetwork(file)(frames)
    assert np.abs(np.exp(found) - np.exp(wanted)).max() < 0.01


def test_training_goes_on_from_the_shipped_network(material: PhoneMaterial, bank: Bank) -> None:
    """Unfolded by a batch it answers that batch as the program's own runner does."""
    weights = read_weights(Path(phones.__file__).with_name("network.npz"))
    channels, blocks = weights.out[0].shape[0], len(weights.blocks)
    model = Model(torch, channels, blocks, len(PHONES) + 1, "cpu")
    batch = Batches(torch, material, bank, "cpu", 7)(alone(np.arange(4)))
    model.take(weights, batch.x, batch.mask)
    count = int(batch.counts[0])
    frames = batch.frames[0, :count].numpy()
    found, wanted = worked_example(torch, model, frames), load_network()(frames)
    assert np.abs(np.exp(found) - np.exp(wanted)).max() < 1e-3
    other = Model(torch, channels, blocks - 1, len(PHONES) + 1, "cpu")
    with pytest.raises(EngineError, match="other blocks"):
        other.take(weights, batch.x, batch.mask)


@pytest.mark.parametrize("hz", [500, 2000])
def test_a_throat_moves_the_bands(hz: int) -> None:
    """A tone heard through a throat of 1.1 has the bands of one 1.1 times as high (the warp)."""
    t = np.arange(16000) / 16000
    tones = np.stack([5000 * np.sin(2 * np.pi * f * t) for f in (hz, 1.1 * hz)])
    frames = MelFrames(torch, "cpu", (1.1,))
    low, high = torch.from_numpy(tones).float()
    bent = frames(low[None], torch.tensor([1]))[0, 10]
    loudest = frames(high[None])[0, 10].argmax()
    assert bent.argmax() == loudest != frames(low[None])[0, 10].argmax()


def test_another_pace_keeps_what_is_said() -> None:
    """At 1.25 four fifths of the frames are left, each where the sound was at its time."""
    frames = torch.arange(100.0).expand(32, -1).T[None] / 4 + 60
    start, end = torch.tensor([4800]), torch.tensor([9600])
    plain, counts = levelled(torch, frames, start, end)
    quick, fewer = levelled(torch, frames, start, end, pace=torch.tensor([1.25]))
    assert int(fewer) == int(int(counts) / 1.25)
    steps = quick[0, 1 : int(fewer), 0] - quick[0, : int(fewer) - 1, 0]
    assert torch.allclose(steps, torch.tensor(1.25 / 4), atol=1e-4)
    assert float(plain[0, 1, 0] - plain[0, 0, 0]) == pytest.approx(0.25)
