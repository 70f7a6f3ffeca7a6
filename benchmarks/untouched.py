"""Speech to judge by: ``python -m benchmarks.untouched FOLDER --natural-voices TABLES``.

Says phrases drawn from all that a check listens for, and asides of wording that nothing was trained
or chosen on, with the natural voices of ``voices.UNTOUCHED``, and writes a manifest for
``benchmarks.hearing`` and ``benchmarks.replay``. Whoever tunes on what it makes has used it up:
take another seed, and say so beside the figures.
"""

from __future__ import annotations

import argparse
import csv
import re
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from benchmarks._chain import listenings
from handsfree.errors import HandsfreeError
from handsfree.hearing.grammar import compose
from handsfree.hearing.training.clips import RATE_HZ, Clip, Studio, write_wav
from handsfree.hearing.training.kokoro import Kokoro
from handsfree.hearing.training.voices import UNTOUCHED
from handsfree.protocol.loader import load

__all__ = ["main"]

_QUIET_S = 0.3
_ASIDES = """
who left the gate open, is that mud or chocolate, you had your supper, mind your tail
this towel is soaking, where's the other slipper, ring me back at six, four o'clock I think
he's lost weight hasn't he, she can't see the squirrel from here, I'll wipe it off later
what have you got in there, drop that sock, not in the kitchen, under the table with you
turn the radio down a bit, the kettle is on, that was the neighbour's door, oh what a face
put it back in the drawer, keep your paws to yourself, you're a wriggler, no more cheese for you
there's a lead on the hook, left my phone upstairs, right behind you, good as gold today
it was pink when we bought it, black coffee for me, nine times out of ten he sits
does it hurt you, oh you poor old thing, don't you dare shake, wet dog on the sofa again
stop licking my ear, wait till your sister comes, is it normal to shed like this
pass me the towel, sit nicely, up on the step, that's the last one I promise, how old is she now
""".replace("\n", ",")


def _texts(seed: int, phrases: int) -> tuple[list[str], list[str]]:
    everything = sorted({p for one in listenings(load()).values() for p in compose(one).phrases})
    chosen = np.random.default_rng(seed).permutation(len(everything))[:phrases]
    return [everything[i] for i in chosen], [a.strip() for a in _ASIDES.split(",") if a.strip()]


def _clips(seed: int, phrases: int, each: int) -> Iterator[tuple[str, Clip]]:
    """Yield kind and clip; the voices go round, so that each says about as much."""
    answers, asides = _texts(seed, phrases)
    rng = np.random.default_rng((seed, 1))
    turn = 0
    for kind, texts, times in (("answer", answers, each), ("aside", asides, 2)):
        for text in texts:
            for _ in range(times):
                voice = UNTOUCHED[turn % len(UNTOUCHED)]
                turn += 1
                yield (
                    kind,
                    Clip(
                        text=text,
                        engine="kokoro",
                        voice=voice,
                        speed=round(float(rng.choice([0.9, 1.0, 1.0, 1.1])), 2),
                        accent="en" if voice.startswith("b") else "en-us",
                        ending=str(rng.choice([".", ".", "!", "?"])) if kind == "aside" else ".",
                        held=True,
                    ),
                )


def main(argv: list[str] | None = None) -> int:
    """Make the recordings; return the exit code."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.untouched", description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--natural-voices", type=Path, required=True, help="folder of voice tables")
    parser.add_argument("--phrases", type=int, default=110)
    parser.add_argument("--each", type=int, default=3, help="voices that say each phrase")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args(argv)
    folder: Path = given.folder
    try:
        studio = Studio(folder / "clips", Kokoro(given.natural_voices, threads=2))
        rows = []
        for number, (kind, clip) in enumerate(_clips(given.seed, given.phrases, given.each)):
            name = f"{number:04d}-{re.sub(r'[^a-z]+', '-', clip.text.lower())[:30]}.wav"
            sound = studio.get(clip)
            quiet = np.zeros(int(_QUIET_S * RATE_HZ))
            write_wav(folder / name, np.concatenate([quiet, sound, quiet]))
            rows.append((name, kind, clip.text, clip.voice, clip.speed))
    except HandsfreeError as wrong:
        print(f"benchmarks.untouched: {wrong}", file=sys.stderr)
        return wrong.exit_code
    with (folder / "manifest.tsv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, delimiter="\t", lineterminator="\n")
        writer.writerow(("file", "kind", "text", "voice", "speed"))
        writer.writerows(rows)
    print(f"Seed {given.seed}: {len(rows)} recordings. Manifest: {folder / 'manifest.tsv'}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
