"""``handsfree handover``: what one shift tells the next, spoken, printed, signed; and retention."""

from __future__ import annotations

import argparse
from datetime import timedelta
from pathlib import Path

from handsfree.commands.shared import (
    Subparsers,
    add_by,
    add_command,
    line,
    open_store,
    person_named,
)
from handsfree.errors import CallerError

__all__ = ["register"]

MOST_HOURS = 24 * 366
"""A handover reaches back a year at most."""


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "handover",
        about="hand over a kennel's shift: speak, print and sign it",
        example="handsfree handover --aloud --sign 'Kim Ash'\nhandsfree handover --page day.html\n"
        "handsfree handover --outbreak --dogs 2 --days 3\n"
        "handsfree handover --remove-older-than 3",
        run=_run,
    )
    parser.add_argument("--aloud", action="store_true", help="speak it")
    parser.add_argument("--page", metavar="FILE", help="write the day's record as a page to print")
    parser.add_argument("--sign", metavar="NAME", help="sign and store it")
    parser.add_argument("--hours", type=float, help="of so many hours (default: since the last)")
    parser.add_argument("--outbreak", action="store_true", help="signs per day and row")
    parser.add_argument("--dogs", type=int, help="alarm at so many dogs of a row (default: as set)")
    parser.add_argument("--days", type=int, help="within so many days (default: as set)")
    parser.add_argument(
        "--remove-older-than", type=int, metavar="YEARS", help="say which records are older"
    )
    parser.add_argument("--remove", action="store_true", help="with it: remove them for good")
    add_by(parser)


def _run(args: argparse.Namespace) -> int:
    if args.remove_older_than is not None or args.remove:
        return _retention(args)
    from handsfree.kennel.handover import cases_of, gather
    from handsfree.sync.station import last_synced

    with open_store(args) as store:
        now = store.file.clock()
        settings = store.settings.get()
        args.dogs = settings.outbreak_dogs if args.dogs is None else args.dogs
        args.days = settings.outbreak_days if args.days is None else args.days
        if args.outbreak:
            return _outbreak(args, cases_of(store, now))
        if args.hours is not None and not 0 < args.hours <= MOST_HOURS:
            msg = f"{args.hours:g} hours cannot be: give a number above 0, up to {MOST_HOURS}."
            raise CallerError(msg)
        since = store.rounds.last_handover()
        if args.hours is not None or since is None:
            since = now - timedelta(hours=args.hours or 24)
        stations = store.file.one("SELECT count(*) AS n FROM stations")
        told = gather(
            store, since=since, now=now, last_synced=last_synced(store),
            stations=1 if stations is None else stations["n"], dogs=args.dogs, days=args.days,
        )  # fmt: skip
        for sentence in told.sentences():
            line(sentence)
        if args.page:
            from handsfree.kennel.day_page import day_page

            try:
                page = day_page(store, told, signed=args.sign or "")
                Path(args.page).write_text(page, encoding="utf-8")
            except OSError as error:
                msg = f"{args.page} cannot be written ({error.strerror}): name another file."
                raise CallerError(msg) from error
            line(f"Written: {args.page}")
        if args.sign:
            body = {"since": since.isoformat(), "parts": told.parts}
            by = person_named(store, args.by)
            store.rounds.hand_over(args.sign, body, person_id=by)
            line(f"Signed: {args.sign}.")
        if args.aloud:
            from handsfree.commands.aloud import speak

            speak(told.sentences(), store.settings.get())
    return 0


def _outbreak(args: argparse.Namespace, cases: object) -> int:
    from handsfree.kennel.outbreak import alarms, table

    assert isinstance(cases, list)
    for (day, row, sign), count in table(cases).items():
        line(f"{day} row {row}: {sign} {count}")
    found = alarms(cases, dogs=args.dogs, days=args.days)
    for alarm in found:
        line(f"Alarm on {alarm.day}: {alarm.dogs} dogs of row {alarm.row} with {alarm.sign}.")
    if not cases:
        line("No vomiting, diarrhoea or cough is stored.")
    return 0


def _retention(args: argparse.Namespace) -> int:
    from handsfree.records.retention import remove, would_remove

    if args.remove_older_than is None:
        msg = "--remove needs --remove-older-than YEARS."
        raise CallerError(msg)
    with open_store(args) as store:
        if args.remove:
            found = remove(store, args.remove_older_than, person_id=person_named(store, args.by))
        else:
            found = would_remove(store, args.remove_older_than)
        word = "Removed" if args.remove else "Would be removed"
        for table, count in found.items():
            line(f"{word}: {count} of {table.replace('_', ' ')}")
        if not found:
            line(f"Nothing is older than {args.remove_older_than} years.")
        elif not args.remove:
            line("Nothing was removed. To remove it for good, add --remove.")
    return 0
