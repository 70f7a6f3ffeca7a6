"""``handsfree person``: add, list, edit, disable."""

from __future__ import annotations

import argparse
from typing import Any

from handsfree.commands.shared import (
    Subparsers,
    add_by,
    add_command,
    add_group,
    line,
    open_store,
    person_named,
)
from handsfree.errors import CallerError
from handsfree.protocol.subject import Sight

__all__ = ["register"]


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    commands = add_group(
        subparsers,
        "person",
        about="add, list and edit the people who check dogs",
        example="handsfree person add Kim --sight low --rate 220",
    )

    add = add_command(
        commands,
        "add",
        about="add a person",
        example="handsfree person add Kim --sight none --rate 260",
        run=_add,
    )
    add.add_argument("name", help="the person's name")
    _fields(add)

    listing = add_command(
        commands, "list", about="list the people", example="handsfree person list", run=_list
    )
    listing.add_argument("--disabled", action="store_true", help="the disabled ones as well")

    edit = add_command(
        commands,
        "edit",
        about="change a person's settings",
        example="handsfree person edit Kim --rate 240 --no-brief",
        run=_edit,
    )
    edit.add_argument("person", metavar="PERSON", help="name, or the end of the key")
    edit.add_argument("--name", default=argparse.SUPPRESS, help="another name")
    _fields(edit)
    edit.add_argument(
        "--clear",
        nargs="+",
        default=[],
        choices=["sight", "rate", "voice", "brief"],
        help="go by the common settings again",
    )

    disable = add_command(
        commands,
        "disable",
        about="offer a person no longer; what they did stays under their name",
        example="handsfree person disable Kim",
        run=_disable,
    )
    disable.add_argument("person", metavar="PERSON", help="name, or the end of the key")
    disable.add_argument("--back", action="store_true", help="undo it")
    add_by(disable)


def _fields(parser: argparse.ArgumentParser) -> None:
    def option(name: str, **how: Any) -> None:
        parser.add_argument(name, default=argparse.SUPPRESS, **how)

    option("--sight", choices=[s.value for s in Sight], help="how much the person sees")
    option(
        "--helper",
        action=argparse.BooleanOptionalAction,
        help="a sighted person is usually there as well",
    )
    option("--rate", type=int, metavar="WPM", help="speaking rate, words a minute")
    option("--voice", help="name of the voice")
    option("--brief", action=argparse.BooleanOptionalAction, help="short prompts")
    add_by(parser)


def _values(args: argparse.Namespace) -> dict[str, Any]:
    given = vars(args)
    values: dict[str, Any] = {}
    for name in ("helper", "voice", "brief"):
        if name in given:
            values[name] = given[name]
    if "sight" in given:
        values["sight"] = Sight(given["sight"])
    if "rate" in given:
        values["rate_wpm"] = given["rate"]
    return values


def _add(args: argparse.Namespace) -> int:
    from handsfree.records.people import described

    with open_store(args) as store:
        by = person_named(store, args.by)
        line(f"Added {described(store.people.add(args.name, by=by, **_values(args)))}")
    return 0


def _list(args: argparse.Namespace) -> int:
    from handsfree.records.people import described

    with open_store(args) as store:
        people = store.people.all(disabled=args.disabled)
        for person in people:
            line(described(person))
        if not people:
            line("Nobody yet. Add yourself with: handsfree person add NAME")
    return 0


def _edit(args: argparse.Namespace) -> int:
    from handsfree.records.people import described

    values = _values(args)
    if "name" in vars(args):
        values["name"] = args.name
    for name in args.clear:
        values["rate_wpm" if name == "rate" else name] = None
    if not values:
        msg = "Nothing to change was named. See what can be with: handsfree person edit --help"
        raise CallerError(msg)
    with open_store(args) as store:
        person = store.people.find(args.person, disabled=True)
        by = person_named(store, args.by)
        line(f"Now {described(store.people.edit(person.id, by=by, **values))}")
    return 0


def _disable(args: argparse.Namespace) -> int:
    from handsfree.records.people import described

    with open_store(args) as store:
        by = person_named(store, args.by)
        if args.back:
            person = store.people.find(args.person, disabled=True)
            line(f"Back: {described(store.people.enable(person.id, by=by))}")
        else:
            person = store.people.find(args.person)
            line(f"Disabled: {described(store.people.disable(person.id, by=by))}")
    return 0
