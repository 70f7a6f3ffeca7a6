"""Every answer of a check by region, how far it is settled, and how each number was taken.

Also how an answer stands beside another person's of that day. Which of them counts was decided by
judging; here it is put into words.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from handsfree.judging.differing import Contested
from handsfree.judging.result import Telling
from handsfree.review.report import Line, RegionPart
from handsfree.review.series import how_taken
from handsfree.review.wording import (
    answer_words,
    item_title,
    joined,
    sentence,
    side_title,
    value_words,
)

if TYPE_CHECKING:
    from handsfree.protocol.model import Protocol
    from handsfree.records import Answer

__all__ = ["differs_words", "is_unusual", "regions_of", "taken_of"]


def is_unusual(answer: Answer, protocol: Protocol) -> bool:
    """Return whether something was observed that the question does not call normal."""
    if answer.status.value != "observed" or not isinstance(answer.value, str):
        return False
    try:
        normal = protocol.question(answer.item).normal
    except KeyError:
        return False
    return bool(normal) and answer.value not in normal


def regions_of(
    answers: Sequence[Answer],
    protocol: Protocol,
    telling: Telling,
    places: dict[str, str],
    contested: Sequence[Contested],
    *,
    imperial: bool,
) -> tuple[RegionPart, ...]:
    """Return the answers region by region, in the order they were given."""
    differing = {(one.item, one.side): one for one in contested}
    by_region: dict[str, list[Answer]] = {}
    for answer in answers:
        by_region.setdefault(answer.item.partition(".")[0], []).append(answer)
    parts = []
    for region_id, held in by_region.items():
        region = protocol.regions.get(region_id)
        lines = tuple(
            Line(
                title=sentence(item_title(a.item)),
                side=side_title(a.side, places),
                value=answer_words(a, telling, imperial=imperial),
                words=a.words if a.by == "voice" else "",
                status=a.status.value,
                unusual=is_unusual(a, protocol),
                settled=_settled(a, differing.get((a.item, a.side)), telling, imperial=imperial),
                how=how_taken(a) if isinstance(a.value, float) else "",
            )
            for a in held
            if a.status.value != "not_applicable"
        )
        unusual = sum(line.unusual for line in lines)
        missing = sum(line.status == "not_observed" for line in lines)
        said = []
        if not lines:
            said.append("does not apply to this dog")
        if unusual:
            said.append(f"{unusual} unusual")
        if missing:
            said.append(f"{missing} not observed")
        if lines and not said:
            said.append("as usual")
        parts.append(
            RegionPart(
                id=region_id,
                title=sentence(region.title if region else region_id.replace("_", " ")),
                lines=lines,
                sum=", ".join(said),
                unusual=unusual,
                missing=missing,
            )
        )
    return tuple(parts)


def _settled(
    answer: Answer, contested: Contested | None, telling: Telling, *, imperial: bool
) -> str:
    if answer.status.value != "observed":
        return ""
    doubt = {"possible": "possible, never settled", "unconfirmed": "not confirmed"}
    notes = [doubt.get(answer.confirmed.value, "")]
    if contested is not None:
        notes.append(differs_words(contested, answer.value, telling, imperial=imperial))
    return "; ".join(note for note in notes if note)


def differs_words(
    contested: Contested, own: str | float | None, telling: Telling, *, imperial: bool = False
) -> str:
    """Return how an answer stands beside those of others on that day, in a few words."""

    def words(value: str | float | None) -> str:
        told = contested.options[0]
        return value_words(
            telling, told.item, value, told.side, told.unit, imperial=imperial
        )  # fmt: skip

    if contested.counts is not None:
        counts = contested.options[contested.counts].value
        return "settled: it counts" if counts == own else f"settled: {words(counts)} counts"
    others = dict.fromkeys(o.value for o in contested.options if o.value != own)
    return f"differs, not settled; another said: {joined([words(value) for value in others])}"


def taken_of(
    answers: Sequence[Answer], telling: Telling, places: dict[str, str], *, imperial: bool
) -> tuple[tuple[str, str, str], ...]:
    """Return title, value and way of each number of a check."""
    found = []
    for answer in answers:
        if isinstance(answer.value, float):
            side = side_title(answer.side, places)
            title = sentence(item_title(answer.item)) + (f", {side}" if side else "")
            found.append(
                (title, answer_words(answer, telling, imperial=imperial), how_taken(answer))
            )
    return tuple(found)
