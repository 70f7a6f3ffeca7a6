"""``handsfree settings``: show and set what holds for this installation."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from handsfree.commands.shared import (
    Subparsers,
    add_by,
    add_command,
    line,
    open_store,
    person_named,
)

if TYPE_CHECKING:
    from handsfree.records import Settings

__all__ = ["register"]

NO_VET = (
    "No vet number is set: a check cannot tell you whom to ring. "
    "Set it with: handsfree settings set vet_number NUMBER"
)


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "settings",
        about="show and set telephone numbers, units, sight, voice and devices",
        example="handsfree settings\nhandsfree settings set vet_number '01234 567890'",
        run=_show,
    )
    commands = parser.add_subparsers(metavar="WHAT", title="commands")
    add_command(
        commands, "show", about="show the settings", example="handsfree settings show", run=_show
    )
    set_ = add_command(
        commands,
        "set",
        about="set one",
        example="handsfree settings set vet_number '01234 567890'\n"
        "handsfree settings set sight low",
        run=_set,
    )
    set_.add_argument("key", metavar="KEY", help="which")
    set_.add_argument("value", metavar="VALUE", help="to what")
    unset = add_command(
        commands,
        "unset",
        about="put one back to its default",
        example="handsfree settings unset voice",
        run=_unset,
    )
    unset.add_argument("key", metavar="KEY", help="which")
    add_by(set_, unset)


def _show(args: argparse.Namespace) -> int:
    with open_store(args) as store:
        _print(store.settings.get())
    return 0


def _set(args: argparse.Namespace) -> int:
    with open_store(args) as store:
        by = person_named(store, args.by)
        _print(store.settings.set(args.key, args.value, person_id=by), only=args.key)
    return 0


def _unset(args: argparse.Namespace) -> int:
    with open_store(args) as store:
        by = person_named(store, args.by)
        _print(store.settings.set(args.key, None, person_id=by), only=args.key)
    return 0


def _print(settings: Settings, only: str | None = None) -> None:
    from handsfree.records.settings import SETTINGS

    for setting in SETTINGS:
        if only is None or setting.key == only.replace("-", "_").lower():
            value = getattr(settings, setting.key)
            shown = "not set" if value in (None, "") else str(value)
            line(f"{setting.key}: {shown} ({setting.about})")
    if only is None and settings.vet_number is None:
        line(NO_VET)
