"""The shipped head: what it knows, what it hears, and what it refuses."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import resample_poly

from handsfree.errors import DataError
from handsfree.hearing.ear import Ear, Head, Scores, known_phrases, load_head
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


def test_a_broken_head_is_told(tmp_path: Path) -> None:
    """A head that can't be read says how to get a good one."""
    file = tmp_path / "head.npz"
    file.write_bytes(b"no head")
    with pytest.raises(DataError, match=r"handsfree\.hearing\.train"):
        Head(file)
