"""What happens in rounds, in the records: rounds, doses, flags, who was told, handovers."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from handsfree.kennel.model import Bite, Dose, DoseOutcome, Flag, FlagKind
from handsfree.records.database import RecordsFile, from_stamp, to_stamp
from handsfree.records.exam_rows import NOT_CORRECTED

__all__ = ["RoundFact", "Rounds", "Told"]


@dataclass(frozen=True, kw_only=True)
class RoundFact:
    """Something that happened in a round; ``at`` has an offset."""

    id: str
    round_id: str
    name: str
    dog_id: str | None
    exam_id: str | None
    detail: dict[str, Any]
    at: datetime
    person_id: str | None


@dataclass(frozen=True, kw_only=True)
class Told:
    """Somebody was told of a finding, or acknowledged it."""

    dog_id: str
    exam_id: str
    rule: str
    name: str
    told_at: str
    acknowledged: bool
    at: datetime


class Rounds:
    """The rounds in one database."""

    def __init__(self, file: RecordsFile, station_id: str) -> None:
        self._file = file
        self._station_id = station_id

    def begin(self, *, site_id: str | None, row_id: str | None, person_id: str | None) -> str:
        """Store that a round begins; return its key."""
        return self._add("rounds", {"site_id": site_id, "row_id": row_id}, person_id)

    def unfinished(
        self, *, site_id: str | None, row_id: str | None, since: datetime
    ) -> tuple[str, datetime] | None:
        """Return the newest round of this scope here, with its begin, if it never ended.

        Args:
            site_id: Its site; None for a round of all.
            row_id: Its row; None for all.
            since: Rounds that began earlier are left alone.
        """
        row = self._file.one(
            "SELECT id, at, offset_min FROM rounds WHERE site_id IS ? AND row_id IS ? "
            "AND station_id = ? AND at >= ? ORDER BY at DESC, id DESC LIMIT 1",
            (site_id, row_id, self._station_id, to_stamp(since).at),
        )
        if row is None or self._file.one(
            "SELECT id FROM round_facts WHERE round_id = ? AND name = 'ended'", (row["id"],)
        ):
            return None
        return row["id"], from_stamp(row["at"], row["offset_min"])

    def note(
        self, round_id: str, name: str, *, person_id: str | None, dog_id: str | None = None,
        exam_id: str | None = None, detail: dict[str, Any] | None = None,
    ) -> str:  # fmt: skip
        """Store a fact of a round; return its key."""
        row = {
            "round_id": round_id, "name": name, "dog_id": dog_id, "exam_id": exam_id,
            "detail": json.dumps(detail or {}, ensure_ascii=False),
        }  # fmt: skip
        return self._add("round_facts", row, person_id)

    def facts(self, since: datetime) -> tuple[RoundFact, ...]:
        """Return what happened in rounds since then, oldest first."""
        rows = self._since("round_facts", since)
        return tuple(
            RoundFact(
                id=r["id"], round_id=r["round_id"], name=r["name"], dog_id=r["dog_id"],
                exam_id=r["exam_id"], detail=json.loads(r["detail"]),
                at=from_stamp(r["at"], r["offset_min"]), person_id=r["person_id"],
            )
            for r in rows
        )  # fmt: skip

    def done_by(self, person_id: str) -> int:
        """Return how many rounds this person has ended."""
        row = self._file.one(
            "SELECT count(*) AS n FROM round_facts WHERE name = 'ended' AND person_id = ?",
            (person_id,),
        )
        return 0 if row is None else int(row["n"])

    def dose(
        self, medicine_id: str, dog_id: str, outcome: DoseOutcome, *, amount: str,
        given_at: datetime, early: bool = False, person_id: str | None = None,
        corrects: str | None = None,
    ) -> str:  # fmt: skip
        """Store what became of a dose; return the row's key."""
        row = {
            "medicine_id": medicine_id, "dog_id": dog_id, "outcome": outcome.value,
            "amount": amount, "given_at": to_stamp(given_at).at, "early": int(early),
            "corrects": corrects,
        }  # fmt: skip
        return self._add("doses", row, person_id)

    def doses(self, dog_id: str) -> tuple[Dose, ...]:
        """Return a dog's doses that no later row corrects, oldest first."""
        rows = self._file.rows(
            "SELECT * FROM doses WHERE dog_id = ? AND id NOT IN "
            "(SELECT corrects FROM doses WHERE corrects IS NOT NULL) ORDER BY given_at, id",
            (dog_id,),
        )
        return tuple(
            Dose(
                id=r["id"], medicine_id=r["medicine_id"], dog_id=r["dog_id"],
                outcome=DoseOutcome(r["outcome"]), amount=r["amount"],
                given_at=from_stamp(r["given_at"], r["offset_min"]), early=bool(r["early"]),
                person_id=r["person_id"], station_id=r["station_id"],
            )
            for r in rows
        )  # fmt: skip

    def flag(
        self, dog_id: str, kind: FlagKind, why: str, *, raised: bool = True,
        from_dog_id: str | None = None, person_id: str | None = None,
    ) -> str:  # fmt: skip
        """Store that a dog is flagged, or cleared; return the row's key."""
        row = {
            "dog_id": dog_id, "kind": kind.value, "raised": int(raised), "why": why,
            "from_dog_id": from_dog_id,
        }  # fmt: skip
        return self._add("flags", row, person_id)

    def flags(self) -> tuple[Flag, ...]:
        """Return the flags that are up."""
        last: dict[tuple[str, str], dict[str, Any]] = {}
        for row in self._file.rows("SELECT * FROM flags ORDER BY at, id"):
            last[row["dog_id"], row["kind"]] = row
        return tuple(
            Flag(
                dog_id=r["dog_id"], kind=FlagKind(r["kind"]), why=r["why"],
                from_dog_id=r["from_dog_id"], at=from_stamp(r["at"], r["offset_min"]),
            )
            for r in last.values()
            if r["raised"]
        )  # fmt: skip

    def tell(
        self, dog_id: str, exam_id: str, rule: str, name: str, *, told_at: str = "",
        acknowledged: bool = False, person_id: str | None = None,
    ) -> str:  # fmt: skip
        """Store who was told of a finding and when, or who acknowledged it."""
        row = {
            "dog_id": dog_id, "exam_id": exam_id, "rule": rule, "name": name, "told_at": told_at,
            "acknowledged": int(acknowledged),
        }  # fmt: skip
        return self._add("tellings", row, person_id)

    def told(self, exam_id: str) -> tuple[Told, ...]:
        """Return who was told of an exam's findings, oldest first."""
        rows = self._file.rows("SELECT * FROM tellings WHERE exam_id = ? ORDER BY id", (exam_id,))
        return tuple(
            Told(
                dog_id=r["dog_id"], exam_id=r["exam_id"], rule=r["rule"], name=r["name"],
                told_at=r["told_at"], acknowledged=bool(r["acknowledged"]),
                at=from_stamp(r["at"], r["offset_min"]),
            )
            for r in rows
        )  # fmt: skip

    def open_findings(self) -> tuple[tuple[str, str, str, str], ...]:
        """Return the findings of the highest level that nobody has acknowledged.

        Each as the dog's key, the exam's key, the rule and what it says; by each exam's newest
        judgement. What fires in one exam by another's answer of the day alone is that other's
        finding, and is told here only where no exam of the day has it on its own answers.
        """
        rows = self._file.rows(
            "SELECT exam_id, dog_id, body FROM results WHERE level = 'now' AND id = "
            "(SELECT max(one.id) FROM results AS one WHERE one.exam_id = results.exam_id) "
            "ORDER BY id"
        )
        done = {
            (r["exam_id"], r["rule"])
            for r in self._file.rows("SELECT exam_id, rule FROM tellings WHERE acknowledged = 1")
        }
        own, borrowed = [], []
        owned = set()
        for row in rows:
            body = json.loads(row["body"])
            for fired in body.get("fired", ()):
                if fired["level"] != "now":
                    continue
                rule = fired["rule"]
                place = (row["dog_id"], rule, body.get("on"))
                one = (row["dog_id"], row["exam_id"], rule, fired["say"])
                if rule in body.get("borrowed", ()):
                    borrowed.append((place, one))
                else:
                    owned.add(place)
                    own.append(one)
        for place, one in borrowed:
            if place not in owned:
                owned.add(place)
                own.append(one)
        return tuple(one for one in own if (one[1], one[2]) not in done)

    def bite(
        self, dog_id: str, on: date, whom: str, what: str, *, person_id: str | None = None
    ) -> str:
        """Store that a dog bit or snapped; return the row's key."""
        row = {"dog_id": dog_id, "happened_on": on.isoformat(), "whom": whom, "what": what}
        return self._add("bites", row, person_id)

    def bites(self, dog_id: str) -> tuple[Bite, ...]:
        """Return a dog's bites, oldest first."""
        rows = self._file.rows(
            "SELECT * FROM bites WHERE dog_id = ? ORDER BY happened_on, id", (dog_id,)
        )
        return tuple(
            Bite(
                id=r["id"], dog_id=r["dog_id"], happened_on=date.fromisoformat(r["happened_on"]),
                whom=r["whom"], what=r["what"], at=from_stamp(r["at"], r["offset_min"]),
                person_id=r["person_id"],
            )
            for r in rows
        )  # fmt: skip

    def tellings(self, since: datetime) -> tuple[Told, ...]:
        """Return who was told of findings, or acknowledged one, since then; oldest first."""
        return tuple(
            Told(
                dog_id=r["dog_id"], exam_id=r["exam_id"], rule=r["rule"], name=r["name"],
                told_at=r["told_at"], acknowledged=bool(r["acknowledged"]),
                at=from_stamp(r["at"], r["offset_min"]),
            )
            for r in self._since("tellings", since)
        )  # fmt: skip

    def hand_over(
        self, signed_by: str, body: dict[str, Any], *, site_id: str | None = None,
        person_id: str | None = None,
    ) -> str:  # fmt: skip
        """Store a handover with its signature; return its key."""
        row = {
            "site_id": site_id, "signed_by": signed_by,
            "body": json.dumps(body, ensure_ascii=False),
        }  # fmt: skip
        return self._add("handovers", row, person_id)

    def last_handover(self) -> datetime | None:
        """Return when a shift was last handed over."""
        row = self._file.one("SELECT at, offset_min FROM handovers ORDER BY at DESC LIMIT 1")
        return None if row is None else from_stamp(row["at"], row["offset_min"])

    def exams_since(self, since: datetime) -> tuple[tuple[str, str], ...]:
        """Return the kennel's exams begun since then as (dog, exam), oldest first."""
        rows = self._file.rows(
            "SELECT dog_id, id FROM exams WHERE at >= ? AND routine IN ('kennel', 'kennel_open') "
            "ORDER BY at, id",
            (to_stamp(since).at,),
        )
        return tuple((row["dog_id"], row["id"]) for row in rows)

    def observed_since(
        self, since: datetime, items: Sequence[str]
    ) -> tuple[tuple[str, datetime, str, str], ...]:
        """Return what was observed of these items in the kennel's exams begun since then.

        Each as the dog's key, when its exam began, the item and the value, oldest first; of an
        exam's answers to an item the last.
        """
        marks = ", ".join("?" * len(items))
        rows = self._file.rows(
            "SELECT exams.dog_id AS dog_id, exams.at AS at, exams.offset_min AS offset_min, "
            "answers.exam_id AS exam_id, item, side, status, value_text FROM exams "
            "JOIN answers ON answers.exam_id = exams.id "
            f"WHERE exams.at >= ? AND routine IN ('kennel', 'kennel_open') AND item IN ({marks}) "
            f"AND {NOT_CORRECTED} ORDER BY exams.at, exams.id, ref",
            (to_stamp(since).at, *items),
        )
        last = {(row["exam_id"], row["item"], row["side"]): row for row in rows}
        return tuple(
            (r["dog_id"], from_stamp(r["at"], r["offset_min"]), r["item"], r["value_text"])
            for r in last.values()
            if r["status"] == "observed" and r["value_text"] is not None
        )

    def _since(self, table: str, since: datetime) -> list[dict[str, Any]]:
        return self._file.rows(
            f"SELECT * FROM {table} WHERE at >= ? ORDER BY at, id", (to_stamp(since).at,)
        )

    def _add(self, table: str, row: dict[str, Any], person_id: str | None) -> str:
        with self._file.writing():
            return self._file.add(table, row, station_id=self._station_id, person_id=person_id)
