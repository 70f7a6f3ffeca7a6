"""What the judgement of the last check comes to: needs, body, cautions, what was told then.

Wording of a judgement that was made already; nothing is judged here.
"""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from handsfree.judging.model import Fired, Judgement, Level
from handsfree.judging.result import Telling, alone_words
from handsfree.protocol.single import single_title
from handsfree.review.report import Need
from handsfree.review.wording import (
    LEVEL_WORDS,
    item_title,
    joined,
    routine_words,
    said_when,
    sentence,
    side_title,
    value_words,
)

if TYPE_CHECKING:
    from handsfree.protocol.model import Protocol
    from handsfree.records import Exam, Store

__all__ = ["alone", "body_of", "cautions_of", "needs_of", "stands_beside", "told_then"]


def needs_of(judged: Judgement | None, telling: Telling, *, imperial: bool) -> tuple[Need, ...]:
    """Return the rows that fired as needs, most urgent first."""
    return tuple(_need(row, telling, imperial) for row in judged.fired) if judged else ()


def _need(row: Fired, telling: Telling, imperial: bool) -> Need:
    places = telling.places or {}
    sides = joined([side_title(side, places) for side in row.sides])
    heard = dict.fromkeys(
        value_words(telling, e.item, e.value, e.side, e.unit, imperial=imperial)
        for e in row.evidence
    )
    advice = [row.rule.meanwhile, row.rule.avoid]
    if row.rule.recheck:
        advice.append(f"Look again {row.rule.recheck}.")
    if row.stepped:
        advice.append(f"It weighs more {row.stepped}.")
    basis = "our own judgement, awaiting a vet" if row.rule.awaits_vet else row.rule.basis
    return Need(
        level=row.level.value,
        name=sentence(f"{row.rule.name}, {sides}" if sides else row.rule.name),
        possible=row.possible,
        say=row.rule.say,
        advice=tuple(text for text in advice if text),
        because="; ".join(text for text in heard if text),
        source=sentence(basis) if row.rule.awaits_vet else f"Source ({basis}): {row.rule.cite}",
    )


def body_of(judged: Judgement | None) -> tuple[str, ...]:
    """Return body condition, ideal weight and trends, a sentence each."""
    if judged is None:
        return ()
    found = [f"Body condition {judged.body_condition}."] if judged.body_condition else []
    if judged.ideal_weight:
        found.append(f"Ideal weight {judged.ideal_weight}.")
    for trend in judged.trends:
        way = "rising" if trend.per_month > 0 else "falling"
        found.append(
            f"{sentence(item_title(trend.item))} is {way} by about {abs(trend.per_month):.1f} "
            f"{trend.unit} in a month (95 % interval {trend.low:.1f} to {trend.high:.1f}, "
            f"{trend.points} readings)."
        )
    return tuple(found)


def cautions_of(judged: Judgement | None, protocol: Protocol) -> tuple[str, ...]:
    """Return the cautions that hold, the general one last."""
    keys = [*(judged.cautions if judged else ()), "clean_result"]
    return tuple(protocol.cautions[key].say for key in dict.fromkeys(keys))


def alone(store: Store, exam: Exam, judged: Judgement, on: date) -> tuple[str, ...]:
    """Return that only one thing was measured, and what the last check came to; else nothing.

    Args:
        store: The records.
        exam: What was judged.
        judged: Its judgement.
        on: Today, for how long ago.
    """
    if not judged.only:
        return ()
    for earlier in store.exams.of_dog(exam.dog_id):
        results = () if single_title(earlier.routine) else store.results.of_exam(earlier.id)
        if results:
            level = results[0].level
            ended = ", not finished" if results[0].body.get("unfinished") else ""
            came_to = (
                f"The last check, {said_when(earlier.begun_at.date(), on)}{ended}, came to: "
                f"{LEVEL_WORDS.get(level, level)}."
            )
            return (*alone_words(judged), came_to)
    return (*alone_words(judged), "There is no check of this dog yet.")


def stands_beside(store: Store, dog_id: str, exam_id: str, level: str, on: date) -> str:
    """Return what an exam beside this one came to that still stands and is more urgent; or empty.

    Args:
        store: The records.
        dog_id: The dog.
        exam_id: The exam that is told anyway; empty for none.
        level: What it came to; empty where it came to nothing.
        on: Today, for how long ago.
    """
    stands = store.results.standing_of_dog(dog_id)
    if stands is None or stands.exam_id == exam_id:
        return ""
    if stands.level in (Level.NOT_ENOUGH, Level.NONE_FOUND):
        return ""
    if level and Level(stands.level).rank <= Level(level).rank:
        return ""
    exam = store.exams.get(stands.exam_id)
    title = single_title(exam.routine) or f"the {routine_words(exam.routine)}"
    ended = ", not finished" if stands.body.get("unfinished") else ""
    when = said_when(exam.begun_at.date(), on)
    return f"Still standing: {title}, {when}{ended}: {LEVEL_WORDS.get(stands.level, stands.level)}."


def told_then(store: Store, exam: Exam, judged: Judgement) -> str:
    """Return what a check came to when it ended, if the page says otherwise; else empty."""
    results = store.results.of_exam(exam.id)
    if not results or results[0].level == judged.level.value:
        return ""
    level = results[0].level
    return (
        f"When the check ended it came to: {LEVEL_WORDS.get(level, level)}. This page judges it "
        "by the table named below."
    )
