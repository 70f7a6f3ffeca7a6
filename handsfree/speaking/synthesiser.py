"""The shape of a synthesiser: text to samples. Engines live in modules of their own."""

from __future__ import annotations

from typing import Protocol

from handsfree.audio.device import Samples

__all__ = ["Synthesiser"]


class Synthesiser(Protocol):
    """Turns text into sound at SAMPLE_RATE. Called from one thread only."""

    @property
    def name(self) -> str:
        """The engine's name."""
        ...

    @property
    def version(self) -> str:
        """Its version."""
        ...

    def voices(self) -> list[str]:
        """Return the names of the voices that can be chosen."""
        ...

    def render(self, text: str, *, rate_wpm: int, voice: str | None = None) -> Samples:
        """Return ``text`` spoken, int16 mono, shape (n,).

        Raises:
            EngineError: The engine gave nothing, or hung.
        """
        ...
