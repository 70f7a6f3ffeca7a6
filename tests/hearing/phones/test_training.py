"""Making the phone network again: what is said, its frames and phones, and the file written.

None of these trains: that needs PyTorch, which only the extra ``train`` brings.
"""

from __future__ import annotations

import builtins
import sys
from pathlib import Path

import numpy as np
import pytest

from handsfree.errors import CallerError, EngineError
from handsfree.hearing import grammar, phones
from handsfree.hearing.ear.utterance import FEATURES
from handsfree.hearing.phones import Lexicon, PhoneNetwork, load_network
from handsfree.hearing.training import phone_net, spoken_numbers
from handsfree.hearing.training.clips import Clip, Studio
from handsfree.hearing.training.examples import Examples
from handsfree.hearing.training.jobs import Job, features
from handsfree.hearing.training.phone_fit import edits, greedy
from handsfree.hearing.training.phone_material import (
    PHONES,
    SCALE,
    FrameWorkshop,
    PhoneAmounts,
    gather,
    phones_of,
    plan,
    take_frames,
)
from handsfree.hearing.training.phone_model import Weights, load_torch, write_network
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


def _job(text: str, voice: str, takes: int = 2) -> Job:
    clip = Clip(text=text, engine="espeak", voice=voice)
    return Job(kind="clip", takes=takes, group="phrases, others", clips=(clip,))


def _examples(folder: Path) -> Examples:
    """What makes features, with nobody talking in the background."""
    return Examples(folder / "features", Studio(folder / "clips"), 7)


def test_material_of_clips_has_their_frames_and_phones(tmp_path: Path) -> None:
    """Takes in the order of the jobs; a word without phones is left out, a sound says nothing."""
    examples = FrameWorkshop(work=tmp_path, tables=None, seed=7).open()
    jobs = [
        (_job("pink", "en-US"), False),
        (_job("no qwrtz", "en-US"), False),
        (Job(kind="sounds", takes=2, group="sounds", name="few"), False),
        (_job("two point five kilos", "en+f4"), True),
    ]
    told: list[str] = []
    found = gather(jobs, examples, Lexicon(), say=told.append)
    spelt = [[PHONES[k - 1] for k in one] for one in found.phones]
    spoken = [one for one in spelt if one]
    assert spoken[:2] == [["P", "IH", "NG", "K"]] * 2
    assert spoken[2:] == [list(phones_of("two point five kilos", Lexicon()) or ())] * 2
    assert "clips with a word that the dictionary lacks" in told[0]
    count = len(found.lengths)
    assert found.frames.shape == (found.lengths.sum(), 32)
    assert found.frames.dtype == np.uint8
    assert found.frames.min() >= 25 * SCALE  # silence; nothing that only fills up
    assert found.held.tolist() == [False] * (count - 2) + [True] * 2
    assert found.groups[:2].tolist() == ["phrases, others, clean", "phrases, others"]
    assert found.speakers[-1] == "espeak:en+f4"
    assert found.speakers[2] == "sounds"
    # Long enough for what is said, and 0.52 s around it.
    assert 60 < found.lengths[0] < 160 < found.lengths[-1] < 350
    assert found.utterance(count - 1).shape == (found.lengths[-1], 32)
    assert found.utterance(1).max() < 110.0
    again = gather(jobs, examples, Lexicon(), kept_only=True, say=told.append)
    assert np.array_equal(again.frames, found.frames)


def test_the_shipped_network_reads_such_material(tmp_path: Path) -> None:
    """Frames kept as bytes are those that it was trained on: a clean clip is spelt nearly right."""
    examples = _examples(tmp_path).keeping(tmp_path / "frames", take_frames)
    jobs = [(_job("thirty eight point six", "en-US", 1), held) for held in (False, True)]
    found = gather(jobs, examples, Lexicon())
    heard = greedy(load_network()(found.utterance(0)).argmax(axis=1))
    assert edits(found.phones[0], heard) <= 2


def test_keeping_frames_changes_no_features(tmp_path: Path) -> None:
    """Both keep their own of the same takes, and more takes begin with the fewer."""
    plain = _examples(tmp_path)
    frames = plain.keeping(tmp_path / "frames", take_frames)
    one, two = _job("pink", "en-US", 1), _job("pink", "en-US", 2)
    assert features(plain, one).shape == (1, FEATURES)
    both = features(plain, two)
    assert both.shape == (2, FEATURES)
    assert np.array_equal(both[:1], features(plain, one))
    first, more = features(frames, one), features(frames, two)
    assert first.shape[0] == 1
    assert more.shape[0] == 2
    assert more.shape[2] == 32
    assert np.array_equal(more[0, : first.shape[1]], first[0])
    assert len(list(tmp_path.glob("f*/*.npy"))) == 2


def test_numbers_that_are_judged_are_not_trained_on() -> None:
    """No piece of unknown bounds either, and nothing by voices that are not there."""
    amounts = PhoneAmounts(talk=20, more_talk=0, numbers=50, machine_numbers=20, joined=5)
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
    assert all(job.kind != "pieces" for job in ours)
    machine = plan(["no", "pink"], amounts, 7, natural=False)
    assert not any(clip.engine == "kokoro" for job in machine for clip in job.clips)
    assert any(job.group == "numbers, others" for job in machine)


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
