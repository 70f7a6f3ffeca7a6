"""From rows of the exam tables to values, and the queries that judge what counts now.

An answer counts unless a later one corrects it; it is as settled as its last confirmation says.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from handsfree.dialogue.actions import Confirmed, Status
from handsfree.hearing.verdict import Candidate, Meaning, MeaningKind
from handsfree.records.database import from_stamp
from handsfree.records.model import Answer, Exam, ExamFact, Measurement, Outcome, Versions

__all__ = [
    "ANSWERS",
    "EXAMS",
    "NOT_CORRECTED",
    "SETTLED",
    "answer_of",
    "candidates_from_json",
    "candidates_to_json",
    "exam_of",
    "fact_of",
    "latest",
    "measurement_of",
]

SETTLED = """coalesce((
    SELECT confirmations.confirmed FROM confirmations
    WHERE confirmations.answer_id = answers.id ORDER BY confirmations.id DESC LIMIT 1
), answers.confirmed)"""
"""How far an answer is settled now."""

NOT_CORRECTED = "NOT EXISTS (SELECT 1 FROM answers AS later WHERE later.corrects = answers.id)"
"""Whether no later answer names this one as wrong."""

ANSWERS = f"SELECT answers.*, {SETTLED} AS settled FROM answers"
"""All answers with how far each is settled now."""

EXAMS = """SELECT exams.*,
    CASE WHEN ended_at IS NOT NULL THEN ended_at ELSE max(
        exams.at,
        coalesce((SELECT max(at) FROM answers WHERE exam_id = exams.id), ''),
        coalesce((SELECT max(at) FROM exam_facts WHERE exam_id = exams.id), ''),
        coalesce((SELECT max(at) FROM exam_states WHERE exam_id = exams.id), '')
    ) END AS last_at FROM exams"""
"""All exams with the time of their last activity."""


def exam_of(row: Mapping[str, Any]) -> Exam:
    """Return the exam in a row of EXAMS."""
    ended = row["ended_at"]
    return Exam(
        id=row["id"],
        dog_id=row["dog_id"],
        person_id=row["person_id"],
        station_id=row["station_id"],
        routine=row["routine"],
        versions=Versions(
            protocol=row["protocol"],
            grammars=row["grammars"],
            engine=row["engine"],
            rules=row["rules"],
            program=row["program"],
        ),
        begun_at=from_stamp(row["at"], row["offset_min"]),
        last_at=from_stamp(row["last_at"], row["offset_min"]),
        ended_at=None if ended is None else from_stamp(ended, row["ended_offset_min"]),
        outcome=None if row["outcome"] is None else Outcome(row["outcome"]),
        outcome_why=row["outcome_why"],
        follows=row["follows"],
    )


def answer_of(row: Mapping[str, Any], *, candidates: bool = True) -> Answer:
    """Return the answer in a row of ANSWERS; without ``candidates`` it reads twice as fast."""
    number = row["value_number"]
    return Answer(
        id=row["id"],
        exam_id=row["exam_id"],
        dog_id=row["dog_id"],
        station_id=row["station_id"],
        person_id=row["person_id"],
        at=from_stamp(row["at"], row["offset_min"]),
        ref=row["ref"],
        corrects=row["corrects"],
        item=row["item"],
        side=row["side"],
        status=_STATUS[row["status"]],
        reason=row["reason"],
        value=row["value_text"] if number is None else number,
        unit=row["unit"],
        words=row["words"],
        candidates=candidates_from_json(row["candidates"]) if candidates else (),
        confirmed=_CONFIRMED[row["settled"]],
        stream=row["stream"],
        start=row["start_sample"],
        end=row["end_sample"],
        attempt=row["attempt"],
        by=row["by"],
        method=_pairs(row["method"]),
    )


def measurement_of(row: Mapping[str, Any]) -> Measurement:
    """Return the raw repeat in a row of measurements."""
    return Measurement(
        id=row["id"],
        exam_id=row["exam_id"],
        dog_id=row["dog_id"],
        station_id=row["station_id"],
        person_id=row["person_id"],
        at=from_stamp(row["at"], row["offset_min"]),
        item=row["item"],
        side=row["side"],
        kind=row["kind"],
        ordinal=row["ordinal"],
        stream=row["stream"],
        samples=_pairs(row["samples"]),
        value=row["value"],
        unit=row["unit"],
        spoiled=row["spoiled"],
        doubtful=bool(row["doubtful"]),
    )


def fact_of(row: Mapping[str, Any]) -> ExamFact:
    """Return the fact in a row of exam_facts."""
    return ExamFact(
        id=row["id"],
        exam_id=row["exam_id"],
        station_id=row["station_id"],
        person_id=row["person_id"],
        at=from_stamp(row["at"], row["offset_min"]),
        name=row["name"],
        detail=_pairs(row["detail"]),
    )


def latest(answers: Sequence[Answer]) -> tuple[Answer, ...]:
    """Return what counts of one exam's answers: the last for each item and side, by ref.

    An answer that was corrected drops out even where the correction names another item.
    """
    corrected = {answer.corrects for answer in answers}
    last: dict[tuple[str, str | None], Answer] = {}
    for answer in sorted(answers, key=lambda a: a.ref):
        if answer.id not in corrected:
            last[answer.item, answer.side] = answer
    return tuple(sorted(last.values(), key=lambda a: a.ref))


def candidates_to_json(candidates: Sequence[Candidate]) -> str:
    """Return what hearing offered as stored: only what is known of each."""
    plain = []
    for candidate in candidates:
        meaning = candidate.meaning
        one: dict[str, Any] = {
            "kind": meaning.kind.value,
            "value": meaning.value,
            "words": candidate.words,
            "probability": candidate.probability,
        }
        if meaning.unit is not None:
            one["unit"] = meaning.unit
        if meaning.target is not None:
            one["target"] = meaning.target
        plain.append(one)
    return json.dumps(plain, ensure_ascii=False, separators=(",", ":"))


def candidates_from_json(text: str) -> tuple[Candidate, ...]:
    """Return what hearing offered, from its stored form."""
    return tuple(
        Candidate(
            meaning=Meaning(
                kind=MeaningKind(one["kind"]),
                value=one["value"],
                unit=one.get("unit"),
                target=one.get("target"),
            ),
            words=one["words"],
            probability=one["probability"],
        )
        for one in json.loads(text)
    )


_STATUS = {status.value: status for status in Status}
_CONFIRMED = {confirmed.value: confirmed for confirmed in Confirmed}
# A dict is several times as fast as calling the enum, and a dog has thousands of answers.


def _pairs(text: str) -> tuple[tuple[str, Any], ...]:
    if text == "[]":
        return ()
    return tuple((name, value) for name, value in json.loads(text))
