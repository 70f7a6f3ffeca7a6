"""Stand-ins for engines: they hear what they were told to, for tests and rehearsals of the rest.

They follow the same interfaces as the real ones and touch no sound beyond counting it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from handsfree.audio.device import Samples
from handsfree.hearing.evidence import Reading, Spelt, Spoken
from handsfree.hearing.grammar import ListeningGrammar, Phrase
from handsfree.hearing.recogniser import Hypothesis
from handsfree.hearing.verdict import WordTime

__all__ = ["ScriptedEar", "ScriptedReader", "ScriptedRecogniser", "ScriptedScores"]


class ScriptedRecogniser:
    """Hears the scripted words, one entry an utterance, whatever the sound.

    Args:
        script: Words of the coming utterances; an exhausted script hears nothing.
    """

    name = "scripted"
    version = "1"

    def __init__(self, script: Sequence[str]) -> None:
        self._script = list(script)
        self._fed = 0
        self.fed: list[int] = []
        """Samples fed to each finished utterance."""

    def listen_for(self, grammar: ListeningGrammar) -> None:
        """Take any grammar."""

    def missing(self, words: frozenset[str]) -> frozenset[str]:
        """Know every word."""
        return frozenset()

    def start(self) -> None:
        """Begin an utterance."""
        self._fed = 0

    def feed(self, samples: Samples) -> None:
        """Count the samples."""
        self._fed += len(samples)

    def partial(self) -> tuple[str, ...]:
        """Return the scripted words at once."""
        return tuple(self._script[0].split()) if self._script else ()

    def finish(self) -> Hypothesis:
        """Return the scripted words, spread evenly over what was fed."""
        words = self.partial()
        if self._script:
            self._script.pop(0)
        self.fed.append(self._fed)
        step = self._fed // max(len(words), 1)
        times = tuple(
            WordTime(word=word, start=i * step, end=(i + 1) * step) for i, word in enumerate(words)
        )
        return Hypothesis(words=words, times=times)


@dataclass(frozen=True, kw_only=True)
class ScriptedScores:
    """Shares as scripted."""

    probabilities: Mapping[str, float]
    other: float
    unknown: tuple[str, ...] = field(default=())


class ScriptedEar:
    """Says what the script says, one entry an utterance: phrase and share."""

    def __init__(self, script: Sequence[tuple[str, float]]) -> None:
        self._script = list(script)

    def feed(self, block: Samples, position: int, /) -> None:
        """Take any sound."""

    def known_phrases(self) -> frozenset[str]:
        """Know what the script says, and nothing else by itself."""
        return frozenset(phrase for phrase, _ in self._script)

    def score(
        self, start: int, end: int, phrases: Sequence[str], /, *, snr_db: float = math.inf
    ) -> ScriptedScores:
        """Give the scripted phrase its share, and the rest to "none of these"."""
        phrase, share = self._script.pop(0) if self._script else ("", 0.0)
        known = dict.fromkeys(phrases, 0.0)
        if phrase in known:
            known[phrase] = share
        return ScriptedScores(probabilities=known, other=1.0 - sum(known.values()))


class ScriptedReader:
    """A phone network that knows from where to where somebody speaks, and believes other opinions.

    Args:
        spoken: Stretches of the stream in samples, in order.
        barked: The same of what sounds like a syllable and is none.
    """

    def __init__(
        self, spoken: Sequence[tuple[int, int]], barked: Sequence[tuple[int, int]] = ()
    ) -> None:
        self._spoken, self._barked = tuple(spoken), tuple(barked)

    def prepare(self, grammar: ListeningGrammar, /) -> None:
        """Nothing has to be made ready."""

    def read(
        self,
        start: int,
        end: int,
        grammar: ListeningGrammar,
        also: Phrase = (),
        /,
        *,
        snr_db: float = math.inf,
    ) -> Reading:
        """Return the proposed words as what was surely said; nothing where nobody said them."""
        meaning = grammar.meaning(also)
        if self.spoken(start, end) is None:
            return Reading(ranked=(), free=0.0, speech_nats=0.0)
        if meaning is None:
            return Reading(ranked=(), free=0.0)
        spelt = Spelt(words=" ".join(also), meaning=meaning, score=0.0, phones=3)
        return Reading(ranked=(spelt,), free=0.0)

    def spoken(self, start: int, end: int, /) -> Spoken | None:
        """Return the first begin and the last end of the stretches that lie there in part."""

        def inside(stretches: Iterable[tuple[int, int]]) -> tuple[int, int] | None:
            parts = [(max(a, start), min(b, end)) for a, b in stretches if a < end and b > start]
            return (parts[0][0], parts[-1][1]) if parts else None

        whole = inside(sorted(self._spoken + self._barked))
        if whole is None:
            return None
        return Spoken(start=whole[0], end=whole[1], clear=inside(self._spoken))
