"""The trained head: from an utterance's embeddings to a probability for each phrase that is open.

A head knows every short phrase of the grammars and "other". Its outputs compete among the open
phrases and other alone; phrases that it knows and that are not open count, weakened, as other. The
probabilities are calibrated: of the utterances scored 0.9, about nine in ten are that phrase. NumPy
alone is needed to run it. Whether to believe a score is decided elsewhere.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from handsfree.errors import DataError
from handsfree.hearing.ear.embedding import Embedder, EmbeddingStream
from handsfree.hearing.ear.utterance import AFTER_SAMPLES, FEATURES, utterance_features

__all__ = ["Ear", "Head", "Scores", "known_phrases", "load_head"]

FORM = "handsfree-ear-1"


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
        self._mean = arrays["mean"].astype(np.float32)
        self._scale = arrays["scale"].astype(np.float32)
        self._members: list[list[tuple[NDArray[np.float32], NDArray[np.float32]]]] = []
        while f"w{len(self._members)}_0" in arrays:
            member = len(self._members)
            depth = sum(name.startswith(f"w{member}_") for name in arrays)
            self._members.append(
                [
                    (
                        arrays[f"w{member}_{layer}"].astype(np.float32),
                        arrays[f"b{member}_{layer}"].astype(np.float32),
                    )
                    for layer in range(depth)
                ]
            )
        if self._mean.shape != (FEATURES,) or not self._members:
            raise DataError(
                f"The second ear's head {file} does not fit this version of handsfree. "
                "Make it anew with: python -m handsfree.hearing.train"
            )

    def logits(self, features: NDArray[np.float32]) -> NDArray[np.float32]:
        """Outputs before the shares are taken, shape (n, 1 + phrases); column 0 is other."""
        rows = (np.atleast_2d(features) - self._mean) * self._scale
        total = np.zeros((len(rows), len(self.phrases) + 1), np.float32)
        for layers in self._members:
            hidden = rows
            for depth, (weights, bias) in enumerate(layers):
                if depth:
                    hidden = np.maximum(hidden, 0)
                hidden = hidden @ weights + bias
            total += hidden
        return total / np.float32(len(self._members))

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


@cache
def load_head() -> Head:
    """The head that is shipped with the program."""
    with resources.as_file(resources.files("handsfree.hearing.ear") / "head.npz") as file:
        return Head(file)


def known_phrases() -> frozenset[str]:
    """Every phrase that the shipped head knows."""
    return frozenset(load_head().phrases)


class Ear:
    """The second ear on one stream: fed with all sound, asked about utterances.

    Args:
        head: The shipped head where none is given.
        embedder: The networks; made here where none is given.

    Raises:
        EarUnavailable: The networks are not on this machine (see `available`).
    """

    def __init__(self, *, head: Head | None = None, embedder: Embedder | None = None) -> None:
        self._stream = EmbeddingStream(embedder)
        self._head = head or load_head()

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

    def score(self, start_sample: int, end_sample: int, phrases: Sequence[str]) -> Scores:
        """Shares of the open `phrases` and other for the utterance between two samples.

        The bounds may be off by about 0.1 s. May be asked before `is_ready`; what is not yet heard
        is then taken for quiet. About 8 ms.

        Raises:
            ValueError: The end is not after the start.
        """
        if end_sample <= start_sample:
            msg = f"utterance ends ({end_sample}) where it starts ({start_sample}) or before"
            raise ValueError(msg)
        features = utterance_features(self._stream, start_sample, end_sample)
        return self._head.scores(features, phrases)
