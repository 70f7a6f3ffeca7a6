"""Making the phone network again: what is said, its sound and phones, and the file written.

None of these trains: that needs PyTorch, which only the extra ``train`` brings; what needs it is in
``test_harm.py``.
"""

from __future__ import annotations

import builtins
import sys
from pathlib import Path

import numpy as np
import pytest

from handsfree.errors import CallerError, EngineError
from handsfree.hearing import grammar, phones
from handsfree.hearing.ear.embedding import EmbeddingStream
from handsfree.hearing.ear.utterance import FEATURES
from handsfree.hearing.phones import Lexicon, PhoneNetwork, load_network
from handsfree.hearing.phones.frames import utterance_frames
from handsfree.hearing.training import phone_net, recorded_barks, spoken_numbers, talk, torch_mel
from handsfree.hearing.training.clips import Clip, Studio, write_wav
from handsfree.hearing.training.examples import Examples
from handsfree.hearing.training.jobs import Job, features, make_all
from handsfree.hearing.training.phone_batches import alone, epoch
from handsfree.hearing.training.phone_fit import edits, greedy
from handsfree.hearing.training.phone_harm import BED_SAMPLES, fill_bank
from handsfree.hearing.training.phone_material import (
    PHONES,
    ClipWorkshop,
    PhoneAmounts,
    PhoneMaterial,
    gather,
    phones_of,
    plan,
)
from handsfree.hearing.training.phone_model import Weights, load_torch, write_network
from handsfree.hearing.training.voices import UNTOUCHED
from handsfree.hearing.verdict import MeaningKind


def test_numbers_by_lot_are_said_by_their_grammars() -> None:
    """Each means something, has two to eight words, and none comes twice."""
    drawn = spoken_numbers.draw(300, 7)
    assert len(set(drawn)) == len(drawn) == 300
    grammars = [grammar.load(name) for name in spoken_numbers.ODDS]
    for text in drawn:
        words = tuple(text.split())
        assert 2 <= len(words) <= 8
        assert any(one.meaning(words, MeaningKind.ANSWER) for one in grammars), text


def test_numbers_by_lot_follow_their_seed() -> None:
    """The same seed gives the same, fewer are the beginning of more, another seed gives others."""
    drawn = spoken_numbers.draw(100, 7)
    assert spoken_numbers.draw(100, 7) == drawn
    assert spoken_numbers.draw(30, 7) == drawn[:30]
    assert len(set(spoken_numbers.draw(100, 8)) & set(drawn)) < 50


def test_more_numbers_than_can_be_said_are_refused(tmp_path: Path) -> None:
    """A clear line in place of a search without end."""
    text = "#JSGF V1.0;\ngrammar few;\npublic <few> = (one {+1} | two {+2}) half {+0.5};\n"
    (tmp_path / "few.jsgf").write_text(text, encoding="utf-8")
    assert set(spoken_numbers.draw(2, 1, folder=tmp_path, odds={"few": 1})) == {
        "one half",
        "two half",
    }
    with pytest.raises(CallerError, match="2 different numbers"):
        spoken_numbers.draw(3, 1, folder=tmp_path, odds={"few": 1})


def test_the_shipped_network_has_these_phones() -> None:
    """What is written again must be read by the same program: the same 39 phones in one order."""
    assert load_network().phones == PHONES
    assert len(PHONES) == 39  # as the CMU Pronouncing Dictionary tells in its file of phones


def test_phones_of_a_text() -> None:
    """CMU Pronouncing Dictionary, entries "a" (first way AH), "pink" and "can't"; no word, none."""
    lexicon = Lexicon()
    assert phones_of("A pink!", lexicon) == ("AH", "P", "IH", "NG", "K")
    assert phones_of("can’t", lexicon) == ("K", "AE", "N", "T")
    assert phones_of("", lexicon) == ()
    assert phones_of("pink qwrtz", lexicon) is None


def test_lone_words_by_lot() -> None:
    """Different words that all have phones; fewer are the beginning of more."""
    words = talk.lone_words(200, 7)
    lexicon = Lexicon()
    assert len(set(words)) == 200
    assert all(phones_of(word, lexicon) for word in words)
    assert talk.lone_words(50, 7) == words[:50]
    assert talk.lone_words(50, 8) != words[:50]


