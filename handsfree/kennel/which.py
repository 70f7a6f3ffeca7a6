"""Which dog is meant by a pen, a name or a chip number. Pure; two are never decided between."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from handsfree.records.matching import folded
from handsfree.records.model import Dog

__all__ = ["Meant", "which"]


@dataclass(frozen=True, kw_only=True)
class Meant:
    """The dogs that could be meant; ``by`` is pen, name or chip; several must be asked about."""

    dogs: tuple[Dog, ...]
    by: str

    @property
    def is_clear(self) -> bool:
        """Whether one dog alone can be meant."""
        return len(self.dogs) == 1


def which(text: str, among: Sequence[Dog], *, in_pen: Iterable[str] = ()) -> Meant:
    """Return the dogs that ``text`` could mean.

    A text that is one dog's name and another's pen could mean both.

    Args:
        text: What was said or typed.
        among: The dogs that are here.
        in_pen: Keys of the dogs in a pen of this name.
    """
    wanted = folded(text)
    digits = "".join(c for c in text if c.isdigit())
    chips = [d for d in among if d.chip and len(digits) >= 5 and d.chip.endswith(digits)]
    if chips and not any(c.isalpha() for c in text):
        return Meant(dogs=tuple(chips), by="chip")
    penned = set(in_pen)
    pens = [dog for dog in among if dog.id in penned]
    names = [dog for dog in among if folded(dog.name) == wanted]
    found = {dog.id: dog for dog in (*pens, *names)}
    by = "pen" if pens else "name"
    return Meant(dogs=tuple(found.values()), by=by)
