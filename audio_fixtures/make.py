"""Makes the clips in this folder and their manifest: python -m audio_fixtures.make.

Speech comes from the program's own synthesiser, bark and noises are computed; nothing is recorded,
and nobody's voice is in it. The same seed gives the same noises; the speech depends on the version
of the engine, which the manifest names.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handsfree.audio.device import SAMPLE_RATE, Samples
from handsfree.audio.resample import to_int16
from handsfree.audio.wav import write_wav
from handsfree.speaking.espeak import Pyttsx3Synthesiser

__all__ = ["bark", "main", "room", "water"]

FOLDER = Path(__file__).parent
SEED = 20
LEAD_S = 0.4
ROOM_RMS = 40.0

Floats = NDArray[np.float64]

SPEECH = (
    # name, kind, words with the pause after each in seconds, voice, words a minute
    ("pink", "answer", (("pink", 0.0),), "en-us", 180),
    ("no", "answer", (("no", 0.0),), "en-gb-scotland", 180),
    ("yes", "answer", (("yes", 0.0),), "en+f3", 180),
    ("weight", "answer", (("twelve point four kilograms", 0.0),), "en-us+f2", 180),
    ("cannot_see", "answer", (("can't see", 0.0),), "en", 180),
    ("stop", "answer", (("stop", 0.0),), "en-us+m3", 180),
    ("refill", "timing", (("press", 2.0), ("release", 1.2), ("pink", 0.0)), "en-us", 180),
    ("aside", "aside", (("did you remember to shut the garden gate", 0.0),), "en+f3", 190),
    ("to_the_dog", "aside", (("come on then, stand still for me", 0.0),), "en-us+m3", 180),
)


def room(count: int, *, seed: int, rms: float = ROOM_RMS) -> Floats:
    """Return the faint noise of a quiet room, shape (count,)."""
    sound: Floats = np.random.default_rng(seed).normal(0.0, rms, count)
    return sound


def bark(*, seed: int) -> Floats:
    """Return one computed bark of 0.18 s, int16 scale: a falling, rough, noisy voice."""
    random = np.random.default_rng(seed)
    time = np.arange(round(0.18 * SAMPLE_RATE)) / SAMPLE_RATE
    pitch = 520.0 - 900.0 * time + 18.0 * random.standard_normal(len(time)).cumsum() / 40
    phase = 2 * np.pi * np.cumsum(pitch) / SAMPLE_RATE
    voice = sum((np.sin(k * phase) / k for k in range(1, 9)), np.zeros(len(time)))
    rough = random.standard_normal(len(time))
    envelope = np.minimum(time / 0.012, 1.0) * np.exp(-time / 0.06)
    sound: Floats = (0.7 * voice + 0.5 * rough) * envelope * 9_000
    return sound


def water(count: int, *, seed: int, rms: float = 600.0) -> Floats:
    """Return noise that falls by 3 dB an octave, much as a running tap does, shape (count,)."""
    random = np.random.default_rng(seed)
    spectrum = np.fft.rfft(random.standard_normal(count))
    frequency = np.maximum(np.fft.rfftfreq(count, 1 / SAMPLE_RATE), 50.0)
    sound = np.fft.irfft(spectrum / np.sqrt(frequency), count)
    scaled: Floats = sound * (rms / sound.std())
    return scaled


def _in_a_room(sound: Floats, *, seed: int) -> Samples:
    lead = np.zeros(round(LEAD_S * SAMPLE_RATE))
    padded = np.concatenate([lead, sound, lead])
    return to_int16(padded + room(len(padded), seed=seed))


def main() -> None:
    """Write all clips and the manifest."""
    synthesiser = Pyttsx3Synthesiser()
    clips: list[dict[str, object]] = []
    for number, (name, kind, words, voice, rate) in enumerate(SPEECH):
        pieces: list[Floats] = []
        onsets = []
        for text, pause_s in words:
            onsets.append(round(LEAD_S + sum(map(len, pieces)) / SAMPLE_RATE, 3))
            pieces.append(
                synthesiser.render(text, rate_wpm=rate, voice=voice).astype(np.float64) / 2
            )
            pieces.append(np.zeros(round(pause_s * SAMPLE_RATE)))
        sound = _in_a_room(np.concatenate(pieces), seed=SEED + number)
        clips.append(_write(name, kind, sound, text=" ".join(text for text, _ in words)))
        clips[-1] |= {"voice": voice, "rate_wpm": rate, "starts_s": onsets}
    barks = [
        np.concatenate([bark(seed=SEED + k), np.zeros(round((0.25 + 0.1 * k) * SAMPLE_RATE))])
        for k in range(3)
    ]
    clips.append(_write("bark", "bark", _in_a_room(np.concatenate(barks), seed=SEED + 50)))
    tap = to_int16(water(3 * SAMPLE_RATE, seed=SEED + 60))
    clips.append(_write("tap", "noise", tap))
    quiet = to_int16(room(2 * SAMPLE_RATE, seed=SEED + 70))
    clips.append(_write("quiet_room", "noise", quiet))
    manifest = {
        "made_by": "python -m audio_fixtures.make",
        "engine": f"{synthesiser.name}: {synthesiser.version}",
        "seed": SEED,
        "rate_hz": SAMPLE_RATE,
        "clips": clips,
    }
    synthesiser.close()
    (FOLDER / "manifest.json").write_text(json.dumps(manifest, indent=1) + "\n", encoding="utf-8")


def _write(name: str, kind: str, sound: Samples, *, text: str = "") -> dict[str, object]:
    write_wav(FOLDER / f"{name}.wav", sound)
    return {
        "file": f"{name}.wav",
        "kind": kind,
        "text": text,
        "duration_s": round(len(sound) / SAMPLE_RATE, 3),
    }


if __name__ == "__main__":
    main()
