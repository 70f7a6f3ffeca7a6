"""The trained head: from an utterance's embeddings to a probability for each phrase that is open.

A head knows every short phrase of the grammars and "other". Its outputs compete among the open
phrases and other alone; phrases that it knows and that are not open count, weakened, as other. The
probabilities are calibrated: of the utterances scored 0.9, about nine in ten are that phrase. NumPy
alone is needed to run it. Whether to believe a score is decided elsewhere.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import DataError
from handsfree.hearing.ear.embedding import (
    FLOOR_DB,
    MEL_BANDS,
    Embedder,
    EmbeddingStream,
    Windows,
)
from handsfree.hearing.ear.utterance import (
    AFTER_SAMPLES,
    FEATURES,
    PATCH_FRAMES,
    utterance_features,
)

__all__ = ["Ear", "Head", "Scores", "blended", "known_phrases", "load_head"]
__all__ += ["load_noise_head", "noise_share"]

FORM = "handsfree-ear-1"

_QUIET_DB, _NOISY_DB = 16.0, 12.0
"""From where on the ear that learnt noise counts, and from where on alone. It hears people less
well: of 450 recorded digits it had 87 in a hundred first, the other one 94."""
_LEAST = 1e-9


@dataclass(frozen=True, kw_only=True)
class Scores:
    """Calibrated shares of one utterance.

    Attributes:
        probabilities: For each open phrase that the head knows; with `other` they sum to 1.
        other: That it is none of the open phrases.
        unknown: Open phrases that the head does not know: it says nothing about them.
    """

    probabilities: Mapping[str, float]
    other: float
    unknown: tuple[str, ...] = ()

    @property
    def best(self) -> tuple[str, float] | None:
        """The likeliest open phrase with its probability, or None where none is known."""
        if not self.probabilities:
            return None
        phrase = max(self.probabilities, key=lambda p: self.probabilities[p])
        return phrase, self.probabilities[phrase]


class Head:
    """A trained head as read from its file.

    Args:
        file: An ``.npz`` file that ``python -m handsfree.hearing.train`` has written.

    Attributes:
        phrases: That it knows; output k + 1 is phrase k.
        mean: What is taken off each feature, shape (1249,).
        scale: What it is then multiplied by.
        members: Of each its layers' weights and biases; the head's outputs are their mean.

    Raises:
        DataError: The file is missing, broken or of another form.
    """

    def __init__(self, file: Path) -> None:
        try:
            with np.load(file, allow_pickle=False) as data:
                arrays = {name: data[name] for name in data.files}
        except (OSError, ValueError, EOFError) as error:
            raise DataError(
                f"The second ear's head {file} cannot be read ({error}). "
                "Install handsfree again, or make it with: python -m handsfree.hearing.train"
            ) from error
        if str(arrays.get("form")) != FORM:
            raise DataError(
                f"The second ear's head {file} is of another form than {FORM}. "
                "Make it anew with: python -m handsfree.hearing.train"
            )
        self.phrases: tuple[str, ...] = tuple(str(p) for p in arrays["phrases"])
        self._index = {phrase: number for number, phrase in enumerate(self.phrases, start=1)}
        self._temperature = float(arrays["temperature"])
        self._closed = float(arrays["closed_weight"])
        self.mean = arrays["mean"].astype(np.float32)
        self.scale = arrays["scale"].astype(np.float32)
        self.members: list[list[tuple[NDArray[np.float32], NDArray[np.float32]]]] = []
        while f"w{len(self.members)}_0" in arrays:
            member = len(self.members)
            depth = sum(name.startswith(f"w{member}_") for name in arrays)
            self.members.append(
                [
                    (
                        arrays[f"w{member}_{layer}"].astype(np.float32),
                        arrays[f"b{member}_{layer}"].astype(np.float32),
                    )
                    for layer in range(depth)
                ]
            )
        if self.mean.shape != (FEATURES,) or not self.members:
            raise DataError(
                f"The second ear's head {file} does not fit this version of handsfree. "
                "Make it anew with: python -m handsfree.hearing.train"
            )

    def logits(self, features: NDArray[np.float32]) -> NDArray[np.float32]:
        """Outputs before the shares are taken, shape (n, 1 + phrases); column 0 is other."""
        rows = (np.atleast_2d(features) - self.mean) * self.scale
        total = np.zeros((len(rows), len(self.phrases) + 1), np.float32)
        for layers in self.members:
            hidden = rows
            for depth, (weights, bias) in enumerate(layers):
                if depth:
                    hidden = np.maximum(hidden, 0)
                hidden = hidden @ weights + bias
            total += hidden
        return total / np.float32(len(self.members))

    def scores(self, features: NDArray[np.float32], phrases: Sequence[str]) -> Scores:
        """Shares of one utterance's features, shape (1249,), among `phrases` and other."""
        wanted = dict.fromkeys(phrases)
        unknown = tuple(phrase for phrase in wanted if phrase not in self._index)
        known = [phrase for phrase in wanted if phrase in self._index]
        outputs = self.logits(features)[0].astype(np.float64) / self._temperature
        columns = [self._index[phrase] for phrase in known]
        closed = np.ones(outputs.size, bool)
        closed[[0, *columns]] = False
        powers = np.exp(outputs - outputs.max())
        other = powers[0] + self._closed * powers[closed].sum()
        total = powers[columns].sum() + other
        return Scores(
            probabilities=MappingProxyType(
                {
                    phrase: float(powers[column] / total)
                    for phrase, column in zip(known, columns, strict=True)
                }
            ),
            other=float(other / total),
            unknown=unknown,
        )


