"""``handsfree kennel``: arrival, leaving, feeding, plan, chip, bites, flags, doses of a dog."""

from __future__ import annotations

import argparse
from datetime import datetime
from typing import TYPE_CHECKING

from handsfree.commands.kennel_dogs import opened_for_dog
from handsfree.commands.shared import Subparsers, add_by, add_command, day_named, line
from handsfree.errors import CallerError

if TYPE_CHECKING:
    from handsfree.kennel.model import Stay

__all__ = ["add_to", "feeding_words"]


def add_to(commands: Subparsers) -> None:
    """Add the commands to those of the kennel."""
    arrive = add_command(
        commands,
        "arrive",
        about="store that a dog has arrived, with its pen, feeding and care plan",
        example="handsfree kennel arrive Rex --pen 'A 3' --feeding '200 g twice a day' "
        "--set-by 'Dr Reed'",
        run=_arrive,
    )
    arrive.add_argument("dog")
    arrive.add_argument("--pen", help="the pen that it is put into")
    arrive.add_argument("--feeding", default="", help="what, how much, when")
    arrive.add_argument("--set-by", default="", metavar="VET", help="who set the feeding")
    arrive.add_argument("--plan", default="", help="care plan, free words")

    leave = add_command(
        commands,
        "leave",
        about="store that a dog has left; all that was stored of it stays",
        example="handsfree kennel leave Rex --why 'went home'",
        run=_leave,
    )
    leave.add_argument("dog")
    leave.add_argument("--why", default="")
    for parser, what in ((arrive, "arrived"), (leave, "left")):
        parser.add_argument("--on", metavar="DATE", help=f"when it {what} (default: today)")

    feeding = add_command(
        commands,
        "feeding",
        about="set a dog's feeding as the vet has set it; what it was stays in the history",
        example="handsfree kennel feeding Rex '150 g three times a day' --set-by 'Dr Reed'",
        run=_feeding,
    )
    feeding.add_argument("dog")
    feeding.add_argument("feeding", help="what, how much, when")
    feeding.add_argument("--set-by", default="", metavar="VET", help="who set it")

    plan = add_command(
        commands,
        "plan",
        about="set a dog's care plan; what it was stays in the history",
        example="handsfree kennel plan Rex 'walk alone, no ball games until Friday'",
        run=_plan,
    )
    plan.add_argument("dog")
    plan.add_argument("plan", help="free words")

    chip = add_command(
        commands,
        "chip",
        about="store a dog's chip number and read it back digit by digit",
        example="handsfree kennel chip Rex 826000000000001",
        run=_chip,
    )
    chip.add_argument("dog")
    chip.add_argument("number", help="15 digits; spaces do not matter")
    chip.add_argument("--instead", action="store_true", help="in place of the one stored")

    bite = add_command(
        commands,
        "bite",
        about="store that a dog bit or snapped; each round warns of it before its pen",
        example="handsfree kennel bite Rex --whom Kim --what 'when its bowl was taken; no wound'",
        run=_bite,
    )
    bite.add_argument("dog")
    bite.add_argument("--whom", required=True, help="who or what was bitten")
    bite.add_argument("--what", default="", help="what led to it and what came of it")
    bite.add_argument("--on", metavar="DATE", help="when (default: today)")

    flag = add_command(
        commands,
        "flag",
        about="flag a dog as possibly contagious, with those of its pen, or for a full check",
        example="handsfree kennel flag Rex contagious --why 'vet suspects kennel cough'\n"
        "handsfree kennel flag Rex full_check --why 'very thin'",
        run=_flag,
    )
    flag.add_argument("dog")
    flag.add_argument("kind", choices=["contagious", "full_check"])
    flag.add_argument("--why", required=True)

    dose = add_command(
        commands,
        "dose",
        about="store what became of a dose; a second one within the interval is challenged",
        example="handsfree kennel dose Rex Carprofen given --at 08:10 --by Kim\n"
        "handsfree kennel dose Rex Carprofen refused --instead",
        run=_dose,
    )
    dose.add_argument("dog")
    dose.add_argument("medicine")
    dose.add_argument("outcome", choices=["given", "missed", "refused"])
    dose.add_argument("--amount", default="", help="how much (default: as the vet set it)")
    dose.add_argument("--at", metavar="TIME", help="HH:MM today, or a date and time (default: now)")
    dose.add_argument("--again", action="store_true", help="it was really given again")
    dose.add_argument(
        "--instead", action="store_true", help="the last one stored was wrong; this one counts"
    )
    add_by(arrive, leave, feeding, plan, chip, bite, flag, dose)


