"""Which clip is said by whom, and the clips themselves, kept in a folder and made once.

The plan depends on the seed and on the text alone: a new phrase adds clips and changes no others.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import tempfile
import wave
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import EngineError
from handsfree.hearing.training import espeak, voices
from handsfree.hearing.training.kokoro import SAMPLE_RATE_HZ as KOKORO_HZ
from handsfree.hearing.training.kokoro import Kokoro

__all__ = [
    "RATE_HZ",
    "Clip",
    "Studio",
    "plan_joined",
    "plan_machine",
    "plan_natural",
    "plan_own",
    "read_wav",
    "write_wav",
]

RATE_HZ = 16000


@dataclass(frozen=True, kw_only=True)
class Clip:
    """One thing said once.

    Attributes:
        text: What is said.
        engine: ``kokoro``, ``espeak``, ``flite`` or ``festival``.
        voice: A voice of that engine; for Kokoro one table, or several with shares
            (``"af_sky:0.60+zm_yunxi:0.40"``).
        accent: Whose pronunciation (Kokoro alone).
        speed: 1.0 is the voice's own.
        pitch: 0 to 100, 50 the voice's own (eSpeak NG alone).
        ending: A mark that shapes the melody (Kokoro alone).
        held: Made for judging, never for training.
    """

    text: str
    engine: str
    voice: str
    accent: str = ""
    speed: float = 1.0
    pitch: int = 50
    ending: str = ""
    held: bool = False

    @property
    def key(self) -> str:
        """A name for the file, from all that shapes the sound."""
        fields = {k: v for k, v in asdict(self).items() if k != "held"}
        return hashlib.sha1(repr(sorted(fields.items())).encode()).hexdigest()[:20]

    @property
    def speaker(self) -> str:
        """Engine and voice, for tables."""
        return f"{self.engine}:{self.voice}"


def _rng(seed: int, *what: object) -> np.random.Generator:
    digest = hashlib.sha1(repr((seed, *what)).encode()).digest()
    return np.random.default_rng(int.from_bytes(digest[:8], "big"))


def _beyond(rng: np.random.Generator) -> str:
    """Three tables, not always between them: shares from -0.17 to 1.33 make unlike speakers."""
    first = str(rng.choice(voices.ENGLISH))
    rest = [v for v in voices.ENGLISH + voices.FOREIGN if v != first]
    others = map(str, rng.choice(rest, 2, replace=False))
    shares = 1 / 3 + 1.5 * (rng.dirichlet((1.0, 1.0, 1.0)) - 1 / 3)
    return _mixed((first, *others), shares.tolist())


def _mixed(names: Sequence[str], shares: Sequence[float]) -> str:
    return "+".join(f"{name}:{share:.2f}" for name, share in zip(names, shares, strict=True))


def _natural(rng: np.random.Generator, text: str, *, held: bool) -> Clip:
    speed = round(float(rng.uniform(0.78, 1.35)), 2)
    ending = str(rng.choice([".", ".", ".", "!", ",", "?", ""]))
    if held:
        voice = str(rng.choice(voices.NATURAL_HELD))
    else:
        kind = rng.random()
        if kind < 0.2:
            voice = str(rng.choice(voices.ENGLISH))
        elif kind < 0.35:
            voice = str(rng.choice(voices.FOREIGN))
        elif kind < 0.6:
            one = str(rng.choice(voices.ENGLISH))
            two = str(rng.choice([v for v in voices.ENGLISH + voices.FOREIGN if v != one]))
            share = round(float(rng.uniform(0.3, 0.75)), 2)
            voice = _mixed((one, two), (share, 1 - share))
        else:
            voice = _beyond(rng)
    if voice[:2] in {"bf", "bm"}:
        accent = str(rng.choice(["en", "en-GB-x-rp", "en-GB-scotland", "en-GB-x-gbclan"]))
    elif voice[:2] in {"af", "am"} and "+" not in voice:
        accent = "en-US" if rng.random() < 0.9 else "en-US-nyc"
    else:
        accent = str(rng.choice(list(voices.ACCENTS), p=list(voices.ACCENTS.values())))
    return Clip(
        text=text,
        engine="kokoro",
        voice=voice,
        accent=accent,
        speed=speed,
        ending=ending,
        held=held,
    )


def plan_natural(
    texts: Sequence[str], rounds: Iterable[int], seed: int, *, held: bool = False
) -> Iterator[Clip]:
    """Natural clips round by round, each text once a round, in an order of the seed."""
    for number in rounds:
        order = _rng(seed, "order", number, held).permutation(len(texts))
        for index in order:
            yield _natural(_rng(seed, texts[index], number, held), texts[index], held=held)


def plan_joined(
    openers: Sequence[str], asides: Sequence[str], count: int, seed: int
) -> Iterator[tuple[Clip, Clip]]:
    """Pairs of natural clips to be said in one breath: an opener and an aside, either first."""
    for number in range(count):
        rng = _rng(seed, "joined", number)
        one, two = str(rng.choice(openers)), str(rng.choice(asides))
        turn = int(rng.integers(2))
        pair = (
            _natural(_rng(seed, one, turn, False), one, held=False),
            _natural(_rng(seed, two, 0, False), two, held=False),
        )
        yield pair if number < 250 or rng.random() < 0.6 else (pair[1], pair[0])


def plan_own(texts: Sequence[str]) -> list[Clip]:
    """The assistant's own questions in the synthesiser's plain voices, at its usual 160 words."""
    return [
        Clip(text=text, engine="espeak", voice=("en-US", "en")[number % 2])
        for number, text in enumerate(texts)
    ]


def plan_machine(texts: Sequence[str], each: int, seed: int, *, held: bool = False) -> list[Clip]:
    """Clips of the quick synthesisers: `each` of eSpeak NG, two of Flite's and Festival's."""
    clips: list[Clip] = []
    espeak_voices = voices.ESPEAK_HELD if held else voices.ESPEAK_TRAIN
    others = [("flite", v) for v in (voices.FLITE_HELD if held else voices.FLITE_TRAIN)]
    if _festival() is not None:
        others += [
            ("festival", v) for v in (voices.FESTIVAL_HELD if held else voices.FESTIVAL_TRAIN)
        ]
    # Festival takes ten times as long as Flite, so it speaks more seldom.
    odds = np.array([1.0 if engine == "flite" else 0.3 for engine, _ in others])
    for text in texts:
        rng = _rng(seed, text, "machine", held)
        clips += [
            Clip(
                text=text,
                engine="espeak",
                voice=str(voice),
                speed=round(float(rng.uniform(0.75, 1.3)), 2),
                pitch=int(rng.integers(25, 76)),
                held=held,
            )
            for voice in rng.choice(espeak_voices, size=each, replace=False)
        ]
        clips += [
            Clip(
                text=text,
                engine=engine,
                voice=voice,
                speed=round(float(rng.uniform(0.85, 1.25)), 2),
                held=held,
            )
            for engine, voice in (
                others[i]
                for i in rng.choice(len(others), size=2, replace=False, p=odds / odds.sum())
            )
        ]
    return clips


def _festival() -> str | None:
    return shutil.which("text2wave")


def read_wav(path: Path) -> NDArray[np.float64]:
    """Samples of a mono 16-bit WAV file, full scale 1.0."""
    with wave.open(str(path), "rb") as file:
        data = np.frombuffer(file.readframes(file.getnframes()), np.int16)
    return data.astype(np.float64) / 32768.0


def write_wav(path: Path, samples: NDArray[np.float64], rate_hz: int = RATE_HZ) -> None:
    """Write samples of full scale 1.0 as a mono 16-bit WAV file."""
    path.parent.mkdir(parents=True, exist_ok=True)
    partial = path.with_suffix(f".{os.getpid()}.part")  # two processes may make the same clip
    with wave.open(str(partial), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate_hz)
        file.writeframes((np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes())
    partial.replace(path)


def _resample(samples: NDArray[np.float64], rate_hz: int) -> NDArray[np.float64]:
    from scipy.signal import resample_poly

    if rate_hz == RATE_HZ:
        return samples
    divisor = int(np.gcd(rate_hz, RATE_HZ))
    return np.asarray(resample_poly(samples, RATE_HZ // divisor, rate_hz // divisor))


def trim(samples: NDArray[np.float64], floor_db: float = 40.0) -> NDArray[np.float64]:
    """Cut what lies below `floor_db` under the loudest 10 ms from both ends."""
    frame = RATE_HZ // 100
    count = samples.size // frame
    if count < 3:
        return samples
    energy = np.sqrt(np.mean(samples[: count * frame].reshape(count, frame) ** 2, axis=1))
    loud = np.flatnonzero(energy > energy.max() * 10 ** (-floor_db / 20))
    return samples[loud[0] * frame : (loud[-1] + 1) * frame]


class Studio:
    """Makes clips, or takes them from its folder.

    Args:
        folder: Where clips are kept.
        kokoro: The natural voices, or None where they are not installed.
    """

    def __init__(self, folder: Path, kokoro: Kokoro | None = None) -> None:
        self._folder = folder
        self._kokoro = kokoro

    def path(self, clip: Clip) -> Path:
        """Where the clip is, or will be."""
        return self._folder / clip.engine / f"{clip.key}.wav"

    def has(self, clip: Clip) -> bool:
        """Whether the clip has been made."""
        return self.path(clip).is_file()

    def get(self, clip: Clip) -> NDArray[np.float64]:
        """The clip, shape (n,), 16 kHz, peak 0.5, silence cut from its ends."""
        path = self.path(clip)
        if path.is_file():
            return read_wav(path)
        samples, rate_hz = self._make(clip)
        samples = trim(_resample(samples, rate_hz))
        peak = float(np.abs(samples).max(initial=0.0))
        if peak < 1e-4:
            raise EngineError(f"{clip.speaker} gave no sound for {clip.text!r}; leave it out.")
        samples = samples * (0.5 / peak)
        write_wav(path, samples)
        return samples

    def _make(self, clip: Clip) -> tuple[NDArray[np.float64], int]:
        if clip.engine == "kokoro":
            if self._kokoro is None:
                raise EngineError("No natural voices here; install the packages of extra 'train'.")
            mix = [
                (name, float(share or 1))
                for name, _, share in (part.partition(":") for part in clip.voice.split("+"))
            ]
            sound = self._kokoro.speak(
                clip.text, mix, accent=clip.accent, speed=clip.speed, ending=clip.ending
            )
            return sound, KOKORO_HZ
        if clip.engine == "espeak":
            sound = espeak.speak(
                clip.text,
                clip.voice,
                words_per_min=round(160 * clip.speed),
                pitch=clip.pitch,
            )
            return sound, espeak.SAMPLE_RATE_HZ
        with tempfile.TemporaryDirectory() as folder:
            out = Path(folder) / "clip.wav"
            if clip.engine == "flite":
                command = ["flite", "-voice", clip.voice, "--setf"]
                command += [f"duration_stretch={1 / clip.speed:.3f}", "-t", clip.text, str(out)]
                said = None
            else:
                command = ["text2wave", "-o", str(out), "-eval", f"(voice_{clip.voice})"]
                command += ["-eval", f"(Parameter.set 'Duration_Stretch {1 / clip.speed:.3f})"]
                said = clip.text.encode()
            try:
                subprocess.run(command, input=said, check=True, capture_output=True)
            except (OSError, subprocess.CalledProcessError) as error:
                raise EngineError(
                    f"{command[0]} could not say {clip.text!r}: {error}; install it or go without."
                ) from error
            with wave.open(str(out), "rb") as file:
                rate_hz = file.getframerate()
            return read_wav(out), rate_hz
