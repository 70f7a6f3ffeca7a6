"""Silence never moves a check on: what comes after seconds, minutes and an hour."""

from __future__ import annotations

import pytest

from handsfree.dialogue.states import State

from .script import Line, command, elsewhere, later, opened, play, result, say, silence, tick

CASES: dict[str, list[Line]] = {
    "two silences, then it says once that it waits, then tones, then a pause": [
        (opened(), []),
        (silence(), ["prompt: Any hard breathing"]),
        (silence(), ["notice: I am waiting. Answer when you are ready. | A soft tone",
                     "listen now_signs"]),
        (silence(), ["listen now_signs", "!notice", "!prompt", "!tone"]),
        (later(28), ["nothing"]),
        (later(2), ["tone waiting"]),
        (later(27), ["nothing"]),
        (later(2), ["tone waiting"]),
        (later(538), ["tone waiting"]),
        (later(1), ["nothing"]),
        (later(1), ["hush", "note paused why=no answer for ten minutes", "notice: Paused."],
         State.PAUSED),
        (later(3599), ["nothing"], State.PAUSED),
        (later(2), ["note closed why=no answer for an hour", "conclude partial"],
         State.CONCLUDING),
        (result(), ["finish partial", "!result"], State.FINISHED),
    ],
    "the soft tone is explained once": [
        (opened(), []),
        (silence(), []),
        (silence(), ["A soft tone says that I still wait."]),
        (say("none"), []),
        (silence(), ["prompt: Lift the lip"]),
        (silence(), ["notice: I am waiting", "!A soft tone"]),
    ],
    "an answer ends the waiting": [
        (opened(), []),
        (silence(), []),
        (silence(), []),
        (later(20, say("none")), ["record 1"]),
        (later(200), ["nothing"]),
    ],
    "no interval crosses two streams": [
        (opened(), []),
        (silence(), []),
        (silence(), []),
        (elsewhere(tick()), ["nothing"]),
        (later(29), ["nothing"]),
        (later(1), ["tone waiting"]),
    ],
    "an hour of pause begins anew on another stream": [
        (opened(), []),
        (command("pause"), []),
        (later(3000), ["nothing"]),
        (elsewhere(tick()), ["nothing"]),
        (later(3000), ["nothing"], State.PAUSED),
        (later(601), ["conclude partial"]),
    ],
    "a paused check that is closed keeps an alarming answer": [
        (opened(), []),
        (say("collapse"), []),
        (command("pause"), []),
        (later(3601), ["confirm now.signs=collapse possible", "conclude partial"]),
        (result(), ["finish partial"]),
    ],
    "silence in the menus repeats and waits": [
        (opened(), []),
        (command("options"), []),
        (silence(), ["prompt: Slower, faster"], State.OPTIONS),
        (silence(), ["notice: I am waiting"], State.OPTIONS),
        (command("goto"), []),
        (silence(), ["prompt: Which part?"], State.GOTO),
        (silence(), ["notice: I am waiting", "listen region"], State.GOTO),
        (later(601), ["note paused"], State.PAUSED),
        (command("resume"), ["prompt: Any hard breathing"], State.ASKING),
    ],
    "the result is over when nothing is said after it": [
        (opened(), []),
        (command("stop"), []),
        (result(), ["result: Nothing was found."]),
        (silence(), ["finish paused"], State.FINISHED),
    ],
}  # fmt: skip


@pytest.mark.parametrize("lines", CASES.values(), ids=CASES.keys())
def test_waiting(lines: list[Line]) -> None:
    """Each case plays alike whole, step by step, and with noise between."""
    play(lines)
