"""Records at the size of years: writes a large invented database and prints what it costs.

``python -m benchmarks.records --dogs 60 --exams 1095`` is a kennel seen daily for three years;
``--dogs 1000 --exams 12 --items 60`` is a practice with full checks. Everything in it is invented.
"""

from __future__ import annotations

import argparse
import functools
import os
import platform
import random
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from pathlib import Path

from handsfree.commands.progress import progress
from handsfree.dialogue.actions import Confirm, Record, Status
from handsfree.hearing.verdict import Candidate, Meaning, MeaningKind
from handsfree.records import Store, Versions
from handsfree.records.backup import back_up

BEGIN = datetime(2023, 1, 1, 8, 0, tzinfo=timezone(timedelta(hours=1)))
VERSIONS = Versions(protocol="bench", grammars="bench", engine="none", rules="bench")
REPEATS = 20
RESULT = {"spoken": ["Invented."], "fired": [], "changes": []}
WORDS = ("pink", "pale", "bright", "quiet", "normal", "red", "clean", "soft")


class InventedClock:
    """A clock that is moved by hand."""

    def __init__(self) -> None:
        self.now = BEGIN

    def __call__(self) -> datetime:
        """Return the time, a little later at each look."""
        self.now += timedelta(milliseconds=1)
        return self.now


@dataclass(frozen=True, kw_only=True)
class Slot:
    """One thing that is answered: a choice with its usual and other values, or a number."""

    item: str
    side: str | None = None
    usual: str = ""
    odd: tuple[str, ...] = ()
    unit: str | None = None
    range: tuple[float, float] | None = None


NUMBERS = (
    Slot(item="weight.kg", unit="kg", range=(5, 40)),
    Slot(item="breaths.rate", unit="/min", range=(10, 30)),
    Slot(item="heart.rate", unit="/min", range=(60, 120)),
    Slot(item="temperature.degrees", unit="Cel", range=(37.8, 39.0)),
    Slot(item="mouth.refill", unit="s", range=(0.8, 2.0)),
    Slot(item="breaths.state", usual="asleep"),
)


@dataclass(frozen=True, kw_only=True)
class Figure:
    """One line of the table: what was done, how long it took, and the aim if there is one."""

    what: str
    median_s: float
    worst_s: float
    aim_s: float | None = None

    def __str__(self) -> str:
        aim = ""
        if self.aim_s is not None:
            met = "met" if self.worst_s <= self.aim_s else "MISSED"
            aim = f"{self.aim_s * 1000:9.0f} ms  {met}"
        return f"{self.what:<46}{self.median_s * 1000:10.2f} ms{self.worst_s * 1000:10.2f} ms{aim}"


@functools.cache
def slots() -> tuple[Slot, ...]:
    """Return what is answered, in order: numbers, ears and eyes, then every other choice."""
    from handsfree.protocol.loader import load
    from handsfree.protocol.model import Kind

    protocol = load()
    choices = []
    for region_id in ("ears", "eyes", *(r for r in protocol.regions if r not in ("ears", "eyes"))):
        for question in protocol.regions[region_id].question:
            if question.kind is Kind.CHOICE and not question.per_lump and question.normal:
                item = f"{region_id}.{question.id}"
                usual = question.normal[0]
                odd = tuple(value for value in question.values if value != usual)
                choices += [
                    Slot(item=item, side=side, usual=usual, odd=odd)
                    for side in question.sides or (None,)
                ]
    return (*NUMBERS, *choices)


def answer(ref: int, item: int, random_: random.Random) -> Record:
    """Return an invented answer with two candidates, as hearing gives them; most are usual."""
    slot = slots()[item % len(slots())]
    name, side, unit = slot.item, slot.side, slot.unit
    value: str | float
    if slot.range is not None:
        value = round(random_.uniform(*slot.range), 1)
    else:
        value = random_.choice(slot.odd) if slot.odd and random_.random() < 0.05 else slot.usual
    words = str(value)
    candidates = tuple(
        Candidate(
            meaning=Meaning(kind=MeaningKind.ANSWER, value=choice),
            words=str(choice),
            probability=probability,
        )
        for choice, probability in ((value, 0.9), (random_.choice(WORDS), 0.05))
    )
    return Record(
        ref=ref,
        item=name,
        side=side,
        status=Status.OBSERVED,
        value=value,
        unit=unit,
        words=words,
        candidates=candidates,
        stream="bench",
        start=ref * 16_000,
        end=ref * 16_000 + 8_000,
    )


