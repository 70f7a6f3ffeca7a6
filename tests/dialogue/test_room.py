"""The room: too loud, a lost device, answers about the past; and the whole check by keys."""

from __future__ import annotations

import pytest

from handsfree.dialogue.states import State

from .script import (
    AGAIN,
    ENTER,
    Line,
    alarm,
    command,
    digit,
    lost,
    loud,
    opened,
    play,
    regained,
    result,
    say,
    told,
    typed,
    typed_command,
)

ROOM: dict[str, list[Line]] = {
    "too loud is said once": [
        (opened(), []),
        (loud(), ["note too_loud", "notice: It is too loud to hear you safely. Use keys",
                  "listen now_signs"]),
        (loud(False), ["note quiet_again", "!notice"]),
        (loud(), ["note too_loud", "!notice"]),
    ],
    "without keys none are offered": [
        (opened(has_keys=False), []),
        (loud(), ["Use a headset, or wait.", "!keys"]),
    ],
    "too loud at a read-back keeps it open": [
        (opened(), []),
        (say("collapse"), []),
        (loud(), ["notice: It is too loud", "listen confirm+now_signs"], State.CONFIRMING),
    ],
    "a lost device pauses, is told, and goes on where it was": [
        (opened(), []),
        (say("none"), []),
        (lost(), ["note device_lost why=unplugged", "note paused", "notice: The sound has gone.",
                  "listen - [resume,stop]"], State.PAUSED),
        (regained(), ["note device_regained", "hush", "note resumed",
                      "notice: Sound is back. Nothing is lost. | Going on with signs",
                      "prompt: Lift the lip"], State.ASKING),
    ],
    "a lost device at a read-back comes back to it": [
        (opened(), []),
        (say("collapse"), []),
        (lost(), [], State.PAUSED),
        (regained(), ["Sound is back.", "read_back: Collapse: yes or no?"], State.CONFIRMING),
    ],
    "who had paused stays paused": [
        (opened(), []),
        (command("pause"), []),
        (lost(), ["note device_lost", "!notice"], State.PAUSED),
        (regained(), ["notice: Sound is back. Still paused: say resume, or stop."], State.PAUSED),
        (command("resume"), ["prompt: Any hard"], State.ASKING),
    ],
    "lost at an alarm, the alarm is said again": [
        (opened(), []),
        (alarm(), []),
        (lost(), [], State.PAUSED),
        (regained(), ["Sound is back.", "alarm: Danger"], State.ALARM),
    ],
    "lost in the result, the result is told again": [
        (opened(), []),
        (command("stop"), []),
        (result("One."), []),
        (lost(), [], State.PAUSED),
        (regained(), ["Sound is back.", "result: One."], State.TELLING),
    ],
    "lost between: nothing happens": [
        (opened(), []),
        (command("stop"), []),
        (lost(), ["note device_lost", "!note paused"], State.CONCLUDING),
        (regained(), ["note device_regained", "!notice"], State.CONCLUDING),
        (result("One."), ["result: One."]),
    ],
    "with the sound lost a key still goes on": [
        (opened(), []),
        (lost(), []),
        (ENTER, ["note resumed", "prompt: Any hard"], State.ASKING),
    ],
    "the past is told only after today's answer": [
        (opened(), []),
        (told("Last time the gums were pale.", "now.gums"),
         ["notice: I tell you after today's answer.", "!pale"]),
        (say("none"), ["!pale"]),
        (say("pink"), ["echo: Gums pink.", "notice: Last time the gums were pale."]),
        (say("bright"), ["!pale"]),
    ],
    "the past of what was refused is told then": [
        (opened(), []),
        (told("Last time none.", "now.signs"), []),
        (command("skip"), ["notice: Left out. | Last time none."]),
    ],
    "the past of what is answered already, or not asked, is told at once": [
        (opened(), []),
        (say("none"), []),
        (told("Last time none.", "now.signs"), ["notice: Last time none.", "listen gum_colour"]),
        (told("Twelve kilos in May.", "weight.kg"), ["notice: Twelve kilos in May."]),
        (told("You skipped the ears."), ["notice: You skipped the ears."]),
    ],
    "the past of one side waits for that side": [
        (opened(routine="ears"), []),
        (told("Red in May.", "ears.look", "right"), ["after today's answer"]),
        (say("clean"), ["!Red in May"]),
        (say("clean"), ["notice: Red in May."]),
    ],
    "the past that waits is told before the result": [
        (opened(routine="signs"), []),
        (told("Pale in May.", "now.gums"), []),
        (say("none"), []),
        (say("pink"), ["notice: Gums pink. | Pale in May.", "conclude"]),
    ],
    "the past is not told into an alarm": [
        (opened(), []),
        (alarm(), []),
        (told("Twelve kilos in May."), ["nothing"], State.ALARM),
        (command("go_on"), ["prompt: Any hard"]),
        (say("none"), ["Twelve kilos in May."]),
    ],
}  # fmt: skip

