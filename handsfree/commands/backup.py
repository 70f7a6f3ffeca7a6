"""``handsfree backup``: a whole copy of the records, made while they are in use."""

from __future__ import annotations

import argparse
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from handsfree.commands.progress import progress
from handsfree.commands.shared import Subparsers, add_command, data_dir, line

if TYPE_CHECKING:
    from handsfree.records.backup import Contents

__all__ = ["in_words", "register"]


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "backup",
        about="copy the records, whole and checked, while they are in use",
        example="handsfree backup\nhandsfree backup /media/stick/records-march.sqlite",
        run=_run,
    )
    parser.add_argument(
        "file",
        metavar="FILE",
        nargs="?",
        help="where to (default: a dated file in the folder backups beside the records)",
    )


def in_words(contents: Contents) -> str:
    """Return what a file of records holds, in one line."""
    last = contents.last_exam_at
    when = f", the last on {last:%Y-%m-%d %H:%M}" if last else ""
    return (
        f"{contents.dogs} dogs, {contents.people} people, {contents.exams} checks{when}; "
        f"{contents.answers} answers; {contents.size_bytes / 1e6:.1f} MB"
    )


def _run(args: argparse.Namespace) -> int:
    from handsfree.records.backup import back_up

    folder = data_dir(args)
    if args.file is None:
        target = folder / "backups" / f"records-{datetime.now():%Y%m%dT%H%M%S}.sqlite"
    else:
        target = Path(args.file).expanduser()
    with progress("Copying the records") as told:
        contents = back_up(folder, target, progress=told)
    line(f"Copied to {target}, checked: {in_words(contents)}")
    return 0
