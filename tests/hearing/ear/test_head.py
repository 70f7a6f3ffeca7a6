"""The shipped head: what it knows, what it hears, and what it refuses."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import resample_poly

from handsfree.errors import DataError
from handsfree.hearing import ear as ear_package
from handsfree.hearing.ear import Ear, Head, Scores, known_phrases, load_head
from handsfree.hearing.ear import head as head_module
from handsfree.hearing.ear.head import blended, load_noise_head, noise_share
from handsfree.hearing.ear.tflite import EarUnavailable, network_file
from handsfree.hearing.ear.utterance import FEATURES
from handsfree.hearing.training import espeak
from handsfree.hearing.training.clips import trim
from handsfree.hearing.training.texts import short_phrases

GRAMMARS = Path(__file__).resolve().parents[3] / "grammars"
COLOURS = ("pink", "pale", "white", "blue", "red", "yellow")
COMMANDS = ("help", "repeat", "go back", "pause", "stop", "skip", "can't see", "won't let me")


def _said(text: str, voice: str, *, pitch: int = 50) -> tuple[NDArray[np.int16], int, int]:
    """Speech in faint room noise, with its first and last sample."""
    sound = trim(resample_poly(espeak.speak(text, voice, pitch=pitch), 320, 441))
    sound = sound * 0.3 / np.abs(sound).max()
    out = np.concatenate([np.zeros(16000), sound, np.zeros(8000)])
    out += np.random.default_rng(1).standard_normal(out.size) * 30 / 32768
    return (out * 32767).astype(np.int16), 16000, 16000 + sound.size


def _score(ear: Ear, text: str, voice: str, phrases: tuple[str, ...]) -> Scores:
    samples, start, end = _said(text, voice)
    position = ear.stream.end
    ear.feed(samples, position)
    return ear.score(position + start, position + end, phrases)


def test_every_short_phrase_of_the_grammars_is_known() -> None:
    """A grammar that gains a phrase needs a new head: python -m handsfree.hearing.train."""
    missing = sorted(set(short_phrases(GRAMMARS)) - known_phrases())
    assert missing == []


def test_the_ear_for_noise_knows_the_same_phrases() -> None:
    """It needs training too: python -m handsfree.hearing.training.noise_ear."""
    assert load_noise_head().phrases == load_head().phrases


def test_its_network_is_the_packages_with_other_weights() -> None:
    """So whatever library runs the one runs the other."""
    ours = (Path(ear_package.__file__).parent / "noise_network.tflite").read_bytes()
    theirs = network_file("embedding_model").read_bytes()
    assert len(ours) == len(theirs)
    different = np.frombuffer(ours, np.uint8) != np.frombuffer(theirs, np.uint8)
    assert 0.5 < different.mean() < 1.0
    assert not different[:64].any()


@pytest.mark.parametrize(
    ("snr_db", "share"), [(40.0, 0.0), (16.0, 0.0), (14.0, 0.5), (12.0, 1.0), (-3.0, 1.0)]
)
def test_the_ear_for_noise_counts_in_noise(snr_db: float, share: float) -> None:
    """Between quiet and noise both are heard."""
    assert noise_share(snr_db) == pytest.approx(share)


def test_two_ears_give_their_geometric_mean() -> None:
    """Worked by hand: sqrt(0.8 * 0.2) = 0.4, sqrt(0.1 * 0.4) = 0.2 twice, of 0.8 in all."""
    one = Scores(probabilities={"pink": 0.8, "pale": 0.1}, other=0.1, unknown=("teal",))
    two = Scores(probabilities={"pink": 0.2, "pale": 0.4}, other=0.4)
    both = blended(one, two, 0.5)
    assert both.probabilities["pink"] == pytest.approx(0.5)
    assert both.probabilities["pale"] == pytest.approx(0.25)
    assert both.other == pytest.approx(0.25)
    assert both.unknown == ("teal",)
    assert blended(one, two, 1.0).probabilities["pale"] == pytest.approx(0.4)


def test_in_noise_another_ear_is_asked() -> None:
    """The same sound has other shares, and between the two something in between."""
    ear = Ear()
    samples, start, end = _said("pale", "en")
    ear.feed(samples, 0)
    quiet, between, noisy = (
        ear.score(start, end, COLOURS, snr_db=snr_db) for snr_db in (30.0, 14.0, 5.0)
    )
    assert ear.score(start, end, COLOURS) == quiet
    for scores in (quiet, between, noisy):
        assert scores.best is not None
        assert scores.best[0] == "pale"
    shares = [scores.probabilities["pale"] for scores in (quiet, between, noisy)]
    assert shares[0] != shares[2]
    assert between == blended(quiet, noisy, 0.5)


def test_shares_sum_to_one_and_unknown_phrases_are_named() -> None:
    """Open phrases and other share one; what the head never learnt is reported as such."""
    head = load_head()
    features = np.random.default_rng(0).standard_normal(FEATURES).astype(np.float32)
    scores = head.scores(features, ("yes", "no", "colourless green ideas"))
    assert scores.unknown == ("colourless green ideas",)
    assert set(scores.probabilities) == {"yes", "no"}
    assert sum(scores.probabilities.values()) + scores.other == pytest.approx(1.0)


def test_no_open_phrase_known_leaves_other_alone() -> None:
    """With nothing to choose from, the utterance is none of the open phrases."""
    scores = load_head().scores(np.zeros(FEATURES, np.float32), ("flibbertigibbet",))
    assert scores.best is None
    assert scores.other == pytest.approx(1.0)


@pytest.mark.parametrize("voice", ["en-US", "en", "en-US+f2"])
def test_short_answers_and_commands_are_recognised(voice: str) -> None:
    """Each word is the best of the open phrases, as plain synthesised speech says it."""
    ear = Ear()
    said = (*COLOURS, "help", "skip", "pause", "can't see")
    best = [_score(ear, text, voice, COLOURS + COMMANDS).best for text in said]
    right = sum(
        found is not None and found[0] == text for found, text in zip(best, said, strict=True)
    )
    assert right >= len(said) - 1


@pytest.mark.parametrize(
    "text",
    ["what a lovely day it is outside", "mind your head on that table", "who is at the door"],
)
def test_an_aside_is_refused(text: str) -> None:
    """Speech to others stays below even odds for every open phrase."""
    best = _score(Ear(), text, "en-US", COLOURS + COMMANDS).best
    assert best is not None
    assert best[1] < 0.5


def test_noise_is_refused() -> None:
    """A burst of noise is none of the open phrases."""
    ear = Ear()
    rng = np.random.default_rng(5)
    sound = rng.standard_normal(32000) * 40
    sound[12000:20000] += rng.standard_normal(8000) * 4000
    ear.feed(sound.astype(np.int16), 0)
    best = ear.score(12000, 20000, COLOURS + COMMANDS).best
    assert best is not None
    assert best[1] < 0.3


def test_level_hardly_matters() -> None:
    """The same word 20 dB softer keeps its phrase."""
    samples, start, end = _said("yellow", "en-US")
    for gain in (1.0, 0.1):
        ear = Ear()
        ear.feed((samples * gain).astype(np.int16), 0)
        best = ear.score(start, end, COLOURS).best
        assert best is not None
        assert best[0] == "yellow"


def test_readiness_needs_a_fifth_of_a_second_after_the_end() -> None:
    """The score may be asked at once, but is only settled 0.22 s after the utterance."""
    ear = Ear()
    ear.feed(np.zeros(16000, np.int16), 0)
    assert not ear.is_ready(15000)
    assert ear.is_ready(12000)


def test_bounds_the_wrong_way_round_are_refused() -> None:
    """An utterance has a length."""
    with pytest.raises(ValueError, match="ends"):
        Ear().score(100, 100, ("yes",))


def test_a_broken_network_is_told_at_the_start(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not when the first answer comes in noise: then it would be lost."""
    broken = tmp_path / "noise_network.tflite"
    broken.write_bytes(b"no network")
    shipped = head_module._shipped
    monkeypatch.setattr(
        head_module, "_shipped", lambda name: broken if name == broken.name else shipped(name)
    )
    with pytest.raises(EarUnavailable, match=r"noise_network\.tflite"):
        Ear()


def test_a_broken_head_is_told(tmp_path: Path) -> None:
    """A head that can't be read says how to get a good one."""
    file = tmp_path / "head.npz"
    file.write_bytes(b"no head")
    with pytest.raises(DataError, match=r"handsfree\.hearing\.train"):
        Head(file)
