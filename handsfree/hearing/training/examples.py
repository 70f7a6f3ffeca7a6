"""Clips made rough and turned into features, kept clip by clip so that each is made once."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handsfree.hearing.ear.embedding import Embedder, EmbeddingStream
from handsfree.hearing.ear.utterance import FEATURES, utterance_features
from handsfree.hearing.training import sounds
from handsfree.hearing.training.clips import Clip, Studio
from handsfree.hearing.training.rough import LEAD, RATE_HZ, TAIL, Take, clean_take, rough_take

__all__ = ["Examples", "take_features"]

_VERSION = "1"


def take_features(embedder: Embedder, take: Take) -> NDArray[np.float32]:
    """Features of one take, shape (1249,), through the same stream that the program uses."""
    stream = EmbeddingStream(embedder)
    stream.feed(take.samples, 0)
    return utterance_features(stream, take.start, take.end)


def _rng(*what: object) -> np.random.Generator:
    digest = hashlib.sha1(repr(what).encode()).digest()
    return np.random.default_rng(int.from_bytes(digest[:8], "big"))


class Examples:
    """Makes features of clips, or takes them from its folder.

    Args:
        folder: Where features are kept.
        studio: Where clips come from.
        seed: Of all that is drawn by lot.
    """

    def __init__(self, folder: Path, studio: Studio, seed: int) -> None:
        self._folder = folder
        self._studio = studio
        self._seed = seed
        self._embedder = Embedder()
        self._babble: NDArray[np.float64] | None = None

    def set_babble(self, clips: Sequence[Clip]) -> None:
        """Lay these clips over each other as talk in the background."""
        count = 20 * RATE_HZ
        bed = np.zeros(count)
        rng = _rng(self._seed, "babble")
        for clip in clips:
            sound = self._studio.get(clip)[:count]
            at = int(rng.integers(0, count - sound.size + 1))
            bed[at : at + sound.size] += sound
        self._babble = bed

    def has(self, kind: str, clips: Sequence[Clip]) -> bool:
        """Whether this can be had without new speech: its features or its clips are kept."""
        if all(self._studio.has(clip) for clip in clips):
            return True
        return self._path(self._name(kind, clips)).is_file()

    def _name(self, kind: str, clips: Sequence[Clip]) -> str:
        if kind == "joined":
            both = " ".join(clip.key for clip in clips)
            return f"{hashlib.sha1(both.encode()).hexdigest()[:20]}-joined"
        return clips[0].key + ("-pieces" if kind == "pieces" else "")

    def _path(self, name: str) -> Path:
        return self._folder / f"{name}-{_VERSION}.npy"

    def _kept(self, name: str, count: int, make: Callable[[int], Take]) -> NDArray[np.float32]:
        """The first `count` rows of that name; those not yet kept are made and kept."""
        path = self._path(name)
        rows = list(np.load(path)) if path.is_file() else []
        if len(rows) < count:
            made = (take_features(self._embedder, make(n)) for n in range(len(rows), count))
            rows += [row.astype(np.float16) for row in made]
            path.parent.mkdir(parents=True, exist_ok=True)
            partial = path.with_suffix(f".{os.getpid()}.part")
            with partial.open("wb") as file:
                np.save(file, np.stack(rows))
            partial.replace(path)
        if not count:
            return np.empty((0, FEATURES), np.float32)
        return np.stack(rows[:count]).astype(np.float32)

    def of_clip(self, clip: Clip, takes: int) -> NDArray[np.float32]:
        """Features of a clip: clean first, then rough ones; shape (takes, 1249)."""

        def make(number: int) -> Take:
            rng = _rng(self._seed, clip.key, number)
            sound = self._studio.get(clip)
            if number == 0:
                return clean_take(sound, rng)
            bed = self._babble
            if bed is not None:
                bed = np.roll(bed, -int(rng.integers(bed.size)))
            return rough_take(sound, rng, babble=bed)

        return self._kept(clip.key, takes, make)

    def of_pieces(self, clip: Clip, pieces: int) -> NDArray[np.float32]:
        """Features of stretches cut out of a longer clip by lot, 0.45 to 1.7 s each."""

        def make(number: int) -> Take:
            rng = _rng(self._seed, clip.key, "piece", number)
            piece = self._studio.get(clip)
            length = int(RATE_HZ * rng.uniform(0.45, 1.7))
            if piece.size > length:
                at = int(rng.integers(0, piece.size - length))
                piece = piece[at : at + length].copy()
                fade = np.linspace(0, 1, 160)
                piece[:160] *= fade
                piece[-160:] *= fade[::-1]
            return rough_take(piece, rng, babble=self._babble)

        return self._kept(self._name("pieces", [clip]), pieces, make)

    def of_joined(self, one: Clip, two: Clip, takes: int) -> NDArray[np.float32]:
        """Features of two clips said in one breath."""
        name = self._name("joined", [one, two])

        def make(number: int) -> Take:
            rng = _rng(self._seed, name, number)
            gap = np.zeros(int(RATE_HZ * rng.uniform(0.0, 0.18)))
            sound = np.concatenate([self._studio.get(one), gap, self._studio.get(two)])
            return rough_take(sound, rng, babble=self._babble)

        return self._kept(name, takes, make)

    def of_sounds(self, count: int, name: str = "sounds") -> NDArray[np.float32]:
        """Features of barks, panting, clatter and the like; shape (count, 1249)."""

        def make(number: int) -> Take:
            rng = _rng(self._seed, name, number)
            if rng.random() < 0.75:
                return rough_take(sounds.other_sound(rng), rng)
            length = int(RATE_HZ * rng.uniform(0.2, 1.6))  # a stretch of steady noise
            bed = sounds.noise_bed(rng, LEAD + length + TAIL) * 10 ** (rng.uniform(-50, -15) / 20)
            samples = np.clip(bed * 32767, -32768, 32767).astype(np.int16)
            return Take(samples=samples, start=LEAD, end=LEAD + length)

        return self._kept(f"{name}-{self._seed}", count, make)
