"""How well it hears: ``python -m benchmarks.hearing --manifest FILE``.

Plays every recording of a manifest through the true chain (segmenting, recogniser, second ear,
trust), with room noise around it, and counts what came out. Answers without a question are tried
at up to five that cover their text; asides and noises at every one of a fixed set.
"""

from __future__ import annotations

import argparse
import json
import platform
import resource
import sys
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks._chain import ASIDE_QUESTIONS, Played, Room, covering, listenings, play
from benchmarks._manifest import Entry, read_manifest, read_sound
from handsfree.errors import CallerError, DataError, HandsfreeError
from handsfree.hearing import engines
from handsfree.hearing.grammar import compose
from handsfree.hearing.listener import Hearing
from handsfree.hearing.verdict import Listening, Outcome
from handsfree.protocol.loader import load

__all__ = ["main", "measure"]

DEVELOPMENT_VOICES = frozenset(
    {
        "af_alloy", "af_aoede", "af_jessica", "af_kore", "af_river", "af_sky", "am_adam",
        "am_echo", "am_eric", "am_liam", "am_onyx", "bf_alice", "bf_lily", "bm_daniel",
        "bm_lewis", "hm_omega",
    }
)  # fmt: skip
"""Voices that thresholds were tuned on: figures on them are no proof."""


@dataclass
class Figures:
    """What is counted while recordings are played."""

    answers: Counter[str] = field(default_factory=Counter)
    asides: Counter[str] = field(default_factory=Counter)
    noises: Counter[str] = field(default_factory=Counter)
    gaps: list[float] = field(default_factory=list)
    cpu_s: float = 0.0
    sound_s: float = 0.0
    open_s: float = 0.0
    uncovered: Counter[str] = field(default_factory=Counter)
    unreadable: list[str] = field(default_factory=list)
    confused: Counter[tuple[str, str]] = field(default_factory=Counter)
    missed: Counter[tuple[str, str]] = field(default_factory=Counter)
    let_in: Counter[tuple[str, str]] = field(default_factory=Counter)
    voices: Counter[str] = field(default_factory=Counter)

    def add(self, played: Played) -> None:
        """Count time."""
        self.cpu_s += played.cpu_s
        self.sound_s += played.sound_s

    def as_json(self) -> dict[str, Any]:
        """Return the figures as the benchmark prints them."""
        gaps = self.gaps or [0.0]
        not_ours = self.asides["accepted"] + self.noises["accepted"]
        kept = ("n", "right", "wrong", "asked_back", "ignored", "uncovered", "retracted")
        others = ("n", "accepted", "asked_back", "ignored", "retracted")
        unseen = {v: n for v, n in self.voices.items() if v not in DEVELOPMENT_VOICES}
        return {
            "answers": {key: self.answers[key] for key in kept},
            "asides": {key: self.asides[key] for key in others},
            "noises": {key: self.noises[key] for key in others},
            "gap_s": {
                "p50": round(float(np.quantile(gaps, 0.5)), 3),
                "p95": round(float(np.quantile(gaps, 0.95)), 3),
            },
            "rtf": round(self.cpu_s / max(self.sound_s, 1e-9), 4),
            "peak_rss_mb": round(_peak_mb(), 1),
            "accepted_per_open_hour": round(not_ours / max(self.open_s / 3600.0, 1e-9), 2),
            "open_hours": round(self.open_s / 3600.0, 3),
            "voices": {
                "used_in_tuning": sum(self.voices.values()) - sum(unseen.values()),
                "not_used": sum(unseen.values()),
            },
            "unreadable": self.unreadable,
        }


def _peak_mb() -> float:
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (1024.0**2 if sys.platform == "darwin" else 1024.0)


def measure(
    hearing: Hearing,
    entries: Sequence[Entry],
    room: Room,
    *,
    seed: int,
    told: Any = None,
) -> Figures:
    """Play all recordings and count; ``told`` gets a line for each that cannot be read."""
    known = listenings(load())
    figures = Figures()
    for number, entry in enumerate(entries):
        rng = np.random.default_rng((seed, number))
        try:
            sound = read_sound(entry.path)
        except DataError as wrong:
            figures.unreadable.append(entry.path.name)
            if told is not None:
                told(str(wrong))
            continue
        figures.voices[entry.voice or "unnamed"] += 1
        if entry.kind == "answer":
            _answer(hearing, entry, sound, known, room, rng, figures)
        else:
            _not_ours(hearing, entry, sound, known, room, rng, figures)
    return figures


def _answer(
    hearing: Hearing, entry: Entry, sound: Any, known: dict[str, Listening], room: Room,
    rng: np.random.Generator, figures: Figures,
) -> None:  # fmt: skip
    places = covering(entry.text, entry.question, known, rng)
    if not places:
        figures.answers["uncovered"] += 1
        figures.uncovered[entry.text] += 1
        return
    for place in places:
        wanted = compose(known[place]).meaning(entry.text)
        played = play(hearing, known[place], sound, room, rng)
        figures.add(played)
        figures.answers["n"] += 1
        figures.answers["retracted"] += len(played.retracted)
        if played.gap_s is not None:
            figures.gaps.append(played.gap_s)
        first = played.accepted
        if first is not None and first.best is not None:
            right = first.best.meaning == wanted
            figures.answers["right" if right else "wrong"] += 1
            if not right:
                figures.confused[entry.text, first.best.words] += 1
        elif played.retracted or any(v.outcome is Outcome.ASK_BACK for v in played.verdicts):
            figures.answers["asked_back"] += 1
            figures.missed[entry.text, "asked back"] += 1
        else:
            figures.answers["ignored"] += 1
            figures.missed[entry.text, "ignored"] += 1


