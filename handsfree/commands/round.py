"""``handsfree round``: a kennel's round, dog by dog, by keys, pedal or a headset's button."""

from __future__ import annotations

import argparse
import signal
import sys

from handsfree.commands.shared import Subparsers, add_command, line, open_store, person_named
from handsfree.errors import CallerError

__all__ = ["register"]


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "round",
        about="lead a kennel's round by keys, dog by dog",
        example="handsfree round --typed --by Robin\nhandsfree round --typed --row A",
        run=_run,
    )
    parser.add_argument("--typed", action="store_true", help="by keys, pedal or button alone")
    parser.add_argument("--site", default="", help="only this site")
    parser.add_argument("--row", help="only this row")
    parser.add_argument("--by", metavar="PERSON", help="who begins the round")


def _run(args: argparse.Namespace) -> int:
    if not args.typed:
        msg = "A round is led by keys: add --typed. One dog is led by voice with: handsfree check"
        raise CallerError(msg)
    from handsfree.kennel.running import KeyRound
    from handsfree.session.keys import read_lines
    from handsfree.session.typed import TypedDriver

    def write(text: str) -> None:
        line(text)
        sys.stdout.flush()

    with open_store(args) as store:
        who = person_named(store, args.by)
        site = store.kennel.site(args.site) if args.site or args.row else None
        row = store.kennel.row(site, args.row) if site and args.row else None
        driver = TypedDriver(lines=read_lines(sys.stdin), write=write)
        for name in ("SIGINT", "SIGTERM", "SIGHUP"):
            if hasattr(signal, name):
                signal.signal(
                    getattr(signal, name), lambda n, _f: driver.stop(signal.Signals(n).name)
                )
        KeyRound(store, driver, write, store.people.get(who) if who else None).run(
            site_id=site.id if site else None, row_id=row.id if row else None
        )
    return 0
