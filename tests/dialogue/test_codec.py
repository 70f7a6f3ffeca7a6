"""Events and actions as JSON: every class is found, and a class without sample data fails."""

from __future__ import annotations

import dataclasses
import inspect
import json
from typing import Any

import pytest

import handsfree.dialogue as package
from handsfree.dialogue import actions, events
from handsfree.dialogue.actions import Action, Confirmed, SpeechKind, Status, ToneName
from handsfree.dialogue.codec import FORM, action_to_json, event_from_json, event_to_json
from handsfree.dialogue.events import Event, Key, PriorAnswer
from handsfree.errors import DataError
from handsfree.hearing.verdict import (
    Candidate,
    Listening,
    Meaning,
    MeaningKind,
    Outcome,
    Verdict,
    WordTime,
)
from handsfree.protocol.subject import (
    KnownLump,
    Neutered,
    Part,
    Sex,
    Shape,
    Sight,
    Size,
    Subject,
)

WEIGHT = Candidate(
    meaning=Meaning(kind=MeaningKind.ANSWER, value=12.0, unit="lb", target="pea"),
    words="twelve pounds",
    probability=0.5,
)
NO = Candidate(
    meaning=Meaning(kind=MeaningKind.COMMAND, value="skip"), words="skip", probability=1.0
)
VERDICT = Verdict(
    outcome=Outcome.ASK_BACK,
    candidates=(WEIGHT, NO),
    start=3,
    end=9,
    words=(WordTime(word="twelve", start=3, end=5, doubtful=True),),
    reason="ear_low",
)
DOG = Subject(
    dog_id="d1",
    name='Bramble "B" Ünal',
    sex=Sex.FEMALE,
    neutered=Neutered.NO,
    age_months=30,
    weight_kg=12.5,
    shape=Shape.SIGHTHOUND,
    size=Size.MEDIUM,
    missing=frozenset({Part.TAIL, Part.LEFT_EYE}),
    dewclaws=False,
    pigmented_gums=True,
    season=40,
    pregnant=True,
    conditions=frozenset({"heart"}),
    medicines=frozenset({"steroid", "pain_relief"}),
    muzzle_trained=True,
    has_bitten=True,
    lumps=(KnownLump(key="lump1", place="the left chest", vet_result="fat", length_mm=8.0),),
    known=("an old scar",),
)

EVENTS: dict[str, dict[str, Any]] = {
    "Opened": {
        "subject": DOG,
        "routine": "full",
        "sight": Sight.LOW,
        "helper": True,
        "has_keys": False,
        "person": "Ada",
        "vet_number": "five five",
        "prior": (
            PriorAnswer(ref=1, item="a.b", side="left", status="observed", value=3.0, unit="kg"),
            PriorAnswer(ref=2, item="a.c", status="not_observed", reason="skipped"),
            PriorAnswer(
                ref=3,
                item="a.d",
                status="observed",
                value="pale",
                confirmed="possible",
                earlier=("white", "pink"),
            ),
        ),
        "carried": ("now.gums",),
        "brief": True,
        "asked_now": "Anew.",
        "units": "imperial",
        "lag_s": 0.25,
        "lag_spread_s": 0.1,
        "cautioned": ("may_bite",),
        "in_round": True,
        "rate": 8000,
    },
    "Heard": {"verdict": VERDICT},
    "Silence": {},
    "SpokenOut": {},
    "Ticked": {},
    "Keyed": {"key": Key.VALUE, "text": "12.4 kg"},
    "TooLoud": {"loud": False},
    "Retracted": {"start": 7},
    "Alarmed": {"rule": "r", "level": "now", "say": "Say.", "avoid": "Avoid."},
    "Told": {"text": "Twelve.", "item": "weight.kg", "side": "left"},
    "Concluded": {"sentences": ("One.", "Two.")},
    "DeviceLost": {"why": "unplugged"},
    "DeviceRegained": {},
    "Stopped": {"why": "SIGTERM"},
}
"""Sample data of every event; every field that has a default differs from it."""

ACTIONS: dict[str, dict[str, Any]] = {
    "Speak": {"sentences": ("One.", "Two."), "kind": SpeechKind.ALARM},
    "Ask": {
        "item": "a.b",
        "side": "left",
        "stage": "confirm",
        "read_back": 3.0,
        "unit": "kg",
        "region": "the mouth",
        "choices": (("pink", "healthy pink"),),
        "upcoming": ("Next.",),
    },
    "Listen": {
        "listening": Listening(
            grammars=("a", "b"),
            commands=frozenset({"stop", "pause"}),
            without=frozenset({"pale"}),
            strict=frozenset({"yes"}),
            timed=True,
            item="a.b",
            side="left",
        ),
        "window_s": 3.0,
    },
    "Hush": {},
    "Tone": {"name": ToneName.WAITING},
    "Tick": {"count": 3, "every_s": 0.5},
    "Record": {
        "ref": 4,
        "supersedes": 2,
        "item": "a.b",
        "side": "left",
        "status": Status.OBSERVED,
        "reason": "why",
        "value": 12.4,
        "unit": "kg",
        "words": "twelve point four",
        "candidates": (WEIGHT,),
        "confirmed": Confirmed.POSSIBLE,
        "stream": "mic",
        "start": 3,
        "end": 9,
        "attempt": 2,
        "by": "touch",
        "method": (("window_s", 60.0), ("said", "27 lb")),
    },
    "Confirm": {"ref": 4, "confirmed": Confirmed.POSSIBLE},
    "Measure": {
        "item": "a.b",
        "kind": "refill",
        "ordinal": 2,
        "stream": "mic",
        "samples": (("press", 3), ("pink", 9)),
        "value": 1.25,
        "unit": "s",
        "spoiled": "scrapped",
        "doubtful": True,
        "side": "left",
    },
    "SetPace": {"step": -1},
    "LogFact": {"name": "paused", "detail": (("why", "asked"),)},
    "Inquire": {
        "meaning": Meaning(
            kind=MeaningKind.ANSWER, value="last weight.kg", unit="kg", target="weight"
        )
    },
    "Conclude": {"outcome": "complete"},
    "Finish": {"outcome": "paused"},
}
"""Sample data of every action; every field that has a default differs from it."""


