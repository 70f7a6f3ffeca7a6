"""One station's sharing: send what is new, then read what others sent, batch by batch.

Each batch is a transaction on the side that takes it, and is noted on the other side only
afterwards: whatever is cut in between is done again, and a fact that is there already is passed
over. psycopg is an optional extra and is imported when first used.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from handsfree.errors import CallerError
from handsfree.records.database import to_stamp
from handsfree.records.store import Store
from handsfree.records.uuid7 import new_id
from handsfree.sync.errors import ServerError, in_words
from handsfree.sync.outbox import PHOTOS, enable, fill, settle, take
from handsfree.sync.placing import Placing

__all__ = ["FORM", "Shared", "last_synced", "schema_sql", "share"]

FORM = 2
"""Version of the server's schema that this program shares with."""

Step = Callable[[str], None]

BATCH = 2000
CONNECT_S = 10
SILENT_MS = 20_000
"""How long a cut line may stay unnoticed."""

CLOCK_STEP_S = 1.0
"""A change of the clock difference that is worth storing."""

CLOCK_WARN_S = 60.0
"""A difference that is told; our own judgement."""


@dataclass(kw_only=True)
class Shared:
    """What one sharing did."""

    sent: int = 0
    received: int = 0
    server_ahead_s: float = 0.0
    held: int = 0
    sees_all: bool = True
    warnings: list[str] = field(default_factory=list)


def schema_sql() -> str:
    """Return the script that makes a server's schema and roles."""
    return Path(__file__).with_name("schema.sql").read_text(encoding="utf-8")


def share(
    store: Store, server: str, *, batch: int = BATCH, step: Step = lambda _point: None
) -> Shared:
    """Send and read until both sides have everything; may be stopped at any point and begun again.

    Args:
        store: The records.
        server: Address as libpq takes it; the password is better kept in a password file.
        batch: Most rows in one transaction.
        step: Told each point passed: ``sent``, ``settled``, ``received``.

    Raises:
        CallerError: The extra ``sync`` is not installed.
        ServerError: The server cannot be reached, refuses, or is of another version.
    """
    try:
        import psycopg
    except ImportError as error:
        msg = "Sharing needs the extra `sync`: pip install 'handsfree[sync]'."
        raise CallerError(msg) from error
    done = Shared()
    enable(store.file)
    try:
        with psycopg.connect(
            server, connect_timeout=CONNECT_S, tcp_user_timeout=SILENT_MS,
            application_name="handsfree", options="-c statement_timeout=60000",
        ) as connection:  # fmt: skip
            _check_server(store, connection, done)
            _send(store, connection, batch, done, step)
            _receive(store, connection, batch, done, step)
            connection.commit()
    except psycopg.Error as error:
        raise in_words(error) from error
    _remember(store, "last", datetime.now().astimezone().isoformat(timespec="seconds"))
    held = store.file.one("SELECT count(*) AS n FROM sync_held WHERE why <> 'early'")
    done.held = 0 if held is None else held["n"]
    if done.held:
        done.warnings.append(
            f"{done.held} rows come from a newer handsfree and are kept until this one is updated."
        )
    return done


def last_synced(store: Store) -> datetime | None:
    """Return when this station last shared to the end; None if never."""
    text = _recall(store, "last")
    return datetime.fromisoformat(text) if text else None


def _check_server(store: Store, connection: Any, done: Shared) -> None:
    before = datetime.now().astimezone()
    row = connection.execute(
        "SELECT form, server_id::text, clock_timestamp() FROM handsfree.about"
    ).fetchone()
    after = datetime.now().astimezone()
    if row is None or row[0] != FORM:
        form = "an unknown" if row is None else f"version {row[0]} of the"
        newer = "Update handsfree here" if row and row[0] > FORM else "Its keeper must update it"
        msg = (
            f"The server has {form} schema, and this handsfree shares with version {FORM}. "
            f"{newer}. Nothing was lost: this station goes on offline."
        )
        raise ServerError(msg)
    _, server_id, server_now = row
    newest, sees_all, sites = connection.execute(
        "SELECT handsfree.newest(), handsfree.sees_all(), handsfree.my_sites()::text[]"
    ).fetchone()
    connection.commit()
    done.sees_all = bool(sees_all)
    own = "" if sees_all else json.dumps(sites)
    if (_recall(store, "sites") or "") != own:  # what this role sees now, it may not have read
        with store.file.writing():
            _remember(store, "sites", own)
            _remember(store, "cursor", "0")
    if not sees_all and not sites:
        done.warnings.append(
            "The server names no site for this role, so it sees none: its keeper adds one "
            "(handsfree sync --sites says how)."
        )
    known, cursor = _recall(store, "server"), int(_recall(store, "cursor") or 0)
    if known != server_id or newest < cursor:
        # Another server, or one brought back from an older backup: offer it everything again.
        with store.file.writing():
            if known is not None:
                store.file.db.conn.execute("DELETE FROM sync_out")
                fill(store.file)
            _remember(store, "server", server_id)
            _remember(store, "cursor", "0")
    trip = (after - before).total_seconds()
    done.server_ahead_s = (server_now - before).total_seconds() - trip / 2
    last = store.file.one(
        "SELECT server_ahead_s FROM clock_checks WHERE station_id = ? ORDER BY id DESC LIMIT 1",
        (store.station_id,),
    )
    if last is None or abs(last["server_ahead_s"] - done.server_ahead_s) > CLOCK_STEP_S:
        with store.file.writing():
            store.file.add(
                "clock_checks",
                {"server_ahead_s": done.server_ahead_s, "round_trip_s": trip},
                station_id=store.station_id,
                person_id=None,
            )
    if abs(done.server_ahead_s) > CLOCK_WARN_S:
        side = "behind" if done.server_ahead_s > 0 else "ahead of"
        done.warnings.append(
            f"This station's clock is {abs(done.server_ahead_s):.0f} seconds {side} the server's: "
            "set it right. Times stored so far stay as they are."
        )


