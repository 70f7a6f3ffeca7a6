"""The simulated person: hears what is meant, knows the dog, answers with a real voice.

It is told what the assistant asks (the meaning, never the sound) and when it falls silent; it says
its answers into the virtual microphone after a person's pause. It corrects what it hears echoed
wrongly, as a person would. It never sees how it was understood in any other way.
"""

from __future__ import annotations

import random
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from handsfree.audio.device import SAMPLE_RATE, Samples
from handsfree.dialogue.actions import Action, Ask, Listen, Record, Status, Tick
from handsfree.dialogue.events import Event
from handsfree.hearing.grammar import load
from handsfree.hearing.verdict import MeaningKind
from handsfree.numerals import in_words
from handsfree.protocol.model import Kind, Protocol, Question
from handsfree.rehearsal.scenario import Behaviour, Scenario

__all__ = ["Examiner", "Said"]

PAUSE_S = (0.35, 0.9)
"""How long a person takes to answer, at least and at most."""


AGAIN_S = 25.0
"""After so long a silence a person says it once more, unless they are in a hurry."""
_NOTHING_TO_SAY = {"hold", "release", "rest", "counting"}


@dataclass(frozen=True, kw_only=True)
class Said:
    """One utterance as it was spoken into the room; ``after`` samples of quiet."""

    text: str
    start: int
    end: int
    after: int = 0
    aside: bool = False


@dataclass
class _Plan:
    """An utterance waiting for its moment."""

    text: str
    after_s: float
    at: int | None = None
    aside: bool = False


