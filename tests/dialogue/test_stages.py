"""The spoken stopwatch and counts in a window: what is said when, what is void, what is kept."""

from __future__ import annotations

import pytest

from handsfree.dialogue.states import State
from handsfree.protocol.subject import Sight

from .script import (
    ENTER,
    Line,
    alarm,
    broken,
    command,
    dimly,
    elsewhere,
    later,
    lost,
    loud,
    maybe,
    mumble,
    opened,
    play,
    regained,
    result,
    say,
    silence,
    spoken_out,
    stray,
    tick,
    told,
    words,
)

MOUTH = opened(routine="mouth")
PRESS: Line = (words(("press", 0.3)), ["ask hold", "ticks 4", "listen release_pink"], State.HOLDING)
HELD: Line = (later(4, spoken_out()), ["ask release", "!notice", "!tone"], State.TIMING)
GOOD: Line = (later(2.5, words(("release", 2.3), ("pink", 0.9))),
              ["measure mouth.refill refill", "good", "notice: Good."], State.RESTING)  # fmt: skip
FRESH: Line = (later(11), ["ask press", "prompt: A fresh spot: press, and say press."],
               State.PRESSING)  # fmt: skip
ONCE: list[Line] = [PRESS, HELD, GOOD]
LAST: Line = (
    later(2.5, words(("release", 2.3), ("pink", 1.1))),
    ["measure mouth.refill refill 3 good", "record 1 mouth.refill observed 1.4 unconfirmed",
     "prompt: Refill", "How are the teeth"],
    State.ASKING,
)  # fmt: skip

