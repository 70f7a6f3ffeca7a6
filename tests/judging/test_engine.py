"""Levels, gaps, doubts and alarms."""

from __future__ import annotations

from datetime import timedelta

import pytest

from handsfree.judging.engine import alarms, judge
from handsfree.judging.model import Finding, Judgement, Level, PastExam

from .shared import DAY, dog, exam, findings, fired_ids, table

WELL = "now.gums=pink; watch.breathing=easy; watch.attitude=bright; belly.feel=soft"


def judged(text: str, who: str = "", *past: PastExam) -> Judgement:
    """Judge findings of a dog."""
    return judge(findings(text), dog(who), past, on=DAY, table=table())


def test_nothing_found_needs_the_things_that_matter() -> None:
    """With gums, breathing, attitude and belly looked at, nothing was found in what was seen."""
    assert judged(WELL).level is Level.NONE_FOUND


@pytest.mark.parametrize(
    ("left_out", "name"),
    [
        ("now.gums=pink", "gums"),
        ("watch.breathing=easy", "breathing"),
        ("watch.attitude=bright", "attitude"),
        ("belly.feel=soft", "belly"),
    ],
)
def test_each_vital_sign_left_out_is_not_enough(left_out: str, name: str) -> None:
    """Without one of the four the lowest result is that not enough was seen."""
    rest = "; ".join(part for part in WELL.split("; ") if part != left_out)
    judgement = judged(rest)
    assert judgement.level is Level.NOT_ENOUGH
    assert judgement.vital_missing == (name,)


def test_dark_gums_are_not_looked_at_until_the_eyelid_is() -> None:
    """Pigment hides the colour; the inner eyelid shows it."""
    dark = WELL.replace("now.gums=pink", "now.gums=dark; mouth.gum_colour=dark")
    assert judged(dark).level is Level.NOT_ENOUGH
    assert judged(dark + "; mouth.eyelid_colour=pink").level is Level.NONE_FOUND


def test_an_empty_exam_is_not_enough() -> None:
    """No answer at all is never 'normal'."""
    assert judged("").level is Level.NOT_ENOUGH


def test_the_highest_level_holds_and_is_listed_first() -> None:
    """Lesser rows stay listed behind."""
    judgement = judged(WELL + "; mouth.teeth=tartar; noticed.stools=soft; eyes.look@left=bulging")
    assert judgement.level is Level.NOW
    ranks = [row.level.rank for row in judgement.fired]
    assert ranks == sorted(ranks, reverse=True)


def test_small_levels_never_add_up() -> None:
    """Many things to watch stay things to watch."""
    many = "noticed.stools=soft; nose.look=runny; ears.look@left=waxy; feet.foot@left_front=red"
    assert judged(f"{WELL}; {many}").level is Level.WATCH


def test_two_same_day_findings_of_one_topic_stay_same_day() -> None:
    """A red eye that is also half shut is one matter; with vomiting it is two."""
    eye = "eyes.look@left=red; eyes.open@left=squinting; eyes.pupils=left_bigger"
    assert judged(f"{WELL}; {eye}").level is Level.SAME_DAY
    both = judged(f"{WELL}; {eye}; noticed.vomiting=more")
    assert both.level is Level.NOW
    assert {f.stepped for f in both.fired if f.level is Level.NOW} == {"with a second such sign"}


def test_possible_answers_keep_their_level_and_come_first_in_it() -> None:
    """A doubted alarm weighs like a sure one and heads its level."""
    judgement = judged("eyes.look@left=bulging; now.gums=pale?")
    assert judgement.level is Level.NOW
    first = judgement.fired[0]
    assert (first.rule.id, first.possible) == ("gums_pale", True)


def test_a_row_is_sure_when_one_sure_answer_is_enough() -> None:
    """Doubt in one of two answers that each suffice is no doubt in the row."""
    judgement = judged("now.gums=pale?; mouth.gum_colour=white")
    row = next(f for f in judgement.fired if f.rule.id == "gums_pale")
    assert not row.possible


