"""Scripts of events, told in a few words, and three ways to play them.

A case is a list of lines. Each line is an event and what must come of it: fragments that have to
appear in this order in the actions' short texts; one with ``!`` in front must not appear at all,
one with ``!^`` not at the beginning of a text.
``play`` runs a case whole from its log as JSON, then step by step, then with stray noise between
every two steps, and compares all three.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

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
from handsfree.dialogue.codec import action_to_json, event_from_json, event_to_json
from handsfree.dialogue.events import (
    Alarmed,
    Concluded,
    DeviceLost,
    DeviceRegained,
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
    Told,
    TooLoud,
)
from handsfree.dialogue.machine import Exam
from handsfree.dialogue.states import State
from handsfree.hearing.verdict import (
    Candidate,
    Meaning,
    MeaningKind,
    Outcome,
    Verdict,
    WordTime,
)
from handsfree.protocol.model import Protocol
from handsfree.protocol.subject import Sex, Subject

from .small import SMALL

RATE = 16_000
DOG = Subject(name="Bramble", sex=Sex.FEMALE)
"""An invented dog."""

Make = Callable[[str, int], Event]
Line = tuple[Make, Sequence[str]] | tuple[Make, Sequence[str], State]


# events in a few words


def opened(**more: Any) -> Make:
    """The exam opens; a short routine and an invented dog unless said otherwise."""
    given = {"subject": DOG, "routine": "short", **more}
    return lambda stream, sample: Opened(stream=stream, sample=sample, **given)


def _heard(outcome: Outcome, meaning: Meaning | None, probability: float, words: str) -> Make:
    def make(stream: str, sample: int) -> Event:
        candidates = (
            ()
            if meaning is None
            else (Candidate(meaning=meaning, words=words, probability=probability),)
        )
        return Heard(
            stream=stream,
            sample=sample,
            verdict=Verdict(
                outcome=outcome, candidates=candidates, start=max(0, sample - 8000), end=sample
            ),
        )

    return make


def _answer(value: str | float, unit: str | None = None, target: str | None = None) -> Meaning:
    return Meaning(kind=MeaningKind.ANSWER, value=value, unit=unit, target=target)


def say(value: str | float, unit: str | None = None, target: str | None = None) -> Make:
    """An answer that hearing accepted."""
    return _heard(Outcome.ACCEPT, _answer(value, unit, target), 0.95, f"{value}")


def maybe(value: str | float, probability: float = 0.6) -> Make:
    """An answer that hearing is not sure of."""
    return _heard(Outcome.ASK_BACK, _answer(value), probability, f"{value}")


def mumble() -> Make:
    """Speech to us that fits no phrase."""
    return _heard(Outcome.ASK_BACK, None, 0.0, "")


def stray() -> Make:
    """A sound that was not for us."""
    return _heard(Outcome.IGNORE, _answer("pale"), 0.3, "pale")


def dimly(word: str, probability: float, *, lasts_s: float = 0.5) -> Make:
    """A timed word that hearing is not sure of; it ends now."""

    def make(stream: str, sample: int) -> Event:
        begun = sample - round(lasts_s * RATE)
        return Heard(
            stream=stream,
            sample=sample,
            verdict=Verdict(
                outcome=Outcome.ASK_BACK,
                candidates=(Candidate(meaning=_answer(word), words=word, probability=probability),),
                start=begun,
                end=sample,
                words=(WordTime(word=word, start=begun, end=sample),),
                reason="doubt",
            ),
        )

    return make


def broken() -> Make:
    """Samples were lost."""

    def make(stream: str, sample: int) -> Event:
        verdict = Verdict(outcome=Outcome.IGNORE, start=sample, end=sample, reason="lost")
        return Heard(stream=stream, sample=sample, verdict=verdict)

    return make


def command(word: str) -> Make:
    """A command that hearing accepted."""
    return _heard(
        Outcome.ACCEPT, Meaning(kind=MeaningKind.COMMAND, value=word), 0.95, word
    )  # fmt: skip


def maybe_command(word: str, probability: float = 0.6) -> Make:
    """A command that hearing is not sure of."""
    meaning = Meaning(kind=MeaningKind.COMMAND, value=word)
    return _heard(Outcome.ASK_BACK, meaning, probability, word)


def words(*timed: tuple[str, float, bool] | tuple[str, float], doubtful: bool = False) -> Make:
    """Words with their onsets, in seconds before now."""

    def make(stream: str, sample: int) -> Event:
        times = tuple(
            WordTime(
                word=one[0],
                start=sample - round(one[1] * RATE),
                end=sample - round(one[1] * RATE) + 1000,
                doubtful=len(one) > 2 and bool(one[2]),
            )
            for one in timed
        )
        text = " ".join(one[0] for one in timed)
        return Heard(
            stream=stream,
            sample=sample,
            verdict=Verdict(
                outcome=Outcome.ASK_BACK if doubtful else Outcome.ACCEPT,
                candidates=(Candidate(meaning=_answer(text), words=text, probability=0.9),),
                start=times[0].start,
                end=sample,
                words=times,
            ),
        )

    return make


def key(kind: Key, text: str = "") -> Make:
    """A key."""
    return lambda stream, sample: Keyed(stream=stream, sample=sample, key=kind, text=text)


ENTER = key(Key.YES)
AGAIN = key(Key.AGAIN)


def typed(text: str) -> Make:
    """A typed value."""
    return key(Key.VALUE, text)


def digit(text: str) -> Make:
    """A numbered choice."""
    return key(Key.NUMBER, text)


def typed_command(text: str) -> Make:
    """A typed command."""
    return key(Key.COMMAND, text)


def silence() -> Make:
    """Nobody spoke."""
    return lambda stream, sample: Silence(stream=stream, sample=sample)


def spoken_out() -> Make:
    """All has been played."""
    return lambda stream, sample: SpokenOut(stream=stream, sample=sample)


def tick() -> Make:
    """The clock moved on."""
    return lambda stream, sample: Ticked(stream=stream, sample=sample)


def later(seconds: float, make: Make | None = None) -> Make:
    """An event (a tick unless given) so many seconds after the last one."""
    return _Later(seconds, make or tick())


def elsewhere(make: Make, stream: str = "second") -> Make:
    """The same event on another stream."""
    return lambda _stream, sample: make(stream, sample)


def alarm(rule: str = "pale_gums", level: str = "now") -> Make:
    """Judging found something."""
    return lambda stream, sample: Alarmed(
        stream=stream,
        sample=sample,
        rule=rule,
        level=level,
        say=f"Danger by {rule}.",
        avoid="Give nothing by mouth.",
    )


def result(*sentences: str) -> Make:
    """Judging has the result."""
    return lambda stream, sample: Concluded(
        stream=stream, sample=sample, sentences=sentences or ("Nothing was found.",)
    )


def told(text: str, item: str = "", side: str | None = None) -> Make:
    """An answer about the past."""
    return lambda stream, sample: Told(
        stream=stream, sample=sample, text=text, item=item, side=side
    )


def loud(loud: bool = True) -> Make:
    """The room's noise."""
    return lambda stream, sample: TooLoud(stream=stream, sample=sample, loud=loud)


