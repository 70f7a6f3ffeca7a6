"""Counted rates: breaths and heartbeats in a window, and how far a miscount goes.

Which windows an item has, what its rate can be and the line past which it is counted again are the
item's own data, with their sources. What a rate means belongs to judging.
"""

from __future__ import annotations

from dataclasses import dataclass

from handsfree.errors import CallerError, HeardError

__all__ = ["SHORTEST_S", "SOURCE", "Counted", "count", "resolution"]

SHORTEST_S = 30
"""No window is shorter: in 15 s a miscount is four a minute."""
SOURCE = (
    "Windows: one-minute counts as in Rishniw and others, Res Vet Sci 2012;93:965, and never 15 s "
    "(a human study of 770 counts: limits of agreement -7 to +5). Heartbeats for 30 or 60 s: "
    "common practice, no source."
)


@dataclass(frozen=True, kw_only=True)
class Counted:
    """A count in a window.

    Attributes:
        events: As said.
        window_s: Length of the window.
        per_min: Events a minute.
        resolution_per_min: What one event more or less changes.
        quick: The window was shorter than the item's usual one.
    """

    events: int
    window_s: int
    per_min: float
    resolution_per_min: float
    quick: bool

    @property
    def method(self) -> tuple[tuple[str, str | float], ...]:
        """Facts for the record; a short window is marked."""
        facts: tuple[tuple[str, str | float], ...] = (
            ("count", float(self.events)),
            ("window_s", float(self.window_s)),
            ("resolution_per_min", self.resolution_per_min),
        )
        return (*facts, ("short_window", "yes")) if self.quick else facts


def resolution(window_s: float) -> float:
    """Return what one miscount changes, events a minute: 60 divided by the window."""
    if not window_s > 0.0:
        msg = f"a window of {window_s} s counts nothing"
        raise ValueError(msg)
    return 60.0 / window_s


def count(
    events: float, window_s: int, *, lowest: float, highest: float, usual_s: int = SHORTEST_S
) -> Counted:
    """Return the rate of a count.

    Args:
        events: The number that was said.
        window_s: The window's length.
        lowest: A lower rate a minute cannot be.
        highest: Nor can a higher one.
        usual_s: The item's usual window: a shorter one is marked.

    Raises:
        CallerError: The window is too short to count in.
        HeardError: The number is no count: not whole, or a rate that cannot be.
    """
    if window_s < SHORTEST_S:
        msg = f"nothing is counted for {window_s} s: count for {SHORTEST_S} s or longer"
        raise CallerError(msg)
    if events != int(events) or events < 0:
        msg = "I need the number that you counted."
        raise HeardError(msg)
    per_min = int(events) * 60.0 / window_s
    if not lowest <= per_min <= highest:
        msg = f"{int(events)} in {window_s} seconds cannot be right."
        raise HeardError(msg)
    return Counted(
        events=int(events),
        window_s=window_s,
        per_min=per_min,
        resolution_per_min=resolution(window_s),
        quick=window_s < usual_s,
    )
