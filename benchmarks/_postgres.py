"""A real PostgreSQL of the test's own: own data folder, own port on loopback."""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

__all__ = ["Server", "cutting", "free_port", "programs", "running", "why_not"]


def programs() -> Path | None:
    """Return the folder of PostgreSQL's programs, the newest; None where there is none."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), reverse=True)
    return found[0].parent if found else None


def why_not() -> str:
    """Return why no server can be started here; empty if one can."""
    if programs() is None:
        return "needs Debian's package postgresql"
    if os.geteuid() == 0 and (shutil.which("setpriv") is None or not _has_postgres()):
        return "runs as root, and PostgreSQL needs another user (setpriv, postgres)"
    return ""


def _has_postgres() -> bool:
    with suppress(KeyError):
        pwd.getpwnam("postgres")
        return True
    return False


def free_port() -> int:
    """Return a port of loopback that is free."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


class Server:
    """A running server with the roles ``keeper`` (owner) and ``desk`` (a station)."""

    def __init__(self, port: int) -> None:
        self.port = port

    def address(
        self, *, user: str = "desk", password: str = "bone", port: int | None = None
    ) -> str:
        """Return the address, as one role."""
        return (
            f"host=127.0.0.1 port={port or self.port} dbname=postgres user={user} "
            f"password={password}"
        )

    def keeper(self) -> str:
        """Return the owner's address."""
        return self.address(user="keeper", password="kept")


@contextmanager
def running(folder: Path) -> Iterator[Server]:
    """Run a server in this folder."""
    bins = programs()
    assert bins is not None
    folder.mkdir(parents=True, exist_ok=True)
    as_user: list[str] = []
    if os.geteuid() == 0:
        user = pwd.getpwnam("postgres")
        os.chown(folder, user.pw_uid, user.pw_gid)
        as_user = [
            "setpriv", f"--reuid={user.pw_uid}", f"--regid={user.pw_gid}", "--clear-groups",
        ]  # fmt: skip
        for parent in folder.parents:  # the other user must be able to reach it
            if parent.stat().st_uid == 0 and str(parent) not in ("/", "/tmp"):
                parent.chmod(parent.stat().st_mode | 0o011)
    data, word = folder / "data", folder / "word"
    word.write_text("kept")
    word.chmod(0o644)
    env = {**os.environ, "LC_ALL": "C.UTF-8"}
    subprocess.run(
        [*as_user, str(bins / "initdb"), "-D", str(data), "-U", "keeper", "--pwfile", str(word),
         "--auth=scram-sha-256", "-N", "-E", "UTF8"],
        check=True, capture_output=True, cwd=folder, env=env,
    )  # fmt: skip
    port = free_port()
    command = [
        *as_user, str(bins / "postgres"), "-D", str(data), "-p", str(port),
        "-c", "listen_addresses=127.0.0.1", "-c", "unix_socket_directories=",
        "-c", "fsync=off", "-c", "max_connections=50", "-c", "shared_buffers=16MB",
    ]  # fmt: skip
    with (folder / "log").open("wb") as log:
        process = subprocess.Popen(command, stdout=log, stderr=log, cwd=folder, env=env)
        try:
            server = Server(port)
            _prepare(server, process, folder / "log")
            yield server
        finally:
            process.send_signal(2)
            process.wait(timeout=30)


def _prepare(server: Server, process: subprocess.Popen[bytes], log: Path) -> None:
    import time

    import psycopg

    from handsfree.sync.station import schema_sql

    for _ in range(300):
        try:
            with psycopg.connect(server.keeper(), autocommit=True) as keeper:
                keeper.execute(schema_sql())
                keeper.execute("CREATE ROLE desk LOGIN PASSWORD 'bone' IN ROLE handsfree_station")
                return
        except psycopg.OperationalError:
            assert process.poll() is None, log.read_text()
            time.sleep(0.1)
    raise AssertionError(log.read_text())


@contextmanager
def cutting(port: int, after_bytes: int) -> Iterator[int]:
    """Pass connections on to ``port`` and cut each after so many bytes; yield the proxy's port."""
    listener = socket.socket()
    listener.bind(("127.0.0.1", 0))
    listener.listen()
    left = [after_bytes]

    def carry(source: socket.socket, sink: socket.socket) -> None:
        with suppress(OSError):
            while data := source.recv(1024):
                left[0] -= len(data)
                if left[0] < 0:
                    break
                sink.sendall(data)
        for end in (source, sink):
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)

    def serve() -> None:
        with suppress(OSError):
            while True:
                near, _ = listener.accept()
                far = socket.create_connection(("127.0.0.1", port))
                for pair in ((near, far), (far, near)):
                    threading.Thread(target=carry, args=pair, daemon=True).start()

    threading.Thread(target=serve, daemon=True).start()
    try:
        yield int(listener.getsockname()[1])
    finally:
        with suppress(OSError):
            listener.shutdown(socket.SHUT_RDWR)
        listener.close()
