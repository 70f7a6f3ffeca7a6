"""A tone that fades at a known moment, as action and as event, for practising the stopwatch."""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.dialogue.actions import Action
from handsfree.dialogue.events import Event

__all__ = ["Fade", "Faded"]


@dataclass(frozen=True, kw_only=True)
class Fade(Action):
    """Play a tone that can be heard no more after ``length_s`` seconds."""

    length_s: float

    def __post_init__(self) -> None:
        if not 0.3 <= self.length_s <= 10.0:
            msg = f"a tone of {self.length_s} s does not fade well"
            raise ValueError(msg)


@dataclass(frozen=True, kw_only=True)
class Faded(Event):
    """The tone had faded at ``sample``."""
