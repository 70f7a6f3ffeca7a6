"""Findings and known lumps with their places on the body, as marks and in words.

Which spot of the figure an item means stands in ``figure``; here is what is marked and said of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from handsfree.judging.result import Telling
from handsfree.review.answered import is_unusual
from handsfree.review.figure import Mark, spot_of
from handsfree.review.report import Place
from handsfree.review.wording import (
    answer_words,
    item_title,
    number_words,
    sentence,
    side_title,
)

if TYPE_CHECKING:
    from handsfree.protocol.model import Protocol
    from handsfree.records import Answer, Store

__all__ = ["places_of"]


def places_of(
    store: Store,
    dog_id: str,
    telling: Telling,
    answers: Sequence[Answer],
    protocol: Protocol,
    *,
    imperial: bool,
) -> tuple[Place, ...]:
    """Return known lumps, then unusual answers, numbered as they are marked."""
    found: list[Place] = []
    named = {(a.item, a.side): a for a in answers}
    for lump in store.lumps.of_dog(dog_id):
        number = len(found) + 1
        spot = spot_of("lumps.known", None, lump.place) or ("side", "")
        length, width = store.lumps.last_size_mm(lump)
        sizes = [number_words(s, "mm", imperial=imperial) for s in (length, width) if s is not None]
        state = named.get(("lumps.known", lump.key))
        seen = answer_words(state, telling) if state is not None else "not asked in the last check"
        vet = f"; a vet found: {lump.vet_result}" if lump.vet_result else "; no vet's result yet"
        found.append(
            Place(
                mark=Mark(number=number, spot=spot[0], side=spot[1], lump=True),
                number=number,
                what="Lump",
                where=sentence(lump.place),
                size=" by ".join(sizes),
                note=f"{seen}{vet}",
            )
        )
    for answer in answers:
        if answer.item.startswith("lumps.") or not is_unusual(answer, protocol):
            continue
        number = len(found) + 1
        spotted = spot_of(answer.item, answer.side, _answered_place(answer, named))
        region = protocol.regions.get(answer.item.partition(".")[0])
        title = region.title if region else item_title(answer.item)
        side = side_title(answer.side, telling.places or {})
        found.append(
            Place(
                mark=None
                if spotted is None
                else Mark(number=number, spot=spotted[0], side=spotted[1]),
                number=number,
                what=answer_words(answer, telling),
                where=sentence(f"{title}, {side}" if side else title),
                size="",
                note="possible, never settled" if answer.confirmed.value == "possible" else "",
            )
        )
    return tuple(found)


_PLACE_ITEMS = {
    "coat.sores": "coat.place",
    "coat.look": "coat.place",
    "coat.parasites": "coat.place",
    "neck.feel": "neck.node_place",
    "nose.look": "nose.side",
    "nose.discharge": "nose.side",
    "rear.look": "rear.side",
    "watch.gait": "watch.leg",
    "watch.foot_use": "watch.leg",
}


def _answered_place(answer: Answer, named: dict[tuple[str, str | None], Answer]) -> str:
    place = named.get((_PLACE_ITEMS.get(answer.item, ""), None))
    if place is None or not isinstance(place.value, str):
        return ""
    words = place.value.replace("_", " ")
    return f"{words} leg" if answer.item.startswith("watch.") else words
