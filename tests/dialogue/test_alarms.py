"""What cannot wait interrupts; no question follows; going on must be said."""

from __future__ import annotations

import pytest

from handsfree.dialogue.states import State

from .script import (
    ENTER,
    Line,
    alarm,
    command,
    later,
    maybe_command,
    mumble,
    opened,
    play,
    result,
    say,
    silence,
    spoke_on,
    typed_command,
)

NOW: Line = (later(0.0, alarm()), ["hush", "note alarm level=now rule=pale_gums", "ask alarm",
                                   "alarm: Danger by pale_gums. | Call the vet now: five five five."
                                   " | Give nothing by mouth.", "say keep going",
                                   "listen - [go_on,pause,repeat,stop,told]", "!prompt"],
             State.ALARM)  # fmt: skip
VET = opened(vet_number="five five five")

CASES: dict[str, list[Line]] = {
    "it interrupts; no question follows until go on is said": [
        (VET, []),
        (say("none"), []),
        NOW,
        (say("pink"), ["nothing"], State.ALARM),
        (silence(), ["nothing"], State.ALARM),
        (later(60), ["nothing"], State.ALARM),
        (command("go_on"), ["note went_on rule=pale_gums", "notice: Going on.", "prompt: Lift"],
         State.ASKING),
    ],
    "without a number a fixed sentence is said": [
        (opened(), []),
        (alarm(), ["alarm: Danger by pale_gums. | Call a vet or emergency clinic now."]),
    ],
    "who was told is stored": [
        (VET, []),
        NOW,
        (command("told"), ["note told rule=pale_gums whom=vet", "notice: Noted. Do as they say.",
                           "listen - [go_on"], State.ALARM),
        (command("repeat"), ["alarm: Danger by pale_gums."], State.ALARM),
    ],
    "it waits while an answer is read back, and comes with the yes before any question": [
        (VET, []),
        (say("none"), []),
        (say("pale"), []),
        (later(0.0, alarm()), ["nothing"], State.CONFIRMING),
        (say("yes"), ["confirm now.gums=pale confirmed", "alarm: Danger", "!prompt"], State.ALARM),
        (later(0.0, alarm()), ["nothing"], State.ALARM),
        (command("go_on"), ["prompt: How does the dog"], State.ASKING),
    ],
    "dropped with a no, and raised anew when it is so after all": [
        (VET, []),
        (say("none"), []),
        (say("pale"), []),
        (later(0.0, alarm()), ["nothing"]),
        (say("no"), ["!alarm"]),
        (say("white"), ["read_back: Gums white"]),
        (later(0.0, alarm()), ["nothing"]),
        (say("yes"), ["alarm: Danger"], State.ALARM),
    ],
    "a denied answer drops its own alarm only": [
        (VET, []),
        (command("pause"), []),
        (alarm("earlier"), ["nothing"], State.PAUSED),
        (command("resume"), ["alarm: Danger by earlier."], State.ALARM),
        (alarm("second"), ["nothing"], State.ALARM),
        (command("go_on"), ["alarm: Danger by second."], State.ALARM),
        (command("go_on"), ["prompt: Any hard"], State.ASKING),
    ],
    "each rule is raised once": [
        (VET, []),
        NOW,
        (command("go_on"), []),
        (alarm(), ["nothing"], State.ASKING),
    ],
    "a second one is shorter, and to be told as well": [
        (VET, []),
        NOW,
        (command("go_on"), []),
        (alarm("second"), ["alarm: Danger by second. | Call the vet now: five five five.",
                           "notice: I wait. | To carry on, say keep going."], State.ALARM),
        (command("told"), ["note told rule=second whom=vet"]),
        (command("go_on"), []),
        (alarm("third"), ["alarm: Danger by third. | Tell the vet this as well."]),
        (command("repeat"), ["notice: I wait. When you have called, say: I called the vet."]),
    ],
    "a lower level does not interrupt": [
        (VET, []),
        (alarm(level="same_day"), ["nothing"], State.ASKING),
    ],
    "a sound while somebody is on the phone is answered twice at most": [
        (VET, []),
        NOW,
        (mumble(), ["notice: To carry on, say keep going."]),
        (mumble(), ["notice: To carry on, say keep going."]),
        (mumble(), ["nothing"], State.ALARM),
    ],
    "a doubtful go on must be said twice": [
        (VET, []),
        NOW,
        (maybe_command("go_on"), ["notice: To carry on, say keep going."], State.ALARM),
        (maybe_command("go_on"), ["note went_on"], State.ASKING),
    ],
    "a doubtful stop at an alarm pauses, and resume says the alarm again": [
        (VET, []),
        NOW,
        (maybe_command("stop"), ["notice: Paused."], State.PAUSED),
        (command("resume"), ["alarm: Danger by pale_gums."], State.ALARM),
    ],
    "stop at an alarm ends with the result": [
        (VET, []),
        (say("none"), []),
        NOW,
        (command("stop"), ["conclude paused"]),
        (result("Call the vet now."), ["result: Call the vet now."]),
    ],
    "an alarm that is left for ten minutes pauses, unfinished": [
        (VET, []),
        NOW,
        (silence(), ["nothing"]),
        (later(601), ["note paused why=no answer for ten minutes"], State.PAUSED),
        (later(3601), ["conclude partial"]),
        (result(), ["finish partial"], State.FINISHED),
    ],
    "Enter does not wave an alarm away": [
        (VET, []),
        NOW,
        (ENTER, ["notice: That key has no meaning here."], State.ALARM),
        (typed_command("go_on"), ["note went_on"], State.ASKING),
    ],
    "speaking on does not wave an alarm away": [
        (VET, []),
        (say("none"), []),
        NOW,
        (spoke_on(2), ["note retracted", "record 2 now.signs not_observed retracted", "!prompt"],
         State.ALARM),
        (command("go_on"), ["prompt: Any hard breathing"], State.ASKING),
    ],
    "an alarm in a menu interrupts it": [
        (VET, []),
        (command("options"), []),
        NOW,
        (command("go_on"), ["prompt: Any hard"], State.ASKING),
    ],
    "an alarm while the result is told is left to the result": [
        (VET, []),
        (command("stop"), []),
        (alarm(), ["nothing"], State.CONCLUDING),
        (result(), []),
        (alarm("another"), ["nothing"], State.TELLING),
    ],
}  # fmt: skip


@pytest.mark.parametrize("lines", CASES.values(), ids=CASES.keys())
def test_alarm(lines: list[Line]) -> None:
    """Each case plays alike whole, step by step, and with noise between."""
    play(lines)
