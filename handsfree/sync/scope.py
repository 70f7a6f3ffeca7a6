"""Which dog or site each row is about, as the server is told: it keeps sites apart by that.

What is of no dog and no site (people, stations, names of sites, settings) is open to every station.
What cannot be told is not open: only stations of all sites, and the one that sent it, see it.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from handsfree.records.database import RecordsFile

__all__ = ["CLOSED", "OPEN", "Scope", "scopes_of"]

OPEN_TABLES = frozenset({"stations", "people", "sites", "clock_checks", "retentions"})
OPEN_ENTITIES = frozenset({"person", "profile", "site", "setting"})
_STANDING = {
    "lump": "lumps", "contact": "contacts", "medicine": "medicines", "stay": "stays",
}  # fmt: skip
"""What belongs to a dog, by its name in edits, with its table."""

_OF_EXAM = frozenset({"exam_states", "exam_facts", "events"})
_PEN_SITE = (
    "SELECT pens.id AS id, kennel_rows.site_id AS found FROM pens "
    "JOIN kennel_rows ON kennel_rows.id = pens.row_id WHERE pens.id"
)
_ROW_SITE = "SELECT id, site_id AS found FROM kennel_rows WHERE id"
_ROUND_SITE = (
    "SELECT rounds.id AS id, coalesce(rounds.site_id, kennel_rows.site_id) AS found FROM rounds "
    "LEFT JOIN kennel_rows ON kennel_rows.id = rounds.row_id WHERE rounds.id"
)
_EXAM_DOG = "SELECT id, dog_id AS found FROM exams WHERE id"
_ANSWER_DOG = "SELECT id, dog_id AS found FROM answers WHERE id"


@dataclass(frozen=True, kw_only=True)
class Scope:
    """What a row is about; ``open`` where it is about neither a dog nor a site."""

    dog_id: str | None = None
    site_id: str | None = None
    open: bool = False


OPEN = Scope(open=True)
CLOSED = Scope()


def scopes_of(file: RecordsFile, table: str, rows: Sequence[Mapping[str, Any]]) -> dict[str, Scope]:
    """Return what each of a table's rows is about, by its key."""
    if table in OPEN_TABLES:
        return {row["id"]: OPEN for row in rows}
    if table == "edits":
        return _of_edits(file, rows)
    if table == "dogs":
        return {row["id"]: Scope(dog_id=row["id"]) for row in rows}
    if table == "placements":
        sites = _found(file, _PEN_SITE, (row["pen_id"] for row in rows))
        return {
            row["id"]: Scope(
                dog_id=row["dog_id"], site_id=row["site_id"] or sites.get(row["pen_id"])
            )
            for row in rows
        }
    if table in _OF_EXAM:
        dogs = _found(file, _EXAM_DOG, (row["exam_id"] for row in rows))
        return {row["id"]: Scope(dog_id=dogs.get(row["exam_id"])) for row in rows}
    if table == "confirmations":
        dogs = _found(file, _ANSWER_DOG, (row["answer_id"] for row in rows))
        return {row["id"]: Scope(dog_id=dogs.get(row["answer_id"])) for row in rows}
    if table == "pens":
        sites = _found(file, _ROW_SITE, (row["row_id"] for row in rows))
        return {row["id"]: Scope(site_id=sites.get(row["row_id"])) for row in rows}
    if table == "rounds":
        sites = _found(file, _ROUND_SITE, (row["id"] for row in rows))
        only = _only_site(file)
        return {row["id"]: Scope(site_id=sites.get(row["id"], only)) for row in rows}
    if table == "handovers":
        only = _only_site(file)
        return {row["id"]: Scope(site_id=row["site_id"] or only) for row in rows}
    if table == "round_facts":
        sites = _found(file, _ROUND_SITE, (row["round_id"] for row in rows))
        only = _only_site(file)
        return {
            row["id"]: Scope(dog_id=row["dog_id"])
            if row["dog_id"]
            else Scope(site_id=sites.get(row["round_id"], only))
            for row in rows
        }
    return {
        row["id"]: Scope(dog_id=row.get("dog_id"), site_id=row.get("site_id")) for row in rows
    }  # kennel_rows, and all that names its dog


def _only_site(file: RecordsFile) -> str | None:
    """Return the site that a round or handover of no named site is of: the only one seen here."""
    row = file.one("SELECT value FROM sync_state WHERE name = 'sites'")
    if row is not None and row["value"]:
        sites = json.loads(row["value"])
    else:
        sites = [one["id"] for one in file.rows("SELECT id FROM sites WHERE gone_at IS NULL")]
    return sites[0] if len(sites) == 1 else None


def _of_edits(file: RecordsFile, rows: Sequence[Mapping[str, Any]]) -> dict[str, Scope]:
    by_entity: dict[str, list[Mapping[str, Any]]] = {}
    for row in rows:
        by_entity.setdefault(row["entity"], []).append(row)
    scopes: dict[str, Scope] = {}
    for entity, some in by_entity.items():
        keys = [row["entity_id"] for row in some]
        if entity in OPEN_ENTITIES:
            found = dict.fromkeys(keys, OPEN)
        elif entity in ("dog", "care"):
            found = {key: Scope(dog_id=key) for key in keys}
        elif entity in _STANDING:
            sql = f"SELECT id, dog_id AS found FROM {_STANDING[entity]} WHERE id"
            found = {key: Scope(dog_id=dog) for key, dog in _found(file, sql, keys).items()}
        elif entity in ("row", "pen"):
            sql = _ROW_SITE if entity == "row" else _PEN_SITE
            found = {key: Scope(site_id=site) for key, site in _found(file, sql, keys).items()}
        else:
            found = {}
        scopes |= {row["id"]: found.get(row["entity_id"], CLOSED) for row in some}
    return scopes


def _found(file: RecordsFile, sql: str, keys: Iterable[str | None]) -> dict[str | None, str]:
    """Return what a query that ends in a key column finds for each of these keys."""
    wanted = list(dict.fromkeys(key for key in keys if key is not None))
    out: dict[str | None, str] = {}
    for start in range(0, len(wanted), 500):
        some = wanted[start : start + 500]
        marks = ",".join("?" * len(some))
        for row in file.rows(f"{sql} IN ({marks})", some):
            if row["found"] is not None:
                out[row["id"]] = row["found"]
    return out
