"""Comparing with the dog's own past, and numbers worked out from it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from handsfree.judging.derive import derived
from handsfree.judging.engine import judge
from handsfree.judging.model import Change, ChangeKind, Finding, PastExam
from handsfree.judging.past import Past, baseline_of, changes_since, trends_of

from .shared import DAY, dog, exam, findings, table


def changes(now: str, *past: PastExam) -> dict[str, Change]:
    """Changes by item."""
    found = changes_since(findings(now), Past.of(past), table().catalogue)
    return {change.item: change for change in found}


def ago(days: int, text: str) -> PastExam:
    """An exam so many days ago."""
    return exam(DAY - timedelta(days=days), text)


@pytest.mark.parametrize(
    ("before", "now", "kind"),
    [
        ("clean", "tartar", ChangeKind.FIRST_SEEN),
        ("tartar", "tartar", ChangeKind.UNCHANGED),
        ("tartar", "broken", ChangeKind.CHANGED),
        ("tartar", "clean", ChangeKind.GONE),
    ],
)
def test_an_answer_is_compared_with_the_last_one(before: str, now: str, kind: ChangeKind) -> None:
    """First seen, unchanged, changed, gone."""
    change = changes(f"mouth.teeth={now}", ago(7, f"mouth.teeth={before}"))["mouth.teeth"]
    assert change.kind is kind
    assert change.before == before


def test_usual_now_and_before_says_nothing() -> None:
    """Nor is there anything to say without a past."""
    assert not changes("mouth.teeth=clean", ago(7, "mouth.teeth=clean"))
    assert not changes("mouth.teeth=tartar")


def test_never_looked_at_before_is_first_seen() -> None:
    """A finding of an item that was never answered is new as far as is known."""
    change = changes("mouth.teeth=tartar", ago(7, "nose.look=normal"))["mouth.teeth"]
    assert (change.kind, change.before) == (ChangeKind.FIRST_SEEN, None)


def test_missing_data_is_said_and_never_filled_in() -> None:
    """What was odd last time and not looked at today is neither gone nor unchanged."""
    skipped = [Finding(item="mouth.teeth", status="not_observed", reason="dog_refused")]
    (change,) = changes_since(skipped, Past.of([ago(7, "mouth.teeth=broken")]), table().catalogue)
    assert change.kind is ChangeKind.NOT_LOOKED
    assert change.now is None


def test_unchanged_knows_since_when() -> None:
    """Back to the first exam of the unbroken run."""
    past = [
        ago(40, "mouth.teeth=tartar"),
        ago(30, "mouth.teeth=clean"),
        ago(20, "mouth.teeth=tartar"),
        ago(10, "mouth.teeth=tartar"),
    ]
    change = changes("mouth.teeth=tartar", *past)["mouth.teeth"]
    assert change.since == DAY - timedelta(days=20)


def test_exams_between_without_the_item_are_passed_over() -> None:
    """The last answer counts, however many exams ago."""
    past = [ago(40, "mouth.teeth=tartar"), ago(10, "nose.look=normal")]
    assert changes("mouth.teeth=clean", *past)["mouth.teeth"].kind is ChangeKind.GONE


def test_a_number_counts_as_changed_past_its_error_only() -> None:
    """A tenth of a kilogram is the scale; a kilogram is the dog."""
    small = changes("weight.kg=20.1", ago(7, "weight.kg=20.0"))["weight.kg"]
    large = changes("weight.kg=21.0", ago(7, "weight.kg=20.0"))["weight.kg"]
    assert (small.kind, small.counts) == (ChangeKind.UNCHANGED, False)
    assert (large.kind, large.counts) == (ChangeKind.CHANGED, True)


def test_numbers_are_compared_only_when_taken_alike() -> None:
    """Asleep with asleep, rectal with rectal."""
    past = ago(7, "breaths.state=resting; breaths.rate=28")
    assert "breaths.rate" not in changes("breaths.state=asleep; breaths.rate=14", past)
    warm = ago(7, "temperature.site=ear; temperature.degrees=38")
    now = "temperature.site=rectal; temperature.degrees=39"
    assert "temperature.degrees" not in changes(now, warm)


def test_a_baseline_needs_three_readings() -> None:
    """Median and spread of the dog's own values."""
    assert baseline_of([(DAY, 14.0), (DAY, 15.0)]) is None
    base = baseline_of([(DAY, 14.0), (DAY, 15.0), (DAY, 30.0)])
    assert base is not None
    assert (base.middle, base.spread, base.points) == (15.0, 1.0, 3)


def worked_out(now: str, who: str, *past: PastExam) -> dict[str, float]:
    """Derived numbers by item."""
    found = derived(findings(now), dog(who), Past.of(past), DAY)
    return {f.item.removeprefix("derived."): float(f.value or 0) for f in found}


def test_weight_loss_is_measured_from_the_stable_weight() -> None:
    """The highest median of three of the last year: one odd reading does not count."""
    past = [ago(90 - d, f"weight.kg={kg}") for d, kg in enumerate([20.0, 20.1, 25.0, 20.0, 20.0])]
    assert worked_out("weight.kg=18", "", *past)["weight_loss"] == pytest.approx(10.4, abs=0.1)


