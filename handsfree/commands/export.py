"""``handsfree export``: what is stored, in open formats that other programs read."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import IO, TYPE_CHECKING, cast

from handsfree.commands.progress import progress
from handsfree.commands.shared import (
    Subparsers,
    add_command,
    line,
    open_store,
    program_version,
    today,
)

if TYPE_CHECKING:
    from handsfree.records import Store

__all__ = ["register"]

FORMATS = {"csv": "csv", "jsonl": "jsonl", "fhir": "fhir.json", "ical": "ics"}


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "export",
        about="write what is stored as CSV, JSON Lines, FHIR R4B or iCalendar",
        example="handsfree export --format csv\n"
        "handsfree export Rex --format fhir -o rex.fhir.json\n"
        "handsfree export --format ical -o care.ics",
        run=_run,
    )
    parser.add_argument("dog", metavar="DOG", nargs="?", help="one dog alone (default: all)")
    parser.add_argument(
        "--format",
        choices=sorted(FORMATS),
        default="csv",
        help="csv: a row for each answer (default); jsonl: everything, can be read back; "
        "fhir: a Bundle of Patients and Observations; ical: care dues",
    )
    parser.add_argument(
        "--schema", action="store_true", help="print the JSON Schema of jsonl, and no records"
    )
    parser.add_argument(
        "-o", "--output", metavar="FILE", help="where to (default: handsfree.csv and so on, here)"
    )


def _run(args: argparse.Namespace) -> int:
    if args.schema:
        import json

        from handsfree.review.exports.jsonl import schema

        json.dump(schema(), sys.stdout, indent=1, ensure_ascii=False)
        print()
        return 0
    from handsfree.review.sink import writing

    target = Path(args.output or f"handsfree.{FORMATS[args.format]}").expanduser()
    with open_store(args) as store:
        dog_id = None if args.dog is None else store.dogs.find(args.dog, retired=True).id
        with (
            progress(f"Writing {target.name}") as told,
            writing(target, binary=args.format == "ical") as file,
        ):
            count = _write(args.format, file, store, dog_id, told)
    line(f"Written to {target}: {count}.")
    return 0


def _write(
    kind: str,
    file: IO[str] | IO[bytes],
    store: Store,
    dog_id: str | None,
    told: Callable[[int, int], None],
) -> str:
    from handsfree.judging.result import Telling
    from handsfree.judging.rules import read_table

    now = datetime.now().astimezone()
    dogs = store.dogs.all(retired=True) if dog_id is None else (store.dogs.get(dog_id),)
    if kind == "jsonl":
        from handsfree.review.exports.jsonl import write_jsonl

        rows = write_jsonl(
            cast("IO[str]", file), store, dog_id, program=program_version(), now=now, told=told
        )
        return f"{rows} rows"
    if kind == "ical":
        from handsfree.review.dues import dues_of
        from handsfree.review.exports.ical import calendar_bytes

        on = today()
        looked_after = [dog for dog in dogs if dog.retired_at is None]
        dues = []
        for done, dog in enumerate(looked_after, 1):
            dues.append((dog, dues_of(store, dog.id, on)))
            told(len(looked_after) - done, len(looked_after))
        cast("IO[bytes]", file).write(
            calendar_bytes(dues, on=on, now=now, program=program_version())
        )
        return f"{sum(1 for _, tasks in dues for due in tasks if due.due)} dues"
    telling = Telling(catalogue=read_table().catalogue)
    if kind == "fhir":
        from handsfree.review.exports.fhir import write_fhir

        count = write_fhir(cast("IO[str]", file), store, dogs, telling, now=now, told=told)
        return f"{count} resources"
    from handsfree.review.exports.answers_csv import write_csv

    return f"{write_csv(cast('IO[str]', file), store, dogs, telling, told)} answers"
