"""Practice is stored, shown, and used by the next check."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from interview.room import room

from handsfree.commands.practise import practise_lag, practise_words
from handsfree.commands.ready import State, find_all
from handsfree.dialogue.actions import Ask
from handsfree.hearing.profile import VoiceProfile
from handsfree.records import Store
from handsfree.records.profiles import LearnedLag
from handsfree.session.assembly import open_check

NUMBERS = {7.0: "seven", 12.0: "twelve"}


def _repeat(ask: Ask) -> str | None:
    if ask.stage != "word":
        return None
    return ask.read_back if isinstance(ask.read_back, str) else NUMBERS[ask.read_back or 0.0]


def test_a_round_is_stored_and_shown(tmp_path: Path) -> None:
    """The profile goes with person and microphone, and ready tells it."""
    with Store.open(tmp_path) as store:
        kim = store.people.add("Kim")
        with room(_repeat) as opened:
            assert practise_words(opened.running, store, kim)
        profile = store.profiles.voice(kim.id, "computed")
        assert profile is not None
        assert profile.person == "Kim"
        assert len(profile.well_heard) >= 10
        assert store.profiles.voice(kim.id, "another") is None
        assert any("decibels above the room" in text for text in opened.told)
    found = {f.what: f for f in find_all(tmp_path, sound=False, engines=False)}
    assert found["practice"].state is State.OK
    assert "Kim at computed" in found["practice"].text


def test_a_learned_lag_is_stored_and_used(tmp_path: Path) -> None:
    """The next check is opened with the person's own lag."""
    with Store.open(tmp_path) as store:
        kim = store.people.add("Kim")
        dog = store.dogs.add("Rex")
        with room(lambda ask: "begin" if ask.stage == "start" else None, lag_s=0.4) as opened:
            assert practise_lag(opened.running, store, kim)
            check = open_check(
                store, dog, person=kim, settings=store.settings.get(), routine="glance",
                output=opened.driver, engine="none", on=date(2026, 3, 14),
            )  # fmt: skip
        event = check.opened("s", 0)
        assert event.lag_s == pytest.approx(0.4, abs=0.06)
        assert event.lag_spread_s is not None
    found = {f.what: f for f in find_all(tmp_path, sound=False, engines=False)}
    assert "Kim says now" in found["stopwatch"].text


def test_a_round_that_was_stopped_stores_nothing(tmp_path: Path) -> None:
    """Half a round is no profile."""
    with Store.open(tmp_path) as store:
        with room(lambda ask: "stop") as opened:
            assert not practise_words(opened.running, store, None)
        assert store.profiles.voices() == ()


def test_the_newest_profile_counts(tmp_path: Path) -> None:
    """Each round is kept, and the last one is used; an unnamed person has one too."""
    with Store.open(tmp_path) as store:
        for level in (-30.0, -25.0):
            store.profiles.keep_voice(None, VoiceProfile(voice_db=level, microphone="desk"))
        profile = store.profiles.voice(None, "desk")
        assert profile is not None
        assert profile.voice_db == -25.0
        assert len(store.profiles.voices()) == 1
        store.profiles.keep_lag(None, LearnedLag(median_s=0.3, spread_s=0.05, trials=5))
        assert store.profiles.lag(None) == LearnedLag(median_s=0.3, spread_s=0.05, trials=5)
