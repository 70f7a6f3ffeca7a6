"""``handsfree kennel differs`` and ``settle``; ``findings``, ``told`` and ``acknowledge``.

What two people answered differently, and what cannot wait until somebody has acknowledged it.
"""

from __future__ import annotations

import argparse
from datetime import timedelta

from handsfree.commands.kennel_dogs import dog_meant, opened_for_dog
from handsfree.commands.shared import Subparsers, add_by, add_command, line, open_store
from handsfree.errors import CallerError

__all__ = ["add_to"]

MOST_DAYS = 36_600
"""A hundred years: no record is older."""


def add_to(commands: Subparsers) -> None:
    """Add the commands to those of the kennel."""
    differs = add_command(
        commands,
        "differs",
        about="list answers of two people or two stations that differ",
        example="handsfree kennel differs\nhandsfree kennel differs --dog Rex --settled",
        run=_differs,
    )
    differs.add_argument("--dog", help="only of this dog")
    differs.add_argument("--days", type=int, help="only of so many days back")
    differs.add_argument("--settled", action="store_true", help="those that were settled as well")

    settle = add_command(
        commands,
        "settle",
        about="say which of several answers counts; the others stay in the record",
        example="handsfree kennel settle 4f09e1 2 --by Kim --why 'looked again together'",
        run=_settle,
    )
    settle.add_argument("key", metavar="KEY", help="as handsfree kennel differs shows it")
    settle.add_argument("answer", type=int, metavar="NUMBER", help="the answer that counts")
    settle.add_argument("--by", metavar="PERSON", required=True, help="who settles it")
    settle.add_argument("--why", default="", help="why this one counts")

    add_command(
        commands,
        "findings",
        about="list what cannot wait and nobody has acknowledged, with who was told and when",
        example="handsfree kennel findings",
        run=_findings,
    )
    told = add_command(
        commands,
        "told",
        about="store who was told of a dog's finding that cannot wait, and when",
        example="handsfree kennel told Rex 'Dr Reed' --at 17:50 --by Kim",
        run=_told,
    )
    told.add_argument("dog")
    told.add_argument("name", help="who was told")
    told.add_argument("--at", default="", metavar="TIME", help="when (default: now)")
    acknowledge = add_command(
        commands,
        "acknowledge",
        about="store who acknowledges a dog's finding that cannot wait: it comes back no more",
        example="handsfree kennel acknowledge Rex 'Dr Reed' --by Kim",
        run=_acknowledge,
    )
    acknowledge.add_argument("dog")
    acknowledge.add_argument("name", help="who acknowledges it")
    add_by(told, acknowledge)


def _differs(args: argparse.Namespace) -> int:
    from handsfree.judging.differing import differences_of
    from handsfree.kennel.settling import heading_of, lines_of

    if args.days is not None and not 1 <= args.days <= MOST_DAYS:
        msg = f"{args.days} days cannot be: give a number from 1 to {MOST_DAYS}."
        raise CallerError(msg)
    with open_store(args) as store:
        since = None if args.days is None else store.file.clock() - timedelta(days=args.days)
        dog = dog_meant(store, args.dog) if args.dog else None
        found = differences_of(
            store, since=since, dog_id=dog.id if dog else None, settled=args.settled
        )
        for one in found:
            line(heading_of(store, one))
            for text in lines_of(store, one):
                line(f"  {text}")
        if not found:
            line("No two answers differ." if args.settled else "Nothing is to be settled.")
        elif any(one.settled is None for one in found):
            line("Settle one with: handsfree kennel settle KEY NUMBER --by PERSON --why WHY")
    return 0


def _settle(args: argparse.Namespace) -> int:
    from handsfree.kennel.settling import find, heading_of, lines_of, settle

    with open_store(args) as store:
        who = store.people.find(args.by).id
        done = settle(store, find(store, args.key), args.answer, person_id=who, why=args.why)
        line(heading_of(store, done.difference))
        for text in lines_of(store, done.difference):
            line(f"  {text}")
        checks = "1 check was" if done.judged == 1 else f"{done.judged} checks were"
        line(f"Both answers stay in the record. {checks} judged anew.")
    return 0


def _findings(args: argparse.Namespace) -> int:
    from handsfree.kennel.findings import judge_left, open_findings

    with open_store(args) as store:
        judge_left(store, store.file.clock())
        found = open_findings(store)
        for one in found:
            line(one.words())
        if not found:
            line("Nothing that cannot wait is unacknowledged.")
    return 0


def _told(args: argparse.Namespace) -> int:
    from handsfree.kennel.findings import of_dog, tell

    with opened_for_dog(args) as (store, dog, by):
        when = " ".join(args.at.split()) or f"{store.file.clock():%H:%M}"
        for one in of_dog(store, dog.id):
            tell(store, one, args.name, at=when, person_id=by)
            line(f"Stored for {dog.name}: {args.name} was told at {when}: {one.say}")
        line("It comes back until somebody acknowledges it.")
    return 0


def _acknowledge(args: argparse.Namespace) -> int:
    from handsfree.kennel.findings import acknowledge, of_dog

    with opened_for_dog(args) as (store, dog, by):
        for one in of_dog(store, dog.id):
            acknowledge(store, one, args.name, person_id=by)
            line(f"Acknowledged for {dog.name} by {args.name}: {one.say}")
    return 0
