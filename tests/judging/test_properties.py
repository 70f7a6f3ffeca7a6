"""What must hold for any answers: no finding reassures, order means nothing, gaps never calm."""

from __future__ import annotations

import random
from dataclasses import replace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from handsfree.judging.engine import alarms, judge
from handsfree.judging.model import Finding, Level
from handsfree.protocol.subject import Subject

from .shared import DAY, dog, findings, table

QUICK = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])

_CHOICES = [info for info in table().catalogue.items.values() if info.kind == "choice"]
_NUMBERS = {
    "temperature.degrees": (35.0, 42.0),
    "breaths.rate": (6.0, 80.0),
    "heart.rate": (30.0, 240.0),
    "mouth.refill": (0.5, 5.0),
    "weight.kg": (2.0, 60.0),
}

DOGS = st.sampled_from(
    [
        dog(),
        dog("age_months=3"),
        dog("age_months=150 sex=male neutered=yes"),
        dog("sex=female neutered=no season=30"),
        dog("sex=female pregnant=true"),
        dog("shape=flat_faced"),
        dog("conditions=heart"),
    ]
)


@st.composite
def _choice(draw: st.DrawFn) -> Finding:
    info = draw(st.sampled_from(_CHOICES))
    side = draw(st.sampled_from(info.sides)) if info.sides else None
    certainty = draw(st.sampled_from(["confirmed", "confirmed", "possible"]))
    return Finding(
        item=info.item,
        side=side,
        value=draw(st.sampled_from(list(info.values))),
        certainty=certainty,  # type: ignore[arg-type]  # one of the two above
    )


@st.composite
def _number(draw: st.DrawFn) -> Finding:
    item = draw(st.sampled_from(sorted(_NUMBERS)))
    low, high = _NUMBERS[item]
    value = draw(st.floats(low, high).map(lambda v: round(v, 1)))
    return Finding(item=item, value=value, unit=table().catalogue.items[item].unit)


def _once(found: list[Finding]) -> list[Finding]:
    return list({f.key: f for f in found}.values())


ANSWERS = st.lists(st.one_of(_choice(), _choice(), _number()), max_size=25).map(_once)


def _level(found: list[Finding], subject: Subject) -> Level:
    return judge(found, subject, on=DAY, table=table()).level


CIRCUMSTANCES = frozenset(
    {"breaths.state", "heart.mood", "heart.rhythm", "watch.pant_reason", "watch.breath_noise"}
    | {"temperature.site", "season.last"}
)
"""Items that say how or when another was found; by nature they can weigh both ways."""

CALM_RECHECKS = frozenset({"breaths.recount", "heart.recount", "temperature.recheck"})
"""The listed exceptions: a calm second reading may clear the first."""


@QUICK
@given(ANSWERS, _choice(), DOGS)
def test_an_abnormal_finding_never_lowers_the_level(
    found: list[Finding], extra: Finding, subject: Subject
) -> None:
    """Adding what is not usual, to an item not yet answered, keeps or raises the level."""
    info = table().catalogue.items[extra.item]
    if not info.normal or extra.value in info.normal or extra.item in CIRCUMSTANCES:
        return
    if extra.key in {f.key for f in found}:
        return
    before = _level(found, subject)
    assert _level([*found, extra], subject).rank >= before.rank


def test_calm_rechecks_are_the_only_rows_that_a_second_reading_clears() -> None:
    """Rows with a second reading in a 'none' are those marked as calm rechecks."""
    for rule in table().rules:
        text = str(rule.when)
        clears = any(
            f"'none': [{{'item': '{part}.recount'" in text for part in ("breaths", "heart")
        ) or ("'none'" in text and "temperature.recheck" in text)
        assert clears is rule.calm_recheck, rule.id


@QUICK
@given(ANSWERS, DOGS, st.data())
def test_not_observed_never_judges_lower_than_usual_would(
    found: list[Finding], subject: Subject, data: st.DataObject
) -> None:
    """Taking any usual answer away, as skipped, never lowers the level."""
    usual = [f for f in found if f.value in table().catalogue.items[f.item].normal]
    usual = [f for f in usual if f.item not in CIRCUMSTANCES]
    if not usual:
        return
    gone = data.draw(st.sampled_from(usual))
    skipped = replace(gone, status="not_observed", value=None, reason="skipped")
    others = [f for f in found if f.key != gone.key]
    assert _level([*others, skipped], subject).rank >= _level(found, subject).rank


@QUICK
@given(ANSWERS, DOGS, st.integers(0, 2**16))
def test_the_order_of_answers_means_nothing(
    found: list[Finding], subject: Subject, seed: int
) -> None:
    """Any order gives the same level and the same rows."""
    mixed = found[:]
    random.Random(seed).shuffle(mixed)
    first = judge(found, subject, on=DAY, table=table())
    second = judge(mixed, subject, on=DAY, table=table())
    assert first.level is second.level
    assert {(f.rule.id, f.level, frozenset(f.sides)) for f in first.fired} == {
        (f.rule.id, f.level, frozenset(f.sides)) for f in second.fired
    }


@QUICK
@given(ANSWERS, DOGS)
def test_a_doubted_answer_weighs_as_much_as_a_sure_one(
    found: list[Finding], subject: Subject
) -> None:
    """Doubt never lowers the level; it only marks the rows."""
    sure = [replace(f, certainty="confirmed") for f in found]
    doubted = [replace(f, certainty="possible") for f in found]
    assert _level(sure, subject) is _level(doubted, subject)
    assert all(f.possible for f in judge(doubted, subject, on=DAY, table=table()).fired)


@settings(QUICK, max_examples=15)
@given(ANSWERS, DOGS)
def test_alarms_told_answer_by_answer_are_the_now_rows_of_the_end(
    found: list[Finding], subject: Subject
) -> None:
    """Nothing that is now at the end went untold, but what still waits for its follow-up."""
    told: set[str] = set()
    so_far: list[Finding] = []
    for finding in found:
        told |= {a.rule for a in alarms(finding, so_far, subject, on=DAY, table=table())}
        so_far.append(finding)
    asked = {f.item for f in found}
    end = {
        f.rule.id
        for f in judge(found, subject, on=DAY, table=table()).fired
        if f.level is Level.NOW and (not f.rule.waits or f.rule.waits in asked)
    }
    assert end <= told


def test_left_and_right_never_add_up() -> None:
    """A cloudy left eye and a sudden change of the right one are two matters."""
    apart = findings("eyes.look@left=cloudy; eyes.onset@right=sudden")
    together = findings("eyes.look@left=cloudy; eyes.onset@left=sudden")
    assert _level(apart, dog()) is not Level.NOW
    assert _level(together, dog()) is Level.NOW
