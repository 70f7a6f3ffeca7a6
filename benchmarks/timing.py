"""How well the spoken stopwatch tells when a word began.

``python -m benchmarks.timing --manifest FILE [--noise WAV --snr DB] [--json]`` takes the rows of
kind ``timing`` of a tab-separated manifest (``file``, ``kind``, ``text``: the words in order,
``onsets_s``: their true onsets, comma-separated). ``--own`` makes recordings in several voices and
speeds instead, whose truth is known by construction. Errors are estimate less truth. ``--said``
simulates breaths told by a word each, and shows how near the rate comes. ``--vosk MODEL`` tells how
well Vosk's own word times lie, with its Korean model and words of that.
"""

from __future__ import annotations

import argparse
import json
import platform
import sys
from collections.abc import Iterable, Sequence
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
from handsfree.hearing.verdict import WordTime

WRONG_S = 0.150
"""An interval that is off by more must be marked."""


@dataclass
class Tally:
    """Errors in seconds, and what was missed or marked."""

    errors: dict[str, list[float]] = field(default_factory=dict)
    sure: list[float] = field(default_factory=list)
    missed: dict[str, int] = field(default_factory=dict)
    in_doubt: dict[str, int] = field(default_factory=dict)
    intervals: list[float] = field(default_factory=list)
    unmarked: list[float] = field(default_factory=list)
    marked: int = 0
    wrong_unmarked: int = 0

    def add(self, recording: Recording, found: Sequence[WordTime]) -> None:
        """Compare what was found in one recording with its truth."""
        estimates: dict[str, tuple[float, bool]] = {}
        left = list(found)
        for word, truth in zip(recording.words, recording.onsets_s, strict=True):
            index = next((i for i, time in enumerate(left) if time.word == word), None)
            if index is None:
                self.missed[word] = self.missed.get(word, 0) + 1
                continue
            time = left[index]
            del left[: index + 1]
            error = time.start / RATE - ROOM_S - truth
            self.errors.setdefault(word, []).append(error)
            if not time.doubtful:
                self.sure.append(error)
            self.in_doubt[word] = self.in_doubt.get(word, 0) + time.doubtful
            estimates[word] = (error, time.doubtful)
        ends = [word for word in recording.words if word in ("pink", "now")]
        if ends and "release" in estimates and ends[0] in estimates:
            release, end = estimates["release"], estimates[ends[0]]
            self._interval(end[0] - release[0], marked=release[1] or end[1])

    def _interval(self, error: float, *, marked: bool) -> None:
        self.intervals.append(error)
        self.marked += marked
        if not marked:
            self.unmarked.append(error)
            self.wrong_unmarked += abs(error) > WRONG_S


@dataclass
class Result:
    """What a check would have made of the recordings, and what the search finds in them."""

    live: Tally = field(default_factory=Tally)
    searched: Tally = field(default_factory=Tally)
    doubled: int = 0
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
) -> Result:
    """Hear every recording and compare with its truth."""
    result = Result()
    for number, recording in enumerate(source):
        rng = np.random.default_rng([seed, number])
        heard = chain.hear(in_room(recording, noise, snr_db, rng), recording.words)
        result.clips += 1
        result.doubled += heard.extra
        result.live.add(recording, heard.live)
        result.searched.add(recording, heard.searched)
    return result


def _told(tally: Tally) -> dict[str, Any]:
    every = [error for errors in tally.errors.values() for error in errors]
    return {
        "words": {word: _figures(errors) for word, errors in sorted(tally.errors.items())},
        "onset": _figures(every),
        "onset_unmarked": _figures(tally.sure),
        "interval": _figures(tally.intervals),
        "interval_unmarked": _figures(tally.unmarked),
        "missed": sum(tally.missed.values()),
        "missed_by_word": tally.missed,
        "in_doubt_by_word": tally.in_doubt,
        "marked": tally.marked,
        "wrong_unmarked": tally.wrong_unmarked,
    }


def report(result: Result, about: dict[str, Any]) -> dict[str, Any]:
    """Return the figures as they go to JSON: of the live chain, and of the search within."""
    return {
        **about,
        "clips": result.clips,
        **_told(result.live),
        "doubled": result.doubled,
        "searched": _told(result.searched),
    }


def _table(figures: dict[str, Any]) -> str:
    lines = [
        f"{name}: {figures[name]}"
        for name in ("engine", "machine", "seed", "noise", "snr_db", "clips", "doubled")
    ]
    for title, told in (("as in a check", figures), ("search, whole", figures["searched"])):
        lines.append(f"{title:20}{'n':>5}{'bias':>9}{'p50':>9}{'p95':>9}{'max':>9}  (ms)")
        rows = {
            **told["words"],
            "all onsets": told["onset"],
            "  of them unmarked": told["onset_unmarked"],
            "release to pink": told["interval"],
            "    unmarked": told["interval_unmarked"],
        }
        for name, row in rows.items():
            cells = [row.get(k) for k in ("bias_ms", "p50_abs_ms", "p95_abs_ms", "max_abs_ms")]
            shown = "".join(f"{'-' if cell is None else cell:>9}" for cell in cells)
            lines.append(f"{name:20}{row['n']:>5}{shown}")
        last = ("missed", "missed_by_word", "in_doubt_by_word", "marked", "wrong_unmarked")
        lines.extend(f"{name}: {told[name]}" for name in last)
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


def _vosk(wanted: argparse.Namespace, noise: Sound | None) -> int:
    from benchmarks._timing_vosk import vosk_errors

    engine, errors, counts = vosk_errors(wanted.vosk, noise, wanted.snr, wanted.seed)
    rows = {kind: _figures(found) for kind, found in errors.items()}
    if wanted.json:
        print(json.dumps({"engine": engine, "seed": wanted.seed, **counts, "onset": rows}))
        return 0
    print(f"engine: {engine}; seed: {wanted.seed}; errors in ms, estimate less truth")
    for kind, row in rows.items():
        print(f"{kind:16}", *(f"{name} {value}" for name, value in row.items()))
    print(counts)
    return 0


def main(argv: list[str] | None = None) -> int:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.timing", description=__doc__)
    source = parser.add_mutually_exclusive_group(required=True)
    source.add_argument("--manifest", type=Path, help="tab-separated list of recordings")
    source.add_argument("--own", action="store_true", help="recordings made by eSpeak NG")
    source.add_argument("--vosk", type=Path, help="folder of Vosk's Korean model: its word times")
    source.add_argument("--said", action="store_true", help="said breaths, simulated")
    parser.add_argument("--engine", default="pocketsphinx", choices=("pocketsphinx", "vosk"))
    parser.add_argument("--model", type=Path, help="folder of a Vosk model")
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
        if wanted.vosk is not None:
            return _vosk(wanted, noise)
        chain = Chain(wanted.engine, wanted.model)
        clips = own_recordings(wanted.seed) if wanted.own else recordings(wanted.manifest)
        result = measure(clips, chain, noise, wanted.snr, wanted.seed)
    except HandsfreeError as wrong:
        print(wrong, file=sys.stderr)
        return wrong.exit_code
    if result.clips == 0:
        print(f"{wanted.manifest} has no row of kind timing: nothing was measured", file=sys.stderr)
        return 5
    about = {
        "engine": chain.name,
        "machine": f"{platform.machine()} Python {platform.python_version()}",
        "seed": wanted.seed,
        "noise": None if wanted.noise is None else wanted.noise.name,
        "snr_db": wanted.snr,
    }
    figures = report(result, about)
    print(json.dumps(figures, indent=2) if wanted.json else _table(figures))
    return 0


if __name__ == "__main__":
    sys.exit(main())
