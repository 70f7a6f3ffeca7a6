"""``handsfree kennel``: sites, rows, pens, who is where, medicines, contacts, a roster from CSV."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from handsfree.commands.shared import (
    Subparsers,
    add_command,
    line,
    open_store,
    parse_day,
    person_named,
    today,
)
from handsfree.errors import CallerError

if TYPE_CHECKING:
    from handsfree.records import Dog, Store

__all__ = ["register"]


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    top = add_command(
        subparsers,
        "kennel",
        about="keep the roster of a kennel: pens, places, medicines, contacts",
        example="handsfree kennel site Home\nhandsfree kennel import roster.csv --dry-run",
    )
    top.set_defaults(show_help=top.print_help)
    commands = top.add_subparsers(metavar="WHAT", title="commands", required=True)

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

    listing = add_command(
        commands, "list", about="who is where", example="handsfree kennel list", run=_list
    )
    listing.add_argument("--dog", help="all that is known of one dog, with where it has been")

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
    for parser in (site, pen, place, medicine, contact, taking, clear):
        parser.add_argument("--by", metavar="PERSON", help="who says so")


def dog_meant(store: Store, text: str) -> Dog:
    """Return the one dog meant by pen, name or chip.

    Raises:
        CallerError: None or several could be meant; says which.
    """
    from handsfree.kennel.which import which
    from handsfree.records.dogs import described

    placed = store.kennel.placed()
    try:
        pen = store.kennel.pen_named(text).id
    except CallerError:
        pen = ""
    meant = which(text, store.dogs.all(), in_pen=[d for d, p in placed.items() if p == pen])
    if meant.is_clear:
        return meant.dogs[0]
    if not meant.dogs:
        if pen:
            msg = f"Pen {text!r} has no dog. See who is where with: handsfree kennel list"
            raise CallerError(msg)
        return store.dogs.find(text)
    listed = "\n  ".join(described(dog, today()) for dog in meant.dogs)
    msg = (
        f"{len(meant.dogs)} dogs could be meant by {text!r}. Name one by the letters and digits in "
        f"brackets:\n  {listed}"
    )
    raise CallerError(msg)


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


def _place(args: argparse.Namespace) -> int:
    with open_store(args) as store:
        by = person_named(store, args.by)
        dog = dog_meant(store, args.dog)
        if args.out:
            store.kennel.place(dog.id, None, args.why, person_id=by)
            line(f"{dog.name} is in no pen now.")
            return 0
        if args.pen is None:
            msg = f"Which pen is {dog.name} in? Name it, or say --out."
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
    from datetime import datetime

    with open_store(args) as store:
        by = person_named(store, args.by)
        dog = dog_meant(store, args.dog)
        if args.end:
            there = [m for m in store.kennel.medicines.all(dog_id=dog.id) if m.name == args.name]
            if not there:
                msg = f"{dog.name} has no medicine {args.name!r}. See: handsfree kennel list --dog"
                raise CallerError(msg)
            now = datetime.now().astimezone()
            store.kennel.medicines.edit(there[0].id, gone_at=now, person_id=by)
            line(f"Ended for {dog.name}: {args.name}.")
            return 0
        if not (args.amount and args.every and args.set_by):
            msg = (
                "A medicine needs --amount, --every HOURS and --set-by VET, as the vet wrote them."
            )
            raise CallerError(msg)
        medicine = store.kennel.add_medicine(
            dog.id, args.name, amount=args.amount, interval_h=args.every, set_by=args.set_by,
            way=args.way, begins=parse_day(args.begins) if args.begins else today(),
            ends=parse_day(args.ends) if args.ends else None, person_id=by,
        )  # fmt: skip
        line(f"Stored for {dog.name}: {medicine_words(medicine)}")
    return 0


def medicine_words(medicine: object) -> str:
    """Return a medicine as one line."""
    from handsfree.kennel.model import Medicine

    assert isinstance(medicine, Medicine)
    ends = f" to {medicine.ends}" if medicine.ends else ""
    way = f" {medicine.way}" if medicine.way else ""
    return (
        f"{medicine.name}, {medicine.amount}{way}, every {medicine.interval_h:g} hours, "
        f"from {medicine.begins}{ends}, set by {medicine.set_by}"
    )


def _contact(args: argparse.Namespace) -> int:
    from handsfree.kennel.model import ContactKind

    with open_store(args) as store:
        dog = dog_meant(store, args.dog)
        contact = store.kennel.add_contact(
            dog.id, ContactKind(args.kind), args.name, phone=args.phone, email=args.email,
            address=args.address, person_id=person_named(store, args.by),
        )  # fmt: skip
        line(f"Stored for {dog.name}: {contact.kind.value} {contact.name} {contact.phone}".rstrip())
    return 0


def _list(args: argparse.Namespace) -> int:
    with open_store(args) as store:
        if args.dog:
            return _one(store, dog_meant(store, args.dog))
        placed = store.kennel.placed()
        dogs = {dog.id: dog for dog in store.dogs.all()}
        pens = store.kennel.pens.all()
        for pen in pens:
            here = [dogs[d].name for d, p in placed.items() if p == pen.id and d in dogs]
            line(f"{store.kennel.pen_words(pen)}: {', '.join(here) or 'empty'}")
        loose = [dog.name for key, dog in dogs.items() if key not in placed]
        if loose:
            line(f"In no pen: {', '.join(loose)}")
        if not pens:
            line("No pen yet. Add: handsfree kennel site NAME, then handsfree kennel pen ROW PEN")
    return 0


def _one(store: Store, dog: Dog) -> int:
    from handsfree.kennel.chip import read_back
    from handsfree.records.dogs import described

    line(described(dog, today()))
    if dog.chip and dog.chip.isdigit():
        line(f"Chip, digit by digit: {read_back(dog.chip)}")
    if dog.has_bitten:
        line("Has bitten or snapped when handled.")
    for stay in store.kennel.stays.all(dog_id=dog.id):
        line(f"Here since {stay.arrived_on}. Feeding: {stay.feeding or 'nothing stored'}")
    for medicine in store.kennel.medicines.all(dog_id=dog.id):
        line(f"Medicine: {medicine_words(medicine)}")
    for contact in store.kennel.contacts.all(dog_id=dog.id):
        line(f"{contact.kind.value.capitalize()}: {contact.name} {contact.phone}".rstrip())
    for place in store.kennel.places(dog.id):
        where = (
            store.kennel.pen_words(store.kennel.pens.get(place.pen_id))
            if place.pen_id
            else "no pen"
        )
        line(f"{place.at:%Y-%m-%d %H:%M} {where}{': ' + place.why if place.why else ''}")
    return 0


def _clear(args: argparse.Namespace) -> int:
    with open_store(args) as store:
        by = person_named(store, args.by)
        dog = dog_meant(store, args.dog)
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
