"""Builds a corpus for the hearing benchmark: WAV files with a tab-separated manifest.

``python -m benchmarks.corpus FOLDER`` says short answers and asides with every synthesiser that is
here (eSpeak NG variants, Flite, Festival, natural voices where installed), at several speeds and
levels, dry and in three rooms, up to two metres away, and adds computed barks, panting and kitchen
noise. Recorded digits and noises are listed too where they lie beside the project; where they
don't, it says so. The voices are those that the second ear was not trained on.
"""

from __future__ import annotations

import argparse
import csv
import os
import re
import shutil
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.signal import fftconvolve

from handsfree.errors import EngineError, HandsfreeError
from handsfree.hearing.training import sounds, voices
from handsfree.hearing.training.clips import RATE_HZ, Clip, Studio, write_wav
from handsfree.hearing.training.kokoro import Kokoro
from handsfree.hearing.training.texts import short_phrases

_COLUMNS = ("file", "kind", "text", "question", "onsets_s", "voice", "speed", "room", "level_db")
_DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")

# Said to the dog or to others; worded apart from what the second ear was trained on.
_ASIDES = (
    "mind the cable",
    "who wants a biscuit then",
    "he rolled in fox again",
    "no, get your nose out of there",
    "yes you may, in a minute",
    "stop fidgeting, there's a love",
    "right paw, other one, good",
    "two sugars in mine please",
    "the pink one is in the wash",
    "wait until I've found my glasses",
    "ooh what a waggy tail",
    "she normally likes this",
    "back you go on the rug",
    "skip to my lou",
    "not on your life",
    "was that the postman",
    "put your chin here",
    "clean as a whistle you are",
    "I left the tea to go cold",
    "one day you'll behave",
)


@dataclass(frozen=True, kw_only=True)
class _Row:
    file: str
    kind: str
    text: str = ""
    onsets_s: str = ""
    voice: str = ""
    speed: str = ""
    room: str = ""
    level_db: str = ""


def _held_voices(natural: bool) -> list[tuple[str, str]]:
    found = [("espeak", voice) for voice in voices.ESPEAK_HELD]
    if shutil.which("flite"):
        found += [("flite", voice) for voice in voices.FLITE_HELD]
    if shutil.which("text2wave"):
        found += [("festival", voice) for voice in voices.FESTIVAL_HELD]
    if natural:
        found += [("kokoro", voice) for voice in voices.NATURAL_HELD] * 3
    return found


