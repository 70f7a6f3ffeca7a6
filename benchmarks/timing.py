"""How well the spoken stopwatch tells when a word began.

``python -m benchmarks.timing --manifest FILE [--noise WAV --snr DB] [--json]`` takes the rows of
kind ``timing`` of a tab-separated manifest (``file``, ``kind``, ``text``: the words in order,
``onsets_s``: their true onsets, comma-separated). ``--own`` makes recordings in several voices and
speeds instead, whose truth is known by construction. Errors are estimate less truth. ``--said``
simulates breaths told by a word each, and shows how near the rate comes.
"""

from __future__ import annotations

import argparse
import json
import platform
import sys
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks._timing_chain import Chain
from benchmarks._timing_said import said_rows
from benchmarks._timing_sound import (
    RATE,
    ROOM_S,
    Recording,
    Sound,
    in_room,
    own_recordings,
    read_sound,
    recordings,
)
from handsfree.errors import HandsfreeError

WRONG_S = 0.150
"""An interval that is off by more must be marked."""


@dataclass
class Tally:
    """Errors in seconds, and what was missed, doubled or marked."""

    errors: dict[str, list[float]] = field(default_factory=dict)
    missed: dict[str, int] = field(default_factory=dict)
    chain_missed: dict[str, int] = field(default_factory=dict)
    intervals: list[float] = field(default_factory=list)
    unmarked: list[float] = field(default_factory=list)
    doubled: int = 0
    doubtful: int = 0
    wrong_unmarked: int = 0
    clips: int = 0


def _figures(errors_s: list[float]) -> dict[str, float | int | None]:
    if not errors_s:
        return {"n": 0, "bias_ms": None, "p50_abs_ms": None, "p95_abs_ms": None}
    milliseconds = np.asarray(errors_s) * 1000.0
    return {
        "n": len(errors_s),
        "bias_ms": round(float(milliseconds.mean()), 1),
        "p50_abs_ms": round(float(np.quantile(np.abs(milliseconds), 0.5)), 1),
        "p95_abs_ms": round(float(np.quantile(np.abs(milliseconds), 0.95)), 1),
        "max_abs_ms": round(float(np.abs(milliseconds).max()), 1),
    }


def measure(
    source: Iterable[Recording], chain: Chain, noise: Sound | None, snr_db: float | None, seed: int
) -> Tally:
    """Hear every recording and compare with its truth."""
    tally = Tally()
    for number, recording in enumerate(source):
        rng = np.random.default_rng([seed, number])
        heard = chain.hear(in_room(recording, noise, snr_db, rng), recording.words)
        tally.clips += 1
        tally.doubled += heard.extra
        in_chain = [time.word for time in heard.chain]
        estimates: list[tuple[float, bool] | None] = []
        left = list(heard.found)
        for word, truth in zip(recording.words, recording.onsets_s, strict=True):
            if word not in in_chain:
                tally.chain_missed[word] = tally.chain_missed.get(word, 0) + 1
            index = next((i for i, onset in enumerate(left) if onset.word == word), None)
            if index is None:
                tally.missed[word] = tally.missed.get(word, 0) + 1
                estimates.append(None)
                continue
            onset = left[index]
            del left[: index + 1]
            error = onset.start / RATE - ROOM_S - truth
            tally.errors.setdefault(word, []).append(error)
            estimates.append((error, bool(onset.doubt)))
        _interval(tally, recording, estimates)
    return tally


def _interval(
    tally: Tally, recording: Recording, estimates: list[tuple[float, bool] | None]
) -> None:
    if "release" not in recording.words or "pink" not in recording.words:
        return
    release = estimates[recording.words.index("release")]
    pink = estimates[recording.words.index("pink")]
    if release is None or pink is None:
        return
    error = pink[0] - release[0]
    doubtful = release[1] or pink[1]
    tally.intervals.append(error)
    tally.doubtful += doubtful
    if not doubtful:
        tally.unmarked.append(error)
        tally.wrong_unmarked += abs(error) > WRONG_S


