"""``handsfree restore``: brings a backup back; checks it first and overwrites nothing."""

from __future__ import annotations

import argparse
from datetime import datetime
from pathlib import Path

from handsfree.commands.backup import in_words
from handsfree.commands.progress import progress
from handsfree.commands.shared import Subparsers, add_command, data_dir, line

__all__ = ["register"]


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "restore",
        about="check a backup and bring it back; what was there is set aside, never overwritten",
        example="handsfree restore records-march.sqlite --check\n"
        "handsfree restore records-march.sqlite --replace",
        run=_run,
    )
    parser.add_argument("file", metavar="FILE", help="the backup")
    parser.add_argument("--check", action="store_true", help="check it and say what it holds, only")
    parser.add_argument(
        "--replace", action="store_true", help="set the records that are there aside"
    )


def _run(args: argparse.Namespace) -> int:
    from handsfree.records.backup import inspect, restore

    source = Path(args.file).expanduser()
    if args.check:
        line(f"{source} is sound: {in_words(inspect(source))}")
        return 0
    with progress("Bringing the records back") as told:
        contents, aside = restore(
            source,
            data_dir(args),
            replace=args.replace,
            now=datetime.now(),
            progress=told,
        )
    line(f"Brought back: {in_words(contents)}")
    if aside is not None:
        line(f"What was there before is kept in {aside}")
    return 0