def _not_ours(
    hearing: Hearing, entry: Entry, sound: Any, known: dict[str, Listening], room: Room,
    rng: np.random.Generator, figures: Figures,
) -> None:  # fmt: skip
    counts = figures.asides if entry.kind == "aside" else figures.noises
    for place in ASIDE_QUESTIONS:
        played = play(hearing, known[place], sound, room, rng)
        figures.add(played)
        figures.open_s += played.sound_s
        counts["n"] += 1
        counts["retracted"] += len(played.retracted)
        accepted = played.accepted
        if accepted is not None and accepted.best is not None:
            counts["accepted"] += 1
            figures.let_in[entry.text or entry.path.name, accepted.best.words] += 1
        elif any(v.outcome is Outcome.ASK_BACK for v in played.verdicts):
            counts["asked_back"] += 1
        else:
            counts["ignored"] += 1


def _print(figures: Figures, about: dict[str, Any]) -> None:
    told = figures.as_json()
    print(f"Machine: {platform.machine()}, {platform.system()}, Python {platform.python_version()}")
    for name, value in about.items():
        print(f"{name}: {value}")
    for kind, keys in (
        ("answers", ("right", "wrong", "asked_back", "ignored")),
        ("asides", ("accepted", "asked_back", "ignored")),
        ("noises", ("accepted", "asked_back", "ignored")),
    ):
        n = told[kind]["n"]
        shares = ", ".join(
            f"{k} {told[kind][k]} ({100 * told[kind][k] / max(n, 1):.1f} %)" for k in keys
        )
        print(f"{kind}: {n} played; {shares}; retracted {told[kind]['retracted']}")
    print(f"gap from the last speech: p50 {told['gap_s']['p50']} s, p95 {told['gap_s']['p95']} s")
    print(f"computing: {told['rtf']} x real time; peak memory {told['peak_rss_mb']} MB")
    print(
        f"not for us, yet accepted: {told['accepted_per_open_hour']} an hour of open microphone "
        f"({told['open_hours']} hours)"
    )
    print(
        f"clips of voices used in tuning: {told['voices']['used_in_tuning']}; "
        f"of others: {told['voices']['not_used']}"
    )
    for title, counter in (
        ("taken for something else", figures.confused),
        ("let in though not for us", figures.let_in),
        ("not taken", figures.missed),
    ):
        for (said, heard), times in counter.most_common(25):
            print(f"{title}: {said!r} -> {heard!r}, {times} times")
    for text, times in sorted(figures.uncovered.items()):
        print(f"covered by no grammar: {text!r}, {times} times")
    for name in figures.unreadable:
        print(f"unreadable: {name}")


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m benchmarks.hearing", description=__doc__)
    parser.add_argument("--manifest", type=Path, required=True, help="tab-separated, with a header")
    parser.add_argument("--engine", choices=engines.ENGINES, default="pocketsphinx")
    parser.add_argument("--vosk-model", type=Path, help="folder of a Vosk model")
    parser.add_argument("--noise", type=Path, help="WAV or FLAC that is mixed in")
    parser.add_argument("--snr", type=float, default=10.0, help="dB of speech above --noise")
    parser.add_argument("--as-heard", action="store_true", help="both levels A-weighted")
    parser.add_argument("--distance", type=float, help="metres to the mouth, in a ringing room")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--limit", type=int, help="a seeded sample of so many recordings a kind")
    parser.add_argument("--without-ear", action="store_true", help="leave the second ear out")
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    return parser


def _sample(entries: list[Entry], limit: int | None, seed: int) -> list[Entry]:
    if limit is None:
        return entries
    rng = np.random.default_rng(seed)
    kept: list[Entry] = []
    for kind in dict.fromkeys(entry.kind for entry in entries):
        of_kind = [entry for entry in entries if entry.kind == kind]
        kept += [of_kind[i] for i in sorted(rng.permutation(len(of_kind))[:limit])]
    return kept


def main(argv: Sequence[str] | None = None) -> int:
    """Run the benchmark; return the exit code."""
    args = _parser().parse_args(argv)
    try:
        entries, other = read_manifest(args.manifest)
        if not entries:
            msg = f"{args.manifest} lists no answer, aside or noise. Nothing was measured."
            raise CallerError(msg)
        noise = read_sound(args.noise) if args.noise else None
        room = Room(noise=noise, snr_db=args.snr, as_heard=args.as_heard, distance_m=args.distance)
        hearing = engines.build(
            args.engine, vosk_model=args.vosk_model, with_ear=not args.without_ear
        )
        chosen = _sample(entries, args.limit, args.seed)
        figures = measure(hearing, chosen, room, seed=args.seed, told=_complain)
    except HandsfreeError as wrong:
        _complain(str(wrong))
        return wrong.exit_code
    for kind, times in other.items():
        _complain(f"{times} rows of kind {kind!r} are left alone.")
    ear = "left out" if args.without_ear else (engines.second_ear()[1] or "at work")
    unit = "dB, A-weighted" if args.as_heard else "dB"
    about = {
        "manifest": args.manifest.name,
        "engine": args.engine,
        "second ear": ear,
        "noise": f"{args.noise.name} at {args.snr:g} {unit}" if args.noise else "none",
        "distance": f"{args.distance:g} m" if args.distance else "as recorded",
        "seed": args.seed,
        "open while asides and noises play": ", ".join(ASIDE_QUESTIONS),
    }
    if args.json:
        print(json.dumps({**figures.as_json(), "about": about}))
    else:
        _print(figures, about)
    return DataError.exit_code if figures.unreadable else 0


def _complain(line: str) -> None:
    print(f"benchmarks.hearing: {line}", file=sys.stderr)


if __name__ == "__main__":
    sys.exit(main())
