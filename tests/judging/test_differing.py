"""Judging takes the worse of differing answers: tried over the shipped table."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handsfree.judging.differing import Contested, judged
from handsfree.judging.engine import judge
from handsfree.judging.model import Finding, Judgement, Level

from .shared import DAY, dog, findings, table

CHOICES = sorted(
    item
    for item, info in table().catalogue.items.items()
    if len(info.values) > 1 and not info.sides and info.kind == "choice"
)


def alone(found: Sequence[Finding]) -> Judgement:
    """Judge these answers of a usual dog."""
    return judge(found, dog(), on=DAY, table=table())


def between(text: str, other: str, counts: int | None = None) -> Contested:
    """Return the difference between two findings as written."""
    (one,), (two,) = findings(text), findings(other)
    return Contested(
        item=one.item, side=one.side, options=(one, two), counts=counts, answers=("a", "b")
    )


@pytest.mark.parametrize("own", ["easy", "hard"])
def test_the_worse_of_two_counts_whoever_gave_it(own: str) -> None:
    """Both checks come to the same level."""
    contested = between("watch.breathing=easy", "watch.breathing=hard")
    found = judged(findings(f"watch.breathing={own}"), [contested], alone, table().catalogue)
    assert found.level is Level.NOW


@pytest.mark.parametrize(("counts", "urgent"), [(0, False), (1, True)])
def test_what_was_settled_counts_and_nothing_else(counts: int, *, urgent: bool) -> None:
    """The settled answer replaces the check's own, for better and for worse."""
    contested = between("watch.breathing=easy", "watch.breathing=hard", counts)
    for own in ("easy", "hard"):
        found = judged(findings(f"watch.breathing={own}"), [contested], alone, table().catalogue)
        assert (found.level is Level.NOW) is urgent
        assert found.contradictions == ()


@settings(max_examples=60, deadline=None, database=None)
@given(data=st.data())
def test_no_answer_makes_it_better_than_it_is_alone(data: st.DataObject) -> None:
    """Whatever differs: the level is never below that of the own answers or of any other one."""
    items = data.draw(st.lists(st.sampled_from(CHOICES), min_size=1, max_size=4, unique=True))
    own, contested = [], []
    for item in items:
        values = sorted(table().catalogue.items[item].values)
        one, two = (data.draw(st.sampled_from(values)) for _ in range(2))
        own += findings(f"{item}={one}")
        if one != two:
            contested.append(between(f"{item}={one}", f"{item}={two}"))
    found = judged(own, contested, alone, table().catalogue)
    assert found.level.rank >= alone(own).level.rank
    for difference in contested:
        for option in difference.options:
            others = [f for f in own if f.item != difference.item]
            assert found.level.rank >= alone([*others, option]).level.rank
