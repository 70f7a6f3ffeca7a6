"""Our own voice: taken out in simulated rooms, never an answer, else half duplex."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from benchmarks.echo import EchoRoom
from handsfree.audio.device import Block
from handsfree.hearing import Listening, Outcome
from handsfree.hearing.adaptive import LinearEcho
from handsfree.hearing.grammar import compose
from handsfree.hearing.listener import Hearing
from handsfree.hearing.reports import Judged, Report, SpeechStarted
from handsfree.hearing.standin import ScriptedEar, ScriptedRecogniser
from handsfree.speaking.espeak import Pyttsx3Synthesiser

RATE = 16_000
Floats = NDArray[np.float64]


def _prompt(seconds: float, seed: int) -> Floats:
    """Return speech-like sound: noise shaped to vowels and hisses, in syllables."""
    rng = np.random.default_rng(seed)
    n = int(seconds * RATE)
    spectrum = np.fft.rfft(rng.normal(0.0, 1.0, n))
    hertz = np.fft.rfftfreq(n, 1.0 / RATE)
    shaped = np.fft.irfft(spectrum / (1.0 + (hertz / 700.0) ** 1.5), n)
    syllables = np.interp(
        np.arange(n), np.arange(0, n, 2000), rng.uniform(0.05, 1.0, -(-n // 2000))
    )
    return np.asarray(3000.0 * shaped / shaped.std() * syllables)


def _word(seconds: float = 0.4) -> Floats:
    t = np.arange(int(seconds * RATE)) / RATE
    voice = sum(np.sin(2 * np.pi * 130 * k * t) / k for k in range(1, 40))
    return np.asarray(6000 * voice / np.abs(voice).max())


def _heard(
    room: EchoRoom | None, played: Floats, clock: int, *, near: Floats | None = None, at: int = 0
) -> NDArray[np.int16]:
    sound = np.random.default_rng(clock + 1).normal(0.0, 30.0, len(played))
    if room is not None:
        sound += room.echo(played, 2500.0, np.random.default_rng(3), clock)
    if near is not None:
        sound[at : at + len(near)] += near
    return np.clip(np.rint(sound), -32768, 32767).astype(np.int16)


def _level_db(sound: NDArray[np.int16] | Floats) -> float:
    return 10.0 * float(np.log10(np.mean(np.square(sound.astype(np.float64))) + 1e-9))


@pytest.mark.parametrize(("delay_ms", "drift_ppm"), [(20, 0.0), (250, 0.0), (120, 60.0)])
def test_the_echo_is_taken_out_and_the_person_left_in(delay_ms: float, drift_ppm: float) -> None:
    """After a few prompts the echo is 15 dB down, and a word spoken into a prompt stays whole."""
    room = EchoRoom(delay_ms=delay_ms, level_db=0.0, drift_ppm=drift_ppm)
    canceller = LinearEcho()
    clock = 0
    for number in range(5):
        played = np.concatenate([_prompt(2.4, number), np.zeros(RATE)])
        heard = _heard(room, played, clock)
        clean, echo = canceller.process(heard, np.rint(played).astype(np.int16))
        clock += len(played)
    assert len(clean) == len(echo) == len(heard)
    loud = slice(RATE // 2, 2 * RATE)
    assert _level_db(heard[loud]) - _level_db(clean[loud]) > 15.0
    word = _word()
    heard = _heard(room, played, clock, near=word, at=RATE)
    clean, _ = canceller.process(heard, np.rint(played).astype(np.int16))
    left = clean[RATE : RATE + len(word)].astype(np.float64) - word
    assert _level_db(word) - _level_db(left) > 10.0


def _left_db(room: EchoRoom, prompts: Sequence[Floats], rest_s: float = 1.0) -> list[float]:
    """Return by how many dB each of several prompts is taken down, by one canceller."""
    canceller, clock, down = LinearEcho(), 0, []
    for prompt in prompts:
        played = np.concatenate([prompt, np.zeros(round(rest_s * RATE))])
        heard = _heard(room, played, clock)
        clean, _ = canceller.process(heard, np.rint(played).astype(np.int16))
        clock += len(clean)
        loud = slice(RATE // 2, len(prompt) - RATE // 5)
        down.append(_level_db(heard[loud]) - _level_db(clean[loud]))
    return down


@pytest.fixture(scope="module")
def voice() -> list[Floats]:
    """Return two prompts as they are said: a voice has gaps between its tones, noise has none."""
    synthesiser = Pyttsx3Synthesiser()
    texts = (
        "What colour are the gums? Lift the lip and look above the teeth.",
        "Feel along the neck, under the jaw. Is anything swollen or sore?",
    )
    sounds = [synthesiser.render(text, rate_wpm=170) for text in texts]
    synthesiser.close()
    return [sound[: len(sound) // 160 * 160].astype(np.float64) for sound in sounds]


@pytest.mark.parametrize("drift_ppm", [60.0, -60.0])
def test_a_late_echo_is_followed_without_swinging(voice: list[Floats], drift_ppm: float) -> None:
    """A canceller that learns slowly, clocks apart: the pace settles, and the echo stays down."""
    room = EchoRoom(delay_ms=250, level_db=-6.0, drift_ppm=drift_ppm)
    down = _left_db(room, voice * 6, rest_s=2.0)
    assert min(down[3:]) > 18.0


@pytest.mark.parametrize("drift_ppm", [250.0, -250.0])
def test_clocks_far_apart_cost_no_new_learning(drift_ppm: float) -> None:
    """The reading place goes back by whole blocks between prompts: no prompt comes through."""
    prompts = [_prompt(2.4, number) for number in range(14)]
    down = _left_db(EchoRoom(delay_ms=120, level_db=0.0, drift_ppm=drift_ppm), prompts)
    assert 14 * 3.4 * RATE * 250e-6 > 160.0  # the clocks part by more than a block of 10 ms
    assert min(down[5:]) > 18.0


def test_an_early_echo_that_comes_ever_earlier_is_kept_as_long_as_can_be() -> None:
    """Going back by a block would put the echo before what is read: it waits for the last of it."""
    prompts = [_prompt(2.4, number) for number in range(14)]
    down = _left_db(EchoRoom(delay_ms=20, level_db=0.0, drift_ppm=-200.0), prompts)
    parted = 14 * 3.4 * RATE * 200e-6
    assert 100.0 < parted < 183.0  # samples: past where the place goes back, short of its last
    assert min(down[6:]) > 18.0


def test_without_our_voice_nothing_is_changed() -> None:
    """A canceller with nothing to cancel hands the sound through, sample for sample."""
    canceller = LinearEcho()
    sound = _heard(None, np.zeros(RATE), 0)
    clean, echo = canceller.process(sound, np.zeros(RATE, np.int16))
    assert np.array_equal(clean, sound)
    assert not echo.any()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Hold one small grammar."""
    (tmp_path / "yesno.jsgf").write_text(
        "#JSGF V1.0;\ngrammar yesno;\npublic <yesno> = yes {yes} | no {no};\n"
    )
    return tmp_path


