"""Deciding: answers, the dog and its past in, a judgement out. Pure, and the same each time.

Rules of this file. No file, clock or database. The highest fired level holds; levels never add up
but by the steps that the table states, and no row is stepped up twice. Nothing is taken as normal
because nobody looked. A doubted alarm counts like a sure one.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from handsfree.judging.condition import BodyCondition, body_condition, ideal_weight
from handsfree.judging.conditions import DogFacts, Facts, Group, ItemTest, Test, holds
from handsfree.judging.derive import derived
from handsfree.judging.model import (
    Alarm,
    Finding,
    Fired,
    Gap,
    Judgement,
    Level,
    PastExam,
    Rule,
    Step,
)
from handsfree.judging.past import Past, changes_since, trends_of
from handsfree.judging.rules import Table
from handsfree.judging.stage import dog_facts
from handsfree.protocol.subject import Subject

__all__ = ["alarms", "fire", "judge"]


def judge(
    findings: Sequence[Finding],
    subject: Subject,
    history: Sequence[PastExam] | Past = (),
    *,
    on: date,
    table: Table,
    unfinished: bool = False,
    only: str = "",
) -> Judgement:
    """Judge one exam.

    Args:
        findings: Its answers, in any order; the last of an item and side holds.
        subject: The dog on that day.
        history: Its earlier exams, in any order, or the same already indexed.
        on: The exam's day.
        table: The rule table.
        unfinished: The exam was broken off; it is judged on what it has.
        only: What alone was measured, as spoken: a single measurement is judged by itself, and
            nothing else was to be looked at. Empty for a check.
    """
    dog = dog_facts(subject)
    held = list({finding.key: finding for finding in findings}.values())
    past = history if isinstance(history, Past) else Past.of(history)
    worked_out = derived(held, subject, past, on)
    fired = _fire([*held, *worked_out], dog, table)
    facts = Facts.of(held, dog)
    missing = () if only else _vital_missing(table, facts)
    level = max((f.level for f in fired), key=lambda lv: lv.rank, default=None)
    if level is None:
        enough = any(finding.number is not None for finding in held) if only else not missing
        level = Level.NONE_FOUND if enough else Level.NOT_ENOUGH
    score = body_condition(held)
    return Judgement(
        level=level,
        fired=fired,
        changes=changes_since(held, past, table.catalogue),
        trends=trends_of(held, past, on, table.catalogue),
        not_covered=_gaps(held, table),
        vital_missing=missing,
        cautions=tuple(dict.fromkeys(key for f in fired for key in f.rule.cautions)),
        contradictions=tuple(
            c.say for c in table.contradictions if _true_sides(c.test, facts) is not None
        ),
        body_condition="" if score is None else score.said(),
        ideal_weight=_ideal_weight(score, held, subject),
        rules_version=table.version,
        on=on,
        unfinished=unfinished,
        only=only,
    )


def _vital_missing(table: Table, facts: Facts) -> tuple[str, ...]:
    return tuple(
        name
        for name, tests in table.vital.items()
        if not any(holds(test, facts) is not None for test in tests)
    )


def alarms(
    finding: Finding,
    so_far: Sequence[Finding],
    subject: Subject,
    history: Sequence[PastExam] | Past = (),
    *,
    on: date,
    table: Table,
) -> tuple[Alarm, ...]:
    """What one answer, just stored, sets off: rows that it brings to ``now``.

    A row that stood at ``now`` without this answer is not told again. Most urgent in the table's
    order; empty for nearly every answer.

    Args:
        finding: The answer just stored.
        so_far: The exam's answers before it; a replaced answer of the same item and side may be
            among them.
        subject: The dog.
        history: Its earlier exams.
        on: The exam's day.
        table: The rule table.
    """
    before = [old for old in so_far if old.key != finding.key]
    dog = dog_facts(subject)
    past = history if isinstance(history, Past) else Past.of(history)

    def standing(findings: list[Finding]) -> dict[str, Fired]:
        known = [*findings, *derived(findings, subject, past, on)]
        asked = {f.item for f in findings}
        return {
            f.rule.id: f
            for f in _fire(known, dog, table)
            if f.level is Level.NOW and (not f.rule.waits or f.rule.waits in asked)
        }

    old = standing(before)
    return tuple(
        Alarm(
            rule=f.rule.id,
            level=f.level,
            say=alarm_sentence(f),
            avoid=f.rule.avoid,
            possible=f.possible,
        )
        for rule_id, f in standing([*before, finding]).items()
        if rule_id not in old
    )


def alarm_sentence(fired: Fired) -> str:
    """The one short sentence of an alarm: the row's own, or why a lesser row weighs more here."""
    if not fired.stepped:
        return fired.rule.say
    name = fired.rule.name
    return f"{name[0].upper()}{name[1:]}, {fired.stepped}: that cannot wait."


