"""``handsfree ask``: a question about a dog's past, answered in a sentence or two."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from handsfree.commands.shared import Subparsers, add_command, line, open_store, today
from handsfree.errors import HeardError

if TYPE_CHECKING:
    from handsfree.records import Dog, Store

__all__ = ["register"]


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "ask",
        about="answer a question about a dog's past, such as 'when were the ears last red'",
        example='handsfree ask Rex "what was the last weight"\n'
        'handsfree ask Rex "when were the ears last red" --aloud\n'
        "handsfree ask Rex",
        run=_run,
    )
    parser.add_argument("dog", metavar="DOG", help="which dog")
    parser.add_argument(
        "question", metavar="QUESTION", nargs="*", help="the question; none: asked line by line"
    )
    parser.add_argument("--aloud", action="store_true", help="speak the answer")


def _run(args: argparse.Namespace) -> int:
    from handsfree.judging.gather import judge_left
    from handsfree.review.questions import EXAMPLES

    with open_store(args) as store:
        dog = store.dogs.find(args.dog, retired=True)
        judge_left(store, dog_id=dog.id)
        if args.question:
            _tell(store, dog, " ".join(args.question), aloud=args.aloud)
            return 0
        line(f"Ask about {dog.name}, one question a line; an empty line ends. Such as:")
        for example in EXAMPLES:
            line(f"  {example}")
        sys.stdout.flush()
        for text in sys.stdin:
            if not text.strip():
                break
            try:
                _tell(store, dog, text.strip(), aloud=args.aloud)
            except HeardError as error:
                line(str(error))
            sys.stdout.flush()
    return 0


def _tell(store: Store, dog: Dog, question: str, *, aloud: bool) -> None:
    from handsfree.review.questions import answer, understood

    told = answer(store, dog, understood(question, dog.name), today())
    line(told)
    if aloud:
        from handsfree.commands.aloud import speak

        speak([told], store.settings.get())
