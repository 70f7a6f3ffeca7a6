"""``handsfree report``: a page of one dog, or of all, as one HTML file that needs no network."""

from __future__ import annotations

import argparse
import re
from pathlib import Path
from typing import IO, cast

from handsfree.commands.shared import Subparsers, add_command, line, open_store, today
from handsfree.errors import CallerError

__all__ = ["register"]


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "report",
        about="write a page of one dog for the vet, or an overview of all dogs, as one HTML file",
        example="handsfree report Rex\nhandsfree report Rex -o rex.html\nhandsfree report --all",
        run=_run,
    )
    parser.add_argument("dog", metavar="DOG", nargs="?", help="which dog")
    parser.add_argument("--all", action="store_true", help="the overview of all dogs")
    parser.add_argument(
        "-o", "--output", metavar="FILE", help="where to (default: named after the dog, here)"
    )


def _run(args: argparse.Namespace) -> int:
    from handsfree.review.page import overview_page, report_page
    from handsfree.review.sink import writing

    if args.all == (args.dog is not None):
        msg = "Name one dog, or say --all for the overview of all: handsfree report DOG"
        raise CallerError(msg)
    with open_store(args) as store:
        if args.all:
            from handsfree.review.overview import gather_all

            text = overview_page(gather_all(store, today()))
            name = "dogs.html"
        else:
            from handsfree.review.gather import gather

            dog = store.dogs.find(args.dog, retired=True)
            text = report_page(gather(store, dog.id, today()))
            name = f"{_file_name(dog.name)}.html"
    target = Path(args.output).expanduser() if args.output else Path(name)
    with writing(target) as file:
        cast("IO[str]", file).write(text)
    line(f"Written to {target} ({len(text.encode()) / 1000:.0f} kB). Open it in any browser.")
    return 0


def _file_name(name: str) -> str:
    """Return a file name made of a dog's name: letters and digits only, never empty."""
    return re.sub(r"[^\w-]+", "-", name).strip("-.")[:60] or "dog"
