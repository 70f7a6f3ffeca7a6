"""The care calendar: what is due when, and where each interval comes from.

Due dates come from exams and from what the owner says; nothing is taken as done that nobody did.
Where only a vet can set an interval the calendar says "ask your vet". Every interval can be changed
for a dog. No file but the shipped task list is read here.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from importlib.resources import files
from typing import Any, get_args

from handsfree.errors import CallerError, DataError
from handsfree.judging.model import Basis, PastExam, Read
from handsfree.judging.stage import LifeStage, life_stage
from handsfree.protocol.subject import Subject

__all__ = ["CareFact", "CareTask", "Due", "calendar", "care_lines", "care_tasks", "task_named"]


@dataclass(frozen=True, kw_only=True)
class CareTask:
    """One routine task.

    Attributes:
        id: Its token.
        title: As printed and spoken.
        days: Default interval; None where only a vet can set it.
        items: Items that, answered in an exam, count as done. All of them must be.
        ask_vet: Only a vet can set the interval.
        stages: Life stages it is for; empty: all.
        sex: Only for this sex.
        from_months: Only from this age.
        under_months: Only under this age.
        source: Where the interval comes from.
        basis: How well it is known.
        read: How much of the source was read.
    """

    id: str
    title: str
    days: int | None = None
    items: tuple[str, ...] = ()
    ask_vet: bool = False
    stages: tuple[str, ...] = ()
    sex: str | None = None
    from_months: int | None = None
    under_months: int | None = None
    source: str
    basis: Basis
    read: Read

    def __post_init__(self) -> None:
        if self.ask_vet != (self.days is None):
            msg = f"care task {self.id}: give days, or ask_vet, and not both"
            raise ValueError(msg)
        if self.days is not None and self.days < 1:
            msg = f"care task {self.id}: {self.days} days is no interval"
            raise ValueError(msg)
        if unknown := set(self.stages) - {stage.value for stage in LifeStage}:
            msg = f"care task {self.id}: no life stage {', '.join(sorted(unknown))}"
            raise ValueError(msg)
        if self.basis not in get_args(Basis) or self.read not in get_args(Read):
            msg = f"care task {self.id}: basis {self.basis!r} or read {self.read!r} is unknown"
            raise ValueError(msg)

    def fits(self, subject: Subject) -> bool:
        """Whether it is for this dog. An unknown age is taken as adult."""
        age = subject.age_months
        if self.sex is not None and subject.sex.value not in (self.sex, "unknown"):
            return False
        if self.stages and life_stage(subject).value not in self.stages:
            return False
        if self.under_months is not None and (age is None or age >= self.under_months):
            return False
        return self.from_months is None or age is None or age >= self.from_months


@dataclass(frozen=True, kw_only=True)
class CareFact:
    """Something the owner or a vet said of a task of one dog; the newest of a kind holds.

    Attributes:
        task: Task id.
        kind: ``done`` on ``day``; ``interval`` of ``days`` (None: back to the default); ``due`` on
            ``day``, as a vet set it; ``off`` and ``on``.
        day: The day.
        days: The interval.
        note: Free words.
    """

    task: str
    kind: str
    day: date | None = None
    days: int | None = None
    note: str = ""

    def __post_init__(self) -> None:
        if self.kind not in ("done", "interval", "due", "off", "on"):
            msg = f"care of {self.task}: kind {self.kind!r} is unknown"
            raise ValueError(msg)
        if self.kind in ("done", "due") and self.day is None:
            msg = f"care of {self.task}: {self.kind} needs a day"
            raise ValueError(msg)
        if self.days is not None and self.days < 1:
            msg = f"care of {self.task}: {self.days} days is no interval"
            raise ValueError(msg)


@dataclass(frozen=True, kw_only=True)
class Due:
    """A task of one dog with its due day.

    Attributes:
        task: The task.
        days: Interval that holds; None where a vet is to set it.
        own: The interval is the owner's or vet's, not the default.
        last: When last done; None if never stored.
        due: When due; None where unknown. Today where never done.
        overdue_days: Days past due; 0 if not.
    """

    task: CareTask
    days: int | None
    own: bool
    last: date | None
    due: date | None
    overdue_days: int = 0


@cache
def care_tasks() -> tuple[CareTask, ...]:
    """The shipped tasks.

    Raises:
        DataError: The list has mistakes; all of them are named.
    """
    file = files("handsfree.judging") / "data" / "care" / "tasks.toml"
    return read_tasks(file.read_text(encoding="utf-8"))


def read_tasks(text: str) -> tuple[CareTask, ...]:
    """Tasks from TOML text.

    Raises:
        DataError: The list has mistakes; all of them are named.
    """
    wrong: list[str] = []
    tasks: dict[str, CareTask] = {}
    try:
        raws: Sequence[Mapping[str, Any]] = tomllib.loads(text).get("task", ())
    except tomllib.TOMLDecodeError as error:
        msg = f"The care tasks are no TOML: {error}. Correct the file."
        raise DataError(msg) from error
    for raw in raws:
        name = str(raw.get("id", "(no id)"))
        fields: dict[str, Any] = {k: tuple(v) if isinstance(v, list) else v for k, v in raw.items()}
        try:
            task = CareTask(**fields)
        except (TypeError, ValueError) as error:
            wrong.append(f"{name}: {error}")
            continue
        if task.id in tasks:
            wrong.append(f"{name}: that id is taken already")
        tasks[task.id] = task
    if wrong:
        msg = "The care tasks have mistakes; correct them:\n  " + "\n  ".join(wrong)
        raise DataError(msg)
    return tuple(tasks.values())


def task_named(text: str) -> CareTask:
    """The task of that id.

    Raises:
        CallerError: There is none.
    """
    for task in care_tasks():
        if task.id == text:
            return task
    known = ", ".join(task.id for task in care_tasks())
    msg = f"There is no care task {text!r}; choose one of {known}."
    raise CallerError(msg)


def calendar(
    subject: Subject,
    history: Sequence[PastExam],
    facts: Iterable[CareFact],
    on: date,
    tasks: Sequence[CareTask] | None = None,
) -> tuple[Due, ...]:
    """What is due for a dog, most overdue first, "ask your vet" last.

    Args:
        subject: The dog on that day.
        history: Its exams.
        facts: What was said of its care, oldest first.
        on: The day.
        tasks: The tasks; the shipped ones if not given.
    """
    known = list(facts)
    found = []
    for task in care_tasks() if tasks is None else tasks:
        own = [fact for fact in known if fact.task == task.id]
        switched = [fact.kind for fact in own if fact.kind in ("on", "off")]
        if switched[-1:] == ["off"] or (not task.fits(subject) and switched[-1:] != ["on"]):
            continue
        found.append(_due(task, own, history, on))
    return tuple(sorted(found, key=lambda d: (d.due is None, d.due or on, d.task.id)))


def _due(task: CareTask, facts: Sequence[CareFact], history: Sequence[PastExam], on: date) -> Due:
    intervals = [fact.days for fact in facts if fact.kind == "interval"]
    own = bool(intervals) and intervals[-1] is not None
    days = intervals[-1] if own else task.days
    done = [fact.day for fact in facts if fact.kind == "done" and fact.day is not None]
    done += [exam.on for exam in history if _done_in(task, exam)]
    last = max((day for day in done if day <= on), default=None)
    set_days = [fact.day for fact in facts if fact.kind == "due"]
    due: date | None = None
    if days is not None:
        due = on if last is None else last + timedelta(days=days)
    if set_days and set_days[-1] is not None and (last is None or set_days[-1] > last):
        due = set_days[-1]
    return Due(
        task=task,
        days=days,
        own=own,
        last=last,
        due=due,
        overdue_days=max(0, (on - due).days) if due is not None and last is not None else 0,
    )


def _done_in(task: CareTask, exam: PastExam) -> bool:
    if not task.items:
        return False
    answered = {f.item for f in exam.findings if f.value is not None}
    return answered.issuperset(task.items)


def care_lines(dues: Sequence[Due], on: date) -> tuple[str, ...]:
    """The calendar as plain lines."""
    return tuple(_line(due, on) for due in dues)


def _line(due: Due, on: date) -> str:
    every = "" if due.days is None else f", every {_days(due.days)}{' (own)' if due.own else ''}"
    last = "never noted" if due.last is None else f"last {due.last.isoformat()}"
    if due.due is None:
        when = "ask your vet how often"
    elif due.due > on:
        when = f"due {due.due.isoformat()}, in {_days((due.due - on).days)}"
    elif due.last is None and due.days is not None:
        when = "due now"
    elif due.due == on:
        when = "due today"
    else:
        when = f"due {due.due.isoformat()}, {_days((on - due.due).days)} ago"
    basis = "our own judgement, awaiting a vet" if due.task.basis == "judgement" else due.task.basis
    return f"{due.task.title}: {when}{every}; {last}. [{due.task.id}; {basis}: {due.task.source}]"


def _days(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"
