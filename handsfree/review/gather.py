"""The report of one dog, gathered from the records and from judging.

Reads the records and asks judging; draws nothing. What broke off unjudged is judged first. The last
check is judged anew by the table that is shipped, with the dog and its past as they were on that
day, so that every reason and source stands beside what it led to; if that differs from what was
told then, the page says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from handsfree.judging.differing import Contested, contested_of
from handsfree.judging.gather import ExamCase, findings_of, judge_case, judge_left, telling_of
from handsfree.judging.model import Judgement
from handsfree.judging.rules import Table, read_table
from handsfree.protocol.single import single_title
from handsfree.review.answered import regions_of, taken_of
from handsfree.review.changes import changes_in_words
from handsfree.review.charts import Chart
from handsfree.review.conclusions import (
    alone,
    body_of,
    cautions_of,
    needs_of,
    stands_beside,
    told_then,
)
from handsfree.review.dues import due_soon, dues_of
from handsfree.review.earlier import past_before
from handsfree.review.heading import exam_words, facts_of
from handsfree.review.places import places_of
from handsfree.review.report import Report
from handsfree.review.series import charts_of
from handsfree.review.wording import item_title, joined, said_when, sentence, side_title

if TYPE_CHECKING:
    from handsfree.records import Answer, Exam, Store
    from handsfree.records.photos import Photo

__all__ = ["gather"]

PHOTOS = 12
"""The page shows the newest so many photos, so that it can still be sent."""


def gather(store: Store, dog_id: str, on: date) -> Report:
    """Gather the page of a dog as of a day.

    Raises:
        CallerError: There is no such dog.
    """
    from handsfree.protocol.loader import load

    judge_left(store, dog_id=dog_id)
    protocol = load()
    table = read_table()
    dog = store.dogs.get(dog_id)
    settings = store.settings.get()
    imperial = settings.units.value == "imperial"
    subject = store.subject(dog_id, on)
    telling = telling_of(store, dog_id, table)
    places = {lump.key: lump.place for lump in store.lumps.of_dog(dog_id, gone=True)}
    days = store.exams.days(dog_id)
    exam, answers = _last_with_answers(store, dog_id)
    contested = () if exam is None else contested_of(store, exam.id)
    judged: Judgement | None = None
    told = ""
    if exam is not None:
        judged = _judged(store, exam, answers, days, table, contested)
        told = told_then(store, exam, judged)
    charts = charts_of(store, subject, protocol, on, imperial=imperial)
    regions = regions_of(answers, protocol, telling, places, contested, imperial=imperial)
    cited = list(dict.fromkeys(f.rule.cite for f in judged.fired)) if judged else []
    cited += [c.band_words.partition(". ")[2] for c in charts if c.band_low or c.band_high]
    return Report(
        dog=dog,
        facts=facts_of(dog, on, subject.weight_kg, imperial=imperial),
        on=on,
        exam=exam,
        exam_words="" if exam is None else exam_words(store, exam, protocol, on),
        exams=len(days),
        level="" if judged is None else judged.level.value,
        told_then=told,
        unfinished=judged is not None and judged.unfinished,
        alone=() if judged is None or exam is None else alone(store, exam, judged, on),
        stands=""
        if judged is None or exam is None
        else stands_beside(store, dog_id, exam.id, judged.level.value, on),
        needs=needs_of(judged, telling, imperial=imperial),
        dues=due_soon(dues_of(store, dog_id, on), on),
        changes=()
        if judged is None
        else changes_in_words(judged.changes, telling, on=on, imperial=imperial),
        numbers=_numbers(charts, on),
        vital_missing=joined(judged.vital_missing) if judged else "",
        contradictions=judged.contradictions if judged else (),
        body=body_of(judged),
        places=places_of(store, dog_id, telling, answers, protocol, imperial=imperial),
        charts=charts,
        regions=regions,
        not_asked=tuple(
            region.title
            for key, region in protocol.regions.items()
            if regions and not (judged and judged.only) and key not in {part.id for part in regions}
        ),
        taken=taken_of(answers, telling, places, imperial=imperial),
        cautions=cautions_of(judged, protocol),
        sources=tuple(dict.fromkeys(one for one in cited if one)),
        rules=table.version,
        protocol=protocol.version,
        photos=_photos(store, dog_id, places),
        vet=" ".join(part for part in (settings.vet_name, settings.vet_number or "") if part),
    )


def _judged(
    store: Store,
    exam: Exam,
    answers: Sequence[Answer],
    days: dict[str, date],
    table: Table,
    contested: Sequence[Contested],
) -> Judgement:
    on = exam.begun_at.date()
    case = ExamCase(
        subject=store.subject(exam.dog_id, on),
        findings=findings_of(answers),
        past=past_before(store, exam, days),
        on=on,
        unfinished=exam.outcome is None or exam.outcome.value != "complete",
        only=single_title(exam.routine),
    )
    return judge_case(case, contested, table)


def _last_with_answers(store: Store, dog_id: str) -> tuple[Exam | None, tuple[Answer, ...]]:
    # Nearly always it is the newest; only where checks were begun and left are more looked at.
    for limit in (1, None):
        for exam in store.exams.of_dog(dog_id, limit=limit):
            answers = store.exams.answers(exam.id)
            if answers:
                return exam, answers
    return None, ()


def _numbers(charts: Sequence[Chart], on: date) -> tuple[tuple[str, str, str, str], ...]:
    return tuple(
        (
            chart.title,
            f"{chart.text(chart.points[-1].value)} {chart.unit}",
            said_when(chart.points[-1].on, on).partition(",")[0],
            "" if chart.usual is None else f"{chart.text(chart.usual)} {chart.unit}",
        )
        for chart in charts
    )


def _photos(
    store: Store, dog_id: str, places: dict[str, str]
) -> tuple[tuple[str, str, Photo], ...]:
    found = []
    for photo in store.photos.of_dog(dog_id, limit=PHOTOS):
        side = side_title(photo.side, places)
        title = sentence(item_title(photo.item)) + (f", {side}" if side else "")
        found.append((title, f"{photo.at.day} {photo.at:%B %Y}", photo))
    return tuple(found)