REFILL: dict[str, list[Line]] = {
    "three times, the median, a range as its echo": [
        (MOUTH, ["caution: Only lift the lip.",
                 "prompt: After four ticks let go, and say release. | "
                 "When the colour is back, say now. | Now press the gum", "listen press ["],
         State.PRESSING),
        *ONCE, FRESH, *ONCE, FRESH, PRESS, HELD, LAST,
        (say("clean"), ["confirm mouth.refill=1.4 confirmed"]),
    ],
    "nothing sounds between the fourth tick and pink": [
        (MOUTH, []), PRESS, HELD,
        (loud(), ["note too_loud", "!notice", "!listen"], State.TIMING),
        (told("It was 12 kilos."), ["nothing"], State.TIMING),
        (words(("release", 0.2)), ["nothing"], State.TIMING),
        (words(("pink", 0.1)), ["measure", "good", "Good."], State.RESTING),
        FRESH, *ONCE, FRESH, PRESS, HELD,
        (later(2.5, words(("release", 2.3), ("pink", 1.1))),
         ["echo: Refill", "It is too loud to hear you safely.", "It was 12 kilos.", "prompt:"]),
    ],
    "scrap that: the repeat does not count and is taken again": [
        (MOUTH, []), PRESS,
        (command("scrap"), ["hush", "measure mouth.refill refill 1 scrapped",
                            "notice: That one does not count. | Three more."], State.RESTING),
        FRESH, *ONCE,
        (command("scrap"), ["measure mouth.refill refill 2 scrapped", "Three more."],
         State.RESTING),
        (command("scrap"), ["notice: Nothing to scrap."]),
    ],
    "a rest of ten seconds, whatever silence says": [
        (MOUTH, []), *ONCE,
        (silence(), ["nothing"], State.RESTING),
        (later(5), ["nothing"], State.RESTING),
        (later(5), ["prompt: A fresh spot"], State.PRESSING),
    ],
    "pink before release": [
        (MOUTH, []), PRESS, HELD,
        (words(("pink", 0.2)), ["measure mouth.refill refill 1 pink_first",
                                "I heard the colour come back before release."], State.RESTING),
    ],
    "released too early, the ticks fall silent": [
        (MOUTH, []), PRESS,
        (words(("release", 0.2)), ["hush", "measure mouth.refill refill 1 early_release",
                                   "released before the fourth tick"], State.RESTING),
    ],
    "no word at all": [
        (MOUTH, []), PRESS, HELD,
        (later(8, silence()), ["measure mouth.refill refill 1 no_release",
                               "I did not hear release."]),
    ],
    "other sounds without end": [
        (MOUTH, []), PRESS, HELD,
        (words(("press", 0.2)), ["nothing"], State.TIMING),
        (later(13), ["nothing"], State.TIMING),
        (later(2), ["measure mouth.refill refill 1 no_release"], State.RESTING),
    ],
    "a doubtful word marks the repeat": [
        (MOUTH, []), PRESS, HELD,
        (later(2.5, words(("release", 2.3), ("pink", 0.9), doubtful=True)),
         ["measure mouth.refill refill 1 doubtful", "That one is in doubt. | Three more."]),
    ],
    "an unclear sound marks the repeat": [
        (MOUTH, []), PRESS, HELD,
        (mumble(), ["nothing"], State.TIMING),
        (later(2.5, words(("release", 2.3), ("pink", 0.9))),
         ["measure mouth.refill refill 1 doubtful"]),
    ],
    "an ignored sound is not silently waited over": [
        (MOUTH, []), PRESS, HELD,
        (stray(), ["note unclear_sound", "!tone", "!notice"], State.TIMING),
        (later(2.5, words(("release", 2.3), ("pink", 0.9))),
         ["measure mouth.refill refill 1 doubtful"], State.RESTING),
        FRESH, PRESS, HELD,
        (stray(), ["note unclear_sound", "!tone", "!notice"], State.TIMING),
        (later(8, silence()), ["measure mouth.refill refill 2 unclear",
                               "notice: I heard a sound, and could not tell which word it was."]),
    ],
    "the awaited word is believed sooner, another one is not": [
        (MOUTH, []), PRESS, HELD,
        (dimly("release", 0.3), ["nothing"], State.TIMING),
        (dimly("pink", 0.3), ["measure mouth.refill refill 1 good"], State.RESTING),
        FRESH, PRESS, HELD,
        (dimly("release", 0.3), ["nothing"], State.TIMING),
        (dimly("pink", 0.3, lasts_s=1.2), ["measure mouth.refill refill 2 doubtful"],
         State.RESTING),
        FRESH, PRESS, HELD,
        (dimly("release", 0.21), ["nothing"], State.TIMING),
        (dimly("pink", 0.6), ["measure mouth.refill refill 3 doubtful"], State.RESTING),
    ],
    "lost samples void it": [
        (MOUTH, []), PRESS, HELD,
        (words(("release", 0.2)), ["nothing"], State.TIMING),
        (broken(), ["measure mouth.refill refill 1 gap", "The sound broke off in the middle."],
         State.RESTING),
        (broken(), ["nothing"], State.RESTING),
    ],
    "spoiled seven times it is left": [
        (MOUTH, []),
        *[line for _ in range(6) for line in (PRESS, (command("scrap"), []), FRESH)],
        PRESS,
        (command("scrap"), ["record 1 mouth.refill not_observed not_measured",
                            "notice: I could not time that well enough.", "How are the teeth"]),
    ],
    "measured again and spoiled, what was measured before stays": [
        (MOUTH, []), *ONCE, FRESH, *ONCE, FRESH, PRESS, HELD, LAST,
        (say("clean"), ["confirm mouth.refill=1.4 confirmed"]),
        (command("goto"), ["ask goto"]),
        (say("mouth"), ["Now press the gum"], State.PRESSING),
        *[line for _ in range(6) for line in (PRESS, (command("scrap"), []), FRESH)],
        PRESS,
        (command("scrap"), ["!record", "notice: I could not time that well enough. "
                            "I keep what you said before."]),
    ],
    "a pause voids the open repeat, and keeps the good ones": [
        (MOUTH, []), *ONCE, FRESH, PRESS,
        (command("pause"), ["hush", "measure mouth.refill refill 2 gap",
                            "note repeat_void why=paused"], State.PAUSED),
        (later(12, command("resume")), ["prompt: A fresh spot"], State.PRESSING),
        *ONCE, FRESH, PRESS, HELD,
        (later(2.5, words(("release", 2.3), ("pink", 1.1))),
         ["measure mouth.refill refill 4 good", "record 1 mouth.refill observed 1.4"]),
    ],
    "help, repeat, back and the refusals void it and are heard": [
        (MOUTH, []), PRESS,
        (command("help"), ["hush", "measure mouth.refill refill 1 gap",
                           "help: Press for four ticks.", "prompt:"],
         State.PRESSING),
        (later(12, words(("press", 0.3))), ["ticks 4"]), HELD,
        (command("repeat"), ["measure mouth.refill refill 2 gap", "prompt: A fresh spot"],
         State.PRESSING),
        (later(12, words(("press", 0.3))), ["ticks 4"]),
        (command("wont_let"), ["measure mouth.refill refill 3 gap",
                               "record 1 mouth.refill not_observed dog_refused"], State.ASKING),
    ],
    "an alarm interrupts it": [
        (MOUTH, []), PRESS, HELD,
        (alarm(), ["measure mouth.refill refill 1 gap", "alarm: Danger"], State.ALARM),
        (command("go_on"), ["prompt: A fresh spot"], State.PRESSING),
    ],
    "no interval crosses two streams": [
        (MOUTH, []), *ONCE, FRESH, PRESS, HELD,
        (lost(), ["hush", "measure mouth.refill refill 2 gap", "note paused why=sound was lost",
                  "notice: The sound has gone."], State.PAUSED),
        (regained(), ["hush", "notice: Sound is back. Nothing is lost. | Going on with the mouth.",
                      "prompt: A fresh spot"], State.PRESSING),
    ],
    "a doubtful press is believed; other sounds are answered twice, then it is left": [
        (MOUTH, []),
        (mumble(), ["tone not_heard", "notice: Say press, or skip."], State.PRESSING),
        (mumble(), ["notice: Say press, or skip."], State.PRESSING),
        (maybe("press"), ["ticks 4"], State.HOLDING),
        (mumble(), ["nothing"], State.HOLDING),
        (command("repeat"), []),
        (mumble(), []),
        (mumble(), []),
        (mumble(), ["record 1 mouth.refill not_observed not_understood"], State.ASKING),
    ],
    "by keys": [
        (MOUTH, []),
        (ENTER, ["ticks 4"], State.HOLDING),
        HELD,
        (ENTER, ["nothing"], State.TIMING),
        (ENTER, ["measure mouth.refill refill 1 good"], State.RESTING),
        (ENTER, ["nothing"], State.RESTING),
    ],
    "who cannot see is not asked, and is told what else shows it": [
        (opened(routine="mouth", sight=Sight.LOW), ["Is a sighted person with you?"]),
        (say("no"), ["record 1 mouth.refill not_observed cannot_see confirmed by machine",
                     "notice:", "Cold paws or a weak pulse", "prompt: How are the teeth"]),
    ],
}  # fmt: skip

