"""Commands: help, repeat, back, pause, stop, the refusals, the menu, and doubtful ones."""

from __future__ import annotations

import pytest

from handsfree.dialogue.states import State
from handsfree.hearing.grammar import load as grammar
from handsfree.hearing.verdict import MeaningKind

from .script import (
    DOG,
    Line,
    command,
    later,
    maybe,
    maybe_command,
    mumble,
    opened,
    play,
    result,
    say,
    silence,
)

AT_GAIT: list[Line] = [
    (opened(), []),
    (say("none"), []),
    (say("pink"), []),
    (say("bright"), ["prompt: Bright. | Let it walk"]),
]

CASES: dict[str, list[Line]] = {
    "help says how, and once what else can be said": [
        (opened(), []),
        (command("help"), ["help: Look from where you are.", "can't see, won't let me, or options",
                           "listen now_signs"], State.ASKING),
        (command("help"), ["help: Look from where you are.", "!options."]),
        (say("none"), ["record 1 now.signs observed none"]),
    ],
    "repeat after help says the help again; else the question": [
        (opened(), []),
        (command("repeat"), ["prompt: Any hard breathing", "!help:"]),
        (command("help"), []),
        (command("repeat"), ["help: Look from where you are."]),
        (command("repeat"), ["help: Look from where you are."]),
        (mumble(), ["prompt: Is it fighting"]),
        (command("repeat"), ["prompt: Any hard breathing", "!help:"]),
    ],
    "a silence after help repeats the question, not the help": [
        (opened(), []),
        (command("help"), []),
        (silence(), ["prompt: Any hard breathing", "!help:"]),
    ],
    "help at a read-back says what yes and no do": [
        (opened(), []),
        (say("collapse"), []),
        (command("help"), ["help: Say yes if I have it right", "read_back: Collapse"],
         State.CONFIRMING),
        (command("repeat"), ["help: Say yes if I have it right"]),
    ],
    "back undoes the last answer and asks it anew; the correction names it": [
        (opened(), []),
        (say("none"), []),
        (command("back"), ["record 2 now.signs not_observed undone confirmed by voice corrects 1",
                           "notice: Back.", "prompt: Any hard breathing",
                           "!^confirm"]),
        (say("collapse"), ["record 3 now.signs observed collapse unconfirmed by voice corrects 2"]),
    ],
    "back at the first question says so": [
        (opened(), []),
        (command("back"), ["notice: This is the first question.", "prompt: Any hard breathing"]),
    ],
    "back at a read-back is a no": [
        (opened(), []),
        (say("collapse"), []),
        (command("back"), ["prompt: Is it fighting", "listen now_signs", "without collapse"]),
    ],
    "back over what the machine stored by itself goes to what was asked": [
        (opened(routine="ears", subject=DOG), []),
        (say("clean"), []),
        (say("clean"), ["not_applicable"]),
        (command("back"), ["record 4 ears.look/right not_observed undone", "How is the right ear"]),
    ],
    "each refusal is stored with its own reason": [
        (opened(), []),
        (command("skip"), ["record 1 now.signs not_observed skipped", "notice: Left out."]),
        (command("cant_see"), ["record 2 now.gums not_observed cannot_see",
                               "notice: Left: not seen."]),
        (command("wont_let"), ["record 3 watch.attitude not_observed dog_refused",
                               "notice: Left. Never force it.",
                               "caution: Stop if the dog growls or freezes.",
                               "prompt: Let it walk"]),
        (command("dont_know"), ["record 4 watch.gait not_observed not_known", "conclude complete"]),
    ],
    "when to stop is said once": [
        (opened(), []),
        (command("wont_let"), ["caution: Stop if the dog growls"]),
        (command("wont_let"), ["notice: Left. Never force it.", "!Stop if"]),
    ],
    "can't see asks by touch where there is a way": [
        *AT_GAIT,
        (command("cant_see"), ["!^record", "prompt: Let it walk beside you"], State.ASKING),
        (command("help"), ["help: Lay a hand on its shoulder."]),
        (mumble(), ["prompt: Let it walk beside you"]),
        (say("normal"), ["record 4 watch.gait observed normal unconfirmed by touch"]),
    ],
    "can't see twice leaves it": [
        *AT_GAIT,
        (command("cant_see"), []),
        (command("cant_see"), ["record 4 watch.gait not_observed cannot_see"]),
    ],
    "skip at a read-back leaves the question": [
        (opened(), []),
        (say("none"), []),
        (say("dark"), []),
        (command("skip"), ["record 3 now.gums not_observed skipped confirmed by voice corrects 2"]),
    ],
    "skip at the read-back of an alarming answer keeps it": [
        (opened(), []),
        (say("collapse"), []),
        (command("skip"), ["confirm now.signs=collapse possible", "!skipped"]),
    ],
    "pause falls silent, and only resume and stop are open": [
        (opened(), []),
        (command("pause"), ["hush", "note paused why=asked", "notice: Paused. All is saved.",
                            "listen - [resume,stop]"], State.PAUSED),
        (command("skip"), ["nothing"], State.PAUSED),
        (command("help"), ["nothing"], State.PAUSED),
        (say("none"), ["nothing"], State.PAUSED),
        (command("resume"), ["note resumed", "notice: Going on with signs that cannot wait.",
                             "prompt: Any hard breathing"], State.ASKING),
    ],
    "a pause at a read-back comes back to it": [
        (opened(), []),
        (say("collapse"), []),
        (command("pause"), [], State.PAUSED),
        (command("resume"), ["read_back: Collapse: yes or no?"], State.CONFIRMING),
    ],
    "a paused check can be stopped": [
        (opened(), []),
        (command("pause"), []),
        (command("stop"), ["notice: Stopped. All is saved.", "conclude paused"]),
        (result(), ["result: Nothing was found."], State.TELLING),
        (later(6, silence()), ["finish paused"], State.FINISHED),
    ],
    "stop judges what is there, tells it, and a second stop ends that": [
        (opened(), []),
        (say("none"), []),
        (command("stop"), ["confirm now.signs=none confirmed", "hush",
                           "notice: Stopped. All is saved.", "conclude paused"]),
        (result("One.", "Two."), ["ask result", "result: One. | Two.",
                                  "notice: Say repeat, ask about the past, or say done."],
         State.TELLING),
        (command("repeat"), ["result: One. | Two."]),
        (command("stop"), ["hush", "notice: All is saved. Goodbye.", "finish paused"],
         State.FINISHED),
    ],
    "a pause in the result comes back to it": [
        (opened(), []),
        (command("stop"), []),
        (result("One."), []),
        (command("pause"), ["hush"], State.PAUSED),
        (command("resume"), ["result: One."], State.TELLING),
    ],
    "nothing is taken after the end": [
        (opened(), []),
        (command("stop"), []),
        (result(), []),
        (command("done"), ["finish paused"]),
        (say("pale"), ["nothing"], State.FINISHED),
    ],
    "a doubtful stop is obeyed as a pause": [
        (opened(), []),
        (maybe_command("stop", 0.2), ["hush", "notice: Paused."], State.PAUSED),
    ],
    "a doubtful pause is obeyed": [
        (opened(), []),
        (say("collapse"), []),
        (maybe_command("pause", 0.2), ["hush"], State.PAUSED),
    ],
    "a doubtful skip is not obeyed, however often": [
        (opened(), []),
        (maybe_command("skip"), ["!^record", "prompt: Is it fighting"]),
        (maybe_command("skip"), ["!^record", "prompt: You can say"]),
    ],
    "a doubtful go-to is not obeyed, and the menu has an end": [
        (opened(), []),
        (command("options"), []),
        (maybe_command("goto"), ["tone not_heard", "prompt: Slower, faster"], State.OPTIONS),
        (maybe_command("goto"), ["prompt: Slower, faster"], State.OPTIONS),
        (maybe_command("goto"), ["notice: Back to the question.", "prompt: Any hard breathing"],
         State.ASKING),
    ],
    "while paused a doubtful resume said twice counts; other sounds are answered twice": [
        (opened(), []),
        (command("pause"), []),
        (mumble(), ["tone not_heard", "notice: Say resume, or stop."]),
        (mumble(), ["notice: Say resume, or stop."]),
        (mumble(), ["nothing"], State.PAUSED),
        (maybe_command("resume"), ["nothing"]),
        (maybe_command("resume"), ["note resumed"], State.ASKING),
    ],
    "options open the rest, and resume comes back": [
        (opened(), []),
        (command("options"), ["ask options", "prompt: Slower, faster, where am I, go to, what "
                              "remains, keys, or resume.", "listen - [faster,goto,help,keys,pause,"
                              "remaining,repeat,resume,slower,stop,where]"], State.OPTIONS),
        (command("help"), ["help: Slower and faster", "prompt: Slower"], State.OPTIONS),
        (command("resume"), ["prompt: Any hard breathing"], State.ASKING),
    ],
    "slower and faster": [
        (opened(), []),
        (command("options"), []),
        (command("slower"), ["pace -1", "notice: Slower.", "prompt: Any hard"], State.ASKING),
        (command("options"), []),
        (command("faster"), ["pace +1", "notice: Faster."], State.ASKING),
    ],
    "where am I": [
        (opened(routine="full"), []),
        (command("options"), []),
        (command("where"), ["notice: You are at signs that cannot wait. | 7 parts to go",
                            "prompt: Any hard"], State.ASKING),
    ],
    "where am I, in the last part": [
        (opened(routine="signs"), []),
        (command("options"), []),
        (command("where"), ["You are at signs that cannot wait. | This is the last part."]),
    ],
    "what remains is told a few parts at a time": [
        (opened(routine="full"), []),
        (command("options"), []),
        (command("remaining"), ["help: 7 parts remain: | Signs that cannot wait, watching from a "
                                "distance, breaths at rest, the weight and the mouth. | The ears "
                                "and the temperature.", "prompt: Any hard"], State.ASKING),
    ],
    "keys are told in the menu": [
        (opened(), []),
        (command("options"), []),
        (command("keys"), ["prompt: By key: 1 for none"], State.ASKING),
    ],
    "go to asks for the part with a grammar of its own": [
        (opened(routine="full"), []),
        (command("options"), []),
        (command("goto"), ["ask goto", "prompt: Which part?",
                           "listen region [back,help,pause,repeat,stop]"], State.GOTO),
        (command("help"), ["help: Say the part", "prompt: Which part?"], State.GOTO),
        (say("ears"), ["notice: Going to the ears.", "prompt: How is the left ear"], State.ASKING),
        (say("clean"), []),
        (say("clean"), ["prompt: Right ear clean. | What does the thermometer"]),
        (command("skip"), ["prompt: Any hard breathing"]),
    ],
    "go to an unknown part, and back from go to": [
        (opened(), []),
        (command("options"), []),
        (command("goto"), []),
        (say("ears"), ["notice: That is not part of this check.", "prompt: Any hard"],
         State.ASKING),
        (command("options"), []),
        (command("goto"), []),
        (command("back"), ["notice: Back.", "prompt: Any hard"], State.ASKING),
    ],
    "a doubtful part is not gone to": [
        (opened(), []),
        (command("options"), []),
        (command("goto"), []),
        (maybe("watch", 0.8), ["prompt: Which part?"], State.GOTO),
        (maybe("watch", 0.8), ["prompt: Which part?"], State.GOTO),
        (maybe("watch", 0.8), ["notice: I stay here.", "prompt: Any hard"], State.ASKING),
    ],
    "a part asked again keeps what stands when it is skipped": [
        (opened(), []),
        (say("none"), []),
        (say("pink"), []),
        (command("options"), ["confirm now.gums=pink confirmed"]),
        (command("goto"), []),
        (say("now"), ["prompt: Any hard breathing"]),
        (command("skip"), ["!^record", "notice: I keep what you said before.", "prompt: Lift"]),
        (say("dark"), ["record 3 now.gums observed dark unconfirmed by voice corrects 2"]),
    ],
    "a settled alarm asked again stays when it is skipped": [
        (opened(), []),
        (say("collapse"), []),
        (say("yes"), []),
        (command("options"), []),
        (command("goto"), []),
        (say("now"), ["prompt: Any hard breathing"]),
        (command("skip"), ["!^record", "!^confirm", "notice: I keep that as possible."]),
    ],
    "go to leaves a denied alarm as possible and comes back to it": [
        (opened(), []),
        (say("none"), []),
        (say("pale"), []),
        (say("no"), []),
        (command("options"), []),
        (command("goto"), []),
        (say("watch"), ["confirm now.gums=pale possible", "prompt: How does the dog"]),
        (say("bright"), []),
        (say("normal"), ["prompt: Walks normally. | Lift the lip"]),
    ],
    "a command that is not open does nothing": [
        (opened(), []),
        (command("done"), ["nothing"]),
        (command("go_on"), ["nothing"]),
        (command("scrap"), ["nothing"]),
        (command("resume"), ["nothing"], State.ASKING),
    ],
}  # fmt: skip


