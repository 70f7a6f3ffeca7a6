"""Whatever happens: nothing raises, no alarm is lost, everything ends, and a replay is the same."""

from __future__ import annotations

from collections.abc import Sequence

from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.dialogue.actions import (
    Action,
    Confirm,
    Confirmed,
    Finish,
    Record,
    Speak,
    SpeechKind,
    Status,
)
from handsfree.dialogue.codec import event_from_json, event_to_json
from handsfree.dialogue.events import (
    Event,
    Heard,
    Key,
    Opened,
    PriorAnswer,
    Retracted,
    Stopped,
)
from handsfree.dialogue.machine import Exam
from handsfree.dialogue.states import State
from handsfree.hearing.verdict import Outcome
from handsfree.protocol.loader import load
from handsfree.protocol.model import Protocol
from handsfree.protocol.subject import KnownLump, Neutered, Sex, Sight, Subject

from .script import (
    Make,
    alarm,
    command,
    elsewhere,
    key,
    later,
    logged,
    lost,
    loud,
    maybe,
    maybe_command,
    mumble,
    opened,
    regained,
    result,
    run,
    say,
    silence,
    spoken_out,
    stopped,
    stray,
    tick,
    told,
    words,
)
from .small import SMALL

VALUES = sorted(
    {v for r in SMALL.regions.values() for q in r.question for v in q.values} | {"yes", "no"}
)
COMMANDS = sorted(
    {"help", "repeat", "back", "pause", "resume", "stop", "skip", "cant_see", "wont_let"}
    | {"dont_know", "options", "slower", "faster", "where", "goto", "remaining", "scrap", "done"}
    | {"keys", "go_on", "told", "nonsense"}
)
REGIONS = sorted(SMALL.regions)
values = st.sampled_from(VALUES)
numbers = st.sampled_from([0.0, 1.5, 12.0, 20.0, 38.5, 101.4, 400.0, 9000.0])
likely = st.sampled_from([0.1, 0.6, 0.9])

answers = st.one_of(
    values.map(say),
    st.builds(maybe, values, likely),
    st.builds(say, numbers, st.sampled_from([None, "kg", "lb", "degF", "mm"])),
    st.builds(maybe, numbers, likely),
    st.just(mumble()),
    st.just(stray()),
    st.sampled_from(["press", "start", "finish", *REGIONS]).map(say),
    st.just(words(("press", 0.3))),
    st.just(words(("release", 0.9), ("pink", 0.2))),
    st.just(words(("release", 0.9), ("pink", 0.2), doubtful=True)),
)
steering = st.one_of(
    st.sampled_from(COMMANDS).map(command),
    st.builds(maybe_command, st.sampled_from(COMMANDS), likely),
)
keys = st.builds(
    key,
    st.sampled_from(list(Key)),
    st.sampled_from(["", "1", "2", "9", "12.4 kg", "pink", "pale", "ears", "no", *COMMANDS]),
)
world = st.one_of(
    st.sampled_from(
        [silence(), spoken_out(), tick(), lost(), regained(), loud(), loud(False), result()]
    ),
    st.sampled_from([0.3, 12.0, 31.0, 61.0, 700.0, 4000.0]).map(later),
    st.sampled_from(["now", "days"]).map(lambda level: alarm("rule", level)),
    st.sampled_from(["a", "b"]).map(alarm),
    st.sampled_from(["", "now.gums", "ears.look"]).map(lambda item: told("Once.", item)),
    st.just(elsewhere(tick())),
)
anything = st.one_of(answers, answers, steering, keys, world, st.integers(1, 3))
sights = st.sampled_from(list(Sight))
routines = st.sampled_from(sorted(SMALL.routines))


def _run(
    lines: Sequence[Make | int], protocol: Protocol = SMALL
) -> tuple[Exam, list[Event], list[tuple[Action, ...]]]:
    """Play lines; a number is a retraction of the utterance so many before."""
    exam = Exam(protocol)
    events: list[Event] = []
    outcome: list[tuple[Action, ...]] = []
    stream, sample = "first", 0
    heard: list[Heard] = []
    for line in lines:
        sample += round(getattr(line, "seconds", 1.0) * 16_000)
        if isinstance(line, int):
            start = heard[-line].verdict.start if len(heard) >= line else 0
            event: Event = Retracted(stream=stream, sample=sample, start=start)
        else:
            event = line(stream, sample)
        stream = event.stream
        if isinstance(event, Heard):
            heard.append(event)
        events.append(event)
        outcome.append(exam.step(event))
    return exam, events, outcome


def _final(outcome: Sequence[tuple[Action, ...]]) -> dict[tuple[str, str | None], list[Record]]:
    """Return every answer by place, each as far settled as it came in the end."""
    settled: dict[int, Confirmed] = {}
    records: list[Record] = []
    for action in (a for actions in outcome for a in actions):
        if isinstance(action, Record):
            records.append(action)
            settled[action.ref] = action.confirmed
        elif isinstance(action, Confirm):
            assert action.ref in settled or action.ref < 1_000, "a confirmation of nothing"
            settled[action.ref] = action.confirmed
    places: dict[tuple[str, str | None], list[Record]] = {}
    for record in records:
        places.setdefault((record.item, record.side), []).append(_with(record, settled[record.ref]))
    return places


def _with(record: Record, confirmed: Confirmed) -> Record:
    from dataclasses import replace

    return replace(record, confirmed=confirmed)


