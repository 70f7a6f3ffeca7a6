"""``handsfree care``: a dog's care calendar, and what the owner says of it."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from handsfree.commands.shared import (
    Subparsers,
    add_by,
    add_command,
    bold,
    line,
    open_store,
    parse_day,
    person_named,
    today,
)

if TYPE_CHECKING:
    from handsfree.judging.care import CareFact

__all__ = ["register", "run"]


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "care",
        about="print a dog's care calendar, or note what was done",
        example="handsfree care Rex\n"
        "handsfree care Rex --done nails\n"
        "handsfree care Rex --every nails 21\n"
        "handsfree care Rex --due vaccines 2027-03-01",
        run=run,
    )
    parser.add_argument("dog", metavar="DOG", help="the dog's name or key")
    change = parser.add_mutually_exclusive_group()
    change.add_argument("--done", metavar="TASK", help="note a task as done (today, or --on DAY)")
    change.add_argument(
        "--every", nargs=2, metavar=("TASK", "DAYS"), help="own interval; 'default' takes it back"
    )
    change.add_argument(
        "--due", nargs=2, metavar=("TASK", "DAY"), help="due day, as your vet set it"
    )
    change.add_argument("--off", metavar="TASK", help="leave a task out for this dog")
    change.add_argument("--back", metavar="TASK", help="take a task in again")
    parser.add_argument("--on", metavar="DAY", help="the day, such as 2026-03-14; else today")
    add_by(parser)
    parser.add_argument("--json", action="store_true", help="print a list of objects")


def run(args: argparse.Namespace) -> int:
    """Print the calendar, after noting what was said.

    Raises:
        CallerError: No such dog, task, day or number.
    """
    from handsfree.judging.care import calendar, care_lines
    from handsfree.judging.gather import care_facts, history_of, note_care

    on = today()
    fact = _fact(args)
    with open_store(args) as store:
        dog = store.dogs.find(args.dog)
        if fact is not None:
            note_care(store, dog.id, fact, person_id=person_named(store, args.by))
        dues = calendar(
            store.subject(dog.id, on),
            history_of(store, dog.id),
            care_facts(store, dog.id),
            on,
        )
    if args.json:
        import json

        from handsfree.judging.listing import dues_as_data

        print(json.dumps(dues_as_data(dues), indent=2, ensure_ascii=False))
        return 0
    print(bold(f"Care of {dog.name}"))
    for text in care_lines(dues, on):
        line(text)
    return 0


def _fact(args: argparse.Namespace) -> CareFact | None:
    from handsfree.errors import CallerError
    from handsfree.judging.care import CareFact, task_named

    day = today() if args.on is None else parse_day(args.on)
    if day > today():
        msg = f"{day} lies in the future: give the day on which it was done."
        raise CallerError(msg)
    if args.done is not None:
        return CareFact(task=task_named(args.done).id, kind="done", day=day)
    if args.due is not None:
        name, due = args.due
        return CareFact(task=task_named(name).id, kind="due", day=parse_day(due))
    if args.every is not None:
        name, days = args.every
        return CareFact(task=task_named(name).id, kind="interval", days=_interval(days))
    if args.off is not None:
        return CareFact(task=task_named(args.off).id, kind="off")
    if args.back is not None:
        return CareFact(task=task_named(args.back).id, kind="on")
    return None


def _interval(text: str) -> int | None:
    from handsfree.errors import CallerError

    if text == "default":
        return None
    if not text.isdecimal() or not 1 <= int(text) <= 3650:
        msg = f"{text!r} is no interval: give days from 1 to 3650, or 'default'."
        raise CallerError(msg)
    return int(text)
