"""Keeps what was heard and judges it again: ``python -m benchmarks.replay keep`` and ``tally``.

Playing a set of recordings takes minutes, judging its evidence a second. ``keep`` plays a manifest
through the true chain in one room and writes the evidence of every utterance; ``tally`` judges kept
evidence by the rules of the day and counts. When an utterance ends, and what is taken back, is as
it was when the sound was played.
"""

from __future__ import annotations

import argparse
import itertools
import multiprocessing
import pickle
import sys
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from benchmarks._chain import ASIDE_QUESTIONS, Room, barking
from benchmarks._evidence import Kept, judged, keep, read
from benchmarks._manifest import KINDS, Entry, read_manifest, read_sound
from handsfree.errors import CallerError, HandsfreeError

__all__ = ["main"]

BARKS = "barks"
"""In place of a noise's file: synthetic barking, all the time."""


def _tally(args: argparse.Namespace) -> None:
    for path in args.kept:
        _tell(path, read(path), args.misses)


def _tell(path: Path, kept: Sequence[Kept], misses: int) -> None:
    for kind in dict.fromkeys(one.kind for one in kept):
        outcomes = [(one, *judged(one)) for one in kept if one.kind == kind]
        count = Counter(outcome for _, outcome, _ in outcomes)
        n = len(outcomes)
        shares = ", ".join(
            f"{name} {count[name]} ({100 * count[name] / n:.1f} %)"
            for name in ("right", "wrong", "asked_back", "ignored")
            if kind == "answer" or name != "right"
        )
        print(f"{path.name} {kind}: {n} played; {shares}")
        gaps = [one.gap_s for one in kept if one.kind == kind == "answer" and one.gap_s is not None]
        if gaps:
            print(f"gap: p50 {np.quantile(gaps, 0.5):.2f} s, p95 {np.quantile(gaps, 0.95):.2f} s")
        shown = [o for o in outcomes if o[1] == "wrong"]
        if kind == "answer":
            shown += [o for o in outcomes if o[1] in {"asked_back", "ignored"}][:misses]
        for one, outcome, verdict in shown:
            best = verdict.best if verdict is not None else None
            heard = f"{best.words!r} {best.probability:.2f}" if best is not None else "nothing"
            reason = verdict.reason if verdict is not None else "no utterance"
            print(f"  {outcome}: {one.text!r} at {one.place} ({one.voice or one.name}): ", end="")
            print(f"{heard}, {reason}")


def _room(args: argparse.Namespace) -> Room:
    noise = None
    if args.noise == BARKS:
        noise = barking(args.seed)
    elif args.noise is not None:
        noise = read_sound(Path(args.noise))
    return Room(noise=noise, snr_db=args.snr, as_heard=args.as_heard, distance_m=args.distance)


def _keep(args: argparse.Namespace) -> None:
    entries, _ = read_manifest(args.manifest)
    entries = [e for e in entries if args.kind in {None, e.kind}]
    if args.voices:
        entries = [e for e in entries if e.voice in args.voices]
    if not entries:
        msg = f"{args.manifest} lists nothing of what was asked for. Nothing was played."
        raise CallerError(msg)
    room = _room(args)
    jobs = [(entries, room, part) for part in range(args.processes)]
    with multiprocessing.get_context("spawn").Pool(args.processes) as pool:
        found = pool.starmap(
            _keep_part, [(*job, args.processes, args.seed, args.places, args.at) for job in jobs]
        )
    with args.out.open("wb") as file:
        pickle.dump(list(itertools.chain.from_iterable(found)), file)


def _keep_part(
    entries: Sequence[Entry],
    room: Room,
    part: int,
    parts: int,
    seed: int,
    places: int,
    at: list[str],
) -> list[Kept]:
    return keep(entries, room, seed=seed, places=places, at=at, part=part, parts=parts)


def main(argv: Sequence[str] | None = None) -> int:
    """Run; return the exit code."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.replay", description=__doc__)
    does = parser.add_subparsers(required=True)
    keeping = does.add_parser("keep", help="play a manifest and keep the evidence")
    keeping.add_argument("--manifest", type=Path, required=True)
    keeping.add_argument("--out", type=Path, required=True)
    keeping.add_argument("--noise", help=f"a WAV or FLAC file, or {BARKS!r}")
    keeping.add_argument("--snr", type=float, default=10.0, help="dB of speech above --noise")
    keeping.add_argument("--as-heard", action="store_true", help="both levels A-weighted")
    keeping.add_argument("--distance", type=float, help="metres to the mouth")
    keeping.add_argument("--kind", choices=KINDS)
    keeping.add_argument("--voices", nargs="*", default=[])
    keeping.add_argument("--places", type=int, default=1, help="questions for each recording")
    keeping.add_argument(
        "--at", nargs="*", default=list(ASIDE_QUESTIONS), help="questions for asides and noises"
    )
    keeping.add_argument("--processes", type=int, default=1)
    keeping.add_argument("--seed", type=int, default=1)
    keeping.set_defaults(run=_keep)
    tallying = does.add_parser("tally", help="judge what was kept by the rules of the day")
    tallying.add_argument("kept", type=Path, nargs="+")
    tallying.add_argument("--misses", type=int, default=0, help="how many of them are told")
    tallying.set_defaults(run=_tally)
    args = parser.parse_args(argv)
    try:
        args.run(args)
    except HandsfreeError as wrong:
        print(f"benchmarks.replay: {wrong}", file=sys.stderr)
        return wrong.exit_code
    return 0


if __name__ == "__main__":
    sys.exit(main())
