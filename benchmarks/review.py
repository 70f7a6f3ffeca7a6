"""Looking back at the size of years: what a page, a question and an export cost.

Run on a database that ``benchmarks.records --keep DIR`` made:
``python -m benchmarks.review --data DIR``. Prints a table; memory is the largest resident size of
the exporting process, its interpreter included.
"""

from __future__ import annotations

import argparse
import os
import platform
import sqlite3
import subprocess
import sys
import tempfile
import time
from datetime import date
from pathlib import Path

from benchmarks.records import Figure, timed
from handsfree.records import Store
from handsfree.review.gather import gather
from handsfree.review.overview import gather_all
from handsfree.review.page import overview_page, report_page
from handsfree.review.questions import answer, understood

QUESTIONS = (
    "what was the last weight",
    "what was the last temperature",
    "when were the ears last red",
    "when were the ears last unusual",
    "when was the nose last blue",
    "when did she last vomit",
    "how were the eyes last time",
    "what changed",
    "what was skipped last time",
    "what was the last result",
    "when was the last check",
)
MEMORY_MB = 300.0
REPORT_S, OVERVIEW_S, QUESTION_S = 1.0, 2.0, 0.05


def export(data: Path, kind: str, target: Path) -> tuple[float, float]:
    """Export everything in a process of its own; return seconds and megabytes of memory."""
    began = time.perf_counter()
    child = subprocess.Popen(
        [
            *(sys.executable, "-m", "handsfree", "--data", str(data)),
            *("export", "--format", kind, "-o", str(target)),
        ],
        stdout=subprocess.DEVNULL,
    )
    _, status, usage = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode != 0:
        msg = f"exporting {kind} failed with {child.returncode}"
        raise RuntimeError(msg)
    unit = 1e6 if sys.platform == "darwin" else 1e3  # bytes there, kibibytes elsewhere
    return time.perf_counter() - began, usage.ru_maxrss / unit


def main() -> None:
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", metavar="DIR", required=True, help="folder of the records")
    parser.add_argument("--no-exports", action="store_true", help="leave the exports out")
    args = parser.parse_args()
    data = Path(args.data)
    with Store.open(data) as store:
        dogs = [dog for dog in store.dogs.all() if dog.name.startswith("Invented dog ")]
        dog = next(dog for dog in dogs if dog.name == "Invented dog 0")
        on = store.exams.of_dog(dog.id, limit=1)[0].begun_at.date()
        figures = [
            timed(
                "one dog's report",
                lambda: report_page(gather(store, dog.id, on)),
                aim_s=REPORT_S,
            ),
            timed(
                "the overview of all dogs",
                lambda: overview_page(gather_all(store, on)),
                aim_s=OVERVIEW_S,
            ),
            *(_question(store, dog.id, text, on) for text in QUESTIONS),
        ]
    print(f"review: {data}, {len(dogs)} dogs")
    print(
        f"machine: {platform.platform()}, {os.cpu_count()} cores, Python "
        f"{platform.python_version()}, SQLite {sqlite3.sqlite_version}"
    )
    print(f"{'':<46}{'median':>13}{'worst':>13}{'aim':>12}")
    for figure in figures:
        print(figure)
    if args.no_exports:
        return
    with tempfile.TemporaryDirectory(prefix="handsfree-bench-") as scratch:
        for kind in ("csv", "jsonl", "fhir", "ical"):
            target = Path(scratch) / kind
            seconds, megabytes = export(data, kind, target)
            met = "met" if megabytes <= MEMORY_MB else "MISSED"
            size = target.stat().st_size / 1e6
            target.unlink()
            print(
                f"export of everything as {kind:<6} {seconds:7.1f} s, {size:7.0f} MB, "
                f"{megabytes:5.0f} MB of memory (aim {MEMORY_MB:.0f})  {met}"
            )


def _question(store: Store, dog_id: str, text: str, on: date) -> Figure:
    def ask() -> str:
        dog = store.dogs.get(dog_id)
        return answer(store, dog, understood(text, dog.name), on)

    return timed(f"question: {text}", ask, aim_s=QUESTION_S)


if __name__ == "__main__":
    main()
