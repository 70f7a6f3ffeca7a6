"""``handsfree sync``: share records with other stations through a server of one's own."""

from __future__ import annotations

import argparse
import os
import re
from typing import TYPE_CHECKING

from handsfree.commands.shared import Subparsers, add_command, line, open_store
from handsfree.errors import CallerError

if TYPE_CHECKING:
    from handsfree.records import Store

__all__ = ["register"]

VARIABLE = "HANDSFREE_SERVER"


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "sync",
        about="share records with other stations through a PostgreSQL server",
        example="handsfree sync --server 'host=kennel.example dbname=handsfree user=desk "
        "sslmode=verify-full'\nhandsfree sync --status\n"
        "handsfree sync --schema | psql handsfree",
        run=_run,
    )
    parser.add_argument(
        "--server",
        help=f"address of the server (default: {VARIABLE}); the password stays in .pgpass",
    )
    parser.add_argument("--status", action="store_true", help="say where sharing stands, offline")
    parser.add_argument(
        "--sites", action="store_true", help="list the sites, and how a role is let to one, offline"
    )
    parser.add_argument("--schema", action="store_true", help="print the script for the server")


def _run(args: argparse.Namespace) -> int:
    from handsfree.sync.outbox import waiting
    from handsfree.sync.station import last_synced, schema_sql, share

    if args.schema:
        print(schema_sql(), end="")
        return 0
    with open_store(args) as store:
        if args.sites:
            return _sites(store)
        if args.status:
            last = last_synced(store)
            line(f"Last shared: {last:%Y-%m-%d %H:%M}." if last else "Never shared.")
            line(f"Waiting to be sent: {waiting(store.file)} rows.")
            return 0
        server = args.server or os.environ.get(VARIABLE)
        if not server:
            msg = f"Which server? Name it with --server or in {VARIABLE}."
            raise CallerError(msg)
        if re.search(r"password=|//[^/@]*:[^/@]*@", server):
            line("A password in the address can be seen by others: keep it in .pgpass.")
        done = share(store, server)
        line(f"Sent {done.sent}, received {done.received}.")
        if store.settling.waiting():
            from handsfree.judging.gather import judge_shared
            from handsfree.judging.rules import read_table

            judged = judge_shared(store, read_table())
            if judged:
                line(f"Answers differ: {len(judged)} checks were judged anew, by the worse.")
        for warning in done.warnings:
            line(warning)
    return 0


def _sites(store: Store) -> int:
    """Print each site's key, and what the server's keeper runs to let a role see it."""
    sites = store.kennel.sites.all()
    for site in sites:
        line(f"{site.name}: {site.id}")
    if not sites:
        line("There is no site yet. Add one with: handsfree kennel site NAME")
        return 0
    line("A role that is a member of handsfree_site sees the sites that the keeper names for it:")
    line(f"  INSERT INTO handsfree.members VALUES ('ROLE', '{sites[0].id}');")
    return 0