def _placed(
    sound: NDArray[np.float64], rng: np.random.Generator, room: str, level_db: float
) -> tuple[NDArray[np.float64], float]:
    """The sound in a room with quiet around it, and the onset of its direct sound in seconds."""
    lead = int(RATE_HZ * rng.uniform(0.4, 0.8))
    out = np.concatenate([np.zeros(lead), sound, np.zeros(RATE_HZ // 2)])
    if room != "dry":
        name, _, distance = room.partition(" ")
        response = sounds.room(rng, name, float(distance.removesuffix("m")))
        out = fftconvolve(out, response)[: out.size]
    power = float(np.sqrt(np.mean(out[lead : lead + sound.size] ** 2)))
    out = out * (10 ** (level_db / 20) / max(power, 1e-6))
    return out + rng.standard_normal(out.size) * 30 / 32768, lead / RATE_HZ


def _speech(
    folder: Path, kind: str, texts: list[str], each: int, studio: Studio, natural: bool, seed: int
) -> Iterator[_Row]:
    cast = _held_voices(natural)
    rooms = ["dry", "dry", "small 0.5m", "living 1.0m", "living 2.0m", "tiled 1.0m", "tiled 2.0m"]
    rng = np.random.default_rng([seed, len(kind)])
    for number, text in enumerate(texts):
        for take in range(each):
            engine, voice = cast[int(rng.integers(len(cast)))]
            speed = round(float(rng.choice([0.8, 0.9, 1.0, 1.0, 1.1, 1.2])), 2)
            accent = "en" if voice[:1] == "b" else "en-US"
            clip = Clip(
                text=text,
                engine=engine,
                voice=voice,
                speed=speed,
                accent=accent if engine == "kokoro" else "",
                ending="." if engine == "kokoro" else "",
                held=True,
            )
            room = str(rng.choice(rooms))
            level_db = round(float(rng.uniform(-38, -16)), 1)
            try:
                sound, onset_s = _placed(studio.get(clip), rng, room, level_db)
            except EngineError as error:
                print(f"Left out: {error}", file=sys.stderr)
                continue
            slug = re.sub(r"[^a-z]+", "-", text.lower()).strip("-")[:40]
            name = f"{kind}/{number:03d}-{take}-{slug}.wav"
            write_wav(folder / name, sound)
            yield _Row(
                file=name,
                kind=kind,
                text=text,
                onsets_s=f"{onset_s:.4f}",
                voice=f"{engine}:{voice}",
                speed=f"{speed:.2f}",
                room=room,
                level_db=f"{level_db:.1f}",
            )


def _noise(folder: Path, seconds: int, seed: int) -> Iterator[_Row]:
    for number, kind in enumerate(sorted(sounds.NOISES)):
        rng = np.random.default_rng([seed, 77, number])
        for part in range(max(1, seconds // 20)):
            level_db = round(float(rng.uniform(-40, -14)), 1)
            bed = sounds.noise_bed(rng, 20 * RATE_HZ, kind) * 10 ** (level_db / 20)
            name = f"noise/{kind}-{part}.wav"
            write_wav(folder / name, bed)
            yield _Row(file=name, kind="noise", text=kind, level_db=f"{level_db:.1f}")


def _recordings(folder: Path, beside: Path) -> Iterator[_Row]:
    digits = sorted((beside / "digits").glob("*.flac"))
    noises = sorted((beside / "noise").glob("*.flac"))
    for what, found in (("digits", digits), ("noises", noises)):
        if found:
            print(f"Recorded {what}: {len(found)} files in {beside}.")
        else:
            print(f"Recorded {what}: absent ({beside}); the corpus goes without them.")
    for path in digits:
        digit, person, _ = path.stem.split("_")
        where = os.path.relpath(path, folder)
        yield _Row(file=where, kind="answer", text=_DIGITS[int(digit)], voice=f"person:{person}")
    for path in noises:
        where = os.path.relpath(path, folder)
        yield _Row(file=where, kind="noise", text=path.stem.replace("_", " "))


def build(
    folder: Path,
    grammars: Path,
    *,
    each: int,
    noise_s: int,
    seed: int,
    natural_voices: Path | None,
    beside: Path,
    limit: int | None = None,
) -> Counter[str]:
    """Write the corpus; how many rows of each kind it has.

    Raises:
        HandsfreeError: The grammars can't be read, or nothing could be said.
    """
    kokoro = Kokoro(natural_voices) if natural_voices else None
    studio = Studio(folder / "clips", kokoro)
    phrases = short_phrases(grammars)[:limit]
    asides = list(_ASIDES[:limit])
    natural = kokoro is not None
    rows = list(_speech(folder, "answer", phrases, each, studio, natural, seed))
    rows += _speech(folder, "aside", asides, max(each, 3), studio, natural, seed)
    rows += _noise(folder, noise_s, seed)
    rows += _recordings(folder, beside)
    if not any(row.kind == "answer" for row in rows):
        raise EngineError(
            f"Nothing could be said for the corpus in {folder}; install espeakng-loader, "
            "or name a folder of grammars with --grammars."
        )
    with (folder / "manifest.tsv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, delimiter="\t", lineterminator="\n")
        writer.writerow(_COLUMNS)
        for row in rows:
            writer.writerow([getattr(row, column, "") for column in _COLUMNS])
    return Counter(row.kind for row in rows)


def main(arguments: list[str] | None = None) -> int:
    """Command line; the exit status."""
    here = Path(__file__).resolve().parent.parent
    parser = argparse.ArgumentParser(prog="python -m benchmarks.corpus", description=__doc__)
    parser.add_argument("folder", type=Path, help="where the corpus is written")
    parser.add_argument("--grammars", type=Path, default=here / "grammars")
    parser.add_argument("--each", type=int, default=3, help="clips of each phrase (3)")
    parser.add_argument("--noise-s", type=int, default=60, help="seconds of each noise (60)")
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument(
        "--natural-voices", type=Path, help="folder of voice tables (npm kokoro-js, voices/)"
    )
    parser.add_argument(
        "--recordings",
        type=Path,
        default=here.parent / "shared" / "audio",
        help="folder with digits/ and noise/ (beside the project)",
    )
    parser.add_argument("--limit", type=int, help="only so many phrases, for a quick look")
    given = parser.parse_args(arguments)
    try:
        counts = build(
            given.folder,
            given.grammars,
            each=given.each,
            noise_s=given.noise_s,
            seed=given.seed,
            natural_voices=given.natural_voices,
            beside=given.recordings,
            limit=given.limit,
        )
    except HandsfreeError as error:
        print(error, file=sys.stderr)
        return error.exit_code
    print(f"Seed {given.seed}. Manifest: {given.folder / 'manifest.tsv'}")
    for kind, count in sorted(counts.items()):
        print(f"{kind}: {count}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