def fire(findings: Sequence[Finding], subject: Subject, table: Table) -> tuple[Fired, ...]:
    """Rows that fire on these answers alone, derived ones included as given."""
    return _fire(findings, dog_facts(subject), table)


def _fire(findings: Sequence[Finding], dog: DogFacts, table: Table) -> tuple[Fired, ...]:
    facts = Facts.of(findings, dog)
    sure = Facts.of([f for f in findings if f.certainty == "confirmed"], dog)
    doubted = any(f.certainty != "confirmed" for f in findings)
    found: list[tuple[Rule, tuple[str, ...], tuple[Finding, ...], bool]] = []
    for rule in _candidates(facts, table):
        true = _true_sides(rule.test, facts)
        if true is None:
            continue
        sides, evidence = true
        possible = doubted and _true_sides(rule.test, sure) is None
        found.append((rule, sides, evidence, possible))
    steps = _steps_for(dog, table.steps)
    same_day = {rule.topic for rule, *_ in found if rule.level is Level.SAME_DAY}
    two = next((s for s in table.steps if s.two_same_day), None) if len(same_day) > 1 else None
    fired = []
    for rule, sides, evidence, possible in found:
        stepped = _stepped(rule, steps, two)
        level = rule.level.up() if stepped else rule.level
        fired.append(
            Fired(
                rule=rule,
                level=level,
                sides=sides,
                evidence=evidence,
                possible=possible,
                stepped=stepped,
            )
        )
    return tuple(sorted(fired, key=lambda f: (-f.level.rank, not f.possible)))


def _candidates(facts: Facts, table: Table) -> list[Rule]:
    """Rows that some answer speaks for, in the table's order; no other row can be true."""
    found = {
        rule.id
        for item, answers in facts.by_item.items()
        for test, rule in table.triggers.get(item, ())
        if any(test.fits(answer.value) for answer in answers)
    }
    return [rule for rule in table.rules if rule.id in found]


def _steps_for(dog: DogFacts, steps: Sequence[Step]) -> tuple[Step, ...]:
    facts = Facts({}, dog)
    return tuple(s for s in steps if s.test is not None and holds(s.test, facts) is not None)


def _stepped(rule: Rule, steps: Sequence[Step], two: Step | None) -> str:
    """Why the row is stepped up, as spoken; empty if it is not."""
    if rule.level is Level.NOW:
        return ""
    if not rule.no_step:
        for step in steps:
            if not step.breathing_only or rule.breathing:
                return step.because
    if two is not None and rule.level is Level.SAME_DAY:
        return two.because
    return ""


def _true_sides(test: Test, facts: Facts) -> tuple[tuple[str, ...], tuple[Finding, ...]] | None:
    """On which sides a test is true, with its evidence; no sides where nothing has any."""
    sides = sorted(_sides(test, facts))
    if not sides:
        evidence = holds(test, facts)
        return None if evidence is None else ((), evidence)
    true: list[str] = []
    found: list[Finding] = []
    for side in sides:
        evidence = holds(test, facts, side)
        if evidence is not None:
            if any(e.side == side for e in evidence):
                true.append(side)
            found.extend(e for e in evidence if e not in found)
            if not evidence:
                return ((), ())
    return (tuple(true), tuple(found)) if found else None


def _sides(test: Test, facts: Facts) -> set[str]:
    if isinstance(test, ItemTest):
        if test.any_side or test.side is not None or test.sides_min > 1:
            return set()
        return {f.side for f in facts.by_item.get(test.item, ()) if f.side is not None}
    if isinstance(test, Group):
        return set().union(*(_sides(part, facts) for part in test.parts))
    return set()


def _ideal_weight(
    score: BodyCondition | None, findings: Sequence[Finding], subject: Subject
) -> str:
    """The range with its formula, from today's weight or the last known."""
    weighed = next((f.number for f in findings if f.item == "weight.kg"), None)
    weight = weighed or subject.weight_kg
    ideal = None if score is None or not weight else ideal_weight(weight, score)
    if ideal is None:
        return ""
    return f"{ideal.low_kg:g} to {ideal.high_kg:g} kg, {ideal.formula}; for your vet to confirm"


def _gaps(findings: Sequence[Finding], table: Table) -> tuple[Gap, ...]:
    vital = {test.item for tests in table.vital.values() for test in tests}
    return tuple(
        Gap(item=f.item, side=f.side, reason=f.reason or "skipped", vital=f.item in vital)
        for f in findings
        if f.status == "not_observed"
    )