def fill(store: Store, clock: InventedClock, args: argparse.Namespace) -> int:
    """Write the invented dogs with their exams; return the number of answers."""
    random_ = random.Random(args.seed)
    people = [store.people.add(f"Invented person {number}").id for number in range(4)]
    dogs = [
        store.dogs.add(f"Invented dog {number}", breed="invented").id for number in range(args.dogs)
    ]
    answers = 0
    with progress("Writing invented checks") as told:
        for day in range(args.exams):
            clock.now = BEGIN + timedelta(days=day * args.every_days)
            with store.transaction():
                for dog_id in dogs:
                    exam = store.exams.begin(
                        dog_id,
                        person_id=random_.choice(people),
                        routine="kennel",
                        versions=VERSIONS,
                    )
                    for item in range(args.items):
                        store.exams.record(exam.id, answer(item + 1, item, random_))
                        if random_.random() < 0.1:
                            store.exams.confirm(exam.id, Confirm(ref=item + 1))
                    answers += args.items
                    store.results.keep(exam.id, rules="bench", level="none_found", body=RESULT)
                    store.exams.finish(exam.id, "complete")
            told(args.exams - day - 1, args.exams)
    return answers


def timed(what: str, work: Callable[[], object], *, aim_s: float | None = None) -> Figure:
    """Return how long ``work`` takes, over REPEATS runs after one that warms the cache."""
    work()
    times = []
    for _ in range(REPEATS):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return Figure(what=what, median_s=statistics.median(times), worst_s=max(times), aim_s=aim_s)


def committed_answers(store: Store, clock: InventedClock) -> Figure:
    """Return how long one answer takes until it is safe on the disk."""
    dog = store.dogs.add("Invented dog of the writer")
    exam = store.exams.begin(dog.id, person_id=None, routine="kennel", versions=VERSIONS)
    random_ = random.Random(1)
    times = []
    for ref in range(1, 201):
        record = answer(ref, ref, random_)
        began = time.perf_counter()
        store.exams.record(exam.id, record)
        times.append(time.perf_counter() - began)
    return Figure(
        what="one answer, committed", median_s=statistics.median(times), worst_s=max(times)
    )


def overview(store: Store) -> int:
    """Read what an overview of all dogs shows: each dog, last exam, newest result."""
    results = store.results.overview()
    seen = 0
    for dog in store.dogs.all():
        exams = store.exams.of_dog(dog.id, limit=1)
        seen += bool(exams) + (dog.id in results)
    return seen


@contextmanager
def folder(keep: str | None) -> Iterator[Path]:
    """Yield the folder to write to; it is removed unless it was named."""
    if keep is not None:
        yield Path(keep)
        return
    with tempfile.TemporaryDirectory(prefix="handsfree-bench-") as scratch:
        yield Path(scratch)


def main() -> None:
    """Make the database and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--dogs", type=int, default=60)
    parser.add_argument("--exams", type=int, default=100, help="for each dog")
    parser.add_argument("--items", type=int, default=16, help="answers in each exam")
    parser.add_argument("--every-days", type=int, default=1, help="days between two exams")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--keep", metavar="DIR", help="keep the database in this folder; made only once"
    )
    args = parser.parse_args()
    with folder(args.keep) as data:
        clock = InventedClock()
        with Store.open(data, clock=clock) as store:
            written = "measured again, as it was made before"
            if not store.dogs.all():
                began = time.perf_counter()
                answers = fill(store, clock, args)
                wrote_s = time.perf_counter() - began
                written = (
                    f"{answers} answers in {wrote_s:.1f} s ({answers / wrote_s:.0f} a second, one "
                    "transaction for each day)"
                )
            clock.now = BEGIN + timedelta(days=args.exams * args.every_days)
            size = store.path.stat().st_size
            dog = next(dog for dog in store.dogs.all() if dog.name == "Invented dog 0")
            since = clock.now - timedelta(days=365)
            figures = [
                committed_answers(store, clock),
                timed("open", lambda: Store.open(data).close()),
                timed("all answers of one dog", lambda: store.exams.dog_answers(dog.id), aim_s=1.0),
                timed(
                    "one dog's answers of the last year",
                    lambda: store.exams.dog_answers(dog.id, since=since),
                    aim_s=1.0,
                ),
                timed(
                    "the last answer to one item",
                    lambda: store.exams.item_history(dog.id, "ears.look", limit=1),
                    aim_s=0.05,
                ),
                timed("the whole weight series", lambda: store.weights.of_dog(dog.id), aim_s=0.05),
                timed("overview of all dogs", lambda: overview(store), aim_s=2.0),
            ]
            began = time.perf_counter()
            (data / "copy.sqlite").unlink(missing_ok=True)
            back_up(data, data / "copy.sqlite")
            copied_s = time.perf_counter() - began
        print(
            f"records: {args.dogs} dogs x {args.exams} exams x {args.items} items, seed {args.seed}"
        )
        print(
            f"machine: {platform.platform()}, {os.cpu_count()} cores, Python "
            f"{platform.python_version()}, SQLite {sqlite3.sqlite_version}"
        )
        print(f"written: {written}; {size / 1e6:.0f} MB")
        print(f"backup with its check: {copied_s:.1f} s ({size / 1e6 / copied_s:.0f} MB a second)")
        print(f"{'':<46}{'median':>13}{'worst':>13}{'aim':>12}")
        for figure in figures:
            print(figure)


if __name__ == "__main__":
    main()
