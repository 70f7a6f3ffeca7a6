"""A synthesiser without words: it hums for as long as the text would take.

A stand-in for tests; it says nothing and must never pass for speech.
"""

from __future__ import annotations

import numpy as np

from handsfree.audio.device import SAMPLE_RATE, Samples
from handsfree.audio.resample import to_int16
from handsfree.errors import EngineError

__all__ = ["HumSynthesiser"]


class HumSynthesiser:
    """Renders any text as a hum of its length, and remembers what it was asked for.

    Attributes:
        rendered: Every text rendered so far, in order.
        broken: Texts for which it behaves like an engine that fails.
    """

    name = "hum"
    version = "1"

    def __init__(self) -> None:
        self.rendered: list[str] = []
        self.broken: set[str] = set()

    def voices(self) -> list[str]:
        """Return the two heights at which it hums."""
        return ["low", "high"]

    def render(self, text: str, *, rate_wpm: int, voice: str | None = None) -> Samples:
        """Return a hum that lasts as long as the words of ``text`` would at that pace.

        Raises:
            EngineError: The text has no words, the voice is unknown, or the text is `broken`.
        """
        words = len(text.split())
        if words == 0 or text in self.broken or voice not in (None, *self.voices()):
            raise EngineError(f"The hum failed over {text!r} with voice {voice}; try another.")
        self.rendered.append(text)
        time = np.arange(round(words * 60 / rate_wpm * SAMPLE_RATE)) / SAMPLE_RATE
        return to_int16(3_000 * np.sin(2 * np.pi * (240 if voice == "high" else 120) * time))
