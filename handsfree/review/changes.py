"""Changes against the dog's own past as sentences, what matters first.

Wording only: what changed, and whether it counts, was decided by judging.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from handsfree.judging.model import Change, ChangeKind
from handsfree.judging.result import Telling, reading
from handsfree.review.wording import number_words, said_when, sentence, value_words

__all__ = ["changes_in_words"]

LEFT_OUT = {ChangeKind.UNCHANGED, ChangeKind.NEW_ITEM}


def changes_in_words(
    changes: Sequence[Change], telling: Telling, *, on: date, imperial: bool = False
) -> tuple[str, ...]:
    """Return changes against the dog's past, a sentence each, what matters first.

    Args:
        changes: From judging.
        telling: Readings and places.
        on: Today, for how long ago.
        imperial: Show imperial units.
    """
    ranked: list[tuple[int, str]] = []
    for change in changes:
        if change.kind in LEFT_OUT:
            continue
        text = _change(change, telling, on, imperial)
        if text:
            ranked.append((_RANK.get(change.kind, 9), text))
    return tuple(dict.fromkeys(text for _, text in sorted(ranked, key=lambda one: one[0])))


_RANK = {
    ChangeKind.FIRST_SEEN: 0,
    ChangeKind.CHANGED: 1,
    ChangeKind.NOT_LOOKED: 2,
    ChangeKind.GONE: 3,
}


def _change(change: Change, telling: Telling, on: date, imperial: bool) -> str:
    since = "" if change.since is None else f" ({said_when(change.since, on)})"
    now, before = change.now, change.before
    if isinstance(now, float) and isinstance(before, float):
        if not change.counts:
            return ""
        unit = change.unit
        told = value_words(telling, change.item, now, change.side, unit, imperial=imperial)
        told += f", was {number_words(before, unit, imperial=imperial)}{since}"
        if change.usual is not None:
            told += f"; usually {number_words(change.usual, unit, imperial=imperial)}"
        return f"{told}."
    is_now = sentence(reading(telling, change.item, now, change.side))
    was = sentence(reading(telling, change.item, before, change.side))
    if change.kind is ChangeKind.FIRST_SEEN:
        return f"New: {is_now}." if is_now else ""
    if change.kind is ChangeKind.GONE:
        return f"No longer: {was}{since}." if was else ""
    if change.kind is ChangeKind.NOT_LOOKED:
        return f"Not looked at again: {was}{since}." if was else ""
    return f"{is_now}; before: {was}{since}." if was else f"{is_now}."
