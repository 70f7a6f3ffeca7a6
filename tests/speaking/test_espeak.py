"""The synthesiser: sound out, clear errors, and a hung engine that takes nothing with it."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from handsfree.errors import EngineError
from handsfree.speaking.espeak import Pyttsx3Synthesiser, trim_silence

TEXT = "What colour are the gums?"


@pytest.fixture(scope="module")
def synthesiser() -> Iterator[Pyttsx3Synthesiser]:
    """Return one engine for all tests here."""
    engine = Pyttsx3Synthesiser()
    yield engine
    engine.close()


def test_text_becomes_sound_without_silence_around_it(synthesiser: Pyttsx3Synthesiser) -> None:
    """A prompt is a second or two of audible int16 sound that starts and ends with speech."""
    sound = synthesiser.render(TEXT, rate_wpm=170)
    assert sound.dtype == np.int16
    assert 0.8 < len(sound) / 16_000 < 2.5
    assert np.abs(sound).max() > 5_000
    assert np.abs(sound[:500]).max() > 150
    assert np.abs(sound[-500:]).max() > 150


def test_a_higher_rate_is_shorter_every_time(synthesiser: Pyttsx3Synthesiser) -> None:
    """Each step of the rate that people may choose is heard at once, in any order."""
    lengths = [len(synthesiser.render(TEXT, rate_wpm=rate)) for rate in (300, 160, 240, 200)]
    assert lengths[1] > lengths[3] > lengths[2] > lengths[0]


def test_voices_differ_and_the_default_comes_back(synthesiser: Pyttsx3Synthesiser) -> None:
    """A voice chosen for one text does not stay for the next."""
    default = synthesiser.render(TEXT, rate_wpm=170)
    other = synthesiser.render(TEXT, rate_wpm=170, voice="en-us+f3")
    again = synthesiser.render(TEXT, rate_wpm=170)
    assert abs(len(default) - len(again)) < 400
    assert abs(len(default) - len(other)) > 400


def test_every_english_voice_that_is_listed_speaks(synthesiser: Pyttsx3Synthesiser) -> None:
    """What is offered can be chosen."""
    names = [name for name in synthesiser.voices() if name.startswith("en")]
    assert {"en", "en-us", "en-gb-scotland"} <= set(names)
    assert all(len(synthesiser.render("yes", rate_wpm=170, voice=name)) > 1_000 for name in names)


def test_engine_says_its_name_and_version(synthesiser: Pyttsx3Synthesiser) -> None:
    """An exam stores which engine spoke."""
    assert synthesiser.name
    assert "pyttsx3" in synthesiser.version


@pytest.mark.parametrize("text", ["", " \n\t", "...", "\x00"])
def test_nothing_to_speak_is_a_clear_error(synthesiser: Pyttsx3Synthesiser, text: str) -> None:
    """Silence is never handed over as a prompt."""
    with pytest.raises(EngineError, match="words"):
        synthesiser.render(text, rate_wpm=170)


def test_a_long_text_is_whole(synthesiser: Pyttsx3Synthesiser) -> None:
    """Text longer than the engine's buffers is rendered to its end."""
    once = len(synthesiser.render(TEXT, rate_wpm=300))
    many = len(synthesiser.render(" ".join([TEXT] * 40), rate_wpm=300))
    assert many > 38 * once


def test_unknown_voice_and_rate_are_named(synthesiser: Pyttsx3Synthesiser) -> None:
    """The error names what cannot be had, and the engine works on."""
    with pytest.raises(EngineError, match="nonsense"):
        synthesiser.render(TEXT, rate_wpm=170, voice="nonsense")
    with pytest.raises(EngineError, match="9000"):
        synthesiser.render(TEXT, rate_wpm=9000)
    assert len(synthesiser.render("yes", rate_wpm=170)) > 1_000


@pytest.mark.parametrize(
    "program, message",
    [
        ("import time; time.sleep(60)", "hung"),
        ("print('{\"ok\": true}', flush=True); input(); import time; time.sleep(60)", "hung"),
        ("raise SystemExit(3)", "ended"),
        ('print(\'{"ok": false, "error": "no library"}\', flush=True)', "no library"),
        ("print('{\"ok\": true}', flush=True); input(); print('[]', flush=True)", "ended"),
        ("print('{\"ok\": true}', flush=True); input(); print('garbage', flush=True)", "ended"),
        (
            "while True: print('{\"ok\": true}', flush=True); input()",
            "no sound",
        ),
    ],
)
def test_a_broken_engine_is_a_clear_error_each_time(
    tmp_path: Path, program: str, message: str
) -> None:
    """Hung, crashed, missing or babbling: the caller is told, and may try again."""
    worker = tmp_path / "worker.py"
    worker.write_text(program)
    engine = Pyttsx3Synthesiser(timeout_s=0.5, worker=worker)
    for _ in range(2):
        with pytest.raises(EngineError, match=message):
            engine.render(TEXT, rate_wpm=170)
    engine.close()
    engine.close()


def test_a_closed_engine_starts_again() -> None:
    """Rendering after `close` works as before."""
    engine = Pyttsx3Synthesiser()
    engine.start()
    engine.close()
    assert len(engine.render("yes", rate_wpm=170)) > 1_000
    engine.close()


def test_trimming_keeps_what_is_loud_and_a_little_margin() -> None:
    """Silence at both ends goes, silence between stays."""
    sound = np.zeros(16_000, dtype=np.int16)
    sound[5_000] = sound[9_000] = 1_000
    assert len(trim_silence(sound)) == 4_001 + 2 * 320
    assert len(trim_silence(np.zeros(100, dtype=np.int16))) == 0
