"""Driving a talk by hand: typed lines and spoken meanings in, what it says and does out."""

from __future__ import annotations

from dataclasses import dataclass, field

from handsfree.dialogue.actions import Action, Ask, Finish, Listen, Measure, Record, Speak, Tone
from handsfree.dialogue.events import (
    Concluded,
    Event,
    Heard,
    Key,
    Keyed,
    Opened,
    Retracted,
    Silence,
    SpokenOut,
    Stopped,
    Ticked,
)
from handsfree.hearing.verdict import (
    Candidate,
    Meaning,
    MeaningKind,
    Outcome,
    Verdict,
    WordTime,
)
from handsfree.interview.talk import Talk
from handsfree.protocol.subject import Subject
from handsfree.session.keys import keyed

RATE = 16_000
STREAM = "test"


@dataclass
class Hand:
    """One talk with its clock."""

    talk: Talk
    subject: Subject = field(default_factory=lambda: Subject(name="Rex"))
    units: str = "metric"
    now: int = 0
    stream: str = STREAM
    actions: list[Action] = field(default_factory=list)
    asked: Ask | None = None

    def open(self) -> Hand:
        """Open the talk."""
        self.feed(
            Opened(stream=self.stream, sample=0, subject=self.subject, routine="talk",
                   units=self.units)
        )  # fmt: skip
        return self

    def feed(self, event: Event) -> list[Action]:
        """Feed one event, and the result of judging where it is asked for."""
        new = list(self.talk.step(event))
        self.actions += new
        for action in new:
            if isinstance(action, Ask):
                self.asked = action
        if any(type(action).__name__ == "Conclude" for action in new):
            told = Concluded(stream=self.stream, sample=self.now, sentences=("Judged.",))
            new += self.feed(told)
        return new

    def key(self, *lines: str) -> None:
        """Type lines."""
        for line in lines:
            typed = keyed(line, self.asked)
            self.feed(
                Keyed(stream=self.stream, sample=self.now, key=typed.key, text=typed.text)
            )  # fmt: skip

    def enter(self) -> None:
        """Press the one key."""
        self.feed(Keyed(stream=self.stream, sample=self.now, key=Key.YES))

    def say(
        self,
        *values: str | float,
        doubt: bool = False,
        unit: str | None = None,
        command: bool = False,
        word: str | None = None,
        doubtful: bool = False,
    ) -> None:
        """Say what means these values, one after the other."""
        kind = MeaningKind.COMMAND if command else MeaningKind.ANSWER
        for value in values:
            text = word or str(value)
            heard = Candidate(
                meaning=Meaning(kind=kind, value=value, unit=unit), words=text, probability=0.9
            )
            verdict = Verdict(
                outcome=Outcome.ASK_BACK if doubt else Outcome.ACCEPT,
                candidates=(heard,),
                start=self.now,
                end=self.now + 100,
                words=(WordTime(word=text, start=self.now, end=self.now + 100, doubtful=doubtful),),
            )
            self.feed(Heard(stream=self.stream, sample=self.now + 200, verdict=verdict))

    def mumble(self, outcome: Outcome = Outcome.ASK_BACK) -> None:
        """Say what fits no phrase."""
        verdict = Verdict(outcome=outcome, start=self.now, end=self.now + 100)
        self.feed(Heard(stream=self.stream, sample=self.now, verdict=verdict))

    def wait(self, seconds: float, *, silences: bool = False) -> None:
        """Let time pass, in ticks of a second."""
        for passed in range(1, round(seconds) + 1):
            self.now += RATE
            self.feed(Ticked(stream=self.stream, sample=self.now))
            if silences and passed % 7 == 0:
                self.feed(Silence(stream=self.stream, sample=self.now))

    def silence(self) -> None:
        """Let a listening window pass."""
        self.feed(Silence(stream=self.stream, sample=self.now))

    def spoken(self) -> None:
        """All has been spoken."""
        self.feed(SpokenOut(stream=self.stream, sample=self.now))

    def stop(self) -> None:
        """The program must end."""
        self.feed(Stopped(stream=self.stream, sample=self.now))

    def retract(self) -> None:
        """The person spoke on."""
        self.feed(Retracted(stream=self.stream, sample=self.now, start=self.now))

    # what came of it

    @property
    def said(self) -> list[str]:
        """Every sentence."""
        return [text for a in self.actions if isinstance(a, Speak) for text in a.sentences]

    def of(self, kind: type[Action]) -> list[Action]:
        """Return the actions of one kind."""
        return [action for action in self.actions if isinstance(action, kind)]

    @property
    def records(self) -> list[Record]:
        """What was stored."""
        return [a for a in self.actions if isinstance(a, Record)]

    @property
    def measures(self) -> list[Measure]:
        """The raw repeats."""
        return [a for a in self.actions if isinstance(a, Measure)]

    @property
    def tones(self) -> list[Tone]:
        """The tones."""
        return [a for a in self.actions if isinstance(a, Tone)]

    @property
    def listening(self) -> Listen | None:
        """What is listened for last."""
        found = [a for a in self.actions if isinstance(a, Listen)]
        return found[-1] if found else None

    @property
    def outcome(self) -> str | None:
        """How it ended; None while it runs."""
        found = [a for a in self.actions if isinstance(a, Finish)]
        return found[-1].outcome if found else None
