"""The shape of a recogniser: sound to words under a grammar. Engines live in modules of their own.

Whether to believe the words is decided elsewhere (``trust``); what they mean is the grammar's.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from handsfree.audio.device import Samples
from handsfree.hearing.verdict import WordTime

if TYPE_CHECKING:
    from handsfree.hearing.grammar import ListeningGrammar

__all__ = ["Hypothesis", "Recogniser"]


@dataclass(frozen=True, kw_only=True)
class Hypothesis:
    """What an engine made of one utterance.

    Attributes:
        words: The words, lower case, without fillers; empty when it found none.
        times: A time for each word, in samples from the utterance's first fed sample.
        confidence: The engine's own confidence, 0 to 1, or None where it has none worth having.
        detail: Further scores by name, for trust and tables (``"acoustic"``, ``"loop_ratio"`` ...).
    """

    words: tuple[str, ...]
    times: tuple[WordTime, ...] = ()
    confidence: float | None = None
    detail: tuple[tuple[str, float], ...] = ()


class Recogniser(Protocol):
    """One engine, loaded. Used from one thread only."""

    name: str
    version: str

    def listen_for(self, grammar: ListeningGrammar) -> None:
        """Switch to this grammar; cheap when it was used before.

        Raises:
            EngineError: The engine refuses the grammar.
        """
        ...

    def missing(self, words: frozenset[str]) -> frozenset[str]:
        """Return those of ``words`` that the engine's dictionary lacks."""
        ...

    def start(self) -> None:
        """Begin an utterance."""
        ...

    def feed(self, samples: Samples) -> None:
        """Feed sound of the utterance, int16 at SAMPLE_RATE."""
        ...

    def partial(self) -> tuple[str, ...]:
        """Return the words so far; they may still change."""
        ...

    def finish(self) -> Hypothesis:
        """End the utterance and return what was made of it."""
        ...
