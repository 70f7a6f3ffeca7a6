"""``handsfree rules``: the rule table with its sources, and which rows await a vet."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from handsfree.commands.shared import Subparsers, add_command, line

if TYPE_CHECKING:
    from handsfree.judging.rules import Table

__all__ = ["register", "run"]


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "rules",
        about="print the rule table with its sources",
        example="handsfree rules\nhandsfree rules gums_pale\nhandsfree rules --json",
        run=run,
        data=False,
    )
    parser.add_argument("id", nargs="?", metavar="ID", help="only this row, whole")
    parser.add_argument("--json", action="store_true", help="print a list of objects")
    parser.add_argument("--awaiting", action="store_true", help="only rows that await a vet")


def run(args: argparse.Namespace) -> int:
    """Print the table.

    Raises:
        CallerError: There is no such row.
        DataError: The table has mistakes.
    """
    from handsfree.errors import CallerError
    from handsfree.judging.listing import rule_lines, rules_as_data, table_lines
    from handsfree.judging.rules import read_table

    table = read_table()
    chosen = [r for r in table.rules if r.awaits_vet or not args.awaiting]
    if args.id is not None:
        chosen = [r for r in chosen if r.id == args.id]
        if not chosen:
            raise CallerError(_unknown(args.id, table))
    if args.json:
        import json

        print(json.dumps(rules_as_data(chosen), indent=2, ensure_ascii=False))
        return 0
    lines = rule_lines(chosen[0], table) if args.id is not None else table_lines(chosen, table)
    for text in lines:
        line(text)
    return 0


def _unknown(rule_id: str, table: Table) -> str:
    from difflib import get_close_matches

    near = get_close_matches(rule_id, [r.id for r in table.rules], n=3)
    hint = f" Did you mean {' or '.join(near)}?" if near else " See handsfree rules."
    return f"There is no row {rule_id!r} in the rule table.{hint}"