def _classes(module: object, base: type) -> dict[str, type]:
    return {
        name: found
        for name, found in inspect.getmembers(module, inspect.isclass)
        if issubclass(found, base) and found is not base
    }


EVENT_CLASSES = _classes(events, Event)
ACTION_CLASSES = _classes(actions, Action)


def _check_sample(kind: type, sample: dict[str, Any], skip: set[str]) -> None:
    """Fail where a field has no sample of its own: a round trip of defaults proves nothing."""
    for field in dataclasses.fields(kind):
        if field.name in skip:
            continue
        assert field.name in sample, f"{kind.__name__}.{field.name} has no sample data"
        if field.default is not dataclasses.MISSING:
            assert sample[field.name] != field.default, f"{kind.__name__}.{field.name}"


@pytest.mark.parametrize("name", sorted(EVENT_CLASSES))
def test_every_event_comes_back_the_same(name: str) -> None:
    """Through JSON text and back without loss."""
    assert name in EVENTS, f"{name} has no sample data: add it"
    _check_sample(EVENT_CLASSES[name], EVENTS[name], {"stream", "sample"})
    event = EVENT_CLASSES[name](stream="mic", sample=16_000, **EVENTS[name])
    text = json.dumps(event_to_json(event))
    assert event_from_json(json.loads(text)) == event


@pytest.mark.parametrize("name", sorted(ACTION_CLASSES))
def test_every_action_becomes_json_and_differs_from_another(name: str) -> None:
    """Every field shows in the JSON, so that a replay that differs anywhere is found."""
    assert name in ACTIONS, f"{name} has no sample data: add it"
    kind = ACTION_CLASSES[name]
    _check_sample(kind, ACTIONS[name], set())
    action = kind(**ACTIONS[name])
    told = json.loads(json.dumps(action_to_json(action)))
    assert told.pop("type") == name
    assert set(told) == {field.name for field in dataclasses.fields(kind)}
    for field in dataclasses.fields(kind):
        if field.default is dataclasses.MISSING:
            continue
        try:
            other = dataclasses.replace(action, **{field.name: field.default})
        except ValueError:
            continue  # not a legal action
        assert action_to_json(other) != action_to_json(action), field.name


def test_sample_data_names_no_class_that_is_gone() -> None:
    """What was retired leaves the tables too."""
    assert set(EVENTS) == set(EVENT_CLASSES)
    assert set(ACTIONS) == set(ACTION_CLASSES)


def test_the_package_gives_out_every_event_and_action() -> None:
    """They are public names of the package."""
    assert set(EVENTS) | set(ACTIONS) <= set(package.__all__)
    for name in package.__all__:
        assert getattr(package, name) is not None
    with pytest.raises(AttributeError, match="nothing"):
        package.nothing  # noqa: B018 - asking for it is the test


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ({"form": FORM + 1, "type": "Silence"}, "newer than this program knows"),
        ({"type": "Silence", "stream": "a", "sample": 1}, "newer than this program knows"),
        ({"form": FORM, "type": "Sneezed"}, "unknown type 'Sneezed'"),
        ({"form": FORM, "type": "Event"}, "unknown type 'Event'"),
        ({"form": FORM, "type": "Silence", "stream": "a"}, "Silence event that cannot be read"),
        ({"form": FORM, "type": "Silence", "stream": "a", "sample": -1}, "cannot be read"),
        ({"form": FORM, "type": "Keyed", "stream": "a", "sample": 1, "key": "wheel"}, "cannot be"),
    ],
)
def test_a_damaged_log_is_told_in_words(data: dict[str, Any], words: str) -> None:
    """Newer, unknown and broken lines each say what they are."""
    with pytest.raises(DataError, match=words):
        event_from_json(data)


def test_an_older_log_without_newer_fields_is_read() -> None:
    """A field that came later takes its default."""
    data = {"form": FORM, "type": "Told", "stream": "a", "sample": 1, "text": "Twelve."}
    event = event_from_json(data)
    assert isinstance(event, events.Told)
    assert event.item == ""


def test_illegal_events_and_actions_cannot_be_made() -> None:
    """They are checked where they are made."""
    with pytest.raises(ValueError, match="negative"):
        events.Silence(stream="a", sample=-1)
    with pytest.raises(ValueError, match="samples a second"):
        events.Opened(stream="a", sample=0, subject=DOG, routine="full", rate=0)
    with pytest.raises(ValueError, match="nothing to speak"):
        actions.Speak(sentences=("",))
    with pytest.raises(ValueError, match="observed item has a value"):
        actions.Record(ref=1, item="a.b", status=Status.OBSERVED)
    with pytest.raises(ValueError, match="needs a reason"):
        actions.Record(ref=1, item="a.b", status=Status.NOT_OBSERVED)
