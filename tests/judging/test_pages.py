"""The generated pages of the documentation are current, and lists hold what is promised."""

from __future__ import annotations

from pathlib import Path

import pytest

from handsfree.judging.listing import items_as_data, rules_as_data, when_text
from handsfree.judging.pages import pages
from handsfree.protocol.loader import load

from .shared import table

DOCS = Path(__file__).parents[2] / "docs"


@pytest.mark.parametrize("name", ["rules.md", "items.md"])
def test_pages_are_current(name: str) -> None:
    """Run ``python -m handsfree.judging.pages`` after changing the table or the protocol."""
    assert (DOCS / name).read_text(encoding="utf-8") == pages()[name]


def test_rules_as_data_have_the_promised_keys() -> None:
    """Seven keys, and values that a program can rely on."""
    rows = rules_as_data(table().rules)
    keys = {"id", "level", "when", "say", "source", "basis", "read"}
    assert all(set(row) == keys for row in rows)
    bases = {"guideline", "study", "handbook", "clinic", "common practice", "judgement"}
    assert {row["basis"] for row in rows} <= bases
    assert {row["read"] for row in rows} <= {"full", "excerpt", "abstract", "memory", "ours"}
    levels = {"now", "same_day", "days", "next_visit", "watch"}
    assert {row["level"] for row in rows} == levels


def test_items_as_data_hold_every_item() -> None:
    """In the protocol's own ids, with values or a unit."""
    rows = items_as_data(table().catalogue)
    assert [row["item"] for row in rows] == list(load().items())
    assert all(row["values"] or row["unit"] for row in rows)


def test_conditions_read_as_words() -> None:
    """Thresholds with their units, and what must not be there."""
    when = when_text(table().rule("breaths_asleep_over_30").when)
    assert when == (
        "breaths.state is asleep and breaths.rate above 30 /min and not (breaths.recount at most"
        " 30 /min) and dog is adult"
    )
