"""What every command shares: its parser's shape, opening the records, plain lines for people.

Nothing heavy is imported at the top: a command pays only for what it uses.
"""

from __future__ import annotations

import argparse
import os
import sys
import unicodedata
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

from handsfree.commands.paths import data_folder
from handsfree.errors import CallerError

if TYPE_CHECKING:
    from handsfree.records import Person, Store

__all__ = [
    "Run",
    "Subparsers",
    "add_by",
    "add_command",
    "add_group",
    "bold",
    "data_dir",
    "day_named",
    "line",
    "open_store",
    "parse_day",
    "person_leading",
    "person_named",
    "plain",
    "program_version",
    "today",
]

Run: TypeAlias = Callable[[argparse.Namespace], int]
Subparsers: TypeAlias = "argparse._SubParsersAction[argparse.ArgumentParser]"


def add_command(
    subparsers: Subparsers,
    name: str,
    *,
    about: str,
    example: str,
    run: Run | None = None,
    data: bool = True,
) -> argparse.ArgumentParser:
    """Add one command with its help, an example, and ``--data``.

    Args:
        subparsers: Where it is added.
        name: Its name.
        about: One sentence on what it does.
        example: One or more command lines that work.
        run: What runs it; None for a command of commands.
        data: Whether ``--data DIR`` may stand behind it as well.
    """
    parser = subparsers.add_parser(
        name,
        help=about,
        description=about[0].upper() + about[1:] + ".",
        epilog="example:\n" + "\n".join(f"  {text}" for text in example.splitlines()),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    if data:
        parser.add_argument(
            "--data",
            metavar="DIR",
            default=argparse.SUPPRESS,
            help="folder of the records (default: the platform's own)",
        )
    if run is not None:
        parser.set_defaults(run=run)
    return parser


def add_group(subparsers: Subparsers, name: str, *, about: str, example: str) -> Subparsers:
    """Add a command of commands, and return where its commands are added."""
    parser = add_command(subparsers, name, about=about, example=example)
    return parser.add_subparsers(metavar="WHAT", title="commands", required=True)


def add_by(*parsers: argparse.ArgumentParser) -> None:
    """Add ``--by``, for ``person_named``, to commands that store what somebody says."""
    for parser in parsers:
        parser.add_argument("--by", metavar="PERSON", help="who says so")


def data_dir(args: argparse.Namespace) -> Path:
    """Return the data folder that this command line means."""
    return data_folder(getattr(args, "data", None))


def open_store(args: argparse.Namespace) -> Store:
    """Open the records that this command line means.

    Raises:
        DataError: They cannot be opened.
    """
    from handsfree.records import Store

    return Store.open(data_dir(args))


def person_named(store: Store, text: str | None) -> str | None:
    """Return the key of the person that ``--by`` names; None if it names nobody.

    Raises:
        CallerError: Nobody or more than one could be meant.
    """
    return None if text is None else store.people.find(text).id


def person_leading(store: Store, text: str | None) -> Person | None:
    """Return the person that ``--by`` names; without it the only one there is.

    Raises:
        CallerError: Nobody or more than one could be meant.
    """
    who = person_named(store, text)
    if who is not None:
        return store.people.get(who)
    people = store.people.all()
    return people[0] if len(people) == 1 else None


def program_version() -> str:
    """Return this program's version; it is unknown where it runs without being installed."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("handsfree")
    except PackageNotFoundError:
        return "of a source folder, not installed"


def today() -> date:
    """Return today's date here."""
    return date.today()


def parse_day(text: str) -> date:
    """Return a typed date.

    Raises:
        CallerError: It is none.
    """
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        msg = f"{text!r} is no date: give year-month-day, such as 2026-03-14."
        raise CallerError(msg) from error


def day_named(text: str | None) -> date:
    """Return a typed date; today where none was typed.

    Raises:
        CallerError: It is none.
    """
    return parse_day(text) if text else today()


def plain(text: str) -> str:
    """Return ``text`` as it may be printed: nothing in it can steer a terminal."""
    return "".join("\N{REPLACEMENT CHARACTER}" if _steers(c) else c for c in text)


def line(text: str = "") -> None:
    """Print one line for people."""
    print(plain(text))


def bold(text: str) -> str:
    """Return ``text`` marked on a terminal that shows colours, else as it is."""
    text = plain(text)
    if not sys.stdout.isatty() or os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb":
        return text
    return f"\x1b[1m{text}\x1b[0m"


def _steers(character: str) -> bool:
    return unicodedata.category(character) in ("Cc", "Cs") or character in _BIDI_OVERRIDES


_BIDI_OVERRIDES = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Marks that reorder what follows them on the line; right-to-left letters need none."""