class _Stage:
    """Plays prompts into a room and feeds what the microphone hears."""

    def __init__(self, folder: Path, room: EchoRoom | None, *, clipped: bool = False) -> None:
        script = [("yes", 0.99)] * 60
        self.hearing = Hearing(
            ScriptedRecogniser([words for words, _ in script]),
            ScriptedEar(script),
            echo=LinearEcho(),
            composer=lambda listening: compose(listening, folder),
        )
        self.room, self.clipped = room, clipped
        self.clock = 0

    def say(self, seconds: float, seed: int, near: Sequence[float] = ()) -> list[Report]:
        """Play one prompt; ``near`` has the second at which a person says a word, if any."""
        played = np.concatenate([np.zeros(RATE // 2), _prompt(seconds, seed), np.zeros(2 * RATE)])
        loudspeaker = np.sign(played) * np.sqrt(np.abs(played)) * 60 if self.clipped else played
        word = _word() if near else None
        at = int(near[0] * RATE) if near else 0
        heard = _heard(self.room, loudspeaker, self.clock, near=word, at=at)
        end = self.clock + RATE // 2 + int(seconds * RATE)
        self.hearing.open(Listening(grammars=("yesno",)), at=end, barge_in=True)
        self.hearing.mute(end)
        reference = np.rint(played).astype(np.int16)
        reports: list[Report] = []
        for k in range(0, len(heard) - 319, 320):
            block = Block(
                start=self.clock + k,
                samples=heard[k : k + 320],
                reference=reference[k : k + 320],
            )
            reports += self.hearing.feed(block)
        self.clock += len(heard) // 320 * 320
        self.hearing.close()
        return reports


def _accepted(reports: list[Report]) -> int:
    return sum(isinstance(r, Judged) and r.verdict.outcome is Outcome.ACCEPT for r in reports)


@pytest.mark.parametrize("level_db", [6.0, -6.0])
def test_a_person_can_interrupt_once_the_echo_is_gone(folder: Path, level_db: float) -> None:
    """Own prompts are never accepted; a word spoken into one is, and is told at its onset."""
    stage = _Stage(folder, EchoRoom(delay_ms=80, level_db=level_db))
    own = [stage.say(2.0, seed) for seed in range(4)]
    assert sum(map(_accepted, own)) == 0
    assert stage.hearing.full_duplex
    began = stage.clock + int(1.4 * RATE)
    reports = stage.say(2.8, 9, near=(1.4,))
    assert _accepted(reports) == 1
    started = next(r for r in reports if isinstance(r, SpeechStarted))
    assert abs(started.sample - began) < 0.08 * RATE


def test_an_echo_that_cannot_be_cancelled_leaves_half_duplex(folder: Path) -> None:
    """A loudspeaker that distorts: the microphone is not believed while we speak, and only then."""
    stage = _Stage(folder, EchoRoom(delay_ms=80, level_db=6.0), clipped=True)
    own = [stage.say(2.0, seed) for seed in range(4)]
    assert not stage.hearing.full_duplex
    assert sum(map(_accepted, own)) == 0
    assert _accepted(stage.say(2.4, 7, near=(1.2,))) == 0
    assert _accepted(stage.say(2.4, 8, near=(3.6,))) == 1


def test_a_room_that_changes_under_a_canceller_lets_no_own_word_through(folder: Path) -> None:
    """The dog's person carries the microphone away: our voice comes through, and is known as ours.

    The scripted ear takes anything for "yes", so nothing else keeps it out.
    """
    stage = _Stage(folder, EchoRoom(delay_ms=40, level_db=0.0))
    for seed in range(4):
        stage.say(2.0, seed)
    assert stage.hearing.full_duplex
    stage.room = EchoRoom(delay_ms=170, level_db=0.0)
    reports = stage.say(1.2, 11)
    own = [r.verdict.reason for r in reports if isinstance(r, Judged)]
    assert "own_voice" in own
    assert _accepted(reports) == 0
