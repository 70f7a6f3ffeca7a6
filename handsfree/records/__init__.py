"""SQLite schema and migrations, people, dogs, exams."""

from handsfree.records.digest import actions_digest
from handsfree.records.exams import RESUMABLE_FOR, Exams
from handsfree.records.model import (
    Answer,
    Dog,
    Exam,
    ExamEvent,
    ExamFact,
    Measurement,
    Number,
    Outcome,
    Person,
    Settings,
    Units,
    Versions,
    Weight,
)
from handsfree.records.store import Store

__all__ = [
    "RESUMABLE_FOR",
    "Answer",
    "Dog",
    "Exam",
    "ExamEvent",
    "ExamFact",
    "Exams",
    "Measurement",
    "Number",
    "Outcome",
    "Person",
    "Settings",
    "Store",
    "Units",
    "Versions",
    "Weight",
    "actions_digest",
]
