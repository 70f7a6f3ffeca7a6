"""What the machine's parts share while they handle one event: the outbox and the exam's facts.

The machine and its stages write actions here; ``take`` hands them over in order. No decision about
what to ask lives here.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import islice

from handsfree.dialogue import phrases
from handsfree.dialogue.actions import (
    Action,
    Ask,
    Confirm,
    Confirmed,
    Listen,
    LogFact,
    Record,
    Speak,
    SpeechKind,
    Status,
    Tone,
    ToneName,
)
from handsfree.dialogue.events import Event, Opened
from handsfree.dialogue.patience import Patience
from handsfree.dialogue.progress import Progress
from handsfree.dialogue.states import Flow
from handsfree.dialogue.turn import Answer, Held, Turn
from handsfree.hearing.verdict import Listening
from handsfree.protocol.model import Kind, Protocol
from handsfree.protocol.plan import Step

__all__ = ["Desk"]


class Desk:
    """The exam's shared facts and the outbox of the event being handled."""

    def __init__(self, protocol: Protocol) -> None:
        self.protocol = protocol
        self.flow = Flow()
        self.patience = Patience()
        self.progress = Progress(steps=())
        self.opened: Opened | None = None
        self.event: Event | None = None
        self.turn: Turn | None = None
        self.helped = True
        """The person sees, or a sighted helper is there."""
        self._out: list[Action] = []
        self._done: set[str] = set()

    # facts

    @property
    def brief(self) -> bool:
        """Whether the person is practised: short prompts."""
        return self.opened is not None and self.opened.brief

    def out_of_sight(self, step: Step) -> bool:
        """Whether nobody here can see what this step asks for."""
        # The refill is judged by eye to a fraction of a second: low sight alone cannot.
        return step.cannot_see or (step.question.kind is Kind.REFILL and not self.helped)

    def once(self, what: str) -> bool:
        """Return True the first time that this is asked: for what is explained once."""
        if what in self._done:
            return False
        self._done.add(what)
        return True

    def explained(self, keys: Iterable[str]) -> None:
        """Count these as explained already."""
        self._done.update(keys)

    @property
    def told_once(self) -> frozenset[str]:
        """What has been explained."""
        return frozenset(self._done)

    # the outbox

    def begin(self, event: Event) -> None:
        """Start handling ``event``."""
        self.event = event
        self._out = []

    def take(self) -> tuple[Action, ...]:
        """Return what this event led to."""
        out, self._out = tuple(self._out), []
        return out

    def emit(self, action: Action) -> None:
        """Add one action."""
        self._out.append(action)

    # speech

    def say(self, *sentences: str, kind: SpeechKind = SpeechKind.NOTICE) -> None:
        """Speak; empty sentences are left out."""
        spoken = tuple(s for s in sentences if s.strip())
        if spoken:
            self.emit(Speak(sentences=spoken, kind=kind))

    def tone(self, name: ToneName) -> None:
        """Play a tone."""
        self.emit(Tone(name=name))

    def listen(
        self,
        *grammars: str,
        commands: frozenset[str],
        timed: bool = False,
        quiet: bool = False,
        strict: frozenset[str] = frozenset(),
        window_s: float = 7.0,
    ) -> None:
        """Open the microphone once everything is spoken; ``quiet`` leaves out the tone."""
        turn = self.turn
        if not quiet:
            self.tone(ToneName.LISTENING)
        self.emit(
            Listen(
                listening=Listening(
                    grammars=grammars,
                    commands=commands,
                    without=frozenset(turn.without) if turn else frozenset(),
                    strict=strict,
                    timed=timed,
                    item=turn.step.item if turn else None,
                    side=turn.step.side if turn else None,
                ),
                window_s=window_s,
            )
        )

    def ask(self, stage: str, *, read_back: Answer | None = None) -> None:
        """Say what the speech that follows asks for."""
        turn = self.turn
        if turn is None:
            self.emit(Ask(item=None, stage=stage))
            return
        question = turn.step.question
        self.emit(
            Ask(
                item=turn.step.item,
                side=turn.step.side,
                stage=stage,
                read_back=read_back.value if read_back else None,
                unit=(read_back.unit if read_back else None) or question.unit,
                region=turn.step.region.title,
                choices=tuple(question.choices.items()),
                upcoming=self._upcoming(turn.step),
            )
        )

    def _upcoming(self, step: Step) -> tuple[str, ...]:
        """Texts likely to be spoken next: this question's echoes, and the next prompt."""
        echoes = [
            f"{phrases.echo(step, Answer(value=v), brief=self.brief)}."
            for v in step.question.normal
        ]
        backs = [
            phrases.read_back(step, Answer(value=v))
            for v in step.question.values
            if v not in step.question.normal
        ]
        later = (
            phrases.prompt(s, s.by_touch, brief=self.brief)
            for s in self.progress.steps[self.progress.index + 1 :]
            if s.applicable and not s.when and self.progress.is_open(s)
        )
        return (*echoes, *islice(later, 1), *backs[:3])

    # records

    def record(self, answer: Answer, step: Step, confirmed: Confirmed) -> int:
        """Record an observed answer; return its ref. An alarming one is remembered."""
        assert self.event is not None
        turn = self._turn_at(step)
        record = self.progress.number(
            Record(
                ref=0,
                item=step.item,
                side=step.side,
                status=Status.OBSERVED,
                value=answer.value,
                unit=answer.unit,
                words=answer.words,
                candidates=answer.candidates,
                confirmed=confirmed,
                start=answer.start,
                end=answer.end,
                stream=answer.stream or self.event.stream,
                attempt=turn.attempt if turn else 1,
                by="touch" if turn and turn.by_touch and answer.by == "voice" else answer.by,
                method=answer.method,
            )
        )
        self.emit(record)
        if answer.value in step.question.alarming:
            self.progress.alarms[step.item, step.side] = Held(
                ref=record.ref,
                answer=replace(answer, by=record.by, stream=record.stream),
                alarming=True,
            )
        return record.ref

    def record_missing(
        self, step: Step, status: Status, reason: str, *, words: str = "", by: str = "voice"
    ) -> int:
        """Record that an item was not observed, or is not applicable; return its ref."""
        assert self.event is not None
        turn = self._turn_at(step)
        record = self.progress.number(
            Record(
                ref=0,
                item=step.item,
                side=step.side,
                status=status,
                reason=reason,
                words=words,
                confirmed=Confirmed.CONFIRMED,
                stream=self.event.stream,
                start=self.event.sample,
                end=self.event.sample,
                attempt=turn.attempt if turn else 1,
                by=by,
            )
        )
        self.emit(record)
        return record.ref

    def _turn_at(self, step: Step) -> Turn | None:
        """Return the open question if it is this one: another's answer can be taken back."""
        turn = self.turn
        return turn if turn is not None and turn.place == (step.item, step.side) else None

    def confirm(self, ref: int, confirmed: Confirmed = Confirmed.CONFIRMED) -> None:
        """Settle an answer."""
        self.progress.settle(ref, confirmed)
        self.emit(Confirm(ref=ref, confirmed=confirmed))

    def note(self, name: str, **detail: str) -> None:
        """Store a fact of the exam that is no answer."""
        self.emit(LogFact(name=name, detail=tuple(sorted(detail.items()))))

    # the clock

    def seconds(self, start: int, end: int) -> float:
        """Return the seconds between two samples of the exam's clock."""
        assert self.opened is not None
        return (end - start) / self.opened.rate