def lost() -> Make:
    """The device is gone."""
    return lambda stream, sample: DeviceLost(stream=stream, sample=sample, why="unplugged")


def regained() -> Make:
    """The device is back, on a new stream."""
    return lambda _stream, sample: DeviceRegained(stream="second", sample=sample)


def spoke_on(back: int = 1) -> Make:
    """The person spoke on after the answer that came so many events ago."""
    return _SpokeOn(back)


def stopped() -> Make:
    """The program must end."""
    return lambda stream, sample: Stopped(stream=stream, sample=sample, why="SIGTERM")


@dataclass(frozen=True)
class _Later:
    seconds: float
    make: Make

    def __call__(self, stream: str, sample: int) -> Event:
        return self.make(stream, sample)


@dataclass(frozen=True)
class _SpokeOn:
    back: int

    def __call__(self, stream: str, sample: int) -> Event:
        msg = "made by events_of, which knows the utterance"
        raise AssertionError(msg)


# actions in a few words


@dataclass
class Teller:
    """Puts actions into short texts; knows which answer a number names."""

    items: dict[int, str] = field(default_factory=dict)

    def tell(self, action: Action) -> str:
        """Return an action's short text."""
        match action:
            case Record():
                side = f"/{action.side}" if action.side else ""
                self.items[action.ref] = f"{action.item}{side}={action.value or action.reason}"
                old = f" corrects {action.supersedes}" if action.supersedes else ""
                return (
                    f"record {action.ref} {action.item}{side} {action.status} "
                    f"{action.value if action.value is not None else action.reason} "
                    f"{action.confirmed} by {action.by}{old}"
                )
            case Confirm():
                named = self.items.get(action.ref, f"ref {action.ref}")
                return f"confirm {named} {action.confirmed}"
            case Speak():
                return f"{action.kind}: {' | '.join(action.sentences)}"
            case Ask():
                back = "" if action.read_back is None else f" back {action.read_back}"
                return f"ask {action.stage} {action.item}{back}"
            case Listen():
                heard = action.listening
                without = f" without {','.join(sorted(heard.without))}" if heard.without else ""
                strict = f" strict {','.join(sorted(heard.strict))}" if heard.strict else ""
                return (
                    f"listen {'+'.join(heard.grammars) or '-'} "
                    f"[{','.join(sorted(heard.commands))}]{without}{strict}"
                )
            case Tone():
                return f"tone {action.name}"
            case Tick():
                return f"ticks {action.count}"
            case Hush():
                return "hush"
            case Measure():
                good = action.spoiled or ("doubtful" if action.doubtful else "good")
                return f"measure {action.item} {action.kind} {action.ordinal} {good}"
            case SetPace():
                return f"pace {action.step:+d}"
            case LogFact():
                detail = " ".join(f"{name}={value}" for name, value in action.detail)
                return f"note {action.name} {detail}"
            case Inquire():
                return f"inquire {action.meaning.value}"
            case Conclude():
                return f"conclude {action.outcome}"
            case Finish():
                return f"finish {action.outcome}"
        raise AssertionError(action)


