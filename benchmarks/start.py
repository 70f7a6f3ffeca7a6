"""What a check costs to begin and to run: `python -m benchmarks.start [--json]`.

Prints the time from the start of the command to the first sample of the first prompt (with the
sound device's own opening apart, since a virtual device stands in for it), and for each rehearsal
its wall time, reply gaps and memory. Every figure is measured in a process of its own.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from typing import Any

__all__ = ["main"]

_FIRST_SAMPLE = """
import sys, time
from handsfree.session import live
from handsfree.session.driver import Driver
from handsfree.audio.virtual import VirtualDuplex, RoomNoise
live.LiveSound._open_duplex = lambda self: VirtualDuplex(noise=RoomNoise(seed=1))
def started(self, position):
    print("FIRST", time.monotonic(), flush=True)
    raise SystemExit(0)
Driver._reply_started = started
from handsfree.commands.main import main
sys.exit(main(sys.argv[1:]))
"""
_DEVICE = """
import time
began = time.monotonic()
from handsfree.audio.live import LiveDuplex
LiveDuplex().close()
print("DEVICE", time.monotonic() - began, flush=True)
"""
_AIMS = {"first_sample_s": 1.0, "reply_gap_p95_s": 0.9, "peak_rss_mb": 200.0, "wall_s": 60.0}


def main(argv: Sequence[str] | None = None) -> int:
    """Measure and print; return the exit code."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.start", description=__doc__)
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    parser.add_argument("--times", type=int, default=7, help="starts to take the median of")
    parser.add_argument("--scenario", action="append", help="scenario to rehearse; may be repeated")
    args = parser.parse_args(argv)
    found: dict[str, Any] = {
        "machine": f"{platform.machine()}, {os.cpu_count()} cores, {platform.python_version()}",
        "load": round(os.getloadavg()[0], 1),
        "first_sample_s": _first_samples(args.times),
        "device_s": _device(),
        "rehearsals": [_rehearse(name) for name in args.scenario or ("quick", "healthy")],
    }
    if args.json:
        print(json.dumps(found))
        return 0
    print(f"Machine: {found['machine']}; load {found['load']} while measuring.")
    starts = found["first_sample_s"]
    print(
        f"Command start to first sample: median {statistics.median(starts):.2f} s, "
        f"worst {max(starts):.2f} s of {len(starts)} (aim {_AIMS['first_sample_s']} s)."
    )
    device = found["device_s"]
    print(
        "Opening the sound device: "
        + ("no device on this machine." if device is None else f"{device:.2f} s beside it.")
    )
    for run in found["rehearsals"]:
        figures = run["figures"]
        gap = figures["reply_gap_s"]
        print(
            f"{run['scenario']}: {figures['right']} of {figures['answers']} right, "
            f"{figures['wrong']} wrong; reply gap p50 {gap['p50']} s, p95 {gap['p95']} s "
            f"(aim {_AIMS['reply_gap_p95_s']}); {figures['dialogue_s']} s of dialogue in "
            f"{figures['wall_s']} s (aim {_AIMS['wall_s']}); {figures['peak_rss_mb']} MB "
            f"(aim {_AIMS['peak_rss_mb']}); {figures['cpu_share']} s of computing a second."
        )
    return 0


def _first_samples(times: int) -> list[float]:
    found = []
    with tempfile.TemporaryDirectory() as folder:
        _command("--data", folder, "dog", "add", "Pepper")
        for _ in range(times):
            began = time.monotonic()
            done = subprocess.run(
                [sys.executable, "-c", _FIRST_SAMPLE, "--data", folder, "check", "Pepper",
                 "--no-keys", "--new"],
                capture_output=True, text=True, check=False, timeout=60,
            )  # fmt: skip
            lines = [line for line in done.stdout.splitlines() if line.startswith("FIRST")]
            if not lines:
                msg = f"the check did not begin: {done.stderr}"
                raise RuntimeError(msg)
            found.append(round(float(lines[0].split()[1]) - began, 3))
    return found


def _device() -> float | None:
    done = subprocess.run(
        [sys.executable, "-c", _DEVICE], capture_output=True, text=True, check=False, timeout=60
    )
    lines = [line for line in done.stdout.splitlines() if line.startswith("DEVICE")]
    return round(float(lines[0].split()[1]), 3) if lines else None


def _rehearse(name: str) -> dict[str, Any]:
    done = _command("rehearse", name, "--json")
    result: dict[str, Any] = json.loads(done.stdout)
    figures = result["figures"]
    figures["cpu_share"] = round(figures["cpu_s"] / figures["dialogue_s"], 3)
    return result


def _command(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "handsfree.commands.main", *words],
        capture_output=True, text=True, check=True, timeout=600,
    )  # fmt: skip


if __name__ == "__main__":
    sys.exit(main())
