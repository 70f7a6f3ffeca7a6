"""One server for all tests of sharing; emptied before each."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from benchmarks._postgres import Server, running, why_not
from handsfree.sync.station import FORM


@pytest.fixture(scope="session")
def one_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """Yield a running server; reported as not run where there is none, but never under CI."""
    if why := why_not():
        if os.environ.get("CI"):
            pytest.fail(f"not run: {why}")
        pytest.skip(f"not run: {why}")
    with running(tmp_path_factory.mktemp("postgres") / "server") as server:
        yield server


@pytest.fixture
def server(one_server: Server) -> Server:
    """Return the server without any fact."""
    import psycopg

    with psycopg.connect(one_server.keeper(), autocommit=True) as keeper:
        keeper.execute(
            "TRUNCATE handsfree.facts, handsfree.dog_sites, handsfree.members RESTART IDENTITY"
        )
        keeper.execute(
            "UPDATE handsfree.about SET form = %s, server_id = gen_random_uuid()", (FORM,)
        )
    return one_server


@pytest.fixture
def folders(tmp_path: Path) -> Path:
    """Return where the stations' data folders lie."""
    return tmp_path
