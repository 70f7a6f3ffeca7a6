"""``handsfree begin``: the first run, wholly by ear: person, dog, vet's number, readiness."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from handsfree.commands.shared import Subparsers, add_command, line, open_store, today
from handsfree.commands.sound import add_sound_options
from handsfree.commands.talking import open_running, run_talk

if TYPE_CHECKING:
    from handsfree.interview.first_run import FirstRun
    from handsfree.records import Store
    from handsfree.records.model import Dog, Person

__all__ = ["register", "store_first_run"]


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "begin",
        about="set up by voice: you, your dog, the vet's number, and whether all is ready",
        example="handsfree begin\nhandsfree begin --typed",
        run=_run,
    )
    add_sound_options(parser)


def _run(args: argparse.Namespace) -> int:
    from handsfree.interview.first_run import first_run, first_run_fields, first_run_summary
    from handsfree.interview.form import Form
    from handsfree.interview.telling import Telling
    from handsfree.protocol.subject import Sight

    with open_store(args) as store:
        settings = store.settings.get()
        fields = first_run_fields([dog.name for dog in store.dogs.all()])
        form = Form(
            fields,
            intro=(
                "Hello. I ask about you and your dog, and store it at the end.",
                "I never replace a vet.",
                "Answer after the tone. Say help, repeat, go back or skip at any time.",
            ),
            summary=first_run_summary(fields),
            by_keys=args.typed,
        )

        def shows() -> bool:
            # A screen reader would talk over the voice: until sight is known nothing is printed.
            return form.answers.get("sight") == Sight.FULL.value

        with open_running(args, store, settings, None, shows=shows) as running:
            if run_talk(running, form, units=settings.units.value) != "complete":
                if args.typed:
                    line("Nothing was stored.")
                return 1
            result = first_run(form.answers, today())
            person, dog = store_first_run(store, result)
            words = [f"Stored: {person.name}, and {dog.name}.", *_readiness(args, store)]
            words.append(f"Say it later with: handsfree check {dog.name}.")
            run_talk(running, Telling(words), sight=result.sight, person=person.name)
    return 0


def store_first_run(store: Store, result: FirstRun) -> tuple[Person, Dog]:
    """Store the first run's answers, all or none; return the person and the dog.

    A person of that name who is known already keeps their records; so does a known dog.
    """
    from handsfree.speaking.voice import FASTEST_WPM, SLOWEST_WPM, STEP_WPM

    with store.transaction():
        settings = store.settings.get()
        rate = settings.rate_wpm + result.pace * STEP_WPM
        wanted: dict[str, Any] = {
            "sight": result.sight,
            "rate_wpm": min(FASTEST_WPM, max(SLOWEST_WPM, rate)) if result.pace else None,
        }
        same = [p for p in store.people.all() if p.name.casefold() == result.name.casefold()]
        if same:
            person = store.people.edit(same[0].id, by=same[0].id, **wanted)
        else:
            person = store.people.add(result.name, **wanted)
        known = [d for d in store.dogs.all() if d.name.casefold() == result.dog.casefold()]
        if known and result.known_dog:
            dog = store.dogs.edit(known[0].id, person_id=person.id, **result.dog_fields)
        else:
            dog = store.dogs.add(result.dog, person_id=person.id, **result.dog_fields)
        if result.vet_number is not None:
            store.settings.set("vet_number", result.vet_number, person_id=person.id)
    return person, dog


def _readiness(args: argparse.Namespace, store: Store) -> list[str]:
    """Return what stands in the way of a check, in sentences; the sound is open already."""
    from handsfree.commands.ready import State, find_all

    found = [
        finding
        for finding in find_all(store.path.parent, sound=False, engines=not args.typed)
        if finding.state is not State.OK
    ]
    if not found:
        return ["All is ready for a check."]
    return ["Before a check:", *(f"{finding.what}: {finding.text}" for finding in found)]
