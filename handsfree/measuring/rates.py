"""Counted rates: breaths and heartbeats in a window, and what a count may be.

Windows, resolution, plausible counts and the line past which a count is taken again live here, as
data with its source. What a rate means belongs to judging.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from handsfree.errors import CallerError, HeardError
from handsfree.measuring.statistics import median

__all__ = [
    "BREATHS",
    "HEARTBEATS",
    "KINDS",
    "CountKind",
    "Counted",
    "count",
    "resolution",
    "settle",
]


@dataclass(frozen=True, kw_only=True)
class CountKind:
    """What is counted, and how.

    Attributes:
        name: Token.
        noun: As spoken.
        windows_s: Windows that may be used, the usual first.
        quick_windows_s: Further windows, in the quick routine alone, and marked.
        lowest: Rate per minute below which a count is a mistake.
        highest: Rate per minute above which a count is a mistake.
        source: Where windows and limits come from.
    """

    name: str
    noun: str
    windows_s: tuple[int, ...]
    quick_windows_s: tuple[int, ...] = ()
    lowest: int
    highest: int
    source: str


BREATHS = CountKind(
    name="breaths",
    noun="breaths",
    windows_s=(60,),
    quick_windows_s=(30,),
    lowest=4,
    highest=150,
    source=(
        "Windows: one-minute counts as in Rishniw and others, Res Vet Sci 2012;93:965, and never "
        "15 s (a human study of 770 counts: limits of agreement -7 to +5). Limits of a count: our "
        "own judgement, awaiting a vet; panting is no rate."
    ),
)

HEARTBEATS = CountKind(
    name="heartbeats",
    noun="heartbeats",
    windows_s=(30, 60),
    lowest=20,
    highest=300,
    source=(
        "Windows: common practice, no source. Limits of a count: our own judgement, awaiting a "
        "vet; pups reach 240 (Small Animal Clinical Nutrition, 5th edition, table 16-1)."
    ),
)

KINDS = {kind.name: kind for kind in (BREATHS, HEARTBEATS)}


@dataclass(frozen=True, kw_only=True)
class Counted:
    """A count in a window.

    Attributes:
        kind: ``breaths`` or ``heartbeats``.
        events: As said.
        window_s: Length of the window.
        per_min: Events a minute.
        resolution_per_min: What one event more or less changes.
        recount: It lies past the caution line, so it counts only after a second count.
        quick: The window was the quick routine's short one.
    """

    kind: str
    events: int
    window_s: int
    per_min: float
    resolution_per_min: float
    recount: bool = False
    quick: bool = False

    @property
    def shown(self) -> str:
        """The rate as shown, never sharper than one miscount."""
        return f"{self.per_min:g} a minute, give or take {self.resolution_per_min:g}"

    @property
    def method(self) -> tuple[tuple[str, str | float], ...]:
        """Facts for the record."""
        return (
            ("way", "counted window"),
            ("window_s", float(self.window_s)),
            ("events", float(self.events)),
            ("resolution_per_min", self.resolution_per_min),
            ("quick", "yes" if self.quick else "no"),
        )


def resolution(window_s: float) -> float:
    """Return what one miscount changes, events a minute: 60 divided by the window."""
    if not window_s > 0.0:
        msg = f"a window of {window_s} s counts nothing"
        raise ValueError(msg)
    return 60.0 / window_s


def count(
    kind: CountKind,
    events: float,
    window_s: int,
    *,
    quick: bool = False,
    caution_per_min: float | None = None,
    below_per_min: float | None = None,
) -> Counted:
    """Return the rate of a count.

    Args:
        kind: What was counted.
        events: The number that was said.
        window_s: The window's length.
        quick: The quick routine is under way: its short window is allowed, and marked.
        caution_per_min: Above this rate a second count is asked for; None for no such line.
        below_per_min: Below this rate as well.

    Raises:
        CallerError: The window is none of the kind's.
        HeardError: The number is no count: not whole, or a rate that cannot be.
    """
    allowed = kind.windows_s + (kind.quick_windows_s if quick else ())
    if window_s not in allowed:
        listed = " or ".join(f"{window} s" for window in allowed)
        msg = f"{kind.noun} are not counted for {window_s} s: count for {listed}"
        raise CallerError(msg)
    if events != int(events) or events < 0:
        msg = f"{events:g} is no count of {kind.noun}: say a whole number"
        raise HeardError(msg)
    per_min = int(events) * 60.0 / window_s
    if not kind.lowest <= per_min <= kind.highest:
        msg = f"{int(events)} {kind.noun} in {window_s} seconds cannot be: please count again"
        raise HeardError(msg)
    past = caution_per_min is not None and per_min > caution_per_min
    past = past or (below_per_min is not None and per_min < below_per_min)
    return Counted(
        kind=kind.name,
        events=int(events),
        window_s=window_s,
        per_min=per_min,
        resolution_per_min=resolution(window_s),
        recount=past,
        quick=window_s in kind.quick_windows_s,
    )


def settle(counts: Sequence[Counted]) -> float | None:
    """Return the rate that counts come to, or None while one more is to be taken.

    One count that is not past the line counts alone. A count past it needs a second; two counts
    that differ by more than three miscounts need a third, and then the middle one counts.

    Raises:
        ValueError: No counts, or of two kinds.
    """
    if not counts or len({c.kind for c in counts}) != 1:
        msg = "counts of one kind are needed"
        raise ValueError(msg)
    rates = [c.per_min for c in counts]
    if len(counts) == 1:
        return None if counts[0].recount else rates[0]
    apart = abs(rates[-1] - rates[-2])
    if len(counts) == 2 and apart > 3.0 * max(c.resolution_per_min for c in counts):
        return None
    return median(rates)
