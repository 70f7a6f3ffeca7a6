"""Reads a manifest of recordings for the hearing benchmark, and the recordings themselves.

Tab-separated with a header: ``file`` (relative to the manifest), ``kind``, ``text``, and optional
``question``. Other columns and kinds are left alone. Everything wrong is told at once, by line.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handsfree.audio.device import SAMPLE_RATE, Samples
from handsfree.audio.resample import resample, to_int16
from handsfree.errors import DataError

__all__ = ["KINDS", "Entry", "plain_text", "read_manifest", "read_sound"]

KINDS = ("answer", "aside", "noise")
_MOST_FAULTS = 8


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One recording.

    Attributes:
        path: The file.
        kind: One of KINDS.
        text: What is said, lower case, without punctuation; empty for noise.
        question: The item it answers; None where the manifest names none.
        voice: Who says it, where the manifest tells.
    """

    path: Path
    kind: str
    text: str
    question: str | None = None
    voice: str = ""


def plain_text(text: str) -> str:
    """Return ``text`` as a recogniser would write it."""
    return " ".join(re.sub(r"[^\w' ]+", " ", text.lower()).split())


def read_manifest(manifest: Path) -> tuple[list[Entry], Counter[str]]:
    """Return the recordings, and the rows of other kinds, which are left alone, by kind.

    Raises:
        DataError: There is no such file, or a column or a recording is missing.
    """
    try:
        with manifest.open(encoding="utf-8", newline="") as file:
            reader = csv.DictReader(file, delimiter="\t")
            columns = reader.fieldnames or ()
            rows = list(reader)
    except (OSError, UnicodeDecodeError, csv.Error) as wrong:
        msg = f"the manifest {manifest} cannot be read ({wrong}). Name a tab-separated file."
        raise DataError(msg) from None
    lacking = [name for name in ("file", "kind", "text") if name not in columns]
    if lacking:
        msg = f"{manifest.name} lacks the column {', '.join(lacking)}. Its first line names them."
        raise DataError(msg)
    entries: list[Entry] = []
    faults: list[str] = []
    other: Counter[str] = Counter()
    for number, row in enumerate(rows, start=2):
        kind, path = (row["kind"] or "").strip(), manifest.parent / (row["file"] or "").strip()
        if kind not in KINDS:
            other[kind] += 1
        elif not path.is_file():
            faults.append(f"line {number}: there is no file {row['file']}")
        else:
            entries.append(
                Entry(
                    path=path,
                    kind=kind,
                    text=plain_text(row["text"] or ""),
                    question=(row.get("question") or "").strip() or None,
                    voice=(row.get("voice") or "").strip(),
                )
            )
    if faults:
        more = f" and {len(faults) - _MOST_FAULTS} more" if len(faults) > _MOST_FAULTS else ""
        msg = f"{manifest.name}: {'; '.join(faults[:_MOST_FAULTS])}{more}. Correct the manifest."
        raise DataError(msg)
    return entries, other


def read_sound(path: Path) -> Samples:
    """Return a WAV or FLAC file as mono int16 at the program's rate.

    Raises:
        DataError: The file is broken or empty.
    """
    import soundfile

    try:
        sound, rate = soundfile.read(path, dtype="float32", always_2d=True)
    except (OSError, RuntimeError) as wrong:
        msg = f"{path.name} cannot be read ({wrong}). Take it out of the manifest or mend it."
        raise DataError(msg) from None
    if not len(sound):
        msg = f"{path.name} holds no sound. Take it out of the manifest."
        raise DataError(msg)
    mono: NDArray[np.float32] = sound.mean(axis=1)
    if rate == SAMPLE_RATE:
        return to_int16(mono * 32768.0)
    return to_int16(resample(mono * np.float32(32768.0), rate, SAMPLE_RATE))
