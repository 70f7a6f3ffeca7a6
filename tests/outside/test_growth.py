"""Growth of lumps and trends of weight, against published criteria and SciPy.

Growth: above 20 % of the longest diameter is progression (canine RECIST, Nguyen and others 2015,
abstract); ours adds 3 mm, because two calliper readings of SD 1 mm differ by up to 2.8 mm.
Doubling: volume doubles when the diameter grows by a factor of 1.26 (arithmetic).
"""

from __future__ import annotations

import math
from datetime import date, timedelta

import pytest

from handsfree.judging.engine import judge
from handsfree.judging.growth import doubling_days, volume_ratio
from handsfree.judging.model import Finding, Judgement, PastExam
from handsfree.judging.past import trend_of
from handsfree.judging.rules import read_table
from handsfree.protocol.subject import KnownLump, Subject

DAY = date(2026, 3, 14)


def measured(before_mm: float, now_mm: float, vet_result: str | None = "harmless") -> Judgement:
    """A known lump, before and now."""
    lump = KnownLump(key="lump1", place="the left chest", vet_result=vet_result)
    dog = Subject(name="Tilly", age_months=60, lumps=(lump,))
    past = PastExam(
        exam_id="1",
        on=DAY - timedelta(days=30),
        findings=(length(before_mm),),
    )
    return judge([length(now_mm)], dog, [past], on=DAY, table=read_table())


def length(mm: float) -> Finding:
    """One length of the known lump."""
    return Finding(item="lumps.known_length", side="lump1", value=mm, unit="mm")


@pytest.mark.parametrize(
    ("before_mm", "now_mm", "grown"),
    [
        (10.0, 12.0, False),  # 20 % but within the error of measuring
        (10.0, 13.0, True),  # 30 % and 3 mm
        (20.0, 23.0, False),  # 3 mm but 15 %
        (20.0, 24.0, True),  # 20 % and 4 mm
        (20.0, 20.0, False),
        (30.0, 20.0, False),  # shrunk: no growth, and no comfort either
    ],
)
def test_growth_needs_a_fifth_and_three_millimetres(
    before_mm: float, now_mm: float, grown: bool
) -> None:
    """Either alone is noise or trifle."""
    fired = {row.rule.id for row in measured(before_mm, now_mm).fired}
    assert ("lump_known_grown" in fired) is grown


def test_a_lump_that_shrank_or_went_is_not_cleared() -> None:
    """Mast cell tumours can wax and wane (University of Illinois 2010, excerpt)."""
    lump = KnownLump(key="lump1", place="the left chest")
    dog = Subject(name="Tilly", age_months=60, lumps=(lump,))
    gone = Finding(item="lumps.known", side="lump1", value="gone")
    judgement = judge([gone], dog, on=DAY, table=read_table())
    assert {row.rule.id for row in judgement.fired} == {"lump_known_unsampled"}


def test_a_vets_result_ends_the_advice() -> None:
    """Once a vet has judged the lump, an unchanged one asks for nothing."""
    lump = KnownLump(key="lump1", place="the left chest", vet_result="fatty lump")
    dog = Subject(name="Tilly", age_months=60, lumps=(lump,))
    same = Finding(item="lumps.known", side="lump1", value="same")
    assert not judge([same], dog, on=DAY, table=read_table()).fired


def test_doubling_time_of_the_worked_example() -> None:
    """10 to 12 mm in 30 days: volume times 1.728, doubling in 38.0 days."""
    assert volume_ratio(10.0, 12.0) == pytest.approx(1.728)
    assert doubling_days(10.0, 12.0, 30.0) == pytest.approx(38.0, abs=0.05)
    assert volume_ratio(10.0, 12.6) == pytest.approx(2.0, abs=0.001)
    assert doubling_days(10.0, 10.0, 30.0) is None
    assert doubling_days(10.0, 8.0, 30.0) is None


SERIES = ((0, 20.0), (7, 19.9), (14, 19.7), (21, 19.8), (28, 19.4))
"""A worked series of our own; SciPy is the reference."""


def test_trend_agrees_with_scipy() -> None:
    """Slope and interval are those of SciPy's Theil–Sen, on a longer falling series."""
    from scipy import stats

    days = list(range(0, 70, 7))
    kilos = [20.0 - 0.03 * d + 0.05 * math.sin(d) for d in days]
    ours = trend_of([(DAY + timedelta(days=d), kg) for d, kg in zip(days, kilos, strict=True)])
    theirs = stats.theilslopes(kilos, days, 0.95)
    assert ours is not None
    assert ours[1] == pytest.approx(theirs[0])
    assert ours[0] == pytest.approx(theirs[2])
    assert ours[2] == pytest.approx(theirs[3])


def test_too_few_points_say_nothing() -> None:
    """Five points, as in the worked series, make no trend; nor does an interval that holds zero."""
    assert trend_of([(DAY + timedelta(days=d), kg) for d, kg in SERIES]) is None
    level = [(DAY + timedelta(days=d), 20.0 + 0.1 * (d % 2)) for d in range(10)]
    assert trend_of(level) is None


@pytest.mark.parametrize("looked", ["same", "gone", None])
def test_advice_on_a_lump_stays_whether_or_not_it_was_looked_at(looked: str | None) -> None:
    """Until a vet's result is entered a lump is still to be shown, seen today or not."""
    lump = KnownLump(key="lump1", place="the left chest")
    dog = Subject(name="Tilly", age_months=60, lumps=(lump,))
    answer = Finding(
        item="lumps.known",
        side="lump1",
        status="observed" if looked else "not_observed",
        value=looked,
    )
    for answers in ([answer], []):
        judgement = judge(answers, dog, on=DAY, table=read_table())
        assert {row.rule.id for row in judgement.fired} == {"lump_known_unsampled"}
