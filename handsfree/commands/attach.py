"""``handsfree attach``: keeps a copy of a photo with a finding, without what the camera wrote."""

from __future__ import annotations

import argparse
from pathlib import Path

from handsfree.commands.shared import Subparsers, add_command, line, open_store, person_named
from handsfree.errors import CallerError

__all__ = ["register"]


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "attach",
        about="keep a copy of a photo with a finding, places and other metadata removed",
        example="handsfree attach Rex --item ears.look --side left ear.jpg\n"
        'handsfree attach Rex --item lumps.known --side lump1 lump.jpg --note "with a ruler"',
        run=_run,
    )
    parser.add_argument("dog", metavar="DOG", help="which dog")
    parser.add_argument("file", metavar="FILE", help="a JPEG or PNG photo")
    parser.add_argument(
        "--item", metavar="ITEM", required=True, help="what it shows, as handsfree items has it"
    )
    parser.add_argument("--side", metavar="SIDE", help="which side or known lump: left, lump1")
    parser.add_argument("--note", metavar="WORDS", default="", help="free words")
    parser.add_argument("--by", metavar="PERSON", help="who attaches it")


def _run(args: argparse.Namespace) -> int:
    from handsfree.review.pictures import clean_copy

    path = Path(args.file).expanduser()
    with open_store(args) as store:
        dog = store.dogs.find(args.dog, retired=True)
        lumps = {lump.key for lump in store.lumps.of_dog(dog.id, gone=True)}
        _check(args.item, args.side, lumps)
        picture = clean_copy(path)
        last = next(iter(store.exams.of_dog(dog.id, limit=1)), None)
        store.photos.add(
            dog.id,
            item=args.item,
            side=args.side,
            exam_id=None if last is None else last.id,
            kind=picture.kind,
            width=picture.width,
            height=picture.height,
            data=picture.data,
            note=args.note.strip()[:1000],
            person_id=person_named(store, args.by),
        )
    line(
        f"Kept a copy with {dog.name}, {args.item}: {picture.width} by {picture.height} pixels, "
        f"{len(picture.data) / 1000:.0f} kB, without metadata. Your file is as it was."
    )
    return 0


def _check(item: str, side: str | None, lumps: set[str]) -> None:
    from handsfree.protocol.loader import load

    try:
        question = load().question(item)
    except KeyError:
        msg = f"There is no item {item!r}: see them with handsfree items."
        raise CallerError(msg) from None
    allowed = sorted(lumps) if question.per_lump else list(question.sides)
    if side is None and not allowed:
        return
    if side not in allowed:
        what = f"one of {', '.join(allowed)}" if allowed else "no side"
        msg = f"{item} has {what}: {'leave --side out' if not allowed else 'say --side'}."
        raise CallerError(msg)