def _job(text: str, voice: str) -> Job:
    clip = Clip(text=text, engine="espeak", voice=voice)
    return Job(kind="clip", takes=1, group="phrases, eSpeak NG", clips=(clip,))


_SAID = ("pink", "no qwrtz", "two point five kilos", "thirty eight point six")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[PhoneMaterial, list[str], Path]:
    """Three clips that can be spelt and one that can't; the last is held back."""
    work = tmp_path_factory.mktemp("work")
    voices = ("en-US", "en-US", "en+f4", "en-US")
    jobs = [
        (_job(text, voice), text == _SAID[-1]) for text, voice in zip(_SAID, voices, strict=True)
    ]
    studio = ClipWorkshop(work=work, tables=None, seed=7).studio()
    told: list[str] = []
    found = gather(jobs, studio, Lexicon(), say=told.append)
    again = gather(jobs, studio, Lexicon(), kept_only=True, say=told.append)
    assert np.abs(again.waves.astype(int) - found.waves).max() <= 2  # a file keeps whole numbers
    return found, told, work


def test_material_of_clips_has_their_sound_and_phones(
    made: tuple[PhoneMaterial, list[str], Path],
) -> None:
    """Clean clips in the order of the jobs, peak 0.5; a word without phones is left out."""
    found, told, _ = made
    spelt = [tuple(PHONES[k - 1] for k in one) for one in found.phones]
    assert spelt == [phones_of(text, Lexicon()) for text in _SAID if "q" not in text]
    assert "1 clips with a word that the dictionary lacks" in told[0]
    assert found.waves.dtype == np.int16
    assert found.waves.shape == (found.lengths.sum(),)
    assert found.held.tolist() == [False, False, True]
    assert found.speakers.tolist() == ["espeak:en-US", "espeak:en+f4", "espeak:en-US"]
    for start, length in zip(found.starts, found.lengths, strict=True):
        clip = found.waves[start : start + length].astype(float)
        assert np.abs(clip).max() == pytest.approx(16384, abs=2)
        # Nothing before it and nothing after it: its ends are within 40 dB of its loudest 10 ms.
        ends = [np.sqrt(np.mean(one**2)) for one in (clip[:160], clip[-160:])]
        assert min(ends) > 16384 / 10 ** (46 / 20) / 2
    assert 0.2 < found.lengths[0] / 16000 < 0.8 < found.lengths[-1] / 16000 < 2.5


def test_the_shipped_network_reads_such_material(
    made: tuple[PhoneMaterial, list[str], Path],
) -> None:
    """Sound as it is trained on, through the program's own frames, is spelt nearly right."""
    found = made[0]
    stream = EmbeddingStream()
    rest = np.random.default_rng(1).normal(0, 20, 32000)
    clip = found.waves[found.starts[-1] :]
    sound = np.concatenate([rest[:16000], clip * 0.2, rest[16000:]]).astype(np.int16)
    stream.feed(sound, 0)
    frames = utterance_frames(stream, 16000, 16000 + clip.size)
    heard = greedy(load_network()(frames).argmax(axis=1))
    assert edits(found.phones[-1], heard) <= 2


def test_clips_are_made_by_several_processes(tmp_path: Path) -> None:
    """Each job's clip lies in the folder afterwards; one that can't be made is told."""
    shop = ClipWorkshop(work=tmp_path, tables=None, seed=7)
    told: list[str] = []
    jobs = [_job("pink", "en-US"), _job("pink", "no such voice")]
    assert make_all(jobs, shop, 1, say=told.append)
    studio = shop.studio()
    assert [studio.has(job.clips[0]) for job in jobs] == [True, False]
    assert "Left out 1" in told[-1]


def test_features_are_made_of_kept_takes(tmp_path: Path) -> None:
    """The second ear's: more takes of a clip begin with the fewer, and none is none."""
    examples = Examples(tmp_path / "features", Studio(tmp_path / "clips"), 7)
    clip = _job("pink", "en-US").clips
    none, one, two = (Job(kind="clip", takes=n, group="phrases", clips=clip) for n in range(3))
    first = features(examples, one)
    both = features(examples, two)
    assert features(examples, none).shape == (0, FEATURES)
    assert both.shape == (2, FEATURES)
    assert np.array_equal(both[:1], first)
    assert len(list((tmp_path / "features").glob("*.npy"))) == 1


