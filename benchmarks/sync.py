"""What sharing costs: ``python -m benchmarks.sync [--answers N]``, against a server it starts.

Prints a day of 60 dogs, a bulk of answers out and in, and a quiet minute of many stations.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from pathlib import Path

from benchmarks._postgres import Server, running, why_not
from handsfree.dialogue.actions import Confirmed, Record, Status
from handsfree.records import Store, Versions
from handsfree.records.model import Outcome
from handsfree.sync.station import share

VERSIONS = Versions(protocol="1", grammars="g", engine="none")
ANSWERS_A_DOG = 13


def fill(store: Store, exams: int) -> int:
    """Store so many exams of 60 dogs in one transaction; return the number of answers."""
    with store.transaction():
        dogs = store.dogs.all()
        if not dogs:
            site = store.kennel.add_site("Home")
            pen = store.kennel.add_pen(store.kennel.add_row(site, "A"), "1")
            dogs = tuple(store.dogs.add(f"Dog {n}") for n in range(60))
            for dog in dogs:
                store.kennel.place(dog.id, pen.id)
        for number in range(exams):
            exam = store.exams.begin(
                dogs[number % 60].id, person_id=None, routine="kennel", versions=VERSIONS
            )
            for ref in range(1, ANSWERS_A_DOG + 1):
                store.exams.record(
                    exam.id,
                    Record(
                        ref=ref, item="kennel.eaten", status=Status.OBSERVED, value="all",
                        words="all", confirmed=Confirmed.CONFIRMED,
                    ),
                )  # fmt: skip
            store.exams.finish(exam.id, Outcome.COMPLETE)
    return exams * ANSWERS_A_DOG


def timed(store: Store, server: str) -> tuple[float, int, int]:
    """Share; return seconds, rows sent, rows received."""
    began = time.perf_counter()
    done = share(store, server)
    return time.perf_counter() - began, done.sent, done.received


def site_role(server: Server, site_id: str) -> str:
    """Make a role that sees one site alone; return its address."""
    import psycopg

    with psycopg.connect(server.keeper(), autocommit=True) as keeper:
        keeper.execute("CREATE ROLE site LOGIN PASSWORD 's' IN ROLE handsfree_site")
        keeper.execute("INSERT INTO handsfree.members VALUES ('site', %s)", (site_id,))
    return server.address(user="site", password="s")


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--answers", type=int, default=20_000)
    parser.add_argument("--stations", type=int, default=20)
    args = parser.parse_args()
    if why := why_not():
        raise SystemExit(f"not run: {why}")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with running(folder / "server") as server:
            address = server.address()
            with Store.open(folder / "a") as a, Store.open(folder / "b") as b:
                share(a, address)
                share(b, address)
                fill(a, 60)
                seconds, sent, _ = timed(a, address)
                print(f"a day of 60 dogs, out: {seconds:.2f} s, {sent} rows")
                seconds, _, received = timed(b, address)
                print(f"a day of 60 dogs, in: {seconds:.2f} s, {received} rows")
                count = fill(a, args.answers // ANSWERS_A_DOG)
                print(f"{count} answers, out: {timed(a, address)[0]:.1f} s")
                print(f"{count} answers, in: {timed(b, address)[0]:.1f} s")
                home = a.kennel.site("").id
            with Store.open(folder / "c") as c:
                own = site_role(server, home)
                seconds, _, received = timed(c, own)
                print(f"all of it, in, by a station of one site: {seconds:.1f} s, {received} rows")
                print(f"a quiet sharing of one site: {timed(c, own)[0] * 1000:.0f} ms")
            stations = [Store.open(folder / f"s{n}") for n in range(args.stations)]
            for store in stations[:2]:
                share(store, address)
            began = time.perf_counter()
            for store in stations[:2]:
                share(store, address)
            each = (time.perf_counter() - began) / 2
            print(
                f"a quiet sharing: {each * 1000:.0f} ms, both sides; {args.stations} stations a "
                f"minute: {each * args.stations / 60:.1%} of one core at most"
            )
            for store in stations:
                store.close()


if __name__ == "__main__":
    main()
