"""Findings, the rule table, levels, comparison with the dog's own past, life stage, care."""

from handsfree.judging.engine import alarms, judge
from handsfree.judging.model import (
    Alarm,
    Change,
    ChangeKind,
    Finding,
    Fired,
    Gap,
    Judgement,
    Level,
    PastExam,
    Rule,
)
from handsfree.judging.past import Past
from handsfree.judging.rules import Table, read_table, table_for

__all__ = [
    "Alarm",
    "Change",
    "ChangeKind",
    "Finding",
    "Fired",
    "Gap",
    "Judgement",
    "Level",
    "Past",
    "PastExam",
    "Rule",
    "Table",
    "alarms",
    "judge",
    "read_table",
    "table_for",
]