def report(tally: Tally, about: dict[str, Any]) -> dict[str, Any]:
    """Return the figures as they go to JSON."""
    every = [error for errors in tally.errors.values() for error in errors]
    return {
        **about,
        "clips": tally.clips,
        "words": {word: _figures(errors) for word, errors in sorted(tally.errors.items())},
        "onset": _figures(every),
        "interval": _figures(tally.intervals),
        "interval_unmarked": _figures(tally.unmarked),
        "missed": sum(tally.missed.values()),
        "missed_by_word": tally.missed,
        "missed_by_chain_alone": tally.chain_missed,
        "doubled": tally.doubled,
        "doubtful": tally.doubtful,
        "wrong_unmarked": tally.wrong_unmarked,
    }


def _table(figures: dict[str, Any]) -> str:
    lines = [
        f"{name}: {figures[name]}" for name in ("engine", "machine", "seed", "noise", "snr_db")
    ]
    lines.append(f"{'':20}{'n':>5}{'bias':>9}{'p50':>9}{'p95':>9}{'max':>9}  (ms)")
    rows = {
        **figures["words"],
        "all onsets": figures["onset"],
        "release to pink": figures["interval"],
        "  of them unmarked": figures["interval_unmarked"],
    }
    for name, row in rows.items():
        cells = [row.get(k) for k in ("bias_ms", "p50_abs_ms", "p95_abs_ms", "max_abs_ms")]
        shown = "".join(f"{'-' if cell is None else cell:>9}" for cell in cells)
        lines.append(f"{name:20}{row['n']:>5}{shown}")
    last = ("clips", "missed", "missed_by_chain_alone", "doubled", "doubtful", "wrong_unmarked")
    lines.extend(f"{name}: {figures[name]}" for name in last)
    return "\n".join(lines)


def _said(seed: int, *, as_json: bool) -> int:
    rows = said_rows(seed)
    if as_json:
        print(json.dumps({"seed": seed, "said": rows}, indent=2))
        return 0
    print(f"seed: {seed}; wander: share by which the period wanders; per_min: true rate")
    print("".join(f"{name:>16}" for name in rows[0]))
    for row in rows:
        print("".join(f"{value:>16}" for value in row.values()))
    return 0


def main(argv: list[str] | None = None) -> int:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.timing", description=__doc__)
    source = parser.add_mutually_exclusive_group(required=True)
    source.add_argument("--manifest", type=Path, help="tab-separated list of recordings")
    source.add_argument("--own", action="store_true", help="recordings made by eSpeak NG")
    source.add_argument("--said", action="store_true", help="said breaths, simulated")
    parser.add_argument("--engine", default="pocketsphinx", choices=("pocketsphinx", "vosk"))
    parser.add_argument("--noise", type=Path, help="a recording of noise, 15 s or more")
    parser.add_argument("--snr", type=float, help="dB of the words above the noise")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--json", action="store_true")
    wanted = parser.parse_args(argv)
    if (wanted.noise is None) != (wanted.snr is None):
        parser.error("--noise and --snr belong together")
    if wanted.said:
        return _said(wanted.seed, as_json=wanted.json)
    try:
        noise = None if wanted.noise is None else read_sound(wanted.noise)
        chain = Chain(wanted.engine)
        clips = own_recordings(wanted.seed) if wanted.own else recordings(wanted.manifest)
        tally = measure(clips, chain, noise, wanted.snr, wanted.seed)
    except HandsfreeError as wrong:
        print(wrong, file=sys.stderr)
        return wrong.exit_code
    if tally.clips == 0:
        print(f"{wanted.manifest} has no row of kind timing: nothing was measured", file=sys.stderr)
        return 5
    about = {
        "engine": chain.name,
        "machine": f"{platform.machine()} Python {platform.python_version()}",
        "seed": wanted.seed,
        "noise": None if wanted.noise is None else wanted.noise.name,
        "snr_db": wanted.snr,
    }
    figures = report(tally, about)
    print(json.dumps(figures, indent=2) if wanted.json else _table(figures))
    return 0


if __name__ == "__main__":
    sys.exit(main())
