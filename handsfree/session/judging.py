"""Judging beside a running exam: after each stored answer, and once at the end."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date

from handsfree.dialogue.actions import Confirm, Confirmed, Record
from handsfree.dialogue.events import PriorAnswer
from handsfree.judging.differing import Contested, judged
from handsfree.judging.engine import alarms, judge
from handsfree.judging.model import Alarm, Finding, Judgement, PastExam
from handsfree.judging.past import Past
from handsfree.judging.rules import Table
from handsfree.protocol.subject import Subject

__all__ = ["ExamJudge"]


class ExamJudge:
    """Keeps the exam's findings and judges them.

    Args:
        subject: The dog.
        history: Its earlier exams.
        on: The exam's day.
        table: The rule table.
        speak: Makes the spoken result of a judgement.
        keep: Stores the judgement with the exam.
        prior: Answers of an exam that resumes.
        contested: What differs from another's answers of the day, asked when it is concluded.
        only: What alone is measured, as spoken; empty for a check.
    """

    def __init__(
        self,
        subject: Subject,
        history: Sequence[PastExam],
        *,
        on: date,
        table: Table,
        speak: Callable[[Judgement], tuple[str, ...]],
        keep: Callable[[Judgement], object],
        prior: Sequence[PriorAnswer] = (),
        contested: Callable[[], Sequence[Contested]] = lambda: (),
        only: str = "",
    ) -> None:
        self._subject = subject
        self._past = Past.of(history)
        self._on = on
        self._table = table
        self._speak = speak
        self._keep = keep
        self._contested = contested
        self._only = only
        self._findings: dict[tuple[str, str | None], Finding] = {}
        self._places: dict[int, tuple[str, str | None]] = {}
        for answer in prior:
            self._note(
                answer.ref,
                Finding(
                    item=answer.item,
                    side=answer.side,
                    status=answer.status,  # type: ignore[arg-type]  # checked by Finding itself
                    value=answer.value,
                    unit=answer.unit,
                    certainty=answer.confirmed,  # type: ignore[arg-type]  # checked by Finding
                    reason=answer.reason or "",
                    on=on,
                ),
            )

    def take(self, action: Record | Confirm) -> Sequence[Alarm]:
        """Take note of a stored answer; return what it sets off that cannot wait."""
        if isinstance(action, Confirm):
            place = self._places.get(action.ref)
            if place is None:
                return ()
            finding = replace(self._findings[place], certainty=action.confirmed.value)
            if action.confirmed is not Confirmed.UNCONFIRMED and place in self._findings:
                return self._set_off(action.ref, finding)
            return ()
        finding = Finding(
            item=action.item,
            side=action.side,
            status=action.status.value,
            value=action.value,
            unit=action.unit,
            certainty=action.confirmed.value,
            reason=action.reason or "",
            on=self._on,
        )
        return self._set_off(action.ref, finding)

    def standing(self) -> Sequence[Alarm]:
        """Return what fires on the answers so far and cannot wait, each rule once."""
        found: dict[str, Alarm] = {}
        for finding in self._findings.values():
            for alarm in alarms(
                finding,
                list(self._findings.values()),
                self._subject,
                self._past,
                on=self._on,
                table=self._table,
            ):
                found.setdefault(alarm.rule, alarm)
        return tuple(found.values())

    def conclude(self, outcome: str) -> tuple[str, ...]:
        """Judge the exam, store the judgement, and return it as sentences."""

        def one(findings: Sequence[Finding]) -> Judgement:
            return judge(
                findings,
                self._subject,
                self._past,
                on=self._on,
                table=self._table,
                unfinished=outcome != "complete",
                only=self._only,
            )

        judgement = judged(
            list(self._findings.values()), self._contested(), one, self._table.catalogue
        )
        self._keep(judgement)
        return self._speak(judgement)

    def _set_off(self, ref: int, finding: Finding) -> Sequence[Alarm]:
        found = alarms(
            finding,
            list(self._findings.values()),
            self._subject,
            self._past,
            on=self._on,
            table=self._table,
        )
        self._note(ref, finding)
        return found

    def _note(self, ref: int, finding: Finding) -> None:
        self._findings[finding.key] = finding
        self._places[ref] = finding.key
