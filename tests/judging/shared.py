"""What the tests of judging share: short ways to write dogs and findings."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from handsfree.judging.model import Finding, Judgement, PastExam
from handsfree.judging.rules import Table, read_table
from handsfree.protocol.subject import Neutered, Sex, Shape, Size, Subject

DAY = date(2026, 3, 14)
CASES = Path(__file__).with_name("cases.txt")


def table() -> Table:
    """The shipped table; read once a process."""
    return read_table()


def dog(text: str = "") -> Subject:
    """A dog from ``age_months=40 sex=female``; an adult of unknown sex where nothing is said."""
    given = dict(part.split("=", 1) for part in text.split())
    return Subject(
        name="Tilly",
        age_months=int(given.get("age_months", "40")),
        sex=Sex(given.get("sex", "unknown")),
        neutered=Neutered(given.get("neutered", "unknown")),
        shape=Shape(given.get("shape", "usual")),
        size=Size(given["size"]) if "size" in given else None,
        weight_kg=float(given["weight_kg"]) if "weight_kg" in given else None,
        season=int(given["season"]) if "season" in given else None,
        pregnant=given.get("pregnant") == "true",
        conditions=frozenset(given["conditions"].split(","))
        if "conditions" in given
        else frozenset(),
    )


def findings(text: str) -> list[Finding]:
    """Findings from ``item=value; item@side=value``; ``value?`` is a doubted one."""
    made = []
    for part in filter(None, (p.strip() for p in text.split(";"))):
        where, raw = part.split("=", 1)
        item, _, side = where.partition("@")
        certainty = "possible" if raw.endswith("?") else "confirmed"
        raw = raw.removesuffix("?")
        info = table().catalogue.items[item]
        made.append(
            Finding(
                item=item,
                side=side or None,
                value=float(raw) if info.unit is not None else raw,
                unit=info.unit,
                certainty=certainty,  # type: ignore[arg-type]  # one of the two above
            )
        )
    return made


def exam(on: date, text: str) -> PastExam:
    """An earlier exam."""
    return PastExam(exam_id=on.isoformat(), on=on, findings=tuple(findings(text)))


def fired_ids(judgement: Judgement) -> set[str]:
    """Ids of the rows that fired."""
    return {row.rule.id for row in judgement.fired}
