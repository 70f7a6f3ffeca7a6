"""``handsfree dog``: add, list, show, edit, weigh, lump, retire."""

from __future__ import annotations

import argparse
from datetime import datetime, time
from typing import TYPE_CHECKING

from handsfree.commands.dog_fields import PLAIN, add_fields, field_values
from handsfree.commands.shared import (
    Subparsers,
    add_by,
    add_command,
    add_group,
    bold,
    line,
    open_store,
    parse_day,
    person_named,
    today,
)
from handsfree.errors import CallerError
from handsfree.protocol.subject import Shape

if TYPE_CHECKING:
    from handsfree.records import Dog, Store

__all__ = ["register"]


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    commands = add_group(
        subparsers,
        "dog",
        about="add, list, show and edit dogs",
        example="handsfree dog add Rex --born 2021-05 --sex male --breed 'border collie'",
    )

    add = add_command(
        commands,
        "add",
        about="add a dog",
        example="handsfree dog add Rex --age '4 years' --sex male --neutered yes --weight 18.2kg",
        run=_add,
    )
    add.add_argument("name", help="the dog's name")
    add_fields(add)
    add.add_argument("--weight", metavar="WEIGHT", help="present weight, such as 12.4kg or 27lb")
    add_by(add)

    listing = add_command(
        commands, "list", about="list the dogs", example="handsfree dog list", run=_list
    )
    listing.add_argument("--retired", action="store_true", help="the retired ones as well")

    show = add_command(
        commands,
        "show",
        about="show what is known of a dog",
        example="handsfree dog show Rex --history",
        run=_show,
    )
    _dog(show)
    show.add_argument("--history", action="store_true", help="what was set when, and by whom")

    edit = add_command(
        commands,
        "edit",
        about="change what is known of a dog; what it was before is kept",
        example="handsfree dog edit Rex --neutered yes --clear owner",
        run=_edit,
    )
    _dog(edit)
    edit.add_argument("--name", default=argparse.SUPPRESS, help="another name")
    add_fields(edit)
    edit.add_argument(
        "--clear",
        metavar="FIELD",
        nargs="+",
        default=[],
        help="forget these, such as: chip birth owner",
    )
    add_by(edit)

    weigh = add_command(
        commands,
        "weigh",
        about="enter a weight that was taken outside of a check",
        example="handsfree dog weigh Rex 18.4kg --on 2026-03-14 --how 'scale at the surgery'",
        run=_weigh,
    )
    _dog(weigh)
    weigh.add_argument("weight", metavar="WEIGHT", help="such as 12.4kg or 27lb")
    weigh.add_argument("--on", metavar="DATE", help="the day it was taken (default: now)")
    weigh.add_argument("--how", default="", help="scale or way")
    add_by(weigh)

    lump = add_command(
        commands,
        "lump",
        about="list a dog's known lumps, add one, or enter what a vet found",
        example="handsfree dog lump Rex --add 'the left chest'\n"
        "handsfree dog lump Rex --vet lump1 'fatty lump, harmless'",
        run=_lump,
    )
    _dog(lump)
    which = lump.add_mutually_exclusive_group()
    which.add_argument("--add", metavar="PLACE", help="where it is, as spoken")
    which.add_argument("--vet", metavar=("KEY", "RESULT"), nargs=2, help="what a vet found")
    which.add_argument("--gone", metavar="KEY", help="it was removed or is no longer there")
    add_by(lump)

    retire = add_command(
        commands,
        "retire",
        about="offer a dog no longer; everything stored of it stays",
        example="handsfree dog retire Rex --why 'moved away'",
        run=_retire,
    )
    _dog(retire)
    retire.add_argument("--why", default="", help="why")
    retire.add_argument("--back", action="store_true", help="undo it: the dog is back")
    add_by(retire)