@pytest.mark.parametrize("lines", CASES.values(), ids=CASES.keys())
def test_command(lines: list[Line]) -> None:
    """Each case plays alike whole, step by step, and with noise between."""
    play(lines)


OFFERED = (
    ("commands", MeaningKind.COMMAND, "help", "help"),
    ("commands", MeaningKind.COMMAND, "repeat", "repeat"),
    ("commands", MeaningKind.COMMAND, "go back", "back"),
    ("commands", MeaningKind.COMMAND, "pause", "pause"),
    ("commands", MeaningKind.COMMAND, "stop", "stop"),
    ("commands", MeaningKind.COMMAND, "resume", "resume"),
    ("commands", MeaningKind.COMMAND, "skip", "skip"),
    ("commands", MeaningKind.COMMAND, "can't see", "cant_see"),
    ("commands", MeaningKind.COMMAND, "won't let me", "wont_let"),
    ("commands", MeaningKind.COMMAND, "options", "options"),
    ("commands", MeaningKind.COMMAND, "slower", "slower"),
    ("commands", MeaningKind.COMMAND, "faster", "faster"),
    ("commands", MeaningKind.COMMAND, "where am i", "where"),
    ("commands", MeaningKind.COMMAND, "go to", "goto"),
    ("commands", MeaningKind.COMMAND, "what remains", "remaining"),
    ("commands", MeaningKind.COMMAND, "keys", "keys"),
    ("commands", MeaningKind.COMMAND, "go on", "go_on"),
    ("commands", MeaningKind.COMMAND, "i called the vet", "told"),
    ("commands", MeaningKind.COMMAND, "done", "done"),
    ("confirm", MeaningKind.ANSWER, "yes", "yes"),
    ("confirm", MeaningKind.ANSWER, "no", "no"),
    ("start_stop", MeaningKind.ANSWER, "begin", "start"),
    ("press", MeaningKind.ANSWER, "press", "press"),
    ("region", MeaningKind.ANSWER, "the ears", "ears"),
    ("weight", MeaningKind.ANSWER, "twelve point four kilos", 12.4),
    ("integer", MeaningKind.ANSWER, "twenty four", 24.0),
)
"""What the machine tells people to say, and what that must mean."""


@pytest.mark.parametrize(("name", "kind", "phrase", "value"), OFFERED)
def test_what_is_offered_is_understood(
    name: str, kind: MeaningKind, phrase: str, value: str | float
) -> None:
    """Nobody is told to say what the grammars do not know."""
    meaning = grammar(name).meaning(tuple(phrase.split()), kind)
    assert meaning is not None
    assert meaning.value == value