def test_numbers_that_are_judged_are_not_trained_on() -> None:
    """No clip comes twice, none is by voices that are not there, and none by untouched ones."""
    amounts = PhoneAmounts(
        natural=2, numbers=50, talk=20, more_talk=0, words=30, asides=1, digits=3, sentences=1,
        machine=2, machine_numbers=20, machine_talk=0, machine_words=10, machine_digits=3,
    )  # fmt: skip
    ours, judged = (
        plan(["no", "pink"], amounts, 7, held=held, natural=True) for held in (False, True)
    )
    said = [
        {job.clips[0].text for job in jobs if job.group.startswith("numbers")}
        for jobs in (ours, judged)
    ]
    assert len(said[0]) > 40
    assert len(said[1]) > 300
    assert not said[0] & said[1]
    assert len({job.clips[0].key for job in ours}) == len(ours)
    heard = [{name for job in jobs for name in _voices(job)} for jobs in (ours, judged)]
    assert not heard[0] & heard[1]
    assert not (heard[0] | heard[1]) & set(UNTOUCHED)
    kinds = ("phrases", "numbers", "talk", "words", "asides", "digits", "sentences")
    assert {job.group for job in ours if job.clips[0].engine == "kokoro"} == {
        f"{kind}, natural" for kind in kinds
    }
    assert sum(job.clips[0].text == "no" for job in ours) == 2 + 3 + 2 + 3
    machine = plan(["no", "pink"], amounts, 7, natural=False)
    assert {clip.engine for job in machine for clip in job.clips} == {"espeak"}
    assert any(job.group == "numbers, eSpeak NG" for job in machine)


def _voices(job: Job) -> set[str]:
    voice = job.clips[0].voice
    if job.clips[0].engine != "kokoro":
        return {voice}
    return {part.partition(":")[0] for part in voice.split("+")}


def _lengths_only(seconds: list[float], speakers: list[str], held: list[bool]) -> PhoneMaterial:
    lengths = np.array([int(16000 * one) for one in seconds], np.int64)
    return PhoneMaterial(
        waves=np.zeros(int(lengths.sum()), np.int16),
        lengths=lengths,
        phones=tuple((1,) for _ in seconds),
        held=np.array(held),
        groups=np.array(["phrases"] * len(seconds)),
        speakers=np.array(speakers),
    )


def test_an_epoch_has_every_natural_clip_once() -> None:
    """Half of eSpeak NG's, some pairs, none held back; no batch has more outputs than asked for."""
    rng = np.random.default_rng(3)
    seconds = rng.uniform(0.3, 3.0, 300).tolist()
    speakers = ["kokoro:af_sky"] * 200 + ["espeak:en"] * 100
    held = [number % 10 == 0 for number in range(300)]
    material = _lengths_only(seconds, speakers, held)
    found = epoch(material, 1500, rng)
    rows = np.concatenate(found)
    single = rows[rows[:, 1] < 0][:, 0]
    assert sorted(single[single < 200]) == [n for n in range(200) if n % 10]
    assert (single >= 200).sum() == 45
    assert len(set(single.tolist())) == single.size
    pairs = rows[rows[:, 1] >= 0]
    assert len(pairs) == 270 // 14
    assert material.lengths[pairs[:, :2]].max() < 24000
    assert pairs[:, 2].min() >= 800
    assert not np.array(held)[rows[:, 0]].any()
    for batch in found:
        longest = max(
            material.lengths[a] + (gap + material.lengths[b] if b >= 0 else 0)
            for a, b, gap in batch
        )
        assert len(batch) == 1 or len(batch) * (longest / 0.85 + 8320) / 320 <= 1500
    assert alone(np.array([4, 2])).tolist() == [[4, -1, 0], [2, -1, 0]]


