"""What speaking costs: ``python -m benchmarks.speaking [--repeats N] [--json]``.

From the start of a fresh Python to the first prompt's samples, the rendering of single prompts at
several paces, the pace that is really spoken, and the memory of the engine's process. Prompts are
of the length that the check uses. Nothing is random, so there is no seed.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import statistics
import subprocess
import sys
import time
from pathlib import Path

from handsfree.audio.device import SAMPLE_RATE
from handsfree.speaking.espeak import Pyttsx3Synthesiser
from handsfree.speaking.voice import Voice

PROMPTS = (
    "What colour are the gums?",
    "How does he walk?",
    "Is the breathing quiet and easy?",
    "Feel along the ribs. Can you feel them?",
    "Press the gum, and say press.",
    "Any lump that was not there before?",
)
PASSAGE = (
    "Lift the lip on one side and look at the gum above the big tooth. Healthy gums are pink and "
    "moist. If the gums are black by nature, look at the inner eyelid instead. Say pink, pale, "
    "white, blue, yellow or red. You can also say can't see, or won't let me."
)

_FIRST = """
import time
began = time.perf_counter()
from handsfree.speaking import Pyttsx3Synthesiser, Voice
engine = Pyttsx3Synthesiser()
engine.start()
voice = Voice(engine)
sound = voice.get("What colour are the gums?")
print(time.perf_counter() - began)
voice.close()
engine.close()
"""


def first_prompt_s(repeats: int) -> tuple[list[float], list[float]]:
    """Return seconds to the first prompt, whole (with Python's own start) and without it."""
    whole, inside = [], []
    for _ in range(repeats):
        began = time.perf_counter()
        # Read line by line: the end of the process is no part of it.
        with subprocess.Popen(
            [sys.executable, "-u", "-c", _FIRST], stdout=subprocess.PIPE, text=True
        ) as process:
            assert process.stdout is not None
            inside.append(float(process.stdout.readline()))
            whole.append(time.perf_counter() - began)
    return whole, inside


def resident_mb(pid: int) -> float | None:
    """Return a process's resident memory, where the system says it in /proc."""
    try:
        status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    except OSError:
        return None
    line = next(line for line in status.splitlines() if line.startswith("VmRSS:"))
    return int(line.split()[1]) / 1024


def measure(repeats: int) -> dict[str, object]:
    """Return every figure by its name."""
    whole, inside = first_prompt_s(repeats)
    figures: dict[str, object] = {
        "first_prompt_s": {"median": statistics.median(whole), "max": max(whole)},
        "first_prompt_without_python_start_s": {
            "median": statistics.median(inside),
            "max": max(inside),
        },
    }
    engine = Pyttsx3Synthesiser()
    voice = Voice(engine, ahead=False)
    engine.render("warm", rate_wpm=170)
    renders = {}
    for rate in (160, 200, 240, 300):
        times, lengths = [], []
        for _ in range(repeats):
            for prompt in PROMPTS:
                began = time.perf_counter()
                sound = engine.render(prompt, rate_wpm=rate)
                times.append(time.perf_counter() - began)
                lengths.append(len(sound) / SAMPLE_RATE)
        passage = len(engine.render(PASSAGE, rate_wpm=rate)) / SAMPLE_RATE
        renders[rate] = {
            "median_ms": 1_000 * statistics.median(times),
            "max_ms": 1_000 * max(times),
            "times_real_time": sum(lengths) / sum(times),
            "spoken_wpm": 60 * len(PASSAGE.split()) / passage,
        }
    figures["renders"] = renders
    voice.get(PROMPTS[0])
    began = time.perf_counter()
    for _ in range(1_000):
        voice.get(PROMPTS[0])
    figures["cached_us"] = 1_000 * (time.perf_counter() - began)
    process = engine._process
    figures["engine_process_mb"] = None if process is None else resident_mb(process.pid)
    figures["own_process_mb"] = resident_mb(os.getpid())
    figures["engine"] = f"{engine.name}: {engine.version}"
    figures["machine"] = (
        f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}"
    )
    figures["seed"] = None
    figures["repeats"] = repeats
    voice.close()
    engine.close()
    return figures


def main() -> None:
    """Measure and print a table, or one JSON object."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--repeats", type=int, default=10)
    parser.add_argument("--json", action="store_true")
    chosen = parser.parse_args()
    figures = measure(chosen.repeats)
    if chosen.json:
        print(json.dumps(figures))
        return
    print(f"Speaking, {figures['engine']}; {figures['machine']}; {chosen.repeats} repeats; no seed")
    for name, value in figures.items():
        if name == "renders":
            assert isinstance(value, dict)
            for rate, row in value.items():
                print(
                    f"render at {rate} words/min: median {row['median_ms']:.1f} ms, "
                    f"max {row['max_ms']:.1f} ms, {row['times_real_time']:.0f} x real time, "
                    f"really spoken {row['spoken_wpm']:.0f} words/min"
                )
        elif isinstance(value, dict):
            print(f"{name}: median {value['median']:.3f}, max {value['max']:.3f}")
        elif isinstance(value, float):
            print(f"{name}: {value:.1f}")


if __name__ == "__main__":
    main()
