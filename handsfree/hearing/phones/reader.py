"""Reads one utterance by the phone network: a log probability for everything that may be said now.

Phrases that can be listed are scored each. Of an open form the likeliest phrase is sought, and
scored beside those that differ from it by one word ("fifteen", "fifty"), so that what it was nearly
taken for has a share too.
"""

from __future__ import annotations

import functools
import math
from collections import OrderedDict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handsfree.hearing.ear.embedding import (
    FLOOR_DB,
    FRAME_SAMPLES,
    SAMPLE_RATE_HZ,
    EmbeddingStream,
)
from handsfree.hearing.ear.head import noise_share
from handsfree.hearing.evidence import Reading, Spelt, Spoken
from handsfree.hearing.grammar import ListeningGrammar, Phrase
from handsfree.hearing.phones.ctc import free_score, sequence_scores
from handsfree.hearing.phones.frames import STEP_SAMPLES, placed_frames
from handsfree.hearing.phones.graph import PhoneGraph
from handsfree.hearing.phones.lexicon import Lexicon
from handsfree.hearing.phones.network import BLANK, PhoneNetwork, load_network
from handsfree.hearing.phones.rivals import RIVALS
from handsfree.hearing.phones.syllables import Stretch, clearly_speech, stretches
from handsfree.hearing.verdict import Meaning

__all__ = ["PhoneReader"]

_KEPT_GRAMMARS = 12
CLEAR = 0.35
"""Probability of the likeliest phone, below which it is clatter, which is no phone in particular.
Of 515 stretches of speech of 0.2 s and more 97 to 100 in a hundred had such a step; of six of
dishes in which phones were found, one had."""
FEWEST_PHONES = 2
"""Steps of 20 ms with a phone in them, from which on it is speech; one may be a click."""
MISSED_NATS = 1.0
"""In noise phones are missed rather than made up: so much is taken off "no new phone" before
phrases are scored. Beside dishes as loud as the voice, bounds exact, the right meaning of 165
answers by voices that no network was trained on was read first in 89.7 rather than 86.7 of 100, of
200 by mixed ones in 91.0 rather than 87.0; with 2 nats in 89.7 and 90.5, with 3 in 86.1, 88.5."""
_SILENT_FRAMES = 16
_BEFORE_PHONES = SAMPLE_RATE_HZ // 10
_AFTER_PHONES = SAMPLE_RATE_HZ * 17 // 100


_Way = tuple[Phrase, Meaning, tuple[int, ...]]
"""A phrase, what it means, and the network's outputs for one of its pronunciations."""


@dataclass(frozen=True, kw_only=True)
class _Prepared:
    """What can be said under one grammar, spelt."""

    ways: tuple[_Way, ...]
    rivals: tuple[tuple[int, ...], ...]
    graphs: tuple[PhoneGraph, ...]


