"""One exam being run: events in, actions carried out, everything stored and judged on the way.

Knows no microphone, loudspeaker or keyboard: those belong to the drivers, which feed events here
and lend an output. An answer is stored before it is spoken of; after each stored answer judging
runs and what it finds comes back as an event, so that a replay gives the same.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Protocol

from handsfree.dialogue.actions import (
    Action,
    Ask,
    Conclude,
    Confirm,
    Finish,
    Hush,
    Inquire,
    Listen,
    LogFact,
    Measure,
    Record,
    SetPace,
    Speak,
    Tick,
    Tone,
)
from handsfree.dialogue.events import Alarmed, Concluded, Event, Heard, Opened, Ticked, Told
from handsfree.dialogue.states import State
from handsfree.hearing.verdict import Meaning, Outcome
from handsfree.interview.fading import Fade

__all__ = ["Driven", "ExamRunner", "Judge", "Observer", "Output", "Recorder", "Steps", "Warning_"]


class Steps(Protocol):
    """A machine that can be run: the exam, or a shorter talk of the same shape."""

    @property
    def state(self) -> State:
        """What it waits for."""
        ...

    def step(self, event: Event) -> tuple[Action, ...]:
        """Take one event and return what is to be done, in order."""
        ...


class Recorder(Protocol):
    """Where an exam is stored. Each call is committed before it returns."""

    def record(self, action: Record) -> None:
        """Store an answer."""
        ...

    def confirm(self, action: Confirm) -> None:
        """Store how far an answer is settled."""
        ...

    def measure(self, action: Measure) -> None:
        """Store a raw repeat."""
        ...

    def fact(self, action: LogFact) -> None:
        """Store a fact of the exam."""
        ...

    def log(self, event: Event, actions: Sequence[Action]) -> None:
        """Store an event and what it led to, for replay."""
        ...

    def finish(self, outcome: str) -> None:
        """Close the exam."""
        ...


class Warning_(Protocol):  # noqa: N801 - the plain name is Python's own
    """A finding that cannot wait, as judging gives it."""

    @property
    def rule(self) -> str: ...  # noqa: D102
    @property
    def level(self) -> str: ...  # noqa: D102
    @property
    def say(self) -> str: ...  # noqa: D102
    @property
    def avoid(self) -> str: ...  # noqa: D102


class Judge(Protocol):
    """Judging, as an exam needs it."""

    def take(self, action: Record | Confirm) -> Sequence[Warning_]:
        """Take note of a stored answer; return what fires and cannot wait."""
        ...

    def standing(self) -> Sequence[Warning_]:
        """Return what fires on the answers of an exam that resumes and cannot wait."""
        ...

    def conclude(self, outcome: str) -> tuple[str, ...]:
        """Judge the exam, store the result, and return it as sentences to speak."""
        ...


class Output(Protocol):
    """Who speaks, sounds and listens."""

    def speak(self, action: Speak) -> None:
        """Speak behind what is queued."""
        ...

    def tone(self, action: Tone) -> None:
        """Play a tone behind what is queued."""
        ...

    def tick(self, action: Tick) -> None:
        """Play soft ticks with the microphone open."""
        ...

    def fade(self, action: Fade) -> None:
        """Play a tone that fades at a known moment, and tell when it had."""
        ...

    def hush(self) -> None:
        """Fall silent at once."""
        ...

    def listen(self, action: Listen) -> None:
        """Listen once all is spoken."""
        ...

    def pace(self, step: int) -> None:
        """Speak slower or faster."""
        ...


class Driven(Protocol):
    """What a driver runs: one exam or talk."""

    @property
    def finished(self) -> str | None:
        """The outcome, once it is over."""
        ...

    @property
    def asked(self) -> Ask | None:
        """What is being asked."""
        ...

    @property
    def exam(self) -> Steps:
        """The machine."""
        ...

    def feed(self, event: Event) -> None:
        """Take an event, and carry out what follows."""
        ...


Observer = Callable[[Event, tuple[Action, ...]], None]


class ExamRunner:
    """Runs one exam, or a shorter talk. ``feed`` is called by one thread only."""

    def __init__(
        self,
        exam: Steps,
        *,
        recorder: Recorder,
        judge: Judge,
        output: Output,
        observers: Sequence[Observer] = (),
        past: Callable[[Meaning], str] | None = None,
    ) -> None:
        self._past = past
        self._exam = exam
        self._recorder = recorder
        self._judge = judge
        self._output = output
        self._observers = tuple(observers)
        self._logged_stream = ""
        self.finished: str | None = None
        """The outcome, once the exam is over."""
        self.asked: Ask | None = None
        """What is being asked."""

    @property
    def exam(self) -> Steps:
        """The machine."""
        return self._exam

    def feed(self, event: Event) -> None:
        """Take an event, carry out what follows, and all that follows from that."""
        waiting: deque[Event] = deque([event])
        while waiting:
            now = waiting.popleft()
            actions = self._exam.step(now)
            if self._is_worth_logging(now, actions):
                self._recorder.log(_without_words(now), actions)
                self._logged_stream = now.stream
            for observer in self._observers:
                observer(now, actions)
            for action in actions:
                waiting.extend(self._do(action, now))
            if isinstance(now, Opened) and now.prior:
                waiting.extend(_alarmed(self._judge.standing(), now))

    def _is_worth_logging(self, event: Event, actions: tuple[Action, ...]) -> bool:
        """Leave out ticks and sounds not for us that did nothing."""
        if isinstance(event, Heard) and event.verdict.outcome is Outcome.IGNORE:
            return bool(actions)
        if isinstance(event, Ticked):
            return bool(actions) or event.stream != self._logged_stream
        return True

    def _do(self, action: Action, event: Event) -> list[Event]:
        output, recorder = self._output, self._recorder
        match action:
            case Record():
                recorder.record(action)
                return self._alarms(action, event)
            case Confirm():
                recorder.confirm(action)
                return self._alarms(action, event)
            case Measure():
                recorder.measure(action)
            case LogFact():
                recorder.fact(action)
            case Speak():
                output.speak(action)
            case Tone():
                output.tone(action)
            case Tick():
                output.tick(action)
            case Fade():
                output.fade(action)
            case Hush():
                output.hush()
            case Listen():
                output.listen(action)
            case SetPace():
                output.pace(action.step)
            case Ask():
                self.asked = action
            case Inquire():
                if self._past is None:
                    return []
                text = self._past(action.meaning)
                return [Told(stream=event.stream, sample=event.sample, text=text)]
            case Conclude():
                sentences = self._judge.conclude(action.outcome)
                return [Concluded(stream=event.stream, sample=event.sample, sentences=sentences)]
            case Finish():
                recorder.finish(action.outcome)
                self.finished = action.outcome
            case _:
                msg = f"no way to carry out {type(action).__name__}"
                raise TypeError(msg)
        return []

    def _alarms(self, action: Record | Confirm, event: Event) -> list[Event]:
        return _alarmed(self._judge.take(action), event)


def _without_words(event: Event) -> Event:
    """Return the event as it may be kept: of a sound that was not for us no word is."""
    if isinstance(event, Heard) and event.verdict.outcome is Outcome.IGNORE:
        return replace(event, verdict=replace(event.verdict, candidates=(), words=()))
    return event


def _alarmed(warnings: Sequence[Warning_], event: Event) -> list[Event]:
    return [
        Alarmed(
            stream=event.stream,
            sample=event.sample,
            rule=warning.rule,
            level=warning.level,
            say=warning.say,
            avoid=warning.avoid,
        )
        for warning in warnings
    ]
