"""Judging where two people's answers differ: the worse counts until a person settles it.

Which answers differ and what was settled is the records'; here is what follows for an exam. Worse
is what judging makes of an answer, not a list: each is tried, and all of the worst together.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from handsfree.judging.catalogue import Catalogue
from handsfree.judging.model import Finding, Judgement
from handsfree.judging.past import ERROR_OF

if TYPE_CHECKING:
    from handsfree.records import Answer, Store
    from handsfree.records.settling import Difference

__all__ = [
    "Contested",
    "contested_of",
    "differences_of",
    "judged",
    "marks_of",
    "said_of",
    "settled_instead",
]

Key = tuple[str, str | None]
Judged = Callable[[Sequence[Finding]], Judgement]


@dataclass(frozen=True, kw_only=True)
class Contested:
    """One item and side of an exam that two answered differently.

    Attributes:
        item: ``region.question``.
        side: Side, if any.
        options: The answers, oldest first.
        counts: Place in ``options`` of the one that was settled; None while it is open.
        answers: Keys of the answers.
    """

    item: str
    side: str | None
    options: tuple[Finding, ...]
    counts: int | None
    answers: tuple[str, ...]


def differences_of(
    store: Store, *, since: datetime | None = None, until: datetime | None = None,
    dog_id: str | None = None, settled: bool = False,
) -> tuple[Difference, ...]:  # fmt: skip
    """Return what differs by more than measuring; see ``Settling.differences``."""
    return store.settling.differences(
        since=since, until=until, dog_id=dog_id, settled=settled, within=ERROR_OF
    )


def contested_of(store: Store, exam_id: str) -> tuple[Contested, ...]:
    """Return what differs of an exam's own items on its day, settled or not.

    Raises:
        CallerError: There is no such exam.
    """
    from handsfree.judging.gather import finding_of

    exam = store.exams.get(exam_id)
    begin = exam.begun_at.replace(hour=0, minute=0, second=0, microsecond=0)
    found = differences_of(
        store, since=begin, until=begin + timedelta(days=1), dog_id=exam.dog_id, settled=True
    )
    if not found:
        return ()
    own = {(answer.item, answer.side) for answer in store.exams.answers(exam_id)}
    return tuple(
        Contested(
            item=one.item, side=one.side,
            options=tuple(finding_of(answer) for answer in one.answers),
            counts=None if one.counts is None else one.answers.index(one.counts),
            answers=tuple(answer.id for answer in one.answers),
        )
        for one in found
        if (one.item, one.side) in own
    )  # fmt: skip


def settled_instead(store: Store, dog_id: str) -> dict[str, Answer]:
    """Return for each answer of a dog that was settled to count no longer the one that does."""
    if not store.settling.of_dog(dog_id):
        return {}
    return {
        answer.id: one.counts
        for one in differences_of(store, dog_id=dog_id, settled=True)
        if one.counts is not None
        for answer in one.answers
        if answer.id != one.counts.id
    }


def judged(
    findings: Sequence[Finding],
    contested: Sequence[Contested],
    judge: Judged,
    catalogue: Catalogue,
) -> Judgement:
    """Judge an exam with what differs: settled answers as settled, open ones at their worst.

    The level is never below that of any one of the open answers.

    Args:
        findings: The exam's own answers.
        contested: What differs.
        judge: Judges a set of answers.
        catalogue: Which values are usual, for answers that no row tells apart.
    """
    if not contested:
        return judge(findings)
    own: dict[Key, Finding] = {finding.key: finding for finding in findings}
    alone = {fired.rule.id for fired in judge(findings).fired}
    for one in contested:
        if one.counts is not None:
            own[one.item, one.side] = one.options[one.counts]
    still = [one for one in contested if one.counts is None]
    tried = [_tried(own, judge, catalogue)]
    worst = dict(own)
    for one in still:
        each = [
            _tried({**own, (one.item, one.side): option}, judge, catalogue)
            for option in one.options
        ]
        tried += each
        best = max(range(len(each)), key=lambda n: each[n][0])
        worst[one.item, one.side] = one.options[best]
    if len(still) > 1:
        tried.append(_tried(worst, judge, catalogue))
    judgement = max(tried, key=lambda one: one[0])[1]
    said = tuple(said_of(one, catalogue) for one in still)
    return replace(
        judgement,
        contradictions=(*judgement.contradictions, *said),
        borrowed=tuple(f.rule.id for f in judgement.fired if f.rule.id not in alone),
    )


def _tried(
    findings: Mapping[Key, Finding], judge: Judged, catalogue: Catalogue
) -> tuple[tuple[int, ...], Judgement]:
    """Return how bad it is, to be compared, with the judgement."""
    judgement = judge(list(findings.values()))
    unusual = sum(
        bool(info.normal) and f.value is not None and f.value not in info.normal
        for f in findings.values()
        if (info := catalogue.items.get(f.item)) is not None
    )
    return (
        judgement.level.rank,
        sum(10**fired.level.rank for fired in judgement.fired),
        unusual,
    ), judgement


def said_of(one: Contested, catalogue: Catalogue) -> str:
    """Return one open difference as a sentence."""
    info = catalogue.items.get(one.item)
    values = dict.fromkeys(
        (info.values.get(str(option.value)) if info else None) or _plain(option)
        for option in one.options
    )
    where = f", {one.side.replace('_', ' ')}" if one.side else ""
    name = one.item.replace(".", " ").replace("_", " ")
    return (
        f"Two answers of the day differ on {name}{where}: {' and '.join(values)}. "
        "The worse counts until somebody settles it."
    )


def _plain(finding: Finding) -> str:
    value = finding.value
    if isinstance(value, float):
        return f"{value:g} {finding.unit or ''}".strip()
    return str(value).replace("_", " ")


def marks_of(contested: Sequence[Contested]) -> list[dict[str, Any]]:
    """Return what was taken in, as plain data to be stored with a judgement and compared."""
    return [
        {
            "item": one.item, "side": one.side, "answers": list(one.answers),
            "counts": None if one.counts is None else one.answers[one.counts],
        }
        for one in contested
    ]  # fmt: skip