def test_sides_are_named() -> None:
    """The row says on which side it fired."""
    judgement = judged("eyes.look@left=normal; eyes.look@right=red")
    row = next(f for f in judgement.fired if f.rule.id == "eye_red_shut")
    assert row.sides == ("right",)


def test_a_correction_replaces_the_answer_before() -> None:
    """The last answer to an item and side holds."""
    assert "gums_pale" not in fired_ids(judged("now.gums=pale; now.gums=pink"))


def test_gaps_are_listed_with_their_reason() -> None:
    """What was not looked at is said, vital ones marked."""
    answers = [
        Finding(item="mouth.gum_colour", status="not_observed", reason="cannot_see"),
        Finding(item="mouth.teeth", status="not_observed", reason="dog_refused"),
        Finding(item="rear.tail", status="not_applicable", reason="no tail"),
    ]
    gaps = judge(answers, dog(), on=DAY, table=table()).not_covered
    assert [(g.item, g.reason, g.vital) for g in gaps] == [
        ("mouth.gum_colour", "cannot_see", True),
        ("mouth.teeth", "dog_refused", False),
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("lumps.new=none; lumps.new_length@first=12", "lump"),
        ("now.gums=pale; mouth.gum_colour=pink", "gums"),
        ("now.signs=breathing; watch.breathing=easy", "reathing"),
        ("noticed.change=nothing; noticed.vomiting=more", "changed"),
        ("temperature.thermometer=no; temperature.degrees=39", "thermometer"),
        ("mammary.line=normal; mammary.gland@left_2=lump", "gland"),
    ],
)
def test_contradictions_are_said(text: str, words: str) -> None:
    """Answers that cannot both be true are named, and the worse one counts."""
    said = judged(text).contradictions
    assert len(said) == 1
    assert words in said[0]


def test_an_unfinished_exam_is_judged_on_what_it_has() -> None:
    """And says that it is unfinished."""
    judgement = judge(findings("now.gums=pale"), dog(), on=DAY, table=table(), unfinished=True)
    assert judgement.level is Level.NOW
    assert judgement.unfinished


def test_an_alarm_is_told_once() -> None:
    """The answer that brings it sets it off; the next one does not again."""
    first = findings("now.gums=pale")[0]
    (alarm,) = alarms(first, [], dog(), on=DAY, table=table())
    assert (alarm.rule, alarm.level) == ("gums_pale", Level.NOW)
    assert alarm.avoid
    second = findings("mouth.gum_colour=white")[0]
    assert alarms(second, [first], dog(), on=DAY, table=table()) == ()


def test_usual_answers_set_nothing_off() -> None:
    """Nor do findings that can wait."""
    so_far = findings(WELL)
    for finding in findings(WELL + "; mouth.teeth=tartar; watch.gait=limping"):
        assert alarms(finding, so_far, dog(), on=DAY, table=table()) == ()


def test_an_alarm_waits_for_its_follow_up() -> None:
    """An answer of "bleeding" asks first whether it has stopped; a refusal lets it through."""
    bleeding = findings("now.danger=bleeding")
    assert alarms(bleeding[0], [], dog(), on=DAY, table=table()) == ()
    for value in ("slow", "pouring"):
        follow_up = findings(f"now.bleeding={value}")[0]
        told = alarms(follow_up, bleeding, dog(), on=DAY, table=table())
        assert [a.rule for a in told] == ["screen_bleeding"]
    stopped = findings("now.bleeding=stopped")[0]
    assert alarms(stopped, bleeding, dog(), on=DAY, table=table()) == ()
    skipped = Finding(item="now.bleeding", status="not_observed", reason="skipped")
    told = alarms(skipped, bleeding, dog(), on=DAY, table=table())
    assert [a.rule for a in told] == ["screen_bleeding"]


