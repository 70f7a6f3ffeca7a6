"""``handsfree kennel list``: who is where, and all that is known of one dog."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from handsfree.commands.kennel_care import feeding_words
from handsfree.commands.kennel_dogs import dog_meant
from handsfree.commands.shared import Subparsers, add_command, line, open_store, today

if TYPE_CHECKING:
    from handsfree.kennel.model import Medicine
    from handsfree.records import Dog, Store

__all__ = ["add_to", "medicine_words"]


def add_to(commands: Subparsers) -> None:
    """Add the command to those of the kennel."""
    listing = add_command(
        commands, "list", about="who is where", example="handsfree kennel list", run=_list
    )
    listing.add_argument("--dog", help="all that is known of one dog, with where it has been")


def medicine_words(medicine: Medicine) -> str:
    """Return a medicine as one line."""
    ends = f" to {medicine.ends}" if medicine.ends else ""
    way = f" {medicine.way}" if medicine.way else ""
    return (
        f"{medicine.name}, {medicine.amount}{way}, every {medicine.interval_h:g} hours, "
        f"from {medicine.begins}{ends}, set by {medicine.set_by}"
    )


def _list(args: argparse.Namespace) -> int:
    from datetime import timedelta

    from handsfree.judging.differing import differences_of
    from handsfree.kennel.careplan import here
    from handsfree.kennel.settling import brief_of

    with open_store(args) as store:
        if args.dog:
            return _one(store, dog_meant(store, args.dog))
        placed = store.kennel.placed()
        dogs = {dog.id: dog for dog in store.dogs.all()}
        pens = store.kennel.pens.all()
        for pen in pens:
            inside = [dogs[d].name for d, p in placed.items() if p == pen.id and d in dogs]
            line(f"{store.kennel.pen_words(pen)}: {', '.join(inside) or 'empty'}")
        for site in store.kennel.sites.all():
            at_site = [
                dogs[d].name
                for d, s in store.kennel.unplaced().items()
                if s == site.id and d in dogs
            ]
            if at_site:
                line(f"{site.name}, in no pen known here: {', '.join(at_site)}")
        known = placed.keys() | store.kennel.unplaced().keys()
        loose = [dog.name for dog in here(store) if dog.id not in known]
        if loose:
            line(f"In no pen: {', '.join(loose)}")
        for one in differences_of(store, since=store.file.clock() - timedelta(days=7)):
            line(f"Differs: {brief_of(store, one)}")
        if not pens:
            line("No pen yet. Add: handsfree kennel site NAME, then handsfree kennel pen ROW PEN")
    return 0


def _one(store: Store, dog: Dog) -> int:
    from handsfree.judging.differing import differences_of
    from handsfree.kennel.careplan import bites_of, states_of
    from handsfree.kennel.chip import read_back
    from handsfree.kennel.findings import open_findings
    from handsfree.kennel.settling import brief_of
    from handsfree.records.dogs import described

    line(described(dog, today()))
    if dog.chip and dog.chip.isdigit():
        line(f"Chip, digit by digit: {read_back(dog.chip)}")
    if dog.has_bitten:
        line("Has bitten or snapped when handled.")
    for bite in bites_of(store, dog.id):
        line(f"Bite: {bite.happened_on} {bite.whom}{': ' + bite.what if bite.what else ''}")
    for stay in store.kennel.stays.all(dog_id=dog.id):
        line(f"Here since {stay.arrived_on}. {feeding_words(stay)}")
        if stay.care_plan:
            line(f"Plan: {stay.care_plan}")
    for flag in store.rounds.flags():
        if flag.dog_id == dog.id:
            line(f"Flag: {flag.kind.value.replace('_', ' ')}, {flag.why}, {flag.at:%Y-%m-%d %H:%M}")
    for state in states_of(store, dog.id, store.file.clock()):
        last = f"; last stored {state.last.given_at:%Y-%m-%d %H:%M}" if state.last else ""
        word = state.word.replace("_", " ")
        line(f"Medicine: {medicine_words(state.medicine)}; {word}{last}")
    for found in open_findings(store):
        if found.dog_id == dog.id:
            line(f"Cannot wait: {found.words()}")
    for one in differences_of(store, dog_id=dog.id):
        line(f"Differs: {brief_of(store, one)}")
    for contact in store.kennel.contacts.all(dog_id=dog.id):
        line(f"{contact.kind.value.capitalize()}: {contact.name} {contact.phone}".rstrip())
    for place in store.kennel.places(dog.id):
        where = store.kennel.place_words(place)
        line(f"{place.at:%Y-%m-%d %H:%M} {where}{': ' + place.why if place.why else ''}")
    return 0
