"""The order of a round. Pure.

Young dogs first, then healthy rows, then new arrivals, isolation last (Koret Shelter Medicine
Program, UC Davis, 2015: suspects are cleaned last; University of Florida, 2016: the route ends in
isolation). A flagged dog and its pen-mates go to the end of every round until they are cleared.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

from handsfree.kennel.model import RowKind

__all__ = ["Part", "Stop", "in_order", "reminder"]


class Part(IntEnum):
    """Parts of a round, in order."""

    YOUNG = 0
    HEALTHY = 1
    INTAKE = 2
    EXPOSED = 3
    CONTAGIOUS = 4
    ISOLATION = 5


_BY_KIND = {
    RowKind.YOUNG: Part.YOUNG,
    RowKind.HEALTHY: Part.HEALTHY,
    RowKind.INTAKE: Part.INTAKE,
    RowKind.ISOLATION: Part.ISOLATION,
}


@dataclass(frozen=True, kw_only=True)
class Stop:
    """One dog of a round: where it is and what moves it in the order.

    ``pen`` is row and pen as they are said together; ``row_name`` and ``pen_name`` are its parts.
    """

    dog_id: str
    name: str
    pen_id: str
    pen: str
    row_name: str = ""
    pen_name: str = ""
    kind: RowKind
    row_position: int = 0
    pen_position: int = 0
    young: bool = False
    exposed: bool = False
    contagious: bool = False
    has_bitten: bool = False

    @property
    def part(self) -> Part:
        """The part of the round in which this dog is seen."""
        if self.kind is RowKind.ISOLATION:
            return Part.ISOLATION
        if self.contagious:
            return Part.CONTAGIOUS
        if self.exposed:
            return Part.EXPOSED
        return Part.YOUNG if self.young else _BY_KIND[self.kind]


def in_order(stops: Sequence[Stop]) -> tuple[Stop, ...]:
    """Return the dogs in the order of the round."""
    return tuple(
        sorted(stops, key=lambda s: (s.part, s.row_position, s.pen_position, s.pen_id, s.dog_id))
    )


def reminder(before: Stop | None, now: Stop) -> str:
    """Return what is said between two dogs about gloves and hands; empty if nothing."""
    if before is None or (before.part is now.part and now.part < Part.EXPOSED):
        return ""
    if now.part >= Part.EXPOSED or before.part >= Part.EXPOSED:
        return "Change gloves and wash your hands before this dog."
    return "Wash your hands before the next row."
