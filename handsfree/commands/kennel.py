"""``handsfree kennel``: sites, rows, pens, who is where, medicines, contacts, a roster from CSV."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from handsfree.commands import kennel_care, kennel_list, kennel_settling
from handsfree.commands.kennel_dogs import opened_for_dog
from handsfree.commands.kennel_list import medicine_words
from handsfree.commands.shared import (
    Subparsers,
    add_by,
    add_command,
    add_group,
    day_named,
    line,
    open_store,
    parse_day,
    person_named,
)
from handsfree.errors import CallerError

if TYPE_CHECKING:
    from handsfree.kennel.model import Row
    from handsfree.records import Store

__all__ = ["register"]


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    commands = add_group(
        subparsers,
        "kennel",
        about="keep a kennel: pens, places, stays, medicines, contacts, what differs or waits",
        example="handsfree kennel site Home\nhandsfree kennel import roster.csv --dry-run",
    )

    site = add_command(
        commands, "site", about="add a site", example="handsfree kennel site Home", run=_site
    )
    site.add_argument("name")

    pen = add_command(
        commands,
        "pen",
        about="add pens to a row; the row is made if it is new",
        example="handsfree kennel pen A 1 2 3\nhandsfree kennel pen Q 1 --kind isolation",
        run=_pen,
    )
    pen.add_argument("row", help="name of the row")
    pen.add_argument("pen", nargs="+", help="names of the pens")
    pen.add_argument("--site", default="", help="where there is more than one")
    pen.add_argument(
        "--kind", default=None, choices=["young", "healthy", "intake", "isolation"],
        help="what a new row is for",
    )  # fmt: skip
    pen.add_argument("--end", action="store_true", help="these are given up; no dog may be in one")

    place = add_command(
        commands,
        "place",
        about="put a dog into a pen; its earlier places stay in the history",
        example="handsfree kennel place Rex 'A 3' --why 'new arrival'",
        run=_place,
    )
    place.add_argument("dog")
    place.add_argument("pen", nargs="?", help="the pen; with --out none")
    place.add_argument("--why", default="")
    place.add_argument("--out", action="store_true", help="it is in no pen any more")
    place.add_argument("--site", help="it goes to this site, whose people give it a pen")

    medicine = add_command(
        commands,
        "medicine",
        about="store a medicine as the vet has set it, or end one",
        example="handsfree kennel medicine Rex Carprofen --amount '1 tablet of 50 mg' "
        "--every 12 --set-by 'Dr Reed'",
        run=_medicine,
    )
    medicine.add_argument("dog")
    medicine.add_argument("name")
    medicine.add_argument("--amount", help="how much each time, as the vet wrote it")
    medicine.add_argument("--every", type=float, metavar="HOURS", help="from dose to dose")
    medicine.add_argument("--set-by", metavar="VET", help="the vet who set it")
    medicine.add_argument("--way", default="", help="by mouth, on the skin ...")
    medicine.add_argument(
        "--from", dest="begins", metavar="DATE", help="first day (default: today)"
    )
    medicine.add_argument("--to", dest="ends", metavar="DATE", help="last day")
    medicine.add_argument("--end", action="store_true", help="it is no longer given")

    contact = add_command(
        commands,
        "contact",
        about="store whom to call about a dog",
        example="handsfree kennel contact Rex owner 'Kim Ash' --phone '01632 960 200'",
        run=_contact,
    )
    contact.add_argument("dog")
    contact.add_argument("kind", choices=["owner", "vet", "emergency"])
    contact.add_argument("name")
    for field in ("phone", "email", "address"):
        contact.add_argument(f"--{field}", default="")
    contact.add_argument("--end", action="store_true", help="it holds no longer")

    kennel_list.add_to(commands)
    taking = add_command(
        commands,
        "import",
        about="take a roster from a CSV file, all of it or nothing",
        example="handsfree kennel import roster.csv --dry-run",
        run=_import,
    )
    taking.add_argument("file")
    taking.add_argument(
        "--dry-run", action="store_true", help="say what would change, change nothing"
    )
    clear = add_command(
        commands,
        "clear",
        about="take a dog's flags away, with the reason",
        example="handsfree kennel clear Rex --why 'seen by the vet, cough gone'",
        run=_clear,
    )
    clear.add_argument("dog")
    clear.add_argument("--why", required=True, help="why it is cleared")
    add_by(site, pen, place, medicine, contact, taking, clear)
    kennel_care.add_to(commands)
    kennel_settling.add_to(commands)


def _site(args: argparse.Namespace) -> int:
    with open_store(args) as store:
        site = store.kennel.add_site(args.name, person_id=person_named(store, args.by))
        line(f"Added site {site.name}.")
    return 0


def _pen(args: argparse.Namespace) -> int:
    from handsfree.kennel.model import RowKind
    from handsfree.records.matching import folded

    with open_store(args) as store:
        by = person_named(store, args.by)
        site = store.kennel.site(args.site)
        if args.end:
            return _end_pens(store, store.kennel.row(site, args.row), args.pen, by)
        with store.transaction():
            known = [
                row
                for row in store.kennel.rows.all(site_id=site.id)
                if folded(row.name) == folded(args.row)
            ]
            kind = RowKind(args.kind or "healthy")
            row = known[0] if known else store.kennel.add_row(site, args.row, kind, person_id=by)
            if args.kind and row.kind is not kind:
                row = store.kennel.rows.edit(row.id, kind=kind, person_id=by)
            pens = [store.kennel.add_pen(row, name, person_id=by) for name in args.pen]
        for pen in pens:
            line(f"Added pen {store.kennel.pen_words(pen)}.")
    return 0


def _end_pens(store: Store, row: Row, names: list[str], by: str | None) -> int:
    from handsfree.records.matching import folded

    there = {folded(pen.name): pen for pen in store.kennel.pens.all(row_id=row.id)}
    placed = set(store.kennel.placed().values())
    for name in names:
        pen = there.get(folded(name))
        if pen is None or pen.id in placed:
            what = f"has no pen {name!r}" if pen is None else f"has a dog in pen {name!r}"
            msg = f"Row {row.name} {what}: nothing was given up."
            raise CallerError(msg)
    with store.transaction():
        for name in names:
            pen = there[folded(name)]
            store.kennel.pens.edit(pen.id, gone_at=store.file.clock(), person_id=by)
    for name in names:
        line(f"Given up: pen {row.name} {there[folded(name)].name}. Its history stays.")
    return 0


def _place(args: argparse.Namespace) -> int:
    with opened_for_dog(args) as (store, dog, by):
        if args.out:
            store.kennel.place(dog.id, None, args.why, person_id=by)
            line(f"{dog.name} is in no pen now.")
            return 0
        if args.site and args.pen is None:
            site = store.kennel.site(args.site)
            store.kennel.place(dog.id, None, args.why, site_id=site.id, person_id=by)
            line(f"{dog.name} is at {site.name}, in no pen yet.")
            return 0
        if args.pen is None:
            msg = f"Which pen is {dog.name} in? Name it, or say --out or --site."
            raise CallerError(msg)
        pen = store.kennel.pen_named(args.pen)
        before = store.kennel.placed().get(dog.id)
        if before == pen.id:
            line(f"{dog.name} is in {store.kennel.pen_words(pen)} already.")
            return 0
        store.kennel.place(dog.id, pen.id, args.why, person_id=by)
        was = (
            f", before in {store.kennel.pen_words(store.kennel.pens.get(before))}" if before else ""
        )
        line(f"{dog.name} is in {store.kennel.pen_words(pen)}{was}.")
    return 0


def _medicine(args: argparse.Namespace) -> int:
    from handsfree.kennel.careplan import medicine_named
    from handsfree.records.matching import folded

    with opened_for_dog(args) as (store, dog, by):
        if args.end:
            old = medicine_named(store, dog, args.name)
            store.kennel.medicines.edit(old.id, gone_at=store.file.clock(), person_id=by)
            line(f"Ended for {dog.name}: {old.name}.")
            return 0
        if not (args.amount and args.every and args.set_by):
            msg = (
                "A medicine needs --amount, --every HOURS and --set-by VET, as the vet wrote them."
            )
            raise CallerError(msg)
        for there in store.kennel.medicines.all(dog_id=dog.id):
            if folded(there.name) == folded(args.name):
                msg = (
                    f"{dog.name} has {medicine_words(there)}. End it first with --end, then store "
                    "it as the vet sets it now."
                )
                raise CallerError(msg)
        medicine = store.kennel.add_medicine(
            dog.id, args.name, amount=args.amount, interval_h=args.every, set_by=args.set_by,
            way=args.way, begins=day_named(args.begins),
            ends=parse_day(args.ends) if args.ends else None, person_id=by,
        )  # fmt: skip
        line(f"Stored for {dog.name}: {medicine_words(medicine)}")
    return 0


def _contact(args: argparse.Namespace) -> int:
    from handsfree.kennel.model import ContactKind
    from handsfree.records.matching import folded

    with opened_for_dog(args) as (store, dog, by):
        if args.end:
            there = [
                c
                for c in store.kennel.contacts.all(dog_id=dog.id)
                if c.kind.value == args.kind and folded(c.name) == folded(args.name)
            ]
            if not there:
                msg = (
                    f"{dog.name} has no {args.kind} {args.name!r}. See: handsfree kennel list --dog"
                )
                raise CallerError(msg)
            for old in there:
                store.kennel.contacts.edit(old.id, gone_at=store.file.clock(), person_id=by)
            line(f"Ended for {dog.name}: {args.kind} {there[0].name}.")
            return 0
        contact = store.kennel.add_contact(
            dog.id, ContactKind(args.kind), args.name, phone=args.phone, email=args.email,
            address=args.address, person_id=by,
        )  # fmt: skip
        line(f"Stored for {dog.name}: {contact.kind.value} {contact.name} {contact.phone}".rstrip())
    return 0


def _clear(args: argparse.Namespace) -> int:
    with opened_for_dog(args) as (store, dog, by):
        flags = [flag for flag in store.rounds.flags() if flag.dog_id == dog.id]
        for flag in flags:
            store.rounds.flag(dog.id, flag.kind, args.why, raised=False, person_id=by)
            line(f"{dog.name} is cleared of: {flag.kind.value.replace('_', ' ')}, {flag.why}.")
        if not flags:
            line(f"{dog.name} has no flag.")
    return 0


def _import(args: argparse.Namespace) -> int:
    from handsfree.kennel.importing import take_roster
    from handsfree.kennel.roster_csv import read_roster

    try:
        text = Path(args.file).read_text(encoding="utf-8")
    except OSError as error:
        msg = f"{args.file} cannot be read ({error.strerror}): check its name."
        raise CallerError(msg) from error
    except UnicodeDecodeError as error:
        msg = f"{args.file} is not text in UTF-8: save it as CSV in UTF-8."
        raise CallerError(msg) from error
    lines = read_roster(text)
    with open_store(args) as store:
        by = person_named(store, args.by)
        changes = take_roster(store, lines, dry_run=args.dry_run, person_id=by)
    for change in changes:
        line(("would be: " if args.dry_run else "") + change)
    done = "Nothing was changed" if args.dry_run or not changes else "Taken"
    line(f"{done}: {len(lines)} dogs in the roster, {len(changes)} changes.")
    return 0
