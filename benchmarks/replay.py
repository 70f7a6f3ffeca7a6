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
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from benchmarks._chain import ASIDE_QUESTIONS, Room, covering, listenings, play
from benchmarks._manifest import Entry, read_manifest, read_sound
from handsfree.audio.device import SAMPLE_RATE
from handsfree.errors import CallerError, DataError, HandsfreeError
from handsfree.hearing import engines, trust
from handsfree.hearing.evidence import Evidence
from handsfree.hearing.grammar import compose
from handsfree.hearing.training import sounds
from handsfree.hearing.verdict import Listening, Meaning, Outcome, Verdict
from handsfree.protocol.loader import load

__all__ = ["Kept", "judged", "keep", "main", "read"]

BARKS = "barks"
"""In place of a noise's file: synthetic barking, all the time."""
_BARKS_S = 60


@dataclass(frozen=True, kw_only=True)
class _Scores:
    """The second ear's shares, free of the network that made them."""

    probabilities: dict[str, float]
    other: float
    unknown: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Kept:
    """What one recording gave at one question.

    Attributes:
        kind: Of the recording.
        text: What was said.
        voice: Who said it.
        name: The recording.
        place: The question.
        evidence: Of each utterance; its listening and grammar are put back by ``read``.
        retracted: Starts of accepted utterances that were taken back.
        gap_s: From the last speech to the first verdict that was not to ignore.
    """

    kind: str
    text: str
    voice: str
    name: str
    place: str
    evidence: tuple[Evidence, ...]
    retracted: frozenset[int]
    gap_s: float | None

    @property
    def wanted(self) -> Meaning | None:
        """What it means at its question, where it is an answer."""
        return compose(_KNOWN[self.place]).meaning(self.text) if self.kind == "answer" else None


_KNOWN = listenings(load())
_NOTHING = Listening()


def _bare(evidence: Evidence) -> Evidence:
    """Return evidence without what is the same for a whole question."""
    ear = evidence.ear
    if ear is not None:
        shares = dict(ear.probabilities)
        ear = _Scores(probabilities=shares, other=ear.other, unknown=tuple(ear.unknown))
    return replace(evidence, listening=_NOTHING, grammar=compose(_NOTHING), ear=ear)


def _plays(
    entries: Sequence[Entry], seed: int, places: int
) -> Iterator[tuple[Entry, str, np.random.Generator]]:
    for number, entry in enumerate(entries):
        rng = np.random.default_rng((seed, number))
        if entry.kind == "answer":
            chosen = covering(entry.text, entry.question, _KNOWN, rng)[:places]
        else:
            chosen = [ASIDE_QUESTIONS[i] for i in rng.permutation(len(ASIDE_QUESTIONS))[:places]]
        for place in chosen:
            yield entry, place, rng


def keep(
    entries: Sequence[Entry], room: Room, *, seed: int, places: int, part: int = 0, parts: int = 1
) -> list[Kept]:
    """Play every ``parts``-th recording from the ``part``-th on; return what was heard."""
    hearing = engines.build()
    caught: list[Evidence] = []
    by_trust = trust.judge

    def watching(evidence: Evidence) -> Verdict:
        caught.append(_bare(evidence))
        return by_trust(evidence)

    found: list[Kept] = []
    trust.judge = watching  # the chain itself stays as it is: only what it judges is looked at
    try:
        for number, (entry, place, rng) in enumerate(_plays(entries, seed, places)):
            if number % parts != part:
                continue
            caught.clear()
            played = play(hearing, _KNOWN[place], read_sound(entry.path), room, rng)
            found.append(
                Kept(
                    kind=entry.kind,
                    text=entry.text,
                    voice=entry.voice,
                    name=entry.path.name,
                    place=place,
                    evidence=tuple(caught),
                    retracted=played.retracted,
                    gap_s=played.gap_s,
                )
            )
    finally:
        trust.judge = by_trust
    return found


def read(path: Path) -> list[Kept]:
    """Return what ``keep`` wrote, ready to be judged.

    Raises:
        DataError: It cannot be read. (Only files of one's own are to be read: they are pickles.)
    """
    try:
        with path.open("rb") as file:
            kept: list[Kept] = pickle.load(file)
    except (OSError, pickle.UnpicklingError, AttributeError, EOFError) as wrong:
        msg = f"{path} cannot be read ({wrong}). Make it with: benchmarks.replay keep."
        raise DataError(msg) from None
    return [
        replace(
            one,
            evidence=tuple(
                replace(e, listening=_KNOWN[one.place], grammar=compose(_KNOWN[one.place]))
                for e in one.evidence
            ),
        )
        for one in kept
    ]


def judged(kept: Kept) -> tuple[str, Verdict | None]:
    """Return what comes of it by the rules of the day, and the verdict that decided it.

    One of ``right``, ``wrong``, ``asked_back`` and ``ignored``; what is accepted and not for us is
    ``wrong``.
    """
    verdicts = [trust.judge(evidence) for evidence in kept.evidence]
    told = [v for v in verdicts if v.outcome is not Outcome.IGNORE]
    first = next(
        (v for v in told if v.outcome is Outcome.ACCEPT and v.start not in kept.retracted), None
    )
    if first is not None and first.best is not None:
        return ("right" if first.best.meaning == kept.wanted else "wrong"), first
    if told:
        return "asked_back", told[0]
    return "ignored", verdicts[0] if verdicts else None


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
        rng = np.random.default_rng(args.seed)
        noise = (sounds.barking(rng, _BARKS_S * SAMPLE_RATE) * 8000).astype(np.int16)
    elif args.noise is not None:
        noise = read_sound(Path(args.noise))
    return Room(noise=noise, snr_db=args.snr, distance_m=args.distance)


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
            _keep_part, [(*job, args.processes, args.seed, args.places) for job in jobs]
        )
    with args.out.open("wb") as file:
        pickle.dump(list(itertools.chain.from_iterable(found)), file)


def _keep_part(
    entries: Sequence[Entry], room: Room, part: int, parts: int, seed: int, places: int
) -> list[Kept]:
    return keep(entries, room, seed=seed, places=places, part=part, parts=parts)


def main(argv: Sequence[str] | None = None) -> int:
    """Run; return the exit code."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.replay", description=__doc__)
    does = parser.add_subparsers(required=True)
    keeping = does.add_parser("keep", help="play a manifest and keep the evidence")
    keeping.add_argument("--manifest", type=Path, required=True)
    keeping.add_argument("--out", type=Path, required=True)
    keeping.add_argument("--noise", help=f"a WAV or FLAC file, or {BARKS!r}")
    keeping.add_argument("--snr", type=float, default=10.0, help="dB of speech above --noise")
    keeping.add_argument("--distance", type=float, help="metres to the mouth")
    keeping.add_argument("--kind", choices=("answer", "aside", "noise"))
    keeping.add_argument("--voices", nargs="*", default=[])
    keeping.add_argument("--places", type=int, default=1, help="questions for each recording")
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