class Examiner:
    """Speaks for the scenario's person. ``hears`` and ``source`` are all that the room calls.

    Args:
        scenario: Whom and what it plays.
        protocol: To know what can be answered.
        speak: Text and voice to samples.
        silent: Whether the assistant is silent at this moment.
        gain: Level of the voice.
    """

    def __init__(
        self,
        scenario: Scenario,
        protocol: Protocol,
        *,
        speak: Callable[[str, str], Samples],
        silent: Callable[[], bool],
        gain: float = 1.0,
    ) -> None:
        self._scenario = scenario
        self._protocol = protocol
        self._speak = speak
        self._silent = silent
        self._gain = gain
        self._random = random.Random(scenario.seed)
        self.voice = self._random.choice(scenario.voices)
        self._plans: deque[_Plan] = deque()
        self._sound: deque[tuple[int, Samples]] = deque()
        self._quiet_since: int | None = None
        self._behaviours: list[Behaviour] = list(scenario.behaviours)
        self._script: deque[str] = deque()
        self._asks: deque[str] = deque(scenario.asks)
        self._wrong_echo = False
        self._repeat = 0
        self._last_ask: Ask | None = None
        self.said: list[Said] = []
        self.corrections = 0

    again_s = AGAIN_S
    """After so long a silence this person says it once more."""

    # what the room calls

    def hears(self, event: Event, actions: tuple[Action, ...]) -> None:
        """Take the meaning of what the assistant does."""
        ask: Ask | None = None
        listens = False
        for action in actions:
            if isinstance(action, Ask):
                ask = action
            elif isinstance(action, Listen):
                listens = True
            elif isinstance(action, Record):
                self._take_echo(action)
            elif isinstance(action, Tick):
                self._plan_release(event.sample, action)
        if ask is not None and ask.stage == "hold":
            self._last_ask = ask  # the words of the stopwatch are planned with its ticks
        elif ask is not None and listens:
            self._plans.clear()
            self._answer(ask)
        elif listens and not self._plans and not self._sound and ask is None:
            self._answer_last()

    def source(self, start: int, count: int) -> Samples:
        """Return what the person says during these samples."""
        self._begin_due(start)
        out = np.zeros(count, dtype=np.int32)
        while self._sound:
            at, sound = self._sound[0]
            offset = start - at
            if offset + count <= 0:
                break
            low, high = max(offset, 0), min(offset + count, len(sound))
            if low < high:
                out[low - offset : high - offset] += sound[low:high]
            if offset + count >= len(sound):
                self._sound.popleft()
                continue
            break
        return np.clip(out, -32768, 32767).astype(np.int16)

    # when to speak

    def _begin_due(self, now: int) -> None:
        if self._sound:
            self._quiet_since = None
            return
        if self._plans and self._plans[0].at is not None:
            if now >= self._plans[0].at:
                self._utter(self._plans.popleft(), now)
            return
        if not self._silent():
            self._quiet_since = None
            return
        if self._quiet_since is None:
            self._quiet_since = now
        if not self._plans and now - self._quiet_since >= self.again_s * SAMPLE_RATE:
            self._quiet_since = now
            self._answer_last()
        if self._plans and now - self._quiet_since >= self._plans[0].after_s * SAMPLE_RATE:
            self._utter(self._plans.popleft(), now)
            self._quiet_since = None

    def _utter(self, plan: _Plan, now: int) -> None:
        sound = self._speak(plan.text, self.voice)
        if self._gain != 1.0:
            sound = np.clip(sound * self._gain, -32768, 32767).astype(np.int16)
        start = plan.at if plan.at is not None else now
        after = 0 if self._quiet_since is None else max(0, start - self._quiet_since)
        self._sound.append((start, sound))
        self.said.append(
            Said(
                text=plan.text, start=start, end=start + len(sound), after=after, aside=plan.aside
            )
        )  # fmt: skip

    def _say(self, text: str, *, aside: bool = False, after_s: float | None = None) -> None:
        pause = self._random.uniform(*PAUSE_S) if after_s is None else after_s
        self._plans.append(_Plan(text=text, after_s=pause, aside=aside))

    # what to say

    def _answer(self, ask: Ask) -> None:
        self._last_ask = ask
        stage = ask.stage
        if self._wrong_echo and stage not in ("confirm", "paused", "options", "goto"):
            self._wrong_echo = False
            self.corrections += 1
            self._say("go back")
            return
        if ask.item is not None and stage in ("question", "press", "start"):
            self._take_behaviour(ask)
        if self._script and stage != "confirm":
            self._follow_script(ask)
            return
        if stage == "question" or stage == "count":
            self._answer_question(ask)
        elif stage == "confirm":
            self._say("yes" if self._is_true(ask.read_back, ask) else "no")
        elif stage == "press":
            refusal = self._scenario.truth.refusal(ask.item or "")
            self._say(self._command(refusal) if refusal else "press")
        elif stage == "start":
            refusal = self._scenario.truth.refusal(ask.item or "")
            self._say(self._command(refusal) if refusal else "begin")
        elif stage == "helper":
            self._say("yes" if self._scenario.helper else "no")
        elif stage in ("paused", "options"):
            self._say("resume")
        elif stage == "goto":
            self._say("go back")
        elif stage == "alarm":
            self._say("keep going", after_s=1.2)
        elif stage == "result":
            # Longer than the gaps between sentences: the person hears the result to its end.
            self._say(self._asks.popleft() if self._asks else "done", after_s=1.4)

    def _answer_last(self) -> None:
        """The assistant listens again without asking anew: say it once more."""
        if self._last_ask is not None and self._last_ask.stage not in _NOTHING_TO_SAY:
            self._answer(self._last_ask)

    def _take_behaviour(self, ask: Ask) -> None:
        for behaviour in self._behaviours:
            if behaviour.at == ask.item and behaviour.side in (None, ask.side):
                self._behaviours.remove(behaviour)
                self._script.extend(behaviour.do)
                return

    def _follow_script(self, ask: Ask) -> None:
        line = self._script.popleft()
        if line.startswith("aside:"):
            self._say(line.removeprefix("aside:"), aside=True)
            if self._script:
                self._say(self._script.popleft(), after_s=2.5)
            else:
                before = len(self._plans)
                self._answer_question(ask)
                for plan in list(self._plans)[before:]:
                    plan.after_s = 2.5
        elif line.startswith("wrong:"):
            self._say(self._phrase_for(line.removeprefix("wrong:"), self._question(ask)))
        else:
            self._say(line)

    def _answer_question(self, ask: Ask) -> None:
        assert ask.item is not None
        question = self._question(ask)
        refusal = self._scenario.truth.refusal(ask.item)
        if refusal is not None:
            self._say(self._command(refusal))
            return
        value = self._truth(ask)
        if question.kind is Kind.CHOICE:
            self._say(self._phrase_for(str(value), question))
        elif ask.stage == "count":
            window = self._window(ask)
            self._say(in_words(round(float(value) * window / 60)))
        else:
            unit = {"kg": " kilos", "Cel": " degrees", "mm": " millimetres"}
            self._say(in_words(float(value)) + unit.get(question.unit or "", ""))

    def _window(self, ask: Ask) -> int:
        routine = self._protocol.routines[self._scenario.routine]
        return routine.window_s.get(ask.item or "", self._question(ask).windows_s[0])

    def _plan_release(self, sample: int, tick: Tick) -> None:
        """Let go just after the last tick, and say now when the colour is back."""
        truth = self._scenario.truth
        refill_s = truth.refill_s[self._repeat % len(truth.refill_s)]
        self._repeat += 1
        release = sample + round((tick.count * tick.every_s + 0.35) * SAMPLE_RATE)
        self._plans.clear()
        self._plans.append(_Plan(text="release", after_s=0, at=release))
        self._plans.append(_Plan(text="now", after_s=0, at=release + round(refill_s * SAMPLE_RATE)))

    # what is true, and how it is said

    def _take_echo(self, record: Record) -> None:
        if record.status is not Status.OBSERVED or record.value is None:
            return
        question = self._protocol.question(record.item)
        usual = question.kind is Kind.CHOICE and (
            not question.normal or record.value in question.normal
        )
        if not usual or record.value in question.alarming:
            return
        truth = self._scenario.truth.value(record.item, record.side, question)
        refused = self._scenario.truth.refusal(record.item) is not None
        self._wrong_echo = refused or record.value != truth

    def _is_true(self, value: str | float | None, ask: Ask) -> bool:
        if self._scenario.truth.refusal(ask.item or "") is not None:
            return False
        truth = self._truth(ask)
        if isinstance(truth, str) or isinstance(value, str) or value is None:
            return value == truth
        if self._question(ask).kind is Kind.COUNT:
            window = self._window(ask)
            return abs(value - round(truth * window / 60) * 60 / window) < 0.01
        return abs(value - truth) < 0.01

    def _truth(self, ask: Ask) -> str | float:
        assert ask.item is not None
        return self._scenario.truth.value(ask.item, ask.side, self._question(ask))

    def _question(self, ask: Ask) -> Question:
        assert ask.item is not None
        return self._protocol.question(ask.item)

    def _phrase_for(self, value: str, question: Question) -> str:
        """Return one of the ways to say a value, drawn by the seed."""
        phrases = [
            " ".join(words)
            for words, meaning in load(question.grammar).listed(MeaningKind.ANSWER)
            if meaning.value == value
        ]
        if not phrases:
            msg = f"no phrase of grammar {question.grammar} means {value!r}"
            raise ValueError(msg)
        short = sorted(phrases, key=len)[: max(3, len(phrases) // 3)]
        return self._random.choice(short)

    def _command(self, token: str) -> str:
        phrases = _commands()[token]
        return self._random.choice(phrases[: min(2, len(phrases))])


def _commands() -> Mapping[str, list[str]]:
    table: dict[str, list[str]] = {}
    for words, meaning in load("commands").listed(MeaningKind.COMMAND):
        table.setdefault(str(meaning.value), []).append(" ".join(words))
    return table
