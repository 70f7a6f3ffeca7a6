"""The report of one dog as plain values: all that its page shows, ready to be rendered.

Values only: ``gather`` fills them and ``page`` renders them; nothing is read or judged here.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from handsfree.review.charts import Chart
from handsfree.review.figure import Mark

if TYPE_CHECKING:
    from handsfree.records import Dog, Exam
    from handsfree.records.photos import Photo

__all__ = ["Line", "Need", "Place", "RegionPart", "Report"]


@dataclass(frozen=True, kw_only=True)
class Need:
    """One thing that needs doing, with its reason."""

    level: str
    name: str
    possible: bool
    say: str
    advice: tuple[str, ...]
    because: str
    source: str


@dataclass(frozen=True, kw_only=True)
class Line:
    """One answer of the last check."""

    title: str
    side: str
    value: str
    words: str
    status: str
    unusual: bool
    settled: str
    how: str


@dataclass(frozen=True, kw_only=True)
class RegionPart:
    """One region of the last check with its answers; ``sum`` says how it stands in a few words."""

    id: str
    title: str
    lines: tuple[Line, ...]
    sum: str
    unusual: int
    missing: int


@dataclass(frozen=True, kw_only=True)
class Place:
    """One marked place: the mark, and the same in words."""

    mark: Mark | None
    number: int
    what: str
    where: str
    size: str
    note: str


@dataclass(frozen=True, kw_only=True)
class Report:
    """Everything that the page shows of one dog.

    Attributes:
        dog: The dog.
        facts: Short facts on the dog, as pairs.
        on: Day of the page.
        exam: The last check with answers; None if there is none.
        exam_words: When and by whom, in words.
        exams: How many checks there are.
        level: The level of the last check, as a token; empty without one.
        told_then: What was told then, if it differs; else empty.
        unfinished: The last check was not finished.
        alone: That only one thing was measured, and what the last check came to; empty for a check.
        stands: What another check or measurement came to, if that is more urgent; else empty.
        needs: What needs doing, most urgent first.
        dues: Care due or overdue.
        changes: What changed, one sentence each.
        numbers: The last numbers: title, value, day, usual.
        vital_missing: What was needed to say that all is well and was not looked at.
        contradictions: Answers that disagree, a sentence each.
        body: Body condition, ideal weight and trends, a sentence each.
        places: Findings and lumps with their places.
        charts: Charts.
        regions: Regions of the last check.
        not_asked: Titles of regions that were no part of it.
        taken: How each number was taken: title, value, way.
        cautions: Cautions, as sentences.
        sources: Sources that stand behind what is on the page.
        rules: Version of the rule table.
        protocol: Version of the check's data.
        photos: Photos with their titles.
        vet: Name and number of the vet; may be empty.
    """

    dog: Dog
    facts: tuple[tuple[str, str], ...]
    on: date
    exam: Exam | None
    exam_words: str
    exams: int
    level: str
    told_then: str
    unfinished: bool
    alone: tuple[str, ...]
    stands: str
    needs: tuple[Need, ...]
    dues: tuple[tuple[str, str], ...]
    changes: tuple[str, ...]
    numbers: tuple[tuple[str, str, str, str], ...]
    vital_missing: str
    contradictions: tuple[str, ...]
    body: tuple[str, ...]
    places: tuple[Place, ...]
    charts: tuple[Chart, ...]
    regions: tuple[RegionPart, ...]
    not_asked: tuple[str, ...]
    taken: tuple[tuple[str, str, str], ...]
    cautions: tuple[str, ...]
    sources: tuple[str, ...]
    rules: str
    protocol: str
    photos: tuple[tuple[str, str, Photo], ...]
    vet: str