def blended(scores: Scores, others: Scores, share: float) -> Scores:
    """Return the geometric mean of two scores of the same phrases.

    Args:
        scores: Of one ear.
        others: Of another.
        share: How much the other counts, 0 to 1.
    """
    phrases = list(scores.probabilities)
    pairs = [(scores.probabilities[p], others.probabilities[p]) for p in phrases]
    one, two = np.array([*pairs, (scores.other, others.other)]).clip(min=_LEAST).T
    powers = one ** (1.0 - share) * two**share
    shares = powers / powers.sum()
    return Scores(
        probabilities=MappingProxyType(
            dict(zip(phrases, map(float, shares[:-1]), strict=True)),
        ),
        other=float(shares[-1]),
        unknown=scores.unknown,
    )


def noise_share(snr_db: float) -> float:
    """Return how much the ear that learnt noise counts where speech stands out by so much."""
    return min(max((_QUIET_DB - snr_db) / (_QUIET_DB - _NOISY_DB), 0.0), 1.0)


def _shipped(name: str) -> Path:
    return Path(str(resources.files("handsfree.hearing.ear") / name))


@cache
def load_head() -> Head:
    """The head that is shipped for quiet rooms."""
    return Head(_shipped("head.npz"))


@cache
def load_noise_head() -> Head:
    """The head that is shipped for noise, over an embedding network that learnt noise too."""
    return Head(_shipped("noise_head.npz"))


def known_phrases() -> frozenset[str]:
    """Every phrase that the shipped head knows."""
    return frozenset(load_head().phrases)


class Ear:
    """The second ear on one stream: fed with all sound, asked about utterances.

    In quiet it is a head over the package's embeddings, which hears people of all kinds best; in
    noise a head over a network of our own, made of the package's.

    Args:
        head: The shipped head where none is given.
        embedder: The networks; made here where none is given.
        noise_head: The shipped one for noise where none is given, read when it is first needed.

    Raises:
        EarUnavailable: The networks are not on this machine (see `available`).
    """

    def __init__(
        self,
        *,
        head: Head | None = None,
        embedder: Embedder | None = None,
        noise_head: Head | None = None,
    ) -> None:
        self._stream = EmbeddingStream(embedder)
        self._head = head or load_head()
        self._noise_head = noise_head
        network = _shipped("noise_network.tflite")
        self._noise_windows = Windows(network)
        blank = np.full((PATCH_FRAMES, MEL_BANDS), FLOOR_DB, np.float32)
        # What cannot run is told now, not in the midst of a check; what noise needs is let go
        # again, since many rooms have none: it takes 10 MB.
        for windows in (self._stream.embedder.embed, Windows(network)):
            windows(blank)

    @property
    def stream(self) -> EmbeddingStream:
        """The embeddings of the stream."""
        return self._stream

    def feed(self, block: NDArray[np.int16], position: int) -> None:
        """Take in samples that start at `position` (16 kHz, mono, int16); about 0.4 % of a core."""
        self._stream.feed(block, position)

    def known_phrases(self) -> frozenset[str]:
        """Every phrase that this head knows."""
        return frozenset(self._head.phrases)

    def is_ready(self, end_sample: int) -> bool:
        """Whether enough has been heard after the utterance: 0.22 s past its end."""
        return self._stream.end >= end_sample + AFTER_SAMPLES

    def score(
        self,
        start_sample: int,
        end_sample: int,
        phrases: Sequence[str],
        *,
        snr_db: float = math.inf,
    ) -> Scores:
        """Shares of the open `phrases` and other for the utterance between two samples.

        The bounds may be off by about 0.1 s. May be asked before `is_ready`; what is not yet heard
        is then taken for quiet. About 8 ms, 16 between quiet and noise.

        Args:
            start_sample: Its first sample.
            end_sample: One past its last.
            phrases: What may be said.
            snr_db: How far the speech stands out of the room; quiet where nothing is told.

        Raises:
            ValueError: The end is not after the start.
        """
        if end_sample <= start_sample:
            msg = f"utterance ends ({end_sample}) where it starts ({start_sample}) or before"
            raise ValueError(msg)
        share = noise_share(snr_db)
        quiet = noisy = None
        if share < 1.0:
            features = utterance_features(self._stream, start_sample, end_sample)
            quiet = self._head.scores(features, phrases)
        if share > 0.0:
            features = utterance_features(
                self._stream, start_sample, end_sample, self._noise_windows
            )
            noisy = (self._noise_head or load_noise_head()).scores(features, phrases)
        if noisy is None:
            assert quiet is not None
            return quiet
        return noisy if quiet is None else blended(quiet, noisy, share)
