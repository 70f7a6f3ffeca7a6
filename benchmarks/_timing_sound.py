"""Sound for the timing benchmark: its manifest, recordings, noise, and recordings of our own.

No recogniser is used here; the truth of a recording of our own is known by how it is put together.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import CallerError, DataError

RATE = 16_000
AUDIBLE_DB = 35.0
ROOM_S = 1.0
"""Room noise before and after each recording, as a live microphone would have."""
DITHER_RMS = 30.0

Sound = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Recording:
    """Words in order with their true onsets in seconds, and the sound, 16-bit steps at RATE."""

    name: str
    voice: str
    words: tuple[str, ...]
    onsets_s: tuple[float, ...]
    sound: Sound


def read_sound(path: Path) -> Sound:
    """Return a WAV or FLAC file as mono at RATE, in steps of 16 bits.

    Raises:
        DataError: It is missing, or no sound.
    """
    import soundfile

    from handsfree.audio.resample import resample

    try:
        data, rate = soundfile.read(path, dtype="float64", always_2d=True)
    except (RuntimeError, OSError) as wrong:
        msg = f"{path} cannot be read as sound ({wrong}): check the manifest and the file"
        raise DataError(msg) from None
    mono = data.mean(axis=1)
    if rate != RATE:
        mono = np.asarray(resample(mono, rate, RATE), dtype=np.float64)
    scaled: Sound = mono * 32768.0
    return scaled


def recordings(manifest: Path) -> Iterator[Recording]:
    """Yield the rows of kind ``timing``.

    Raises:
        DataError: The manifest is missing, lacks a column, or a row is broken.
    """
    try:
        text = manifest.read_text(encoding="utf-8")
    except OSError as wrong:
        msg = f"{manifest} cannot be read ({wrong.strerror}): name a manifest file"
        raise DataError(msg) from None
    rows = csv.DictReader(text.splitlines(), delimiter="\t")
    missing = {"file", "kind", "text", "onsets_s"} - set(rows.fieldnames or ())
    if missing:
        msg = f"{manifest} has no column {', '.join(sorted(missing))}: add it to the header"
        raise DataError(msg)
    for number, row in enumerate(rows, start=2):
        if row["kind"] != "timing":
            continue
        words = tuple(row["text"].lower().split())
        try:
            onsets = tuple(float(part) for part in row["onsets_s"].split(","))
        except ValueError:
            onsets = ()
        if not words or len(words) != len(onsets):
            msg = f"{manifest}, line {number}: {len(words)} words but onsets {row['onsets_s']!r}"
            raise DataError(msg)
        yield Recording(
            name=row["file"],
            voice=row.get("voice") or "",
            words=words,
            onsets_s=onsets,
            sound=read_sound(manifest.parent / row["file"]),
        )


def true_onset(word: Sound) -> int:
    """Return the sample at which 5 ms of sound first come within AUDIBLE_DB of the loudest."""
    size = RATE // 200
    power = np.convolve(word**2, np.ones(size) / size, "same")
    return int(np.argmax(power >= power.max() * 10.0 ** (-AUDIBLE_DB / 10.0)))


OWN_VOICES = ("en-us", "en", "en-gb-scotland", "en-us+f3", "en+m3", "en-gb-x-rp+f2")
OWN_SPEEDS = (120, 160, 210)
OWN_WORDS = ("press", "release", "pink")


def own_recordings(seed: int) -> Iterator[Recording]:
    """Yield recordings of our own: each voice of eSpeak NG at each speed, words in silence.

    Raises:
        EngineError: The synthesiser is missing.
    """
    from handsfree.audio.resample import resample
    from handsfree.hearing.training.espeak import SAMPLE_RATE_HZ, speak

    rng = np.random.default_rng(seed)
    for voice in OWN_VOICES:
        for speed in OWN_SPEEDS:
            said = [
                np.asarray(
                    resample(speak(w, voice, words_per_min=speed), SAMPLE_RATE_HZ, RATE), np.float64
                )
                for w in OWN_WORDS
            ]
            said = [word / max(float(np.abs(word).max()), 1e-9) * 12_000.0 for word in said]
            firsts = [true_onset(word) for word in said]
            places = np.cumsum([0.5, rng.uniform(4.0, 5.5), rng.uniform(0.9, 3.8)]) * RATE
            sound = np.zeros(int(places[-1]) + 2 * RATE)
            for place, first, word in zip(places, firsts, said, strict=True):
                begin = int(place) - first
                sound[begin : begin + len(word)] += word
            yield Recording(
                name=f"{voice} {speed}",
                voice=voice,
                words=OWN_WORDS,
                onsets_s=tuple(int(place) / RATE for place in places),
                sound=sound,
            )


def in_room(
    recording: Recording, noise: Sound | None, snr_db: float | None, rng: np.random.Generator
) -> NDArray[np.int16]:
    """Return the recording with room noise before, under and after it.

    The noise is scaled against the words' own level: mean power of the 20 ms stretches that come
    within 30 dB of the loudest.

    Raises:
        CallerError: The noise is shorter than the recording.
    """
    around = round(ROOM_S * RATE)
    sound = np.pad(recording.sound, around)
    mixed = sound + rng.normal(0.0, DITHER_RMS, len(sound))
    if noise is not None and snr_db is not None:
        if len(noise) < len(sound):
            msg = f"the noise lasts {len(noise) / RATE:.1f} s: give one of at least 15 s"
            raise CallerError(msg)
        at = int(rng.integers(0, len(noise) - len(sound) + 1))
        cut = noise[at : at + len(sound)]
        size = RATE // 50
        power = np.convolve(recording.sound**2, np.ones(size) / size, "same")
        voice = float(np.mean(recording.sound[power > power.max() * 1e-3] ** 2))
        mixed += cut * np.sqrt(voice / max(float(np.mean(cut**2)), 1e-9)) * 10.0 ** (-snr_db / 20.0)
    return np.clip(np.rint(mixed), -32768, 32767).astype(np.int16)