def _dog(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("dog", metavar="DOG", help="name, chip number, or the end of its key")


def _kg(text: str, store: Store) -> float:
    from handsfree.records.model import Units
    from handsfree.records.weights import checked_weight
    from handsfree.units import parse_quantity

    imperial = store.settings.get().units is Units.IMPERIAL
    return checked_weight(parse_quantity(text, kind="mass", default="lb" if imperial else "kg"))


def _describe(dog: Dog) -> str:
    from handsfree.records.dogs import described

    return described(dog, today())


def _add(args: argparse.Namespace) -> int:
    with open_store(args) as store:
        by = person_named(store, args.by)
        values = field_values(args)
        del values["name"]
        weight_kg = None if args.weight is None else _kg(args.weight, store)
        same = [
            dog for dog in store.dogs.all() if dog.name.casefold() == args.name.strip().casefold()
        ]
        with store.transaction():
            dog = store.dogs.add(args.name, person_id=by, **values)
            if weight_kg is not None:
                store.weights.enter(dog.id, weight_kg, person_id=by)
        line(f"Added {_describe(dog)}")
        if same:
            line("There is another dog of that name; tell them apart by the key in brackets:")
            for other in same:
                line(f"  {_describe(other)}")
    return 0


def _list(args: argparse.Namespace) -> int:
    with open_store(args) as store:
        dogs = store.dogs.all(retired=args.retired)
        for dog in dogs:
            line(_describe(dog))
        if not dogs:
            line("No dogs yet. Add one with: handsfree dog add NAME")
    return 0


def _show(args: argparse.Namespace) -> int:
    with open_store(args) as store:
        dog = store.dogs.find(args.dog, retired=True)
        print(bold(_describe(dog)))
        for label, text in _known(dog, store):
            if text:
                line(f"  {label}: {text}")
        exams = store.exams.of_dog(dog.id, limit=1)
        last = f"{exams[0].begun_at:%Y-%m-%d %H:%M}, {exams[0].routine}" if exams else "none yet"
        line(f"  last check: {last}")
        line(f"  key: {dog.id}")
        if args.history:
            line("History:")
            people = {p.id: p.name for p in store.people.all(disabled=True)}
            for edit in store.dogs.history(dog.id):
                who = f" by {people[edit.person_id]}" if edit.person_id in people else ""
                value = edit.value if isinstance(edit.value, str) else repr(edit.value)
                line(f"  {edit.at:%Y-%m-%d %H:%M}{who}: {edit.field} = {value}")
    return 0


def _known(dog: Dog, store: Store) -> list[tuple[str, str]]:
    from handsfree.records.model import Units
    from handsfree.units import shown

    imperial = store.settings.get().units is Units.IMPERIAL
    weights = store.weights.of_dog(dog.id, limit=1)
    weight = (
        f"{shown(weights[0].weight_kg, 'kg', imperial=imperial)} on {weights[0].at:%Y-%m-%d}"
        if weights
        else ""
    )
    birth = ""
    if dog.birth is not None:
        form = {"day": "%Y-%m-%d", "month": "%Y-%m", "year": "%Y"}
        birth = dog.birth.strftime(form[dog.birth_precision or "day"])
    yes = {True: "yes", False: ""}
    return [
        ("born", birth),
        ("weight", weight),
        ("size", dog.size.value if dog.size else ""),
        ("shape", "" if dog.shape is Shape.USUAL else dog.shape.value.replace("_", " ")),
        ("lacks", ", ".join(sorted(p.value.replace("_", " ") for p in dog.missing))),
        ("dewclaws", "" if dog.dewclaws else "none"),
        ("gums dark by nature", yes[dog.pigmented_gums]),
        ("last season began", str(dog.season_began or "")),
        ("pregnant", yes[dog.pregnant]),
        ("conditions", ", ".join(sorted(dog.conditions))),
        ("medicines", ", ".join(sorted(dog.medicines))),
        ("wears a muzzle calmly", yes[dog.muzzle_trained]),
        ("has bitten", yes[dog.has_bitten]),
        ("handling", dog.handling),
        ("known", "; ".join(dog.known)),
        ("lumps", "; ".join(f"{x.key}, {x.place}" for x in store.lumps.of_dog(dog.id))),
        ("retired", f"{dog.retired_at:%Y-%m-%d} {dog.retired_why}" if dog.retired_at else ""),
    ]


def _edit(args: argparse.Namespace) -> int:
    from handsfree.records.model import Dog as DogModel

    values = field_values(args)
    blank = DogModel(id="", name="", added_at=datetime.min)
    clearable = set(PLAIN) - {"name"} | {
        "birth", "sex", "neutered", "shape", "size", "missing", "season_began", "conditions",
        "medicines", "known",
    }  # fmt: skip
    for field in args.clear:
        name = field.replace("-", "_")
        if name not in clearable:
            msg = f"{field!r} cannot be cleared: choose from {', '.join(sorted(clearable))}."
            raise CallerError(msg)
        values[name] = getattr(blank, name)
        if name == "birth":
            values["birth_precision"] = None
    if not values:
        msg = "Nothing to change was named. See what can be with: handsfree dog edit --help"
        raise CallerError(msg)
    with open_store(args) as store:
        dog = store.dogs.find(args.dog, retired=True)
        dog = store.dogs.edit(dog.id, person_id=person_named(store, args.by), **values)
        line(f"Now {_describe(dog)}")
    return 0


def _weigh(args: argparse.Namespace) -> int:
    from handsfree.units import shown

    at = None
    if args.on is not None:
        at = datetime.combine(parse_day(args.on), time(12)).astimezone()
        if at.date() == today():
            at = None
    with open_store(args) as store:
        dog = store.dogs.find(args.dog)
        weight_kg = _kg(args.weight, store)
        by = person_named(store, args.by)
        store.weights.enter(dog.id, weight_kg, at=at, how=args.how.strip(), person_id=by)
        line(f"{dog.name} weighs {shown(weight_kg, 'kg')}, kept.")
    return 0


def _lump(args: argparse.Namespace) -> int:
    with open_store(args) as store:
        dog = store.dogs.find(args.dog)
        by = person_named(store, args.by)
        if args.add is not None:
            store.lumps.add(dog.id, args.add, person_id=by)
        wanted = args.vet[0] if args.vet else args.gone
        if wanted is not None:
            lumps = {lump.key: lump for lump in store.lumps.of_dog(dog.id)}
            if wanted not in lumps:
                msg = f"{dog.name} has no lump {wanted!r}: it has {', '.join(lumps) or 'none'}."
                raise CallerError(msg)
            if args.vet:
                store.lumps.edit(lumps[wanted].id, person_id=by, vet_result=args.vet[1].strip())
            else:
                gone = datetime.now().astimezone()
                store.lumps.edit(lumps[wanted].id, person_id=by, gone_at=gone)
        lumps_now = store.lumps.of_dog(dog.id)
        for lump in lumps_now:
            result = f"; vet: {lump.vet_result}" if lump.vet_result else ""
            line(f"{lump.key}: {lump.place}, known since {lump.added_at:%Y-%m-%d}{result}")
        if not lumps_now:
            line(f"{dog.name} has no known lump.")
    return 0


def _retire(args: argparse.Namespace) -> int:
    with open_store(args) as store:
        by = person_named(store, args.by)
        if args.back:
            dog = store.dogs.bring_back(store.dogs.find(args.dog, retired=True).id, person_id=by)
            line(f"Back: {_describe(dog)}")
        else:
            dog = store.dogs.retire(store.dogs.find(args.dog).id, args.why, person_id=by)
            line(f"Retired: {_describe(dog)}")
    return 0