BREATH = opened(routine="breath")
BEGIN: Line = (say("start"), ["ask counting", "tone window_start",
                              "listen - [back,cant_see"], State.COUNTING)  # fmt: skip
PLAYED: Line = (spoken_out(), ["nothing"], State.COUNTING)

COUNT: dict[str, list[Line]] = {
    "a window of a minute on the sample clock, silent within": [
        (BREATH, ["ask start", "prompt: Count the breaths. | Say begin, and count from tone to "
                  "tone: 60 seconds.", "listen start_stop"], State.COUNT_READY),
        BEGIN, PLAYED,
        (silence(), ["nothing"]),
        (later(58), ["nothing"], State.COUNTING),
        (later(1), ["tone window_end", "measure breaths.rate window 1 good", "ask count",
                    "prompt: How many did you count?", "listen integer"], State.ASKING),
        (say(18.0), ["record 1 breaths.rate observed 18.0",
                     "read_back: Breaths 18 a minute. Right?"]),
        (say("yes"), ["confirm breaths.rate=18.0 confirmed", "prompt: How is the left ear"]),
    ],
    "half a minute is read back as counted and as a rate": [
        (opened(routine="half"), ["30 seconds."]),
        BEGIN, PLAYED,
        (later(30), ["prompt: How many did you count?"]),
        (say(12.0), ["record 1 breaths.rate observed 24.0",
                     "read_back: Breaths 12 in 30 seconds, 24 a minute. Right?"]),
        (say("no"), ["ask count", "prompt: How many was it? | Say the number alone."],
         State.ASKING),
        (say(11.0), ["record 2 breaths.rate observed 22.0 unconfirmed by voice corrects 1"]),
    ],
    "a count that cannot be": [
        (BREATH, []), BEGIN, PLAYED, (later(60), []),
        (say(400.0), ["!^record", "prompt: 400 in 60 seconds cannot be right. | How many was it?"]),
        (say(12.5), ["!^record", "prompt: I need the number that you counted."]),
        (mumble(), ["prompt: Type the number. | Or say skip."]),
        (mumble(), ["record 1 breaths.rate not_observed not_understood"]),
    ],
    "back at the number counts again": [
        (BREATH, []), BEGIN, PLAYED, (later(60), []),
        (command("help"), ["help: Say how many you counted in 60 seconds.", "prompt: How many"]),
        (command("back"), ["prompt: Count the breaths."], State.COUNT_READY),
    ],
    "scrap that begins the window anew": [
        (BREATH, []), BEGIN, PLAYED,
        (later(20, command("scrap")), ["note window_void", "prompt: Count the breaths."],
         State.COUNT_READY),
        BEGIN, PLAYED,
        (later(59), ["nothing"]),
        (later(1), ["tone window_end"]),
    ],
    "a pause voids the window": [
        (BREATH, []), BEGIN, PLAYED,
        (command("pause"), ["hush", "note window_void item=breaths.rate why=paused"],
         State.PAUSED),
        (command("resume"), ["prompt: Count the breaths."], State.COUNT_READY),
    ],
    "a pause after the window comes back to the number": [
        (BREATH, []), BEGIN, PLAYED, (later(60), []),
        (command("pause"), []),
        (command("resume"), ["prompt: How many did you count?"], State.ASKING),
        (say(20.0), ["record 1 breaths.rate observed 20.0"]),
    ],
    "a window on another stream is void": [
        (BREATH, []), BEGIN, PLAYED,
        (elsewhere(tick()), ["note window_void", "prompt: Count the breaths."],
         State.COUNT_READY),
    ],
    "the dog would not have it while it was counted": [
        (BREATH, []), BEGIN, PLAYED,
        (command("wont_let"), ["note window_void",
                               "record 1 breaths.rate not_observed dog_refused"]),
    ],
    "only begin begins; what is not understood has an end": [
        (BREATH, []),
        (say("finish"), ["nothing"], State.COUNT_READY),
        (mumble(), ["notice: Say begin, or skip."], State.COUNT_READY),
        (mumble(), ["notice: Say begin, or skip."]),
        (mumble(), ["record 1 breaths.rate not_observed not_understood"]),
    ],
    "too loud is said when the window is over": [
        (BREATH, []), BEGIN, PLAYED,
        (loud(), ["note too_loud", "!notice"], State.COUNTING),
        (later(60), ["prompt: How many"]),
        (say(18.0), []),
        (say("yes"), ["notice: It is too loud to hear you safely."]),
    ],
    "stop while counting": [
        (BREATH, []), BEGIN, PLAYED,
        (command("stop"), ["note window_void", "conclude paused"]),
        (result(), ["result"]),
    ],
    "by keys": [
        (BREATH, []),
        (ENTER, ["tone window_start"], State.COUNTING),
        PLAYED,
        (ENTER, ["nothing"], State.COUNTING),
        (later(60), ["ask count"]),
        (ENTER, ["prompt: Type the number. | Or say skip."], State.ASKING),
    ],
}  # fmt: skip


@pytest.mark.parametrize("lines", REFILL.values(), ids=REFILL.keys())
def test_refill(lines: list[Line]) -> None:
    """Each case plays alike whole, step by step, and with noise between."""
    play(lines)


@pytest.mark.parametrize("lines", COUNT.values(), ids=COUNT.keys())
def test_count(lines: list[Line]) -> None:
    """Each case plays alike whole, step by step, and with noise between."""
    play(lines)
