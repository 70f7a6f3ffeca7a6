"""``handsfree items``: every item that a check can ask, with its values and units."""

from __future__ import annotations

import argparse

from handsfree.commands.shared import Subparsers, add_command, line

__all__ = ["register", "run"]


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "items",
        about="list every item with its values and units",
        example="handsfree items\nhandsfree items --json",
        run=run,
        data=False,
    )
    parser.add_argument("--json", action="store_true", help="print a list of objects")


def run(args: argparse.Namespace) -> int:
    """Print the items.

    Raises:
        DataError: The protocol has mistakes.
    """
    from handsfree.judging.catalogue import catalogue_of
    from handsfree.judging.listing import item_lines, items_as_data
    from handsfree.protocol.loader import load

    catalogue = catalogue_of(load())
    if args.json:
        import json

        print(json.dumps(items_as_data(catalogue), indent=2, ensure_ascii=False))
        return 0
    for text in item_lines(catalogue):
        line(text)
    return 0
