"""Talks with a synthesised person in a computed room: real speech, hearing and sample clock."""

from __future__ import annotations

import pytest

from handsfree.commands.practise import learned
from handsfree.commands.talking import run_talk
from handsfree.dialogue.actions import Action, Ask, Record, Speak
from handsfree.dialogue.events import Event
from handsfree.interview.breathing_said import SaidBreaths
from handsfree.interview.dummy import LagDummy
from handsfree.interview.first_run import first_run_fields, first_run_summary
from handsfree.interview.form import Form
from handsfree.interview.words import WordPractice
from handsfree.protocol.loader import load

from .room import room

SAID = {
    "sight": ["a bit"],
    "pace": ["faster", "right"],
    "person": ["kilo", "india", "mike", "finished"],
    "dog": ["romeo", "echo", "x ray", "finished"],
    "sex": ["boy"],
    "neutered": ["yes"],
    "years": ["four"],
    "size": ["medium"],
    "flat_face": ["no"],
    "dark_gums": ["no"],
    "bitten": ["no"],
    "vet": ["zero", "one", "six", "finished"],
}


def test_the_first_run_is_done_by_voice_alone() -> None:
    """Every answer of the first run is spoken, heard offline, read back and right."""
    fields = first_run_fields()
    talk = Form(fields, summary=first_run_summary(fields))
    by_prompt = {field.prompt: field.id for field in fields}
    at = ""
    left = {key: list(words) for key, words in SAID.items()}

    def follow(event: Event, actions: tuple[Action, ...]) -> None:
        nonlocal at
        for action in actions:
            if isinstance(action, Speak):
                at = next((by_prompt[t] for t in action.sentences if t in by_prompt), at)

    def reply(ask: Ask) -> str | None:
        if ask.stage == "confirm":
            return "yes"
        return left[at].pop(0) if len(left[at]) > 1 else left[at][0]

    with room(reply) as opened:
        outcome = run_talk(opened.watched_by(follow, opened.hears), talk)
    assert outcome == "complete"
    assert talk.answers == {
        "sight": "low", "pace": 1.0, "person": "Kim", "dog": "Rex", "sex": "male",
        "neutered": "yes", "years": 4.0, "size": "medium", "flat_face": "no", "dark_gums": "no",
        "bitten": "no", "vet": "016",
    }  # fmt: skip


def test_a_round_of_words_learns_the_voice_and_the_room() -> None:
    """The words come through hearing, and the levels are those of the room."""
    talk = WordPractice()

    def reply(ask: Ask) -> str | None:
        return str(ask.read_back) if isinstance(ask.read_back, str) else _number(ask.read_back)

    with room(reply) as opened:
        outcome = run_talk(opened.running, talk)
        profile = learned(talk, opened.running, None)
    assert outcome == "complete"
    assert len(talk.well_heard) >= 10
    assert set(talk.well_heard) | set(talk.badly_heard) == {w.word for w in talk._words}
    assert profile.microphone == "computed"
    assert profile.margin_db > 20.0


def _number(value: float | None) -> str:
    return {7.0: "seven", 12.0: "twelve"}[value or 0.0]


@pytest.mark.parametrize("lag_s", [0.25, 0.5])
def test_the_dummy_learns_a_known_lag(lag_s: float) -> None:
    """A word that begins a known time after each tone gives that lag, within a tenth."""
    talk = LagDummy()
    with room(lambda ask: "begin" if ask.stage == "start" else None, lag_s=lag_s) as opened:
        outcome = run_talk(opened.running, talk)
    assert outcome == "complete"
    assert talk.lag is not None
    assert talk.lag.median_s == pytest.approx(lag_s, abs=0.06)


def test_breaths_are_counted_from_spoken_words() -> None:
    """A word every three seconds is twenty a minute, heard from speech."""
    talk = SaidBreaths(load())
    records: list[Record] = []

    def keep(event: Event, actions: tuple[Action, ...]) -> None:
        records.extend(a for a in actions if isinstance(a, Record))

    def reply(ask: Ask) -> str | None:
        answers = {"question": "resting awake", "start": "begin", "confirm": "yes"}
        return answers.get(ask.stage)

    with room(reply, paced=("tick", 3.0)) as opened:
        outcome = run_talk(opened.watched_by(opened.hears, keep), talk)
    assert outcome == "complete"
    rate = records[-1]
    assert rate.item == "breaths.rate"
    assert rate.value == pytest.approx(20.0, abs=1.0)
    assert rate.by == "voice"