def test_weight_loss_within_a_month() -> None:
    """Only weights of the last 31 days count for it."""
    past = [ago(60, "weight.kg=25"), ago(20, "weight.kg=20")]
    assert worked_out("weight.kg=19", "", *past)["weight_loss_month"] == pytest.approx(5.0)


def test_a_toy_dog_on_a_bathroom_scale_does_not_waste_away() -> None:
    """0.2 kg of 3 kg is 7 %, and within the scale's noise of 0.23 kg."""
    assert "weight_loss" not in worked_out("weight.kg=2.8", "", ago(20, "weight.kg=3.0"))


def test_a_kitchen_scale_shows_what_a_bathroom_scale_cannot() -> None:
    """The same 0.2 kg count where the scale is that fine."""
    now = "weight.kg=2.8; weight.scale=kitchen"
    assert worked_out(now, "", ago(20, "weight.kg=3.0"))["weight_loss"] == pytest.approx(
        6.7, abs=0.1
    )


def test_a_trend_never_mixes_scales() -> None:
    """Readings of another scale are no points of it."""
    other = [ago(7 * k, f"weight.kg={20 + 0.2 * k}; weight.scale=carried") for k in range(1, 8)]
    same = [ago(7 * k, f"weight.kg={20 + 0.2 * k}; weight.scale=platform") for k in range(1, 8)]
    now = findings("weight.kg=20; weight.scale=platform")
    assert not trends_of(now, Past.of(other), DAY, table().catalogue)
    assert trends_of(now, Past.of(same), DAY, table().catalogue)


def test_a_number_comes_with_the_dogs_own_usual() -> None:
    """Median and spread of readings taken alike; an excited heart is compared with none."""
    past = [ago(d, f"heart.mood=calm; heart.rate={90 + d}") for d in (2, 4, 6)]
    change = changes("heart.mood=calm; heart.rate=110", *past)["heart.rate"]
    assert (change.usual, change.usual_spread, change.readings) == (94, 2, 3)
    assert "heart.rate" not in changes("heart.mood=excited; heart.rate=150", *past)


def test_a_newborn_is_weighed_to_the_gram() -> None:
    """4 % in two days counts (Mila 2015, abstract)."""
    found = worked_out("weight.kg=0.384", "age_months=0", ago(2, "weight.kg=0.4"))
    assert found["newborn_loss"] == pytest.approx(4.0)


def test_breathing_rise_is_over_the_dogs_own_sleep() -> None:
    """Three sleeping counts make the baseline; a resting count is no part of it."""
    past = [ago(d, "breaths.state=asleep; breaths.rate=14") for d in (3, 6, 9)]
    now = "breaths.state=asleep; breaths.rate=21"
    assert worked_out(now, "", *past)["breathing_rise"] == pytest.approx(50.0)
    awake = [ago(d, "breaths.state=resting; breaths.rate=14") for d in (3, 6, 9)]
    assert "breathing_rise" not in worked_out(now, "", *awake)
    assert "breathing_rise" not in worked_out(now, "", *past[:2])


def test_water_is_by_todays_weight_else_the_last_known() -> None:
    """2000 ml in a 20 kg dog are 100 ml a kilogram."""
    assert worked_out("noticed.water=2000; weight.kg=20", "")["water"] == 100
    assert worked_out("noticed.water=2000", "weight_kg=25")["water"] == 80
    assert "water" not in worked_out("noticed.water=2000", "")


def test_trend_speaks_only_with_six_points_and_a_clear_interval() -> None:
    """Weight that falls steadily is told; five readings or mere noise are not."""
    falling = [ago(7 * k, f"weight.kg={20 + 0.2 * k}") for k in range(1, 8)]
    now = findings("weight.kg=20")
    (trend,) = trends_of(now, Past.of(falling), DAY, table().catalogue)
    assert trend.points == 8
    assert trend.per_month == pytest.approx(-0.2 * 30 / 7, abs=0.01)
    assert not trends_of(now, Past.of(falling[:4]), DAY, table().catalogue)
    noise = [ago(7 * k, f"weight.kg={20 + 0.1 * (k % 2)}") for k in range(1, 9)]
    assert not trends_of(now, Past.of(noise), DAY, table().catalogue)


def test_trend_of_breaths_is_of_sleep_only() -> None:
    """Counts of the waking dog make none."""
    past = [ago(k, f"breaths.state=asleep; breaths.rate={30 - k}") for k in range(1, 9)]
    asleep = findings("breaths.state=asleep; breaths.rate=31")
    awake = findings("breaths.state=resting; breaths.rate=31")
    assert trends_of(asleep, Past.of(past), DAY, table().catalogue)
    assert not trends_of(awake, Past.of(past), DAY, table().catalogue)


def test_history_in_any_order_gives_the_same() -> None:
    """Exams are sorted by their day."""
    past = [ago(30, "mouth.teeth=clean"), ago(10, "mouth.teeth=tartar")]
    answers = findings("mouth.teeth=tartar")
    one = judge(answers, dog(), past, on=DAY, table=table())
    other = judge(answers, dog(), past[::-1], on=DAY, table=table())
    assert one.changes == other.changes
    assert one.changes[0].kind is ChangeKind.UNCHANGED
