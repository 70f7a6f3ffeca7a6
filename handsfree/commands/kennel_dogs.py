"""Which dog a kennel's command means: by pen, name, chip number or the end of its key.

Nothing is stored or printed here.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from handsfree.commands.shared import open_store, person_named, today
from handsfree.errors import CallerError

if TYPE_CHECKING:
    from handsfree.records import Dog, Store

__all__ = ["dog_meant", "opened_for_dog"]


@contextmanager
def opened_for_dog(args: argparse.Namespace) -> Iterator[tuple[Store, Dog, str | None]]:
    """Open the records; give them, the dog meant by ``dog``, and the key of the person ``--by``.

    Raises:
        CallerError: No dog or person, or more than one, could be meant.
        DataError: The records cannot be opened.
    """
    with open_store(args) as store:
        by = person_named(store, args.by)
        yield store, dog_meant(store, args.dog), by


def dog_meant(store: Store, text: str) -> Dog:
    """Return the one dog meant by pen, name or chip.

    Raises:
        CallerError: None or several could be meant; says which.
    """
    from handsfree.kennel.which import which
    from handsfree.records.dogs import described

    placed = store.kennel.placed()
    try:
        pen = store.kennel.pen_named(text).id
    except CallerError:
        pen = ""
    meant = which(text, store.dogs.all(), in_pen=[d for d, p in placed.items() if p == pen])
    if meant.is_clear:
        return meant.dogs[0]
    if not meant.dogs:
        if pen:
            msg = f"Pen {text!r} has no dog. See who is where with: handsfree kennel list"
            raise CallerError(msg)
        return store.dogs.find(text)
    listed = "\n  ".join(described(dog, today()) for dog in meant.dogs)
    msg = (
        f"{len(meant.dogs)} dogs could be meant by {text!r}. Name one by the letters and digits in "
        f"brackets:\n  {listed}"
    )
    raise CallerError(msg)
