"""``handsfree round``: a kennel's round, dog by dog, by voice and by keys."""

from __future__ import annotations

import argparse
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from handsfree.commands.shared import Subparsers, add_command, line, open_store, person_named
from handsfree.commands.talking import add_sound_options

if TYPE_CHECKING:
    from handsfree.kennel.names import Names
    from handsfree.records import Store
    from handsfree.records.model import Person
    from handsfree.session.driver import Driver
    from handsfree.session.typed import TypedDriver
    from handsfree.speaking.espeak import Pyttsx3Synthesiser

__all__ = ["register"]


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "round",
        about="lead a kennel's round dog by dog, by voice and by keys",
        example="handsfree round --by Robin\nhandsfree round --row A\nhandsfree round --typed",
        run=_run,
    )
    parser.add_argument("--site", default="", help="only this site")
    parser.add_argument("--row", help="only this row")
    parser.add_argument("--by", metavar="PERSON", help="who begins the round")
    parser.add_argument(
        "--new", action="store_true", help="begin anew, even where a round was left unfinished"
    )
    parser.add_argument(
        "--keep-audio", metavar="FILE", help="keep the whole dialogue as a WAV file"
    )
    add_sound_options(parser)


def _run(args: argparse.Namespace) -> int:
    from handsfree.speaking.espeak import Pyttsx3Synthesiser

    # The engine loads in a process of its own while all else is imported here.
    synthesiser = Pyttsx3Synthesiser()
    if not args.typed:
        synthesiser.start()
    try:
        return _round(args, synthesiser)
    finally:
        synthesiser.close()


def _round(args: argparse.Namespace, synthesiser: Pyttsx3Synthesiser) -> int:
    from handsfree.kennel.names import Names
    from handsfree.kennel.running import RoundRun, stops_of

    with open_store(args) as store:
        who = person_named(store, args.by)
        people = store.people.all()
        person = store.people.get(who) if who else people[0] if len(people) == 1 else None
        site = store.kennel.site(args.site) if args.site or args.row else None
        row = store.kennel.row(site, args.row) if site and args.row else None
        stops = stops_of(
            store,
            site_id=site.id if site else None,
            row_id=row.id if row else None,
            now=store.file.clock(),
        )
        names = Names(stops, people)
        with _opened(args, store, person, names, synthesiser) as (driver, engine, suit):
            _on_signals(driver.stop)
            run = RoundRun(
                store,
                stops,
                names,
                driver=driver,
                output=driver,
                engine=engine,
                person=person,
                by_keys=args.typed,
                has_keys=args.typed or not args.no_keys,
                on_person=suit,
            )
            run.run(
                site_id=site.id if site else None,
                row_id=row.id if row else None,
                anew=args.new,
            )
        if run.was_left:
            line("All is saved. Begin the round again to go on from here.")
    return 0


@contextmanager
def _opened(
    args: argparse.Namespace,
    store: Store,
    person: Person | None,
    names: Names,
    synthesiser: Pyttsx3Synthesiser,
) -> Iterator[tuple[Driver | TypedDriver, str, Callable[[Person], None]]]:
    """Open keys or sound as the command line says.

    Gives the driver, what hears, and what suits the voice to somebody who takes over.
    """
    from handsfree.protocol.subject import Sight
    from handsfree.session.assembly import sight_of

    settings = store.settings.get()
    sees = args.typed or sight_of(person, settings) is Sight.FULL

    def write(text: str) -> None:
        # A screen reader would talk over the voice: with little sight nothing is printed.
        if sees:
            line(text)
            sys.stdout.flush()

    if args.typed:
        from handsfree.session.keys import read_lines
        from handsfree.session.typed import TypedDriver

        yield TypedDriver(lines=read_lines(sys.stdin), write=write), "keys", lambda _who: None
        return
    from handsfree.commands.paths import models_folder
    from handsfree.kennel.names import open_hearing
    from handsfree.session.live import LiveSound

    microphone = args.mic or settings.input_device
    models = models_folder(store.path.parent)
    profile = store.profiles.voice(person.id if person else None, microphone or "")
    sound = LiveSound(
        settings=settings,
        person=person,
        microphone=microphone,
        loudspeaker=args.speaker or settings.output_device,
        keep_audio=args.keep_audio,
        keys=None if args.no_keys or not sys.stdin.isatty() else sys.stdin,
        write=write,
        models=models,
        synthesiser=synthesiser,
        hear=lambda: open_hearing(names, settings.engine, models=models, profile=profile),
    )
    with sound as driver:
        yield driver, sound.engine, sound.suit


def _on_signals(stop: Callable[[str], None]) -> None:
    def end(number: int, _frame: object) -> None:
        stop(signal.Signals(number).name)

    for name in ("SIGINT", "SIGTERM", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), end)
