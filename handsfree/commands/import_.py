"""``handsfree import``: our own JSON Lines, or weights as plain CSV; all of a file, or nothing."""

from __future__ import annotations

import argparse
from pathlib import Path

from handsfree.commands.progress import progress
from handsfree.commands.shared import Subparsers, add_command, line, open_store, person_named
from handsfree.errors import CallerError, DataError

__all__ = ["register"]

SHOWN = 20
"""Lines that a trial shows one by one."""


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "import",
        about="take in a JSON Lines export, or weights from a CSV (columns dog, day, weight)",
        example="handsfree import records.jsonl --dry-run\n"
        "handsfree import records.jsonl\n"
        "handsfree import weights.csv",
        run=_run,
    )
    parser.add_argument("file", metavar="FILE", help="a .jsonl or .csv file")
    parser.add_argument(
        "--dry-run", action="store_true", help="say what would happen and change nothing"
    )
    parser.add_argument("--by", metavar="PERSON", help="who enters the weights")


def _run(args: argparse.Namespace) -> int:
    path = Path(args.file).expanduser()
    kind = path.suffix.lower()
    if kind not in (".jsonl", ".csv"):
        msg = f"{path} is neither .jsonl nor .csv: these are the two that can be read."
        raise CallerError(msg)
    if not path.is_file():
        msg = f"{path} is not there: check the name."
        raise DataError(msg)
    try:
        return _rows(args, path) if kind == ".jsonl" else _weights(args, path)
    except OSError as error:
        msg = f"{path} cannot be read ({error.strerror}): check who may read it."
        raise DataError(msg) from error
    except UnicodeDecodeError as error:
        msg = f"{path} is no text in UTF-8 ({error.reason}). Nothing was changed."
        raise DataError(msg) from error


def _rows(args: argparse.Namespace, path: Path) -> int:
    from handsfree.review.exports.jsonl import read_jsonl

    with open_store(args) as store, progress(f"Reading {path.name}") as told:
        added, known = read_jsonl(path, store, keep=not args.dry_run, told=told)
    would = "Would take in" if args.dry_run else "Took in"
    for table in dict.fromkeys([*added, *known]):
        there = f"; {known[table]} there already" if known.get(table) else ""
        line(f"{would} {added.get(table, 0)} of {table.replace('_', ' ')}{there}.")
    if not added:
        line("Nothing new in this file.")
    if args.dry_run:
        line("Nothing was changed.")
    return 0


def _weights(args: argparse.Namespace, path: Path) -> int:
    from handsfree.review.exports.weights_csv import read_weights

    with open_store(args) as store:
        settings = store.settings.get()
        found = read_weights(
            path,
            store,
            default_unit="lb" if settings.units.value == "imperial" else "kg",
            keep=not args.dry_run,
            person_id=person_named(store, args.by),
        )
    if args.dry_run:
        for taken in found[:SHOWN]:
            known = " (there already)" if taken.known else ""
            line(f"{taken.dog.name}, {taken.day}: {taken.weight_kg:g} kg{known}")
        if len(found) > SHOWN:
            line(f"and {len(found) - SHOWN} more")
    new = sum(not taken.known for taken in found)
    would = "Would take in" if args.dry_run else "Took in"
    line(f"{would} {new} weights; {len(found) - new} there already.")
    if args.dry_run:
        line("Nothing was changed.")
    return 0
