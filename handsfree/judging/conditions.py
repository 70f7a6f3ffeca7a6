"""The little language of the rule table: what answers and dog facts make a row fire.

Tests are plain data with one function, ``holds``, that also returns the answers that made them
true. Reading them from files lives in ``rules``; what rows mean lives in ``engine``.

Sides: within one row, answers that have sides are taken from the same side, so that a red left eye
and a half-shut right eye never add up. ``any_side`` lifts that for one test; ``sides_min`` asks for
a number of sides at once.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from handsfree.judging.model import Finding

__all__ = ["DogFacts", "DogTest", "Facts", "Group", "ItemTest", "Test", "holds", "triggers_of"]

DogFacts: TypeAlias = Mapping[str, "bool | float | str | frozenset[str] | None"]
"""Facts of the dog by name: ``age_months``, ``sex``, ``senior``, ``conditions`` ..."""


@dataclass(frozen=True, kw_only=True)
class ItemTest:
    """True when an observed answer of ``item`` fits all that is stated."""

    item: str
    values: frozenset[str] = frozenset()
    not_values: frozenset[str] = frozenset()
    at_least: float | None = None
    above: float | None = None
    at_most: float | None = None
    below: float | None = None
    unit: str | None = None
    side: str | None = None
    any_side: bool = False
    sides_min: int = 1

    def fits(self, value: str | float | None) -> bool:
        """Whether one value fits, whatever its side."""
        if value is None:
            return False
        if isinstance(value, str):
            if self.values:
                return value in self.values
            return bool(self.not_values) and value not in self.not_values
        if self.values or self.not_values:
            return False
        return (
            (self.at_least is None or value >= self.at_least)
            and (self.above is None or value > self.above)
            and (self.at_most is None or value <= self.at_most)
            and (self.below is None or value < self.below)
        )


@dataclass(frozen=True, kw_only=True)
class DogTest:
    """True when a fact of the dog fits. An unknown fact fits nothing but ``or_unknown``."""

    fact: str
    values: frozenset[str] = frozenset()
    is_true: bool | None = None
    at_least: float | None = None
    below: float | None = None
    or_unknown: bool = False

    def fits(self, dog: DogFacts) -> bool:
        """Whether this dog fits."""
        have = dog.get(self.fact)
        if have is None:
            return self.or_unknown
        if self.is_true is not None:
            return bool(have) is self.is_true
        if isinstance(have, frozenset):
            return bool(have & self.values)
        if self.values:
            return str(have) in self.values
        number = float(have)
        return (self.at_least is None or number >= self.at_least) and (
            self.below is None or number < self.below
        )


@dataclass(frozen=True, kw_only=True)
class Group:
    """``all``, ``any`` (at least ``least`` parts) or ``none`` of its parts."""

    how: str
    parts: tuple[Test, ...]
    least: int = 1


Test: TypeAlias = "ItemTest | DogTest | Group"


@dataclass(frozen=True)
class Facts:
    """Observed answers by item, ready for testing; one entry a side."""

    by_item: Mapping[str, tuple[Finding, ...]]
    dog: DogFacts = field(default_factory=dict)

    @classmethod
    def of(cls, findings: Iterable[Finding], dog: DogFacts) -> Facts:
        """Gather the observed findings by item; the last of an item and side holds."""
        latest = {finding.key: finding for finding in findings}
        by_item: dict[str, list[Finding]] = {}
        for finding in latest.values():
            if finding.status == "observed":
                by_item.setdefault(finding.item, []).append(finding)
        return cls({item: tuple(found) for item, found in by_item.items()}, dog)


def triggers_of(test: Test) -> tuple[ItemTest, ...]:
    """Every item test of which at least one must fit for the whole to be true.

    Tests within ``none`` are no triggers: they only hold a row back.
    """
    if isinstance(test, ItemTest):
        return (test,)
    if isinstance(test, DogTest) or test.how == "none":
        return ()
    return tuple(trigger for part in test.parts for trigger in triggers_of(part))


def holds(test: Test, facts: Facts, side: str | None = None) -> tuple[Finding, ...] | None:
    """Test facts, seen from one side.

    Args:
        test: What is asked.
        facts: What is known.
        side: Answers with another side than this do not count; None lets every side count.

    Returns:
        The answers that made it true (none for dog facts), or None where it is false.
    """
    if isinstance(test, ItemTest):
        return _item_holds(test, facts, side)
    if isinstance(test, DogTest):
        return () if test.fits(facts.dog) else None
    if test.how == "none":
        return () if all(holds(part, facts, side) is None for part in test.parts) else None
    found: list[Finding] = []
    true = 0
    for part in test.parts:
        evidence = holds(part, facts, side)
        if evidence is None:
            if test.how == "all":
                return None
            continue
        true += 1
        found.extend(e for e in evidence if e not in found)
    needed = len(test.parts) if test.how == "all" else test.least
    return tuple(found) if true >= needed else None


def _item_holds(test: ItemTest, facts: Facts, side: str | None) -> tuple[Finding, ...] | None:
    fitting = [
        finding
        for finding in facts.by_item.get(test.item, ())
        if test.fits(finding.value)
        and (test.side is None or finding.side == test.side)
        and (
            test.any_side
            or test.side is not None
            or test.sides_min > 1
            or side is None
            or finding.side is None
            or finding.side == side
        )
    ]
    return tuple(fitting) if len(fitting) >= test.sides_min else None
