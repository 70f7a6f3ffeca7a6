"""Opening: first words, resuming, carried questions, low vision, cautions, brief prompts."""

from __future__ import annotations

from typing import Any

import pytest

from handsfree.dialogue.events import PriorAnswer
from handsfree.dialogue.machine import Exam
from handsfree.dialogue.states import State
from handsfree.errors import CallerError
from handsfree.protocol.subject import Part, Sight, Size, Subject

from .script import (
    Line,
    command,
    events_of,
    maybe,
    mumble,
    opened,
    play,
    result,
    say,
    silence,
    stopped,
    typed,
)
from .small import SMALL


def prior(ref: int, item: str, value: str | float | None, **more: Any) -> PriorAnswer:
    """Return an answer that is stored already."""
    given = {"status": "observed", **more}
    return PriorAnswer(ref=ref, item=item, value=value, **given)


BIG = Subject(name="Bramble", size=Size.GIANT, has_bitten=True)

CASES: dict[str, list[Line]] = {
    "the first words": [
        (opened(asked_now="No vet's number is stored yet."),
         ["notice: The short check for Bramble. | This does not replace a vet. | Answer after the "
          "tone. Say help, pause or stop at any time. | No vet's number is stored yet.",
          "prompt: Any hard breathing"]),
    ],
    "a practised person hears less, and the shorter of two wordings": [
        (opened(brief=True), ["notice: The short check for Bramble.", "!replace a vet",
                              "prompt: Any hard breathing"]),
        (say("none"), []),
        (say("pink"), ["!Step back", "prompt: Gums pink. | How does the dog seem today?"]),
        (say("bright"), ["prompt: Bright. | Normal, stiff, or limping?"]),
        (mumble(), ["prompt: Let it walk: how does it walk?"]),
    ],
    "a region's words come once": [
        (opened(), []),
        (say("none"), []),
        (say("pink"), ["echo: Gums pink.", "notice: Step back and watch.", "prompt: How"]),
        (say("bright"), ["!Step back"]),
    ],
    "the light is asked for once, cautions once, with those for this dog": [
        (opened(routine="full", subject=BIG), []),
        (say("none"), ["note cautioned key=may_bite", "caution: Any dog in pain may bite.",
                       "caution: Have a second person there.",
                       "caution: Never muzzle a dog that pants hard.",
                       "notice: Use daylight or a white light."]),
        (command("back"), []),
        (say("none"), ["!caution", "!daylight"]),
    ],
    "cautions told today are not told again": [
        (opened(subject=BIG, cautioned=("may_bite",)), []),
        (say("none"), ["!caution"]),
    ],
    "resumed behind the last answer, with the place told": [
        (opened(routine="full", prior=(prior(1, "now.signs", "none"), prior(2, "now.gums", "pink"),
                                       prior(3, "watch.attitude", "bright"))),
         ["notice: Welcome back to Bramble's check. | We go on with watching from a distance.",
          "prompt: Let it walk", "!replace a vet"]),
        (say("normal"), ["record 4 watch.gait observed normal"]),
    ],
    "resumed at the same question, even where others were passed over": [
        (opened(routine="full", prior=(prior(1, "now.signs", "none"),
                                       prior(2, "ears.look", "clean", side="left"))),
         ["We go on with the ears.", "prompt: How is the right ear?"]),
        (say("clean"), ["not_applicable", "thermometer"]),
        (command("skip"), ["Lift the lip"]),
    ],
    "an answer that was not settled is asked anew": [
        (opened(prior=(prior(1, "now.signs", "none"),
                       prior(2, "now.gums", "dark", confirmed="unconfirmed"))),
         ["prompt: Lift the lip"]),
        (say("pink"), ["record 3 now.gums observed pink unconfirmed by voice corrects 2"]),
    ],
    "an alarming answer that was not settled survives the crash and a skip": [
        (opened(prior=(prior(1, "now.signs", "none"),
                       prior(2, "now.gums", "pale", confirmed="unconfirmed"))),
         ["prompt: Lift the lip"]),
        (command("skip"), ["confirm ref 2 possible", "notice: I keep that as possible."]),
    ],
    "an alarm behind an answer that was not settled survives the crash and a skip": [
        (opened(prior=(prior(1, "now.signs", "none"),
                       prior(3, "now.gums", "pink", confirmed="unconfirmed", earlier=("pale",)))),
         ["prompt: Lift the lip"]),
        (command("skip"), ["record 4 now.gums observed pale possible by machine corrects 3",
                           "notice: I keep that as possible."]),
    ],
    "an alarm behind an answer that was not settled is kept although nothing is asked any more": [
        (opened(sight=Sight.LOW,
                prior=(prior(3, "now.gums", "pink", confirmed="unconfirmed", earlier=("pale",)),)),
         ["Is a sighted person"], State.HELPER),
        (command("stop"), ["record 4 now.gums observed pale possible", "conclude paused"]),
    ],
    "an alarm cleared before the crash comes back when that is undone after it": [
        (opened(prior=(prior(1, "now.signs", "none"),
                       prior(3, "now.gums", "pink", earlier=("pale",)))),
         ["prompt: How does the dog seem"]),
        (command("back"), ["record 4 now.gums observed pale possible", "!undone"]),
    ],
    "what was seen before the crash stays where nobody sees after it": [
        (opened(sight=Sight.NONE,
                prior=(prior(1, "now.signs", "none"),
                       prior(2, "now.gums", "pale", confirmed="unconfirmed"))), []),
        (say("no"), ["confirm ref 2 possible", "!cannot_see", "prompt: How does the dog seem"]),
        (command("goto"), []),
        (say("now"), ["prompt: Any hard breathing"]),
        (say("none"), ["!cannot_see", "prompt: How does the dog seem"]),
    ],
    "a settled answer stays as well where nobody sees any more": [
        (opened(sight=Sight.NONE, prior=(prior(1, "now.signs", "none"),
                                         prior(2, "now.gums", "pink"))), []),
        (say("no"), ["prompt: How does the dog seem"]),
        (command("goto"), []),
        (say("now"), ["prompt: Any hard breathing"]),
        (say("none"), ["!cannot_see", "prompt: How does the dog seem"]),
    ],
    "a possible alarm is not asked anew": [
        (opened(prior=(prior(1, "now.signs", "collapse", confirmed="possible"),)),
         ["prompt: Lift the lip"]),
    ],
    "an undone answer is asked anew": [
        (opened(prior=(prior(1, "now.signs", None, status="not_observed", reason="undone"),)),
         ["prompt: Any hard breathing"]),
    ],
    "back works over what was answered before the crash": [
        (opened(prior=(prior(1, "now.signs", "none"),)), []),
        (command("back"), ["record 2 now.signs not_observed undone", "corrects 1"]),
    ],
    "all was answered already": [
        (opened(routine="signs", prior=(prior(1, "now.signs", "none"),
                                        prior(2, "now.gums", "pink"))),
         ["notice: Welcome back to Bramble's check.", "conclude complete"], State.CONCLUDING),
        (result(), []),
    ],
    "what the last check left is asked right behind the signs that cannot wait": [
        (opened(routine="mouth", carried=("watch.attitude", "no.such")), ["prompt: After four"]),
        (command("skip"), ["prompt: How are the teeth"]),
        (say("clean"), ["echo: Teeth clean.", "prompt: How does the dog seem"]),
    ],
    "low vision: a helper is asked for, what can be felt is asked by touch": [
        (opened(sight=Sight.NONE), ["ask helper", "prompt: The short check", "Is a sighted person",
                                    "listen yes_no [help,pause,repeat,stop]"], State.HELPER),
        (command("help"), ["help: Some things must be seen."], State.HELPER),
        (say("no"), ["note helper there=no", "notice: I ask for what can be felt",
                     "prompt: Any hard breathing"]),
        (say("none"), ["record 2 now.gums not_observed cannot_see confirmed by machine",
                       "echo: No urgent sign.", "prompt: How does the dog seem"]),
        (say("bright"), ["prompt: Bright. | Let it walk beside you"]),
        (command("back"), ["record 4 watch.attitude not_observed undone"]),
        (command("back"), ["record 5 now.signs not_observed undone"]),
    ],
    "low vision with a helper: all is asked": [
        (opened(sight=Sight.LOW), []),
        (say("yes"), ["note helper there=yes", "prompt: Any hard breathing"]),
        (say("none"), ["echo: No urgent sign.", "prompt: Lift the lip"]),
    ],
    "a helper that is known of is not asked for": [
        (opened(sight=Sight.NONE, helper=True), ["prompt: Any hard breathing"], State.ASKING),
    ],
    "whether a helper is there is asked anew when it goes on": [
        (opened(sight=Sight.LOW, prior=(prior(1, "now.signs", "none"),)),
         ["prompt: Welcome back", "Is a sighted person with you?"], State.HELPER),
        (say("yes"), ["prompt: Lift the lip"]),
    ],
    "the helper's question has an end, and no is the safe one": [
        (opened(sight=Sight.LOW), []),
        (mumble(), ["prompt: Yes or no? | Is a sighted person"], State.HELPER),
        (mumble(), ["prompt: Yes or no?"], State.HELPER),
        (mumble(), ["note helper there=no"], State.ASKING),
    ],
    "the helper's question takes a doubtful word said twice, keys, pause and stop": [
        (opened(sight=Sight.LOW), []),
        (silence(), ["Is a sighted person"], State.HELPER),
        (maybe("yes"), ["Is a sighted person"], State.HELPER),
        (maybe("yes"), ["note helper there=yes"], State.ASKING),
    ],
    "a pause at the helper's question comes back to it": [
        (opened(sight=Sight.LOW), []),
        (command("pause"), ["hush"], State.PAUSED),
        (command("resume"), ["Is a sighted person"], State.HELPER),
        (typed("n"), ["note helper there=no"], State.ASKING),
    ],
    "the helper's question can be stopped at": [
        (opened(sight=Sight.LOW), []),
        (command("stop"), ["conclude paused"]),
        (result(), ["result"]),
    ],
    "a part that the dog lacks is not asked after": [
        (opened(routine="ears",
                subject=Subject(name="Bramble", missing=frozenset({Part.LEFT_EAR}))),
         ["record 1 ears.look/left not_applicable missing_part", "prompt: How is the right ear?"]),
    ],
    "the program ends in the middle": [
        (opened(), []),
        (say("none"), []),
        (stopped(), ["note stopped why=SIGTERM", "hush", "finish paused"], State.FINISHED),
    ],
}  # fmt: skip


@pytest.mark.parametrize("lines", CASES.values(), ids=CASES.keys())
def test_opening(lines: list[Line]) -> None:
    """Each case plays alike whole, step by step, and with noise between."""
    play(lines)


def test_an_unknown_routine_is_named() -> None:
    """The error says which routines there are, and nothing has begun."""
    exam = Exam(SMALL)
    with pytest.raises(CallerError, match=r"no routine 'thorough'.*short"):
        exam.step(events_of([opened(routine="thorough")])[0])
    assert exam.state is State.READY


def test_nothing_comes_before_the_opening_and_no_second_one() -> None:
    """An event out of place is a mistake of the driver and raises."""
    first, answer = events_of([opened(), say("none")])
    exam = Exam(SMALL)
    with pytest.raises(RuntimeError, match="not opened yet"):
        exam.step(answer)
    exam.step(first)
    with pytest.raises(RuntimeError, match="opened already"):
        exam.step(first)
    assert exam.state is State.ASKING