def _send(store: Store, connection: Any, batch: int, done: Shared, step: Step) -> None:
    while rows := take(store.file, batch):
        with _alone(connection):
            newest = _newest(connection)
            added = connection.execute(
                "INSERT INTO handsfree.facts (id, tab, station_id, dog_id, site_id, open, body) "
                "SELECT * FROM unnest(%s::uuid[], %s::text[], %s::uuid[], %s::uuid[], %s::uuid[], "
                "%s::boolean[], %s::json[]) ON CONFLICT (id) DO NOTHING",
                (
                    [r.id for r in rows], [r.tab for r in rows], [r.station_id for r in rows],
                    [r.scope.dog_id for r in rows], [r.scope.site_id for r in rows],
                    [r.scope.open for r in rows], [r.body for r in rows],
                ),
            ).rowcount  # fmt: skip
            top = _newest(connection)
        step("sent")
        with store.file.writing():
            settle(store.file, rows)
            if int(_recall(store, "cursor") or 0) == newest:
                _remember(store, "cursor", str(top))  # what we just sent we need not read
        done.sent += added
        step("settled")


def _receive(store: Store, connection: Any, batch: int, done: Shared, step: Step) -> None:
    placing = Placing(store.file, store.station_id)
    while True:
        cursor, newest = int(_recall(store, "cursor") or 0), _newest(connection)
        if cursor >= newest:
            return
        last = _last_bearable(connection, "seq > %s AND seq <= %s", (cursor, newest), batch)
        top = newest if last is None else last
        if not done.sees_all:
            _receive_dogs(store, connection, placing, cursor, top, batch, done, step)
        rows = connection.execute(
            "SELECT tab, body::text FROM handsfree.facts WHERE seq > %s AND seq <= %s ORDER BY seq",
            (cursor, top),
        ).fetchall()
        connection.commit()
        with store.file.writing():
            done.received += placing.place((tab, json.loads(body)) for tab, body in rows)
            _remember(store, "cursor", str(top))
        step("received")


def _receive_dogs(
    store: Store, connection: Any, placing: Placing, cursor: int, top: int, batch: int,
    done: Shared, step: Step,
) -> None:  # fmt: skip
    """Read what was stored of dogs before they came to a site of this station.

    Whatever is cut is read again: the cursor moves only with the facts that brought them.
    """
    came = connection.execute(
        "SELECT DISTINCT dog_id FROM handsfree.dog_sites WHERE came_seq > %s AND came_seq <= %s",
        (cursor, top),
    ).fetchall()
    for (dog_id,) in came:
        after = 0
        while after < cursor:
            span = (dog_id, after, cursor)
            last = _last_bearable(connection, "dog_id = %s AND seq > %s AND seq <= %s", span, batch)
            upto = cursor if last is None else last
            rows = connection.execute(
                "SELECT tab, body::text FROM handsfree.facts "
                "WHERE dog_id = %s AND seq > %s AND seq <= %s ORDER BY seq",
                (dog_id, after, upto),
            ).fetchall()
            connection.commit()
            with store.file.writing():
                done.received += placing.place((tab, json.loads(body)) for tab, body in rows)
            after = upto
            step("received")


def _last_bearable(connection: Any, where: str, values: tuple[Any, ...], batch: int) -> int | None:
    """Return the last number of the next batch, with few photos in it; None if all of it fits."""
    rows = connection.execute(
        f"SELECT seq, tab FROM handsfree.facts WHERE {where} ORDER BY seq LIMIT %s",
        (*values, batch),
    ).fetchall()
    connection.commit()
    photos = [seq for seq, tab in rows if tab == "photos"]
    if len(photos) > PHOTOS:
        return int(photos[PHOTOS]) - 1
    return int(rows[-1][0]) if len(rows) == batch else None


def _newest(connection: Any) -> int:
    return int(connection.execute("SELECT handsfree.newest()").fetchone()[0])


@contextmanager
def _alone(connection: Any) -> Iterator[None]:
    """One station adds at a time, so that numbers appear in their order and none is overread."""
    with connection.transaction():
        connection.execute("SELECT pg_advisory_xact_lock(4867, 4458)")
        yield


def _recall(store: Store, name: str) -> str | None:
    row = store.file.one("SELECT value FROM sync_state WHERE name = ?", (name,))
    return None if row is None else str(row["value"])


def _remember(store: Store, name: str, value: str) -> None:
    stamp = to_stamp(store.file.clock())
    with store.file.writing():
        store.file.db.conn.execute(
            "INSERT INTO sync_state (id, at, offset_min, station_id, name, value) "
            "VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT (name) DO UPDATE SET "
            "value = excluded.value, at = excluded.at",
            (new_id(), stamp.at, stamp.offset_min, store.station_id, name, value),
        )