def _arrive(args: argparse.Namespace) -> int:
    from handsfree.kennel.careplan import arrive

    with opened_for_dog(args) as (store, dog, by):
        pen = store.kennel.pen_named(args.pen) if args.pen else None
        with store.transaction():
            stay = arrive(
                store, dog, on=day_named(args.on), feeding=args.feeding, feeding_by=args.set_by,
                plan=args.plan, person_id=by,
            )  # fmt: skip
            if pen is not None:
                store.kennel.place(dog.id, pen.id, "arrived", person_id=by)
        key = store.kennel.placed().get(dog.id)
        where = ", in no pen yet"
        if key is not None:
            where = f" in {store.kennel.pen_words(store.kennel.pens.get(key))}"
        line(f"{dog.name} is here since {stay.arrived_on}{where}.")
        if not stay.feeding:
            line("No feeding is stored. Set it with: handsfree kennel feeding")
    return 0


def _leave(args: argparse.Namespace) -> int:
    from handsfree.kennel.careplan import leave

    with opened_for_dog(args) as (store, dog, by):
        on = day_named(args.on)
        done = leave(store, dog, on=on, why=args.why, person_id=by)
        since = f"; it was here since {done.arrived_on}" if done.arrived_on else ""
        line(f"{dog.name} left on {on}{since}.")
        for text in done.open:
            line(f"Still open: {text}")
    return 0


def _feeding(args: argparse.Namespace) -> int:
    from handsfree.kennel.careplan import set_care

    with opened_for_dog(args) as (store, dog, by):
        stay = set_care(store, dog, feeding=args.feeding, feeding_by=args.set_by, person_id=by)
        line(f"Stored for {dog.name}: {feeding_words(stay)}")
    return 0


def feeding_words(stay: Stay) -> str:
    """Return a stay's feeding as one line, with who set it."""
    by = f", set by {stay.feeding_by}" if stay.feeding_by else ""
    return f"Feeding: {stay.feeding or 'nothing stored'}{by}"


def _plan(args: argparse.Namespace) -> int:
    from handsfree.kennel.careplan import set_care

    with opened_for_dog(args) as (store, dog, by):
        stay = set_care(store, dog, plan=args.plan, person_id=by)
        line(f"Stored for {dog.name}: Plan: {stay.care_plan or 'nothing stored'}")
    return 0


def _chip(args: argparse.Namespace) -> int:
    from handsfree.kennel.careplan import set_chip
    from handsfree.kennel.chip import read_back

    with opened_for_dog(args) as (store, dog, by):
        digits = set_chip(store, dog, args.number, instead=args.instead, person_id=by)
        line(f"Stored for {dog.name}: chip {digits}. Compare, digit by digit:")
        line(f"{read_back(digits)}")
    return 0


def _bite(args: argparse.Namespace) -> int:
    from handsfree.kennel.careplan import bite, bites_of

    with opened_for_dog(args) as (store, dog, by):
        on = day_named(args.on)
        bite(store, dog, on=on, whom=args.whom, what=args.what, person_id=by)
        line(f"Stored for {dog.name}: bit {args.whom}, {on}. Each round warns of it.")
        line(f"Bites stored of {dog.name}: {len(bites_of(store, dog.id))}.")
    return 0


def _flag(args: argparse.Namespace) -> int:
    from handsfree.kennel.careplan import flag
    from handsfree.kennel.model import FlagKind

    with opened_for_dog(args) as (store, dog, by):
        kind = FlagKind(args.kind)
        mates = flag(store, dog, kind, args.why, person_id=by)
        line(f"{dog.name} is flagged: {kind.value.replace('_', ' ')}, {args.why}.")
        if mates:
            names = ", ".join(mate.name for mate in mates)
            line(f"Of its pen, flagged as exposed: {names}.")
        if kind is FlagKind.CONTAGIOUS:
            line("Isolation is proposed; ask the vet. It comes last in every later round.")
    return 0


def _dose(args: argparse.Namespace) -> int:
    from handsfree.kennel.careplan import medicine_named, store_dose
    from handsfree.kennel.model import DoseOutcome

    with opened_for_dog(args) as (store, dog, by):
        done = store_dose(
            store, dog, medicine_named(store, dog, args.medicine), DoseOutcome(args.outcome),
            at=_moment(args.at, store.file.clock()), amount=args.amount, again=args.again,
            instead=args.instead, person_id=by,
        )  # fmt: skip
        who = store.people.get(by).name if by else "nobody named"
        line(
            f"Stored for {dog.name}: {done.medicine.name}, {done.amount}, {done.outcome.value}, "
            f"{done.given_at:%Y-%m-%d %H:%M}, by {who}."
        )
        if done.early:
            line("It came before the interval that the vet set had passed: tell the vet.")
        if done.corrected is not None:
            was = done.corrected
            line(
                f"In place of: {was.amount}, {was.outcome.value}, {was.given_at:%Y-%m-%d %H:%M}. "
                "It stays in the record and counts no more."
            )
    return 0


def _moment(text: str | None, now: datetime) -> datetime:
    if text is None:
        return now
    try:
        if len(text) <= 5:
            clock = datetime.strptime(text, "%H:%M").time()
            return datetime.combine(now.date(), clock).astimezone(now.tzinfo)
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        msg = f"{text!r} is no time: give 08:10, or 2026-03-14 08:10."
        raise CallerError(msg) from error
    return moment.astimezone() if moment.tzinfo is None else moment
