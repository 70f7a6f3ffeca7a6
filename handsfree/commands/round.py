"""``handsfree round``: a kennel's round, dog by dog, by voice and by keys."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from handsfree.commands.shared import Subparsers, add_command, line, open_store, person_leading
from handsfree.commands.sound import (
    add_sound_options,
    end_on_signals,
    keys_driver,
    live_sound,
    microphone_of,
    started_synthesiser,
)

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
    with started_synthesiser(args) as synthesiser:
        return _round(args, synthesiser)


def _round(args: argparse.Namespace, synthesiser: Pyttsx3Synthesiser) -> int:
    from handsfree.kennel.names import Names
    from handsfree.kennel.running import RoundRun, stops_of

    with open_store(args) as store:
        people = store.people.all()
        person = person_leading(store, args.by)
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
            end_on_signals(driver.stop)
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
    if args.typed:
        yield keys_driver(), "keys", lambda _who: None
        return
    from handsfree.protocol.subject import Sight
    from handsfree.session.assembly import sight_of

    settings = store.settings.get()
    sees = sight_of(person, settings) is Sight.FULL
    microphone = microphone_of(args, settings) or ""
    sound = live_sound(
        args,
        store,
        settings,
        person,
        shows=lambda: sees,
        keep_audio=args.keep_audio,
        profile=store.profiles.voice(person.id if person else None, microphone),
        synthesiser=synthesiser,
        composer=names.compose,
    )
    with sound as driver:
        yield driver, sound.engine, sound.suit
