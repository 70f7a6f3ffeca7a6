"""``handsfree check``: a whole check of one dog, led by voice or by keys."""

from __future__ import annotations

import argparse
from contextlib import ExitStack
from typing import TYPE_CHECKING

from handsfree.commands.shared import Subparsers, add_command, open_store, person_leading, today
from handsfree.commands.sound import (
    add_sound_options,
    end_on_signals,
    keys_driver,
    live_sound,
    microphone_of,
    started_synthesiser,
)
from handsfree.errors import CallerError

if TYPE_CHECKING:
    from handsfree.records import Store
    from handsfree.records.model import Dog, Person, Settings
    from handsfree.speaking.espeak import Pyttsx3Synthesiser

__all__ = ["register"]


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "check",
        about="lead a whole check of a dog, by voice or by keys",
        example="handsfree check Rex\nhandsfree check Rex --routine quick --by Robin\n"
        "handsfree check Rex --typed",
        run=run,
    )
    parser.add_argument("dog", help="name, or key, of the dog")
    parser.add_argument(
        "--routine", default="full", help="full, quick, glance, kennel or kennel_open"
    )
    parser.add_argument("--by", metavar="PERSON", help="who leads the check")
    parser.add_argument("--helper", action="store_true", help="a sighted person is there")
    parser.add_argument(
        "--new", action="store_true", help="do not take up a check that was stopped"
    )
    add_sound_options(parser)
    parser.add_argument("--screen", action="store_true", help="show it in large letters as well")
    parser.add_argument(
        "--keep-audio", metavar="FILE", help="keep the whole dialogue as a WAV file"
    )


def run(args: argparse.Namespace) -> int:
    """Run the check."""
    with started_synthesiser(args) as synthesiser:
        return _run(args, synthesiser)


def _run(args: argparse.Namespace, synthesiser: Pyttsx3Synthesiser) -> int:
    from handsfree.protocol.loader import load

    protocol = load()
    if args.routine not in protocol.routines:
        msg = f"There is no routine {args.routine!r}. There are: {', '.join(protocol.routines)}."
        raise CallerError(msg)
    with open_store(args) as store:
        dog = store.dogs.find(args.dog)
        person = person_leading(store, args.by)
        settings = store.settings.get()
        if args.typed:
            return _typed(args, store, dog, person, settings)
        return _spoken(args, store, dog, person, settings, synthesiser)


def _typed(
    args: argparse.Namespace, store: Store, dog: Dog, person: Person | None, settings: Settings
) -> int:
    from handsfree.session.assembly import open_check

    driver = keys_driver()
    end_on_signals(driver.stop)
    check = open_check(
        store,
        dog,
        person=person,
        settings=settings,
        routine=args.routine,
        output=driver,
        engine="keys",
        on=today(),
        helper=args.helper,
        resume=not args.new,
    )
    driver.run(check.runner, check.opened)
    return 0


def _spoken(
    args: argparse.Namespace,
    store: Store,
    dog: Dog,
    person: Person | None,
    settings: Settings,
    synthesiser: Pyttsx3Synthesiser,
) -> int:
    from handsfree.protocol.loader import load
    from handsfree.protocol.subject import Sight
    from handsfree.review.screen import Screen
    from handsfree.session.assembly import open_check, sight_of

    screen = Screen(load()) if args.screen else None
    # The screen shows what would be printed.
    prints = screen is None and sight_of(person, settings) is Sight.FULL
    microphone = microphone_of(args, settings) or ""
    sound = live_sound(
        args,
        store,
        settings,
        person,
        shows=lambda: prints,
        keep_audio=args.keep_audio,
        profile=store.profiles.voice(person.id if person else None, microphone),
        synthesiser=synthesiser,
    )
    with ExitStack() as stack:
        driver = stack.enter_context(sound)
        if screen is not None:
            stack.enter_context(screen)
            driver.on_level = screen.level
        end_on_signals(driver.stop)
        check = open_check(
            store,
            dog,
            person=person,
            settings=settings,
            routine=args.routine,
            output=driver,
            engine=sound.engine,
            on=today(),
            helper=args.helper,
            has_keys=not args.no_keys,
            observers=(screen,) if screen is not None else (),
            resume=not args.new,
        )
        driver.run(check.runner, check.opened)
    return 0
