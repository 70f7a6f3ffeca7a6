"""The live screen shows what is asked, how loud it is, and the last answers."""

from __future__ import annotations

import io

import pytest
from rich.console import Console

from handsfree.dialogue.actions import (
    Action,
    Ask,
    Confirm,
    Confirmed,
    Finish,
    Record,
    Speak,
    SpeechKind,
    Status,
)
from handsfree.dialogue.events import SpokenOut
from handsfree.protocol.loader import load
from handsfree.review.letters import large
from handsfree.review.screen import Screen

EVENT = SpokenOut(stream="s", sample=1)


def _console(*, terminal: bool, width: int = 120, height: int = 40) -> Console:
    return Console(
        file=io.StringIO(), force_terminal=terminal, width=width, height=height, no_color=True
    )


def _shown(screen: Screen, console: Console) -> str:
    with console.capture() as captured:
        console.print(screen.picture())
    return captured.get()


def test_a_prompt_is_drawn_large_with_meter_and_answers() -> None:
    """Region, large letters, level and answers stand on the screen, within its height."""
    console = _console(terminal=True)
    screen = Screen(load(), places={"lump1": "the left chest"}, console=console)
    actions: tuple[Action, ...] = (
        Ask(item="mouth.gum_colour", side=None, stage="question", region="the mouth"),
        Speak(sentences=("What colour are the gums?",)),
    )
    screen(EVENT, actions)
    screen(
        EVENT,
        (
            Record(ref=1, item="ears.look", side="left", status=Status.OBSERVED, value="red"),
            Record(ref=2, item="lumps.known", side="lump1", status=Status.OBSERVED, value="same"),
            Record(ref=3, item="rear.tail", status=Status.NOT_OBSERVED, reason="skipped"),
            Record(ref=4, item="weight.kg", status=Status.OBSERVED, value=22.4, unit="kg"),
            Confirm(ref=1, confirmed=Confirmed.POSSIBLE),
        ),
    )
    screen.level(-30.0)
    text = _shown(screen, console)
    assert "THE MOUTH" in text
    assert text.count("█") > 50
    assert "Left ear red (possible)" in text
    assert "The lump on the left chest looks the same" in text
    assert "Rear tail: skipped" in text
    assert "Weight 22.4 kg" in text or "22.4 kg" in text
    assert "[###############...............] -30 dB" in text
    assert len(text.splitlines()) <= 40
    screen.level(-1.0)
    assert "too loud" in _shown(screen, console)


def test_a_small_terminal_gets_plain_words() -> None:
    """Where large letters do not fit the prompt stands there as it is."""
    console = _console(terminal=True, width=40, height=12)
    screen = Screen(load(), console=console)
    prompt = "Look at the gums. What colour are they, in daylight, above the upper fang?"
    screen(EVENT, (Speak(sentences=(prompt,)),))
    assert "What colour are they" in " ".join(_shown(screen, console).split())


def test_without_a_terminal_each_prompt_is_a_line() -> None:
    """Piped output is plain: a line for a prompt, an alarm, an answer, and no control codes."""
    out = io.StringIO()
    with Screen(load(), console=Console(file=out, width=60)) as screen:
        screen(EVENT, (Speak(sentences=("A [bold] prompt.",)), Finish(outcome="complete")))
        screen(EVENT, (Speak(sentences=("Pale gums.",), kind=SpeechKind.ALARM),))
    assert out.getvalue() == "A [bold] prompt.\nALARM: Pale gums.\n"


def test_no_color_is_respected(monkeypatch: pytest.MonkeyPatch) -> None:
    """NO_COLOR gives plain lines even on a terminal."""
    monkeypatch.setenv("NO_COLOR", "1")
    console = _console(terminal=True)
    with Screen(load(), console=console) as screen:
        screen(EVENT, (Speak(sentences=("A prompt.",)),))
    assert isinstance(console.file, io.StringIO)
    assert console.file.getvalue() == "A prompt.\n"


def test_letters_fit_and_grow_with_the_terminal() -> None:
    """No line is wider than the terminal, and more room gives larger letters."""
    small, big = large("Gums pink?", 80, 12), large("Gums pink?", 200, 40)
    assert small is not None
    assert big is not None
    assert len(small) <= 12
    assert len(big) > len(small)
    assert max(map(len, big)) <= 200
    assert large("Gums pink?", 10, 3) is None