KEYS: dict[str, list[Line]] = {
    "numbers pick choices, Enter is yes, again is no": [
        (opened(), []),
        (digit("1"), ["record 1 now.signs observed none unconfirmed by keys"]),
        (digit("2"), ["record 2 now.gums observed pale", "read_back: Gums pale. Right?"],
         State.CONFIRMING),
        (AGAIN, ["prompt: Which colour"], State.ASKING),
        (digit("4"), ["read_back: Gums dark. Right?"]),
        (ENTER, ["confirm now.gums=dark confirmed"]),
        (typed("bright"), ["record 4 watch.attitude observed bright"]),
        (typed("Stiff"), ["read_back: Walks stiffly. Right?"]),
        (digit("2"), ["without stiff"], State.ASKING),
        (typed("stiff"), ["read_back: Walks stiffly"]),
        (typed("y"), ["conclude complete"]),
        (result("Fine."), []),
        (ENTER, ["finish complete"], State.FINISHED),
    ],
    "a key without meaning names the choices and loses nothing": [
        (opened(), []),
        (digit("9"), ["prompt: That key has no meaning here. | By key: 1 for none"]),
        (typed("zebra"), ["prompt: That key has no meaning here."]),
        (digit("2"), ["read_back: Hard breathing"]),
        (typed("zebra"), ["notice: That key has no meaning here.", "listen confirm"],
         State.CONFIRMING),
        (typed_command("skip"), ["confirm now.signs=breathing possible"]),
    ],
    "another typed answer at a read-back keeps an alarm in doubt": [
        (opened(), []),
        (typed("collapse"), []),
        (typed("none"), ["record 2 now.signs observed none unconfirmed by keys corrects 1",
                         "read_back: No urgent sign. Right?"], State.CONFIRMING),
        (typed_command("stop"), ["record 3 now.signs observed collapse possible by keys"]),
    ],
    "Enter at a question says the keys": [
        (opened(), []),
        (ENTER, ["prompt: By key: 1 for none", "!^record"], State.ASKING),
    ],
    "commands, pause and resume": [
        (opened(), []),
        (typed_command("help"), ["help: Look"]),
        (AGAIN, ["help: Look"]),
        (typed_command("where"), ["You are at signs"]),
        (typed_command("remaining"), ["2 parts remain:"]),
        (typed_command("pause"), [], State.PAUSED),
        (digit("1"), ["notice: That key has no meaning here.", "listen - [resume,stop]"],
         State.PAUSED),
        (ENTER, ["note resumed"], State.ASKING),
        (typed_command("goto"), [], State.GOTO),
        (typed("watch"), ["Going to watching from a distance."]),
        (typed_command("goto"), [], State.GOTO),
        (typed("zebra"), ["That is not part of this check."], State.ASKING),
        (typed_command("done"), ["prompt: That key has no meaning here."], State.ASKING),
        (typed_command("options"), [], State.OPTIONS),
        (ENTER, ["prompt: How does the dog"], State.ASKING),
        (typed_command("stop"), ["conclude paused"]),
        (typed("x"), ["nothing"], State.CONCLUDING),
    ],
}  # fmt: skip


@pytest.mark.parametrize("lines", ROOM.values(), ids=ROOM.keys())
def test_room(lines: list[Line]) -> None:
    """Each case plays alike whole, step by step, and with noise between."""
    play(lines)


@pytest.mark.parametrize("lines", KEYS.values(), ids=KEYS.keys())
def test_keys(lines: list[Line]) -> None:
    """Each case plays alike whole, step by step, and with noise between."""
    play(lines)
