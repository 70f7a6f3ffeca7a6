"""``handsfree judge``: judge a case from a file, or a stored exam again under the present table."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from handsfree.commands.shared import Subparsers, add_command, line, open_store, today

if TYPE_CHECKING:
    from handsfree.judging.model import Judgement
    from handsfree.judging.result import Telling

__all__ = ["register", "run"]


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "judge",
        about="judge a case from a JSON file, or a stored check again",
        example="handsfree judge case.json\nhandsfree judge --exam 3f2a9c",
        run=run,
    )
    which = parser.add_mutually_exclusive_group(required=True)
    which.add_argument("file", nargs="?", metavar="FILE", help="JSON object: dog and findings")
    which.add_argument("--exam", metavar="EXAM", help="judge a stored check again; both are kept")
    parser.add_argument("--spoken", action="store_true", help="print what would be spoken")
    parser.add_argument("--json", action="store_true", help="print one object")


def run(args: argparse.Namespace) -> int:
    """Judge and print.

    Raises:
        CallerError: The file or exam cannot be used.
        DataError: The table has mistakes.
    """
    judgement, telling = _from_store(args) if args.exam is not None else _from_file(args)
    if args.json:
        import json

        from handsfree.judging.body import body_of

        print(json.dumps(body_of(judgement), indent=2, ensure_ascii=False))
        return 0
    from handsfree.judging.result import printed, spoken

    if not args.spoken:
        line(f"level: {judgement.level.value}")
        fired = ", ".join(f"{f.rule.id} ({f.level.value})" for f in judgement.fired)
        line(f"fired: {fired or 'none'}")
    for text in (spoken if args.spoken else printed)(judgement, telling):
        line(text)
    return 0


def _from_file(args: argparse.Namespace) -> tuple[Judgement, Telling]:
    from handsfree.judging.casefile import read_case
    from handsfree.judging.engine import judge
    from handsfree.judging.result import Telling
    from handsfree.judging.rules import read_table

    table = read_table()
    case = read_case(Path(args.file), table.catalogue, today())
    judgement = judge(
        case.findings,
        case.subject,
        case.past,
        on=case.on,
        table=table,
        unfinished=case.unfinished,
    )
    places = {lump.key: lump.place for lump in case.subject.lumps}
    return judgement, Telling(catalogue=table.catalogue, dog=case.subject.name, places=places)


def _from_store(args: argparse.Namespace) -> tuple[Judgement, Telling]:
    from handsfree.errors import CallerError
    from handsfree.judging.gather import judge_exam, keep, telling_of
    from handsfree.judging.rules import read_table

    table = read_table()
    with open_store(args) as store:
        exam = store.exams.find(args.exam)
        if exam is None:
            msg = f"There is no stored check {args.exam!r}: see handsfree review DOG."
            raise CallerError(msg)
        judgement = judge_exam(store, exam.id, table)
        telling = telling_of(store, exam.dog_id, table)
        keep(store, exam.id, judgement, telling)
        return judgement, telling