class PhoneReader:
    """Reads utterances of one stream.

    Args:
        stream: The mel frames, shared with the second ear.
        network: The shipped network where none is given.
        lexicon: The shipped dictionary where none is given.

    Raises:
        DataError: The network's file is broken.
        EngineError: There is no dictionary.
    """

    def __init__(
        self,
        stream: EmbeddingStream,
        *,
        network: PhoneNetwork | None = None,
        lexicon: Lexicon | None = None,
    ) -> None:
        self._stream = stream
        self._network = network or load_network()
        self._lexicon = lexicon or Lexicon()
        self._outputs = {phone: k for k, phone in enumerate(self._network.phones, start=1)}
        self._known: OrderedDict[str, _Prepared] = OrderedDict()
        self._last: tuple[tuple[int, int, int], tuple[NDArray[np.float32], int]] | None = None

    def prepare(self, grammar: ListeningGrammar) -> None:
        """Spell a grammar, so that the first utterance under it costs no more than others."""
        self._spelt(grammar)

    def read(
        self,
        start: int,
        end: int,
        grammar: ListeningGrammar,
        also: Phrase = (),
        *,
        snr_db: float = math.inf,
    ) -> Reading:
        """Return how likely each meaning of ``grammar`` was said between two samples.

        The bounds may be off by about 0.1 s. Costs about 20 ms.

        Args:
            start: First sample of speech.
            end: One past the last.
            grammar: What may be said.
            also: Words that another opinion proposes, scored too.
            snr_db: How far the speech stands out of the room; quiet where nothing is told.
        """
        ready = self._spelt(grammar)
        heard, _ = self._heard(start, end)
        log_probs = _less_missed(heard, MISSED_NATS * noise_share(snr_db))
        ways = [*ready.ways, *self._ways(grammar, self._open_phrases(ready, log_probs, also))]
        sequences = [sequence for _, _, sequence in ways]
        scores = sequence_scores(log_probs, [*sequences, *ready.rivals])
        best: dict[Meaning, Spelt] = {}
        for (words, meaning, sequence), score in zip(ways, scores[: len(ways)], strict=True):
            if meaning not in best or score > best[meaning].score:
                best[meaning] = Spelt(
                    words=" ".join(words), meaning=meaning, score=float(score), phones=len(sequence)
                )
        ranked = sorted(best.values(), key=lambda spelt: -spelt.score)
        found = stretches(heard, np.ones(len(heard), np.bool_))
        return Reading(
            ranked=tuple(ranked),
            free=free_score(log_probs),
            rivals=tuple(map(float, scores[len(ways) :])),
            speech_nats=max((stretch.nats for stretch in found), default=0.0),
        )

    def spoken(self, start: int, end: int) -> Spoken | None:
        """Return from where to where somebody speaks between two samples; None if nobody does.

        A running tap has no phones, however loud it is, and most clatter has none: of 64 stretches
        each, 15 of recorded dishes, 3 of an exercise bike and none of a tap had some. A bark is
        told apart by `syllables`. The ends are widened by how far a segmenter's bounds lie outside
        the first and last phone in quiet, in the median.
        """
        log_probs, begin = self._heard(start, end)
        # Frames before the start are only there to be heard with it.
        inside = begin + STEP_SAMPLES * np.arange(len(log_probs)) >= start - FRAME_SAMPLES
        found = stretches(log_probs, inside)
        steps, best = sum(s.steps for s in found), max((s.best for s in found), default=0.0)
        if steps < FEWEST_PHONES or best < CLEAR:
            return None

        def widened(part: Sequence[Stretch]) -> tuple[int, int]:
            first, last = (begin + at * STEP_SAMPLES for at in (part[0].first, part[-1].last))
            return max(start, first - _BEFORE_PHONES), min(end, last + _AFTER_PHONES)

        clear = clearly_speech(found)
        first, last = widened(found)
        return Spoken(start=first, end=last, clear=widened(clear) if clear else None)

    def _heard(self, start: int, end: int) -> tuple[NDArray[np.float32], int]:
        """Return the network's output for a stretch, and where it begins.

        Kept for the next call: an utterance is looked at for where it is spoken, then read.
        """
        stretch = (start, end, self._stream.end)
        if self._last is None or self._last[0] != stretch:
            frames, begin = placed_frames(self._stream, start, end)
            # Speech that breaks off at the edge of the frames is like nothing the network has met:
            # of 606 looks amid an utterance a tenth lost the last 0.4 s of phones. With silence
            # after it none did.
            padded = np.pad(frames, ((0, _SILENT_FRAMES), (0, 0)), constant_values=FLOOR_DB)
            log_probs = self._network(padded)[: -(-len(frames) // 2)]
            self._last = (stretch, (log_probs, begin))
        return self._last[1]

    def _open_phrases(
        self, ready: _Prepared, log_probs: NDArray[np.float32], also: Phrase
    ) -> dict[Phrase, None]:
        found: dict[Phrase, None] = {}
        if also and ready.graphs:
            found[also] = None
        for graph in ready.graphs:
            words = graph.best(log_probs)
            if words:
                found |= dict.fromkeys((words, *graph.neighbours(words)))
        for words, _, _ in ready.ways:
            found.pop(words, None)
        return found

    def _ways(self, grammar: ListeningGrammar, phrases: Iterable[Phrase]) -> Iterator[_Way]:
        """Yield each pronunciation of each phrase that means something."""
        for words in phrases:
            meaning = grammar.meaning(words)
            if meaning is not None:
                for way in self._lexicon.ways(words):
                    yield words, meaning, tuple(self._outputs[phone] for phone in way)

    def _rivals(self, grammar: ListeningGrammar) -> Iterator[tuple[int, ...]]:
        """Return the usual pronunciation of what is said to dogs and means nothing here."""
        return (way for words, way in self._to_dogs if grammar.meaning(words) is None)

    @functools.cached_property
    def _to_dogs(self) -> tuple[tuple[Phrase, tuple[int, ...]], ...]:
        """What is said to dogs, spelt once for all grammars."""
        return tuple(
            (words, tuple(self._outputs[phone] for phone in way))
            for words in RIVALS
            for way in self._lexicon.ways(words)[:1]
        )

    def _spelt(self, grammar: ListeningGrammar) -> _Prepared:
        ready = self._known.get(grammar.key)
        if ready is None:
            listed = (tuple(phrase.split()) for phrase in grammar.phrases)
            ready = self._known[grammar.key] = _Prepared(
                ways=tuple(self._ways(grammar, listed)),
                rivals=tuple(self._rivals(grammar)),
                graphs=tuple(
                    PhoneGraph(form.word_graph, self._lexicon, self._outputs)
                    for form in grammar.open_forms
                ),
            )
            while len(self._known) > _KEPT_GRAMMARS:
                self._known.popitem(last=False)
        self._known.move_to_end(grammar.key)
        return ready


def _less_missed(log_probs: NDArray[np.float32], nats: float) -> NDArray[np.float32]:
    """Return the network's output with so much less of "no new phone" in every step."""
    if not nats:
        return log_probs
    less = log_probs.copy()
    less[:, BLANK] -= np.float32(nats)
    return np.asarray(less - np.log(np.exp(less).sum(axis=1, keepdims=True)), np.float32)
