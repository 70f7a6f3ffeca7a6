"""``handsfree measure``: one measurement by voice or keys, without a check, stored alike."""

from __future__ import annotations

import argparse
from dataclasses import replace
from typing import TYPE_CHECKING

from handsfree.commands.shared import Subparsers, add_command, open_store, person_leading, today
from handsfree.commands.sound import add_sound_options
from handsfree.commands.talking import Running, open_running, run_talk
from handsfree.errors import CallerError

if TYPE_CHECKING:
    from handsfree.dialogue.events import Opened
    from handsfree.interview.field import Answers
    from handsfree.interview.measures import Kind
    from handsfree.protocol.subject import Subject
    from handsfree.records import Store
    from handsfree.records.model import Dog, Person, Settings

__all__ = ["register"]

_WHAT = ("breaths", "heart", "refill", "weight", "temperature", "lump")


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "measure",
        about="take one measurement by voice, without a check",
        example="handsfree measure Rex breaths\n"
        "handsfree measure Rex breaths --asleep\n"
        "handsfree measure Rex breaths --way say\n"
        "handsfree measure Rex weight --difference\n"
        "handsfree measure Rex heart --typed",
        run=_run,
    )
    parser.add_argument("dog", help="name, or key, of the dog")
    parser.add_argument("what", choices=_WHAT, help="what is measured")
    parser.add_argument("--by", metavar="PERSON", help="who measures")
    parser.add_argument(
        "--way",
        choices=("count", "say"),
        default="count",
        help="breaths: count a minute (the default), or say a word at each",
    )
    parser.add_argument(
        "--asleep",
        action="store_true",
        help="breaths of a sleeping dog: no sound, begun and ended by Enter or a whisper",
    )
    parser.add_argument(
        "--difference",
        action="store_true",
        help="weight: on a bathroom scale, you with the dog less you alone",
    )
    parser.add_argument("--lump", metavar="KEY", help="which known lump, such as lump1")
    parser.add_argument("--helper", action="store_true", help="a sighted person is there")
    add_sound_options(parser)


def _run(args: argparse.Namespace) -> int:
    from handsfree.interview.measures import MEASURES
    from handsfree.protocol.single import PREFIX
    from handsfree.protocol.subject import Sight
    from handsfree.session.assembly import sight_of

    way = _way(args)
    with open_store(args) as store:
        dog = store.dogs.find(args.dog)
        person = person_leading(store, args.by)
        settings = store.settings.get()
        kind = MEASURES[args.what]
        lumps = _lumps(store, dog, args.lump) if args.what == "lump" else None
        sees = sight_of(person, settings) is Sight.FULL
        profile = store.profiles.voice(
            person.id if person else None, (args.mic or settings.input_device) or ""
        )
        with open_running(
            args, store, settings, person, shows=lambda: sees, profile=profile
        ) as running:
            facts = _around(running, kind, person, settings)
            if facts is None:
                return 1
            routine = f"{PREFIX}{args.what}{way}"
            _measure(args, store, dog, person, settings, running, kind, routine, facts, lumps)
    return 0


def _way(args: argparse.Namespace) -> str:
    """Return the ending of the routine that the options ask for.

    Raises:
        CallerError: An option that does not go with what is measured.
    """
    chosen = [
        (args.asleep, "breaths", "_asleep", "--asleep"),
        (args.way == "say", "breaths", "_said", "--way say"),
        (args.difference, "weight", "_difference", "--difference"),
        (args.lump is not None, "lump", "", "--lump"),
    ]
    endings = []
    for given, what, ending, option in chosen:
        if given and args.what != what:
            msg = f"{option} goes with {what}, not with {args.what}: leave it out."
            raise CallerError(msg)
        if given:
            endings.append(ending)
    if len(endings) > 1:
        msg = "Choose one of --asleep and --way say: they are two ways to take the same number."
        raise CallerError(msg)
    return endings[0] if endings else ""


def _lumps(store: Store, dog: Dog, key: str | None) -> frozenset[str]:
    """Return the keys of the lumps to be measured.

    Raises:
        CallerError: The dog has none, or not this one.
    """
    known = {lump.key: lump.place for lump in store.lumps.of_dog(dog.id)}
    if not known:
        msg = (
            f"{dog.name} has no known lump. A check finds new ones; enter one by hand with: "
            f"handsfree dog lump {dog.name} --help"
        )
        raise CallerError(msg)
    if key is None:
        return frozenset(known)
    if key not in known:
        listed = ", ".join(f"{name} ({place})" for name, place in known.items())
        msg = f"{dog.name} has no lump {key!r}. There are: {listed}."
        raise CallerError(msg)
    return frozenset({key})


def _around(
    running: Running, kind: Kind, person: Person | None, settings: Settings
) -> Answers | None:
    """Ask what matters around the number; None where the person stopped."""
    from handsfree.interview.form import Form
    from handsfree.interview.measures import around
    from handsfree.session.assembly import sight_of

    form = Form(around(kind), intro=(f"First, a word on {kind.title}.",), by_keys=running.by_keys)
    outcome = run_talk(
        running,
        form,
        sight=sight_of(person, settings),
        person=person.name if person else "",
        units=settings.units.value,
    )
    return form.answers if outcome == "complete" else None


def _measure(
    args: argparse.Namespace,
    store: Store,
    dog: Dog,
    person: Person | None,
    settings: Settings,
    running: Running,
    kind: Kind,
    routine: str,
    facts: Answers,
    lumps: frozenset[str] | None,
) -> None:
    from handsfree.dialogue.actions import LogFact
    from handsfree.interview.measures import machine_for, with_measure
    from handsfree.protocol.loader import load
    from handsfree.records.model import Outcome
    from handsfree.session.assembly import open_check

    protocol = load()
    check = open_check(
        store,
        dog,
        person=person,
        settings=settings,
        routine=routine,
        output=running.output,
        engine=running.engine,
        on=today(),
        observers=running.observers,
        helper=args.helper,
        has_keys=not args.no_keys,
        resume=False,
        protocol=with_measure(protocol, kind),
        machine=machine_for(routine, protocol, by_keys=running.by_keys),
    )
    told = [(key, str(value)) for key, value in facts.items() if value is not None]
    told.append(("who", person.name if person else "not named"))
    store.exams.fact(check.exam_id, LogFact(name="measured", detail=tuple(sorted(told))))

    def opened(stream: str, sample: int) -> Opened:
        event = check.opened(stream, sample)
        return replace(
            event,
            carried=(),
            asked_now="",
            subject=event.subject if lumps is None else _with(event.subject, lumps),
        )

    if running.driver.run(check.runner, opened) == Outcome.PAUSED:
        # A measurement is taken at once or anew: it is never taken up where it stopped.
        store.exams.finish(check.exam_id, Outcome.PARTIAL)


def _with(subject: Subject, lumps: frozenset[str]) -> Subject:
    return replace(subject, lumps=tuple(lump for lump in subject.lumps if lump.key in lumps))