# playing


def events_of(lines: Sequence[Make]) -> list[Event]:
    """Return the events, each a second after the last."""
    events: list[Event] = []
    stream, sample = "first", 0
    for make in lines:
        sample += round((make.seconds if isinstance(make, _Later) else 1.0) * RATE)
        if isinstance(make, _SpokeOn):
            utterance = events[-make.back]
            assert isinstance(utterance, Heard)
            event: Event = Retracted(stream=stream, sample=sample, start=utterance.verdict.start)
        else:
            event = make(stream, sample)
        if event.stream != stream:
            stream = event.stream
        events.append(event)
    return events


def noise(stream: str, sample: int, state: State) -> list[Event]:
    """Return stray events that must change nothing in ``state``."""
    stray_events = [tick()(stream, sample)]
    if state is not State.TIMING:  # the one thing that other sounds spoil
        stray_events.insert(0, stray()(stream, sample))
    if state not in (State.HOLDING, State.COUNTING):
        stray_events.insert(1, spoken_out()(stream, sample))
    return stray_events


def run(
    events: Sequence[Event], protocol: Protocol = SMALL
) -> tuple[Exam, list[tuple[Action, ...]]]:
    """Play events on a new exam; return it and what each led to."""
    exam = Exam(protocol)
    return exam, [exam.step(event) for event in events]


def logged(
    events: Sequence[Event], outcome: Sequence[tuple[Action, ...]]
) -> list[tuple[Event, tuple[Action, ...]]]:
    """Return what an exam's log keeps: no ignored word and no tick that led to nothing."""
    kept: list[tuple[Event, tuple[Action, ...]]] = []
    stream = ""
    for event, actions in zip(events, outcome, strict=True):
        ignored = isinstance(event, Heard) and event.verdict.outcome is Outcome.IGNORE
        if ignored and not actions:
            continue
        if isinstance(event, Ticked) and not actions and event.stream == stream:
            continue
        stream = event.stream
        kept.append((event, actions))
    return kept


def play(lines: Sequence[Line], protocol: Protocol = SMALL) -> Exam:
    """Play a case in three ways, check every line, and return the exam of the first."""
    events = events_of([line[0] for line in lines])
    exam = Exam(protocol)
    teller = Teller()
    outcome: list[tuple[Action, ...]] = []
    for number, (event, line) in enumerate(zip(events, lines, strict=True)):
        actions = exam.step(event)
        outcome.append(actions)
        texts = [teller.tell(action) for action in actions]
        _check(texts, line[1], f"line {number} ({type(event).__name__})")
        if len(line) > 2:
            assert exam.state is line[2], f"line {number}: {exam.state}, not {line[2]}"
    _check_order(outcome)
    _replay_whole(events, outcome, protocol)
    _replay_noisy(events, outcome, protocol)
    return exam


def _check(texts: Sequence[str], wanted: Sequence[str], where: str) -> None:
    said = "\n    ".join(texts) or "(nothing)"
    place = 0
    for fragment in wanted:
        if fragment.startswith("!"):
            unwanted = fragment[1:]
            among = [t for t in texts if (t.startswith(unwanted[1:]) if unwanted[0] == "^"
                                          else unwanted in t)]  # fmt: skip
            assert not among, f"{where}: {unwanted!r} must not be among\n    {said}"
            continue
        if fragment == "nothing":
            assert not texts, f"{where}: nothing was to come, but\n    {said}"
            continue
        found = next((i for i in range(place, len(texts)) if fragment in texts[i]), None)
        assert found is not None, f"{where}: no {fragment!r} (in this order) among\n    {said}"
        place = found


def _check_order(outcome: Sequence[tuple[Action, ...]]) -> None:
    """Every answer is stored before anything is spoken after it in the same breath."""
    for actions in outcome:
        kinds = [type(action) for action in actions]
        if Record in kinds and Speak in kinds and kinds.count(Record) == 1:
            spoken_first = kinds.index(Speak) < kinds.index(Record)
            assert not spoken_first, f"spoken before stored: {kinds}"


def _replay_whole(
    events: Sequence[Event], outcome: Sequence[tuple[Action, ...]], protocol: Protocol
) -> None:
    """From the log, as it is stored: through JSON, without what led to nothing."""
    kept = logged(events, outcome)
    log = [json.dumps(event_to_json(event)) for event, _ in kept]
    _, again = run([event_from_json(json.loads(text)) for text in log], protocol)
    assert [_plain(a) for a in again] == [_plain(a) for _, a in kept]


def _replay_noisy(
    events: Sequence[Event], outcome: Sequence[tuple[Action, ...]], protocol: Protocol
) -> None:
    exam = Exam(protocol)
    for event, wanted in zip(events, outcome, strict=True):
        assert _plain(exam.step(event)) == _plain(wanted)
        for stray_event in noise(event.stream, event.sample, exam.state):
            assert exam.step(stray_event) == (), f"{stray_event} changed something"


def _plain(actions: Sequence[Action]) -> list[dict[str, Any]]:
    return [action_to_json(action) for action in actions]
