"""``handsfree practise``: a round of words, or the stopwatch's dummy: voice, room and lag."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from handsfree.commands.shared import Subparsers, add_command, open_store, person_leading
from handsfree.commands.sound import add_sound_options
from handsfree.commands.talking import Running, open_running, run_talk

if TYPE_CHECKING:
    from handsfree.hearing.profile import VoiceProfile
    from handsfree.interview.words import WordPractice
    from handsfree.records import Store
    from handsfree.records.model import Person

__all__ = ["learned", "practise_lag", "practise_words", "register"]

_LEAST_MARGIN_DB = 15.0
"""A voice less far above the room than this is told; our own judgement."""


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "practise",
        about="practise: say twelve words, or learn your own lag at the refill stopwatch",
        example="handsfree practise\nhandsfree practise --by Robin\nhandsfree practise --refill",
        run=_run,
    )
    parser.add_argument("--by", metavar="PERSON", help="who practises")
    parser.add_argument(
        "--refill", action="store_true", help="learn how late you say now when a tone fades"
    )
    add_sound_options(parser, typed=False)


def _run(args: argparse.Namespace) -> int:
    from handsfree.protocol.subject import Sight
    from handsfree.session.assembly import sight_of

    with open_store(args) as store:
        settings = store.settings.get()
        person = person_leading(store, args.by)
        sees = sight_of(person, settings) is Sight.FULL
        practise = practise_lag if args.refill else practise_words
        with open_running(args, store, settings, person, shows=lambda: sees) as running:
            return 0 if practise(running, store, person) else 1


def practise_words(running: Running, store: Store, person: Person | None) -> bool:
    """Run the round of words, store the profile, and say how it stands; False if it was stopped."""
    from handsfree.interview.telling import Telling
    from handsfree.interview.words import WordPractice

    talk = WordPractice()
    name = person.name if person else ""
    if run_talk(running, talk, person=name) != "complete":
        return False
    profile = learned(talk, running, person)
    store.profiles.keep_voice(person.id if person else None, profile)
    run_talk(running, Telling(_told(profile)), person=name)
    return True


def learned(talk: WordPractice, running: Running, person: Person | None) -> VoiceProfile:
    """Return what the round showed of the voice and the room."""
    from handsfree.hearing.profile import VoiceProfile

    def level(value: float) -> float:
        return round(min(0.0, max(-120.0, value)), 1)

    hearing = running.hearing
    assert hearing is not None, "a round of words needs sound"
    return VoiceProfile(
        voice_db=level(hearing.voice_db),
        noise_db=level(hearing.room_db),
        person=person.name if person else "",
        microphone=running.microphone,
        well_heard=talk.well_heard,
        badly_heard=talk.badly_heard,
    )


def _told(profile: VoiceProfile) -> tuple[str, ...]:
    margin = round(profile.margin_db)
    words = [f"Your voice stands {margin} decibels above the room."]
    if profile.margin_db < _LEAST_MARGIN_DB:
        words.append("That is little: come nearer, use a headset, or a quieter room.")
    words.append("I keep that for you at this microphone.")
    return tuple(words)


def practise_lag(running: Running, store: Store, person: Person | None) -> bool:
    """Run the dummy and store the lag; False if too little was learned."""
    from handsfree.interview.dummy import LagDummy
    from handsfree.records.profiles import LearnedLag

    talk = LagDummy()
    done = run_talk(running, talk, person=person.name if person else "")
    lag = talk.lag
    if done != "complete" or lag is None:
        return False
    store.profiles.keep_lag(
        person.id if person else None,
        LearnedLag(
            median_s=round(lag.median_s, 3), spread_s=round(lag.spread_s, 3), trials=lag.trials
        ),
    )
    return True