def test_an_epoch_of_the_synthesiser_alone_has_all_of_it() -> None:
    """Without natural voices nothing is left away."""
    material = _lengths_only([2.0] * 20, ["espeak:en"] * 20, [False] * 20)
    rows = np.concatenate(epoch(material, 10, np.random.default_rng(1)))
    assert sorted(rows[:, 0]) == list(range(20))


def test_a_bank_of_sounds() -> None:
    """So many of each, loud, and rooms whose direct sound is 1 (``sounds.room``)."""
    bank = fill_bank(2, 3, 4, 7)
    assert bank.noises.shape == (2 * BED_SAMPLES,)
    assert bank.others.shape == (bank.lengths.sum(),)
    assert bank.lengths.shape == (3,)
    assert np.abs(bank.noises).max() == 30000
    assert bank.rooms.shape == (4, 12000)
    assert np.isfinite(bank.rooms.astype(float)).all()
    assert (np.abs(bank.rooms[:, 0].astype(float)) > 0.05).all()
    assert np.array_equal(fill_bank(2, 3, 4, 7).others, bank.others)


def _recording() -> np.ndarray:
    """Two barks of 0.15 and 0.2 s, half a second apart, a click and a second of hum after them."""
    rng = np.random.default_rng(2)
    sound = rng.normal(0, 1e-3, 48000)
    for begin, length in ((4000, 2400), (14400, 3200)):
        sound[begin : begin + length] += rng.normal(0, 0.2, length)
    sound[24000:24040] += 0.2
    sound[30000:47600] += 0.3 * np.sin(np.arange(17600) / 9)
    return sound


def test_barks_are_cut_out_of_a_recording() -> None:
    """0.03 s before each and 0.1 s after it, within 10 ms; neither clicks nor what lasts."""
    found = recorded_barks.cut(_recording())
    assert [one.size / 16000 for one in found] == pytest.approx([0.28, 0.33], abs=0.021)
    assert all(one[0] == one[-1] == 0 for one in found)
    assert recorded_barks.cut(np.zeros(16000)) == []
    assert recorded_barks.cut(np.zeros(100)) == []


def test_dogs_bark_by_the_seed(tmp_path: Path) -> None:
    """Loud, of the length asked for, other barks each time and the same from the same seed."""
    write_wav(tmp_path / "dog.wav", _recording())
    write_wav(tmp_path / "no_dog.wav", np.zeros(16000))
    dogs = recorded_barks.read_dogs(tmp_path)
    one, same = (np.random.default_rng(5) for _ in range(2))
    sizes = set()
    for _ in range(20):
        bark = dogs.bark(one)
        assert np.abs(bark).max() == pytest.approx(1.0)
        assert 0.28 / 1.6 < bark.size / 16000 < 0.33 / 0.64 + 0.2
        assert np.array_equal(bark, dogs.bark(same))
        sizes.add(bark.size)
    assert len(sizes) > 10
    for _ in range(20):
        stretch = dogs.barking(one, 32000)
        assert stretch.shape == (32000,)
        assert np.abs(stretch).max() == pytest.approx(1.0)
        assert np.array_equal(stretch, dogs.barking(same, 32000))


def test_recordings_that_cannot_be_used_are_named(tmp_path: Path) -> None:
    """Another rate, and a folder in which no dog is."""
    with pytest.raises(EngineError, match="No bark"):
        recorded_barks.read_dogs(tmp_path)
    write_wav(tmp_path / "fast.wav", _recording(), 44100)
    with pytest.raises(EngineError, match=r"fast\.wav"):
        recorded_barks.read_dogs(tmp_path)
    (tmp_path / "a_note.wav").write_text("no sound")
    with pytest.raises(EngineError, match=r"a_note\.wav is no WAV"):
        recorded_barks.read_dogs(tmp_path)


def test_a_bank_with_recorded_dogs() -> None:
    """A quarter of the beds, a third of the other sounds; none where no dogs are given."""
    dogs = recorded_barks.Dogs([recorded_barks.cut(_recording())])
    bank, plain = fill_bank(4, 6, 2, 7, barks=dogs), fill_bank(4, 6, 2, 7)
    assert (bank.barks, plain.barks) == (2, 0)
    assert bank.noises.shape == plain.noises.shape
    assert np.array_equal(bank.noises[: 3 * BED_SAMPLES], plain.noises[: 3 * BED_SAMPLES])
    assert not np.array_equal(bank.noises, plain.noises)
    assert bank.lengths.shape == plain.lengths.shape == (6,)


