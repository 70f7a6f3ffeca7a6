"""``handsfree check``: a whole check of one dog, led by voice or by keys."""

from __future__ import annotations

import argparse
import signal
import sys
from contextlib import ExitStack
from typing import TYPE_CHECKING

from handsfree.commands.shared import Subparsers, add_command, line, open_store, person_named, today
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
    parser.add_argument("--typed", action="store_true", help="by keys alone, without any sound")
    parser.add_argument(
        "--new", action="store_true", help="do not take up a check that was stopped"
    )
    parser.add_argument("--mic", metavar="NAME", help="microphone, by name or number")
    parser.add_argument("--speaker", metavar="NAME", help="loudspeaker, by name or number")
    parser.add_argument("--screen", action="store_true", help="show it in large letters as well")
    parser.add_argument("--no-keys", action="store_true", help="do not read the keyboard")
    parser.add_argument(
        "--keep-audio", metavar="FILE", help="keep the whole dialogue as a WAV file"
    )


def run(args: argparse.Namespace) -> int:
    """Run the check."""
    from handsfree.speaking.espeak import Pyttsx3Synthesiser

    # The engine loads in a process of its own while all else is imported here.
    synthesiser = Pyttsx3Synthesiser()
    if not args.typed:
        synthesiser.start()
    try:
        return _run(args, synthesiser)
    finally:
        synthesiser.close()


def _run(args: argparse.Namespace, synthesiser: Pyttsx3Synthesiser) -> int:
    from handsfree.protocol.loader import load

    protocol = load()
    if args.routine not in protocol.routines:
        msg = f"There is no routine {args.routine!r}. There are: {', '.join(protocol.routines)}."
        raise CallerError(msg)
    with open_store(args) as store:
        dog = store.dogs.find(args.dog)
        who = person_named(store, args.by)
        person = store.people.get(who) if who else _only_person(store)
        settings = store.settings.get()
        if args.typed:
            return _typed(args, store, dog, person, settings)
        return _spoken(args, store, dog, person, settings, synthesiser)


def _only_person(store: Store) -> Person | None:
    people = store.people.all()
    return people[0] if len(people) == 1 else None


def _typed(
    args: argparse.Namespace, store: Store, dog: Dog, person: Person | None, settings: Settings
) -> int:
    from handsfree.session.assembly import open_check
    from handsfree.session.keys import read_lines
    from handsfree.session.typed import TypedDriver

    def write(text: str) -> None:
        line(text)
        sys.stdout.flush()

    driver = TypedDriver(lines=read_lines(sys.stdin), write=write)
    _on_signals(driver.stop)
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
    from handsfree.commands.paths import models_folder
    from handsfree.protocol.loader import load
    from handsfree.protocol.subject import Sight
    from handsfree.review.screen import Screen
    from handsfree.session.assembly import open_check, sight_of
    from handsfree.session.live import LiveSound

    sees = sight_of(person, settings) is Sight.FULL

    def write(text: str) -> None:
        # A screen reader would talk over the voice: with little sight nothing is printed.
        if sees:
            line(text)
            sys.stdout.flush()

    screen = Screen(load()) if args.screen else None
    if screen is not None:
        sees = False  # the screen shows what would be printed
    microphone = args.mic or settings.input_device
    sound = LiveSound(
        settings=settings,
        person=person,
        microphone=microphone,
        loudspeaker=args.speaker or settings.output_device,
        keep_audio=args.keep_audio,
        keys=None if args.no_keys or not sys.stdin.isatty() else sys.stdin,
        write=write,
        models=models_folder(store.path.parent),
        synthesiser=synthesiser,
        profile=store.profiles.voice(person.id if person else None, microphone or ""),
    )
    with ExitStack() as stack:
        driver = stack.enter_context(sound)
        if screen is not None:
            stack.enter_context(screen)
            driver.on_level = screen.level
        _on_signals(driver.stop)
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


def _on_signals(stop: object) -> None:
    def end(number: int, _frame: object) -> None:
        assert callable(stop)
        stop(signal.Signals(number).name)

    for name in ("SIGINT", "SIGTERM", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), end)
