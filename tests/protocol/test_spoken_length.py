"""Every text that is spoken, read aloud by the synthesiser: nobody has to listen for long."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from handsfree.audio.device import SAMPLE_RATE
from handsfree.protocol.loader import load
from handsfree.protocol.model import Question
from handsfree.speaking.espeak import Pyttsx3Synthesiser

RATE_WPM = 160
"""The rate of a first-time listener."""

QUESTIONS = [(region.id, q) for region in load().regions.values() for q in region.question]


@pytest.fixture(scope="module")
def synthesiser() -> Iterator[Pyttsx3Synthesiser]:
    """The platform's voice."""
    engine = Pyttsx3Synthesiser()
    yield engine
    engine.close()


def spoken_s(engine: Pyttsx3Synthesiser, texts: set[str]) -> dict[str, float]:
    """How long each text takes."""
    return {t: len(engine.render(t, rate_wpm=RATE_WPM)) / SAMPLE_RATE for t in sorted(texts)}


def filled(question: Question, text: str | None) -> str:
    """A text with a long side or lump filled in."""
    side = max((s.replace("_", " ") for s in question.sides), key=len, default="")
    return (text or "").replace("{side}", side).replace("{lump}", "the left chest")


def too_long(engine: Pyttsx3Synthesiser, texts: set[str], limit_s: float) -> dict[str, float]:
    """The texts above a limit; those far too short for it to be near are not read aloud."""
    near = {text for text in texts if len(text) > 9.5 * limit_s}
    assert near
    return {t: s for t, s in spoken_s(engine, near).items() if s > limit_s}


def test_questions_take_five_seconds_at_most(synthesiser: Pyttsx3Synthesiser) -> None:
    """Each question, and its other wording, takes at most 5 s."""
    texts = {filled(q, t) for _, q in QUESTIONS for t in (q.prompt, q.again, q.touch_prompt)}
    assert too_long(synthesiser, texts, 5.0) == {}


def test_help_takes_fifteen_seconds_at_most(synthesiser: Pyttsx3Synthesiser) -> None:
    """Each help text takes at most 15 s."""
    texts = {filled(q, t) for _, q in QUESTIONS for t in (q.help, q.touch_help)}
    assert too_long(synthesiser, texts, 15.0) == {}


def test_cautions_are_short(synthesiser: Pyttsx3Synthesiser) -> None:
    """Each caution takes at most 7 s."""
    assert too_long(synthesiser, {c.say for c in load().cautions.values()}, 7.0) == {}


def test_the_first_screen_is_asked_quickly(synthesiser: Pyttsx3Synthesiser) -> None:
    """The three questions on what cannot wait take at most 12 s to speak."""
    opening = {q.prompt for region, q in QUESTIONS if region == "now" and not q.when}
    opening -= {q.prompt for region, q in QUESTIONS if q.applies.pregnant}
    assert len(opening) == 3
    assert sum(spoken_s(synthesiser, opening).values()) <= 12.0
