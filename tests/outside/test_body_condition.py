"""Body condition and ideal weight against the nine-point description and the published formula.

The nine rows are after Laflamme, Canine Practice 1997 (from memory, in our own words). Ideal
weight: about 10 % a point above five, AAHA weight management toolkit (excerpt), by division.
"""

from __future__ import annotations

import pytest

from handsfree.judging.condition import POINTS, BodyCondition, body_condition, ideal_weight
from handsfree.judging.model import Finding

NINE_POINTS = (
    (1, "sticking_out", "extreme", "extreme", {"bones": "stick_out", "muscle": "wasted"}),
    (2, "sticking_out", "extreme", "extreme", {"bones": "stick_out", "muscle": "little_less"}),
    (3, "sharp", "clear", "clear", {"bones": "felt"}),
    (4, "easy", "clear", "clear", {"bones": "felt"}),
    (5, "easy", "clear", "clear", {"bones": "hidden", "fat": "none"}),
    (6, "covered", "slight", "slight", {"fat": "none"}),
    (7, "hard_to_feel", "absent", "absent", {"fat": "tail_base"}),
    (8, "firm_press", "absent", "absent", {"fat": "thick"}),
    (9, "not_felt", "absent", "hanging", {"fat": "neck_too"}),
)
"""Score, ribs, waist from above, tuck from the side, extra signs."""


def found(ribs: str, waist: str, tuck: str, extra: dict[str, str]) -> list[Finding]:
    """The answers of one row."""
    answers = {"ribs": ribs, "waist": waist, "tuck": tuck, **extra}
    return [Finding(item=f"outline.{name}", value=value) for name, value in answers.items()]


@pytest.mark.parametrize(("score", "ribs", "waist", "tuck", "extra"), NINE_POINTS)
def test_each_point_of_the_scale_is_found(
    score: int, ribs: str, waist: str, tuck: str, extra: dict[str, str]
) -> None:
    """Each of the nine descriptions gives its own score, with a range around it."""
    condition = body_condition(found(ribs, waist, tuck, extra))
    assert condition is not None
    assert condition.score == score
    assert condition.low <= score <= condition.high
    assert condition.high - condition.low >= 1


@pytest.mark.parametrize(("score", "ribs", "waist", "tuck", "extra"), NINE_POINTS)
def test_ribs_waist_and_tuck_alone_come_within_one(
    score: int, ribs: str, waist: str, tuck: str, extra: dict[str, str]
) -> None:
    """Without the extra signs the score is at most one off, and the true one lies in the range."""
    condition = body_condition(found(ribs, waist, tuck, {}))
    assert condition is not None
    assert abs(condition.score - score) <= 1
    assert condition.low <= score <= condition.high


def test_nothing_is_said_without_the_ribs() -> None:
    """A coat hides what eyes see: waist and tuck alone give no score."""
    assert body_condition([Finding(item="outline.waist", value="clear")]) is None
    assert body_condition([Finding(item="outline.ribs", value="easy")]) is None
    assert body_condition([]) is None


def test_answers_that_disagree_widen_the_range() -> None:
    """Ribs that cannot be felt beside a sharp waist: the range says how unsure that is."""
    agreed = body_condition(found("easy", "clear", "clear", {}))
    torn = body_condition(found("hard_to_feel", "clear", "clear", {}))
    assert agreed is not None
    assert torn is not None
    assert torn.high - torn.low >= agreed.high - agreed.low


@pytest.mark.parametrize(
    ("score", "kg", "ideal"),
    [(8, 40.0, 30.8), (6, 11.0, 10.0), (7, 24.0, 20.0), (9, 14.0, 10.0)],
)
def test_ideal_weight_divides_by_ten_per_cent_a_point(score: int, kg: float, ideal: float) -> None:
    """40 kg at 8 of 9 is 30.8 kg by division (28.0 by subtraction, which we don't use)."""
    exact = BodyCondition(score=score, low=score, high=score, answers=3)
    weight = ideal_weight(kg, exact)
    assert weight is not None
    assert weight.low_kg == weight.high_kg == pytest.approx(ideal, abs=0.05)


@pytest.mark.parametrize("score", [p for p in POINTS if p < 6])
def test_no_ideal_weight_is_made_up_below_six(score: int) -> None:
    """No source gives a percentage below five; none is computed."""
    exact = BodyCondition(score=score, low=score, high=score, answers=3)
    assert ideal_weight(20.0, exact) is None


def test_ideal_weight_is_a_range() -> None:
    """The score's uncertainty goes into the weight."""
    condition = body_condition(found("firm_press", "absent", "absent", {"fat": "thick"}))
    assert condition is not None
    weight = ideal_weight(40.0, condition)
    assert weight is not None
    assert weight.low_kg < 30.8 < weight.high_kg