def test_mel_weights_are_those_of_the_network() -> None:
    """NumPy with them makes the program's own frames within 0.01 dB, loud and soft."""
    rng = np.random.default_rng(0)
    sound = (rng.normal(0, 1000, 16000) * np.linspace(0.02, 3, 16000)).astype(np.int16)
    wanted = EmbeddingStream().embedder.frames(sound)
    spans = np.lib.stride_tricks.sliding_window_view(sound.astype(float), 512)[::160]
    power = np.abs(np.fft.rfft(spans * torch_mel.window())) ** 2 @ torch_mel.mel_weights()
    found = np.maximum(10 * np.log10(np.maximum(power, 1e-10)), 25)
    assert found.shape == wanted.shape
    assert np.abs(found - wanted).max() < 0.01


def test_what_a_path_spells_and_how_far_it_is_off() -> None:
    """Graves and others, 2006, section 3.1 ("a-ab-" is "aab"); "kitten" to "sitting" takes three.

    The second is the usual worked example of Levenshtein's distance, from memory.
    """
    assert greedy(np.array([1, 0, 1, 2, 0])) == [1, 1, 2]
    assert greedy(np.array([0, 1, 1, 0, 0, 1, 2, 2])) == [1, 1, 2]
    assert greedy(np.array([], int)) == []
    assert edits([ord(c) for c in "kitten"], [ord(c) for c in "sitting"]) == 3
    assert edits([], [1, 2]) == 2
    assert edits([1, 2, 3], []) == 3
    assert edits([1, 2, 3], [1, 2, 3]) == 0


def _weights(channels: int, blocks: int) -> Weights:
    rng = np.random.default_rng(3)

    def lot(*shape: int) -> np.ndarray:
        return rng.standard_normal(shape).astype(np.float32) * 0.2

    return Weights(
        stem=(lot(channels, 32, 5), lot(channels)),
        blocks=[(lot(channels, 11), lot(channels, channels), lot(channels)) for _ in range(blocks)],
        out=(lot(channels, len(PHONES) + 1), lot(len(PHONES) + 1)),
    )


def test_what_is_written_is_read(tmp_path: Path) -> None:
    """The program finds its phones and gives probabilities; nothing half-written is left."""
    file = tmp_path / "new" / "network.npz"
    write_network(file, PHONES, _weights(16, 2))
    network = PhoneNetwork(file)
    assert network.phones == PHONES
    frames = np.random.default_rng(1).uniform(25, 95, (31, 32)).astype(np.float32)
    found = network(frames)
    assert found.shape == (16, 40)
    assert np.exp(found).sum(axis=1) == pytest.approx(1.0, abs=1e-5)
    assert [one.name for one in file.parent.iterdir()] == ["network.npz"]
    shipped = Path(str(phones.__file__)).with_name("network.npz")
    with np.load(file) as ours, np.load(shipped) as theirs:
        kinds = [
            {k.rstrip("0123456789"): v.dtype.kind for k, v in a.items()} for a in (ours, theirs)
        ]
        assert kinds[0] == kinds[1]
        assert ours["point0"].dtype == theirs["point0"].dtype


def test_without_pytorch_the_command_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """One line and an exit status, before anything is fetched or made."""
    real = builtins.__import__

    def refuse(name: str, *rest: object, **more: object) -> object:
        if name.partition(".")[0] == "torch":
            raise ImportError("No module named 'torch'")
        return real(name, *rest, **more)  # type: ignore[arg-type]

    monkeypatch.delitem(sys.modules, "torch", raising=False)
    monkeypatch.setattr(builtins, "__import__", refuse)
    with pytest.raises(EngineError, match="PyTorch"):
        load_torch()
    work = tmp_path / "work"
    assert phone_net.main(["--work", str(work)]) == EngineError.exit_code
    told = capsys.readouterr()
    assert "pip install 'handsfree[train]'" in told.err
    assert not told.out
    assert not work.exists()