def test_a_stepped_up_finding_interrupts_with_its_reason() -> None:
    """In an old dog what would be for today cannot wait, and the sentence says why."""
    dull = findings("watch.attitude=dull")[0]
    assert alarms(dull, [], dog(), on=DAY, table=table()) == ()
    (alarm,) = alarms(dull, [], dog("age_months=160"), on=DAY, table=table())
    assert alarm.say == "Dullness, at this dog's age: that cannot wait."


def test_the_second_same_day_sign_interrupts() -> None:
    """It brings both to the highest level."""
    first, second = findings("noticed.vomiting=more; eyes.look@left=red")
    told = alarms(second, [first], dog(), on=DAY, table=table())
    assert {a.rule for a in told} == {"vomiting_repeated", "eye_red_shut"}


def test_slow_refill_twice_on_one_day_cannot_wait() -> None:
    """Alone it is measured again in five minutes; slow again it is urgent."""
    before = exam(DAY, "mouth.refill=2.8")
    assert judged("mouth.refill=2.7").level is Level.SAME_DAY
    assert judged("mouth.refill=2.7", "", before).level is Level.NOW
    yesterday = exam(DAY - timedelta(days=1), "mouth.refill=2.8")
    assert judged("mouth.refill=2.7", "", yesterday).level is Level.SAME_DAY


def test_a_fast_refill_alone_says_nothing() -> None:
    """Ordinary dogs read under a second: medians are 1.1 to 1.2 (Chalifoux 2021, abstract)."""
    assert judged(WELL + "; mouth.refill=0.5").level is Level.NONE_FOUND


def test_panting_is_no_rate() -> None:
    """A count of a panting or active dog fires nothing."""
    for state in ("panting", "active"):
        text = f"{WELL}; breaths.state={state}; breaths.rate=90"
        assert judged(text).level is Level.NONE_FOUND


def test_cold_by_ear_is_measured_again_and_hot_by_ear_counts() -> None:
    """Ear and armpit read low: only the high bands hold there (Konietschke 2014, abstract)."""
    assert judged(f"{WELL}; temperature.site=ear; temperature.degrees=36.9").level is Level.WATCH
    assert judged(f"{WELL}; temperature.site=ear; temperature.degrees=40.5").level is Level.NOW


@pytest.mark.parametrize(
    ("text", "unfinished", "level"),
    [
        ("weight.scale=platform; weight.kg=12.4", False, Level.NONE_FOUND),
        ("weight.scale=platform; weight.kg=12.4", True, Level.NONE_FOUND),
        ("breaths.state=resting; breaths.rate=18", False, Level.NONE_FOUND),
        ("weight.scale=platform", False, Level.NOT_ENOUGH),
        ("weight.scale=platform", True, Level.NOT_ENOUGH),
        ("", False, Level.NOT_ENOUGH),
    ],
)
def test_a_single_measurement_is_judged_by_itself(
    text: str, unfinished: bool, level: Level
) -> None:
    """Nothing else was to be looked at; where no number came of it nothing is said."""
    judgement = judge(
        findings(text), dog(""), on=DAY, table=table(), unfinished=unfinished, only="the weight"
    )
    assert (judgement.level, judgement.vital_missing) == (level, ())
    assert judgement.only == "the weight"


def test_a_single_measurement_sets_off_its_rows() -> None:
    """A fever fires as it does in a check."""
    fever = "temperature.site=rectal; temperature.degrees=41.2"
    alone = judge(findings(fever), dog(""), on=DAY, table=table(), only="the temperature")
    assert fired_ids(alone) == fired_ids(judged(fever))
    assert alone.level is Level.NOW


def test_a_single_measurement_that_was_skipped_says_nothing() -> None:
    """The scale was named and the weight was not taken."""
    skipped = Finding(item="weight.kg", status="not_observed", value=None, reason="skipped")
    held = [*findings("weight.scale=platform"), skipped]
    judgement = judge(held, dog(), on=DAY, table=table(), only="the weight")
    assert (judgement.level, judgement.vital_missing) == (Level.NOT_ENOUGH, ())
