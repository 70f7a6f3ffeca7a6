"""Every item that a row may look at: those of the protocol, and those that judging derives.

A derived item is a number or token worked out from answers and the dog's past; its id begins with
``derived.`` and it never appears in an exam. What the numbers are lives in ``derive``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from handsfree.protocol.model import Protocol

__all__ = ["DERIVED", "Catalogue", "ItemInfo", "catalogue_of"]


@dataclass(frozen=True, kw_only=True)
class ItemInfo:
    """One item with what it may hold.

    Attributes:
        item: Item id.
        title: Region title, as spoken.
        prompt: How it is asked, or what it is.
        kind: ``choice``, ``number``, ``refill``, ``count`` or ``derived``.
        values: Tokens of a choice with how each is read back.
        normal: Tokens that are usual.
        unit: Unit of a number; None for choices.
        sides: Sides, if it is asked once a side.
    """

    item: str
    title: str
    prompt: str
    kind: str
    values: Mapping[str, str]
    normal: frozenset[str] = frozenset()
    unit: str | None = None
    sides: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Catalogue:
    """All items and caution keys."""

    items: Mapping[str, ItemInfo]
    cautions: Mapping[str, str]
    protocol_version: str = ""


def _derived(item: str, prompt: str, unit: str) -> ItemInfo:
    return ItemInfo(
        item=item, title="worked out", prompt=prompt, kind="derived", values={}, unit=unit
    )


DERIVED: dict[str, ItemInfo] = {
    info.item: info
    for info in (
        _derived("derived.body_condition", "body condition, 1 to 9, from ribs, waist, tuck", "1"),
        _derived("derived.weight_loss_month", "weight lost within 31 days", "%"),
        _derived("derived.weight_loss", "weight lost from the stable weight of a year", "%"),
        _derived("derived.weight_gain_week", "weight gained within 10 days", "%"),
        _derived("derived.newborn_loss", "weight lost by a pup under a month", "%"),
        _derived("derived.breathing_rise", "sleeping breaths above the dog's own median", "%"),
        _derived("derived.lump_growth", "growth of a known lump's longest diameter", "%"),
        _derived("derived.lump_growth_mm", "the same in millimetres", "mm"),
        _derived("derived.lump_unsampled", "a known lump without a vet's result", "1"),
        _derived("derived.water", "water drunk a day for each kilogram", "mL/kg"),
        _derived("derived.refill_slow_before", "slow refill earlier the same day", "1"),
        _derived("derived.odd_heat_days", "days since a temperature outside 37.7 to 39.2", "d"),
    )
}


def catalogue_of(protocol: Protocol) -> Catalogue:
    """Gather the items of a protocol beside the derived ones."""
    items = dict(DERIVED)
    for region in protocol.regions.values():
        for question in region.question:
            item = f"{region.id}.{question.id}"
            items[item] = ItemInfo(
                item=item,
                title=region.title,
                prompt=question.prompt,
                kind=question.kind.value,
                values=question.values if question.unit is None else {},
                normal=frozenset(question.normal),
                unit=question.unit,
                sides=question.sides,
            )
    return Catalogue(
        items=items,
        cautions={caution.key: caution.say for caution in protocol.cautions.values()},
        protocol_version=protocol.version,
    )