def _check_no_alarm_lost(outcome: Sequence[tuple[Action, ...]], protocol: Protocol) -> None:
    """The last word at a place where an alarm stood is that alarm, or a confirmed answer."""
    for (item, _), history in _final(outcome).items():
        alarming = protocol.question(item).alarming
        alarms = [r for r in history if r.value in alarming]
        if not alarms:
            continue
        last = history[-1]
        assert last.status is Status.OBSERVED, f"{item}: {last.reason} stands over an alarm"
        if last.value in alarming:
            assert last.confirmed is not Confirmed.UNCONFIRMED, f"{item} is left unsettled"
        else:
            assert last.confirmed is Confirmed.CONFIRMED, f"{item}: cleared without a yes"


def _check_numbering(outcome: Sequence[tuple[Action, ...]]) -> None:
    """Numbers rise, and a correction names the latest answer at its place."""
    latest: dict[tuple[str, str | None], int] = {}
    number = 0
    for action in (a for actions in outcome for a in actions):
        if isinstance(action, Record):
            assert action.ref > number
            number = action.ref
            assert action.supersedes == latest.get((action.item, action.side))
            latest[(action.item, action.side)] = action.ref


@settings(max_examples=250, deadline=None)
@given(st.lists(anything, max_size=60), routines, sights, st.booleans())
def test_any_events_end_and_replay_and_lose_no_alarm(
    lines: list[Make | int], routine: str, sight: Sight, brief: bool
) -> None:
    """Any sequence of events, then the end of the program."""
    start = opened(routine=routine, sight=sight, brief=brief, carried=("watch.attitude",))
    exam, events, outcome = _run([start, *lines, stopped()])
    assert exam.state is State.FINISHED
    finishes = [a for actions in outcome for a in actions if isinstance(a, Finish)]
    assert len(finishes) == 1
    _check_numbering(outcome)
    _check_no_alarm_lost(outcome, SMALL)
    kept = logged(events, outcome)
    _, again = run([event_from_json(event_to_json(event)) for event, _ in kept], SMALL)
    assert again == [actions for _, actions in kept]


@settings(max_examples=120, deadline=None)
@given(
    st.lists(st.one_of(answers, steering), max_size=25),
    st.lists(st.one_of(answers, steering), max_size=25),
    routines,
    sights,
)
def test_a_crash_between_loses_no_alarm(
    before: list[Make], after: list[Make], routine: str, sight: Sight
) -> None:
    """The program dies without a word; the exam goes on from what was stored."""
    _, _, first = _run([opened(routine=routine), *before])
    prior = tuple(
        PriorAnswer(
            ref=last.ref,
            item=last.item,
            side=last.side,
            status=last.status.value,
            reason=last.reason,
            value=last.value,
            unit=last.unit,
            confirmed=last.confirmed.value,
            earlier=tuple(r.value for r in older if isinstance(r.value, str)),
        )
        for *older, last in sorted(_final(first).values(), key=lambda h: h[-1].ref)
    )
    start = opened(routine=routine, prior=prior, sight=sight)
    exam, _, second = _run([start, *after, stopped()])
    assert exam.state is State.FINISHED
    _check_no_alarm_lost([*first, *second], SMALL)


@settings(max_examples=60, deadline=None)
@given(st.lists(answers, min_size=1, max_size=5), routines)
def test_misheard_answers_never_loop(pattern: list[Make], routine: str) -> None:
    """The same few answers for ever: the number of prompts has a bound, and the check ends."""
    exam = Exam(SMALL)
    asked = sum(len(step.sides) or 1 for r in SMALL.regions.values() for step in r.question)
    exam.step(opened(routine=routine)("first", 0))
    prompts, sample = 0, 0
    for number in range(24 * asked):
        for make in (spoken_out(), pattern[number % len(pattern)], tick()):
            sample += 61 * 16_000
            actions = exam.step(make("first", sample))
            prompts += sum(
                isinstance(action, Speak)
                and action.kind in (SpeechKind.PROMPT, SpeechKind.READ_BACK)
                for action in actions
            )
        if exam.state is State.CONCLUDING:
            return
        assert prompts <= 17 * asked
    # Left are stages and questions that heard nothing for them: silence moves nothing on.
    unheard = all(_is_nothing(make) for make in pattern)
    assert unheard or exam.state in (State.PRESSING, State.COUNT_READY)


def _is_nothing(make: Make) -> bool:
    event = make("first", 1)
    return isinstance(event, Heard) and event.verdict.outcome is Outcome.IGNORE


@settings(max_examples=25, deadline=None)
@given(st.data())
def test_the_shipped_check_holds_as_well(data: st.DataObject) -> None:
    """The full check with its own values, lumps and follow-ups, under any answers."""
    protocol = load()
    subject = Subject(
        name="Bramble",
        sex=Sex.FEMALE,
        neutered=Neutered.NO,
        age_months=data.draw(st.sampled_from([3, 40, 150])),
        lumps=(KnownLump(key="lump1", place="the left chest"),),
    )
    exam = Exam(protocol)
    outcome = [exam.step(Opened(stream="first", sample=0, subject=subject, routine="full"))]
    sample = 0
    for _ in range(120):
        sample += 16_000
        asked = _listened_for(outcome)
        line = data.draw(
            st.one_of(
                st.sampled_from([say(v) for v in asked] or [say("yes")]),
                st.sampled_from([say("yes"), say("no"), say(12.0), mumble(), command("skip")]),
                st.sampled_from([command("back"), command("wont_let"), alarm(), silence()]),
            )
        )
        outcome.append(exam.step(line("first", sample)))
    outcome.append(exam.step(Stopped(stream="first", sample=sample, why="end")))
    _check_numbering(outcome)
    _check_no_alarm_lost(outcome, protocol)


def _listened_for(outcome: Sequence[tuple[Action, ...]]) -> list[str]:
    """Return the values of the question asked last."""
    from handsfree.dialogue.actions import Ask

    for actions in reversed(outcome):
        for action in reversed(actions):
            if isinstance(action, Ask) and action.item:
                return [value for value, _ in action.choices]
    return []
