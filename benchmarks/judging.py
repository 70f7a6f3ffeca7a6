"""What judging costs: ``python -m benchmarks.judging [--exams N] [--repeats N] [--json]``.

Loading protocol and table in fresh processes; judging one full exam with N earlier ones of the dog
(as handed over, and already indexed); what an answer costs in a running check. The exams are
invented: every question that a full check opens with, one in thirty unusual, drawn by the seed.
"""

from __future__ import annotations

import argparse
import json
import platform
import random
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import date, timedelta

from handsfree.judging.engine import alarms, judge
from handsfree.judging.model import Finding, PastExam
from handsfree.judging.past import Past
from handsfree.judging.rules import read_table
from handsfree.protocol.loader import load
from handsfree.protocol.subject import Subject

_LOADING = """
import time
began = time.perf_counter()
from handsfree.judging.rules import table_for
from handsfree.protocol.loader import load
imported = time.perf_counter()
protocol = load()
read = time.perf_counter()
table_for(protocol)
print(imported - began, read - imported, time.perf_counter() - read)
"""

_USUAL_NUMBERS = {"kg": 20.0, "Cel": 38.5, "/min": 16.0, "s": 1.2, "mm": 12.0, "mL": 900.0}
_DAY = date(2026, 3, 14)


def loading_ms(repeats: int) -> dict[str, float]:
    """Median milliseconds of imports, protocol and table, each time in a fresh process."""
    runs = []
    for _ in range(repeats):
        done = subprocess.run(
            [sys.executable, "-c", _LOADING], capture_output=True, text=True, check=True
        )
        runs.append([1000 * float(part) for part in done.stdout.split()])
    imports, protocol, table = (statistics.median(column) for column in zip(*runs, strict=True))
    return {
        "imports_ms": imports,
        "protocol_ms": protocol,
        "table_ms": table,
        "protocol_and_table_ms": protocol + table,
    }


def invented_exam(draw: random.Random) -> tuple[Finding, ...]:
    """Answers to every question that a full check opens with, each side."""
    found = []
    for region in load().regions.values():
        for question in region.question:
            if question.when and question.unit is None:
                continue
            for side in question.sides or (None,):
                value: str | float
                if question.unit is not None:
                    value = _USUAL_NUMBERS[question.unit] * (1 + 0.05 * draw.random())
                elif question.normal and draw.random() > 1 / 30:
                    value = question.normal[0]
                else:
                    value = draw.choice(list(question.values))
                item = f"{region.id}.{question.id}"
                found.append(Finding(item=item, side=side, value=value, unit=question.unit))
    return tuple(found)


def median_ms(repeats: int, what: Callable[[], object]) -> tuple[float, float]:
    """Median and worst milliseconds of a call."""
    what()
    times = []
    for _ in range(repeats):
        began = time.perf_counter()
        what()
        times.append(1000 * (time.perf_counter() - began))
    return statistics.median(times), max(times)


def measure(exams: int, repeats: int, seed: int) -> dict[str, float | str]:
    """Every figure by its name."""
    draw = random.Random(seed)
    table = read_table()
    history = [
        PastExam(exam_id=str(k), on=_DAY - timedelta(days=k + 1), findings=invented_exam(draw))
        for k in range(exams)
    ]
    today = invented_exam(draw)
    dog = Subject(name="Tilly", age_months=60, weight_kg=20.0)
    past = Past.of(history)
    whole = median_ms(repeats, lambda: judge(today, dog, history, on=_DAY, table=table))
    indexed = median_ms(repeats, lambda: judge(today, dog, past, on=_DAY, table=table))
    began = time.process_time()
    for _ in range(repeats):
        judge(today, dog, history, on=_DAY, table=table)
    processor = 1000 * (time.process_time() - began) / repeats
    answer = median_ms(
        repeats, lambda: alarms(today[-1], today[:-1], dog, past, on=_DAY, table=table)
    )
    return {
        "machine": f"{platform.machine()} Python {platform.python_version()}",
        "seed": float(seed),
        "earlier_exams": float(exams),
        "answers_an_exam": float(len(today)),
        "rows": float(len(table.rules)),
        **loading_ms(min(repeats, 7)),
        "judge_ms": whole[0],
        "judge_worst_ms": whole[1],
        "judge_processor_ms": processor,
        "judge_indexed_ms": indexed[0],
        "each_answer_ms": answer[0],
    }


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--exams", type=int, default=200, help="earlier exams of the dog")
    parser.add_argument("--repeats", type=int, default=25)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", action="store_true")
    args = parser.parse_args()
    figures = measure(args.exams, args.repeats, args.seed)
    if args.json:
        print(json.dumps(figures, indent=2))
        return
    limits = {"judge_ms": 20.0, "protocol_and_table_ms": 150.0}
    for name, value in figures.items():
        shown = value if isinstance(value, str) else f"{value:.1f}"
        limit = f"   (at most {limits[name]:.0f})" if name in limits else ""
        print(f"{name:24}{shown}{limit}")


if __name__ == "__main__":
    main()
