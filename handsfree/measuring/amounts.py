"""Weights, temperatures and sizes: what was said, how far it may be off, and whether it can be.

Conversions are those of ``handsfree.units``; limits and everyday sizes are data with their source.
Nothing is judged here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from handsfree.errors import CallerError, HeardError
from handsfree.measuring.statistics import median

__all__ = [
    "LIMITS",
    "SIZES",
    "AmountLimits",
    "EverydaySize",
    "Plausible",
    "Verdict",
    "Weight",
    "plausible",
    "weight_by_difference",
]


class Verdict(StrEnum):
    """What to do with an amount that was said."""

    TAKE = "take"
    ASK_BACK = "ask_back"
    """Ask once more; keep it out if it is not confirmed."""
    REFUSE = "refuse"
    """It cannot be."""


@dataclass(frozen=True, kw_only=True)
class Plausible:
    """Whether an amount can be, and what is said if not; ``why`` is a token for the log."""

    verdict: Verdict
    why: str = ""
    say: str = ""


@dataclass(frozen=True, kw_only=True)
class AmountLimits:
    """What an amount can be.

    Attributes:
        unit: Unit of all four.
        hard_low: Below it is refused.
        hard_high: Above it is refused.
        usual_low: Below it is asked back.
        usual_high: Above it is asked back.
        change: Share of the last value by which it may change without being asked back; None
            where the last value says little.
        source: Where the limits come from.
    """

    unit: str
    hard_low: float
    hard_high: float
    usual_low: float
    usual_high: float
    change: float | None
    source: str


_OURS = "our own judgement, awaiting a vet"
LIMITS = {
    "weight": AmountLimits(
        unit="kg", hard_low=0.05, hard_high=130.0, usual_low=0.5, usual_high=90.0, change=0.25,
        source=_OURS,
    ),
    "temperature": AmountLimits(
        unit="Cel", hard_low=25.0, hard_high=45.0, usual_low=36.0, usual_high=41.0, change=None,
        source=(
            f"usual: wide about the interval 37.7 to 39.5 of 9,117 adults (Animals 2024;14:1970); "
            f"the rest {_OURS}"
        ),
    ),
    "lump": AmountLimits(
        unit="mm", hard_low=1.0, hard_high=500.0, usual_low=2.0, usual_high=150.0, change=1.0,
        source=_OURS,
    ),
    "water": AmountLimits(
        unit="mL", hard_low=0.0, hard_high=15000.0, usual_low=20.0, usual_high=6000.0, change=None,
        source=_OURS,
    ),
}  # fmt: skip
"""By kind of amount; a question of the protocol may bring limits of its own."""

_SLIP = (7.0, 14.0)
"""A ratio to the last value within this is likely a slipped decimal point."""


def plausible(limits: AmountLimits, value: float, last: float | None = None) -> Plausible:
    """Return whether ``value`` can be, by its limits and by the last value.

    Args:
        limits: In the value's unit.
        value: As said, converted.
        last: The last stored value of the same thing, same unit and site; None if there is none.
    """
    if not math.isfinite(value) or not limits.hard_low <= value <= limits.hard_high:
        return Plausible(
            verdict=Verdict.REFUSE,
            why="cannot_be",
            say=f"{value:g} cannot be. Please say it again.",
        )
    if last is not None and last > 0.0 and value > 0.0:
        ratio = value / last
        if _SLIP[0] <= ratio <= _SLIP[1]:
            say = f"That is ten times the last one. Is it really {value:g}?"
            return Plausible(verdict=Verdict.ASK_BACK, why="ten_times", say=say)
        if _SLIP[0] <= 1.0 / ratio <= _SLIP[1]:
            say = f"That is a tenth of the last one. Is it really {value:g}?"
            return Plausible(verdict=Verdict.ASK_BACK, why="a_tenth", say=say)
        if limits.change is not None and not (
            1.0 / (1.0 + limits.change) <= ratio <= 1.0 + limits.change
        ):
            say = f"The last one was {last:g}. Is it really {value:g}?"
            return Plausible(verdict=Verdict.ASK_BACK, why="far_from_last", say=say)
    if not limits.usual_low <= value <= limits.usual_high:
        return Plausible(verdict=Verdict.ASK_BACK, why="unusual", say=f"Is it really {value:g}?")
    return Plausible(verdict=Verdict.TAKE)


@dataclass(frozen=True, kw_only=True)
class Weight:
    """A weight and what its way of weighing can tell.

    Attributes:
        kg: Kilograms.
        noise_kg: Half-width within which two weighings by this way may differ by chance (95 %).
        share: That noise as a share of the dog's weight.
        readings: How many readings or pairs it rests on.
        way: ``scale`` or ``difference``.
    """

    kg: float
    noise_kg: float
    share: float
    readings: int
    way: str

    @property
    def coarse(self) -> bool:
        """Whether a change of a twentieth of the weight could hide in the noise."""
        return self.share > 0.05

    @property
    def shown(self) -> str:
        """The weight, no finer than the noise allows."""
        digits = 2 if self.noise_kg < 0.05 else 1
        return f"{self.kg:.{digits}f} kg, give or take {self.noise_kg:.2f}"

    @property
    def method(self) -> tuple[tuple[str, str | float], ...]:
        """Facts for the record."""
        return (
            ("way", self.way),
            ("readings", float(self.readings)),
            ("noise_kg", round(self.noise_kg, 3)),
            ("noise_share", round(self.share, 4)),
        )


def weight_by_difference(
    together_kg: Sequence[float], alone_kg: Sequence[float], accuracy_kg: float = 0.1
) -> Weight:
    """Return the dog's weight as "me with the dog" less "me alone", the median of the pairs.

    The noise is that of the difference of two such weights: four readings, each evenly off by up
    to ``accuracy_kg`` (0.23 kg for a bathroom scale of 0.1 kg), or what the pairs themselves
    show, whichever is larger.

    Args:
        together_kg: Readings with the dog, three by custom.
        alone_kg: As many without.
        accuracy_kg: How far the scale may be off.

    Raises:
        CallerError: Different numbers of readings, or none.
        HeardError: The differences are not above zero.
    """
    if len(together_kg) != len(alone_kg) or not together_kg:
        msg = "as many readings with the dog as without are needed: weigh again in pairs"
        raise CallerError(msg)
    pairs = [a - b for a, b in zip(together_kg, alone_kg, strict=True)]
    kg = median(pairs)
    if kg <= 0.0:
        msg = "with the dog the scale showed no more than without: please weigh again"
        raise HeardError(msg)
    single_sd = accuracy_kg / math.sqrt(3.0)
    noise = 1.96 * 2.0 * single_sd
    if len(pairs) > 1:
        noise = max(noise, (max(pairs) - min(pairs)) / 2.0)
    return Weight(kg=kg, noise_kg=noise, share=noise / kg, readings=len(pairs), way="difference")


@dataclass(frozen=True, kw_only=True)
class EverydaySize:
    """A size that people name by a thing.

    Attributes:
        word: As said.
        mm: The size stored.
        low_mm: The smallest that is called so.
        high_mm: The largest.
        source: Where the size comes from.
    """

    word: str
    mm: float
    low_mm: float
    high_mm: float
    source: str


_COMMON = "common practice, no source"
_GOLF = "a golf ball is 42.67 mm or more (rules of golf, from memory)"
_TENNIS = "a tennis ball is 65.4 to 68.6 mm (rules of tennis, from memory)"
SIZES = {
    size.word: size
    for size in (
        EverydaySize(word="lentil", mm=4, low_mm=2, high_mm=6, source=_COMMON),
        EverydaySize(word="pea", mm=8, low_mm=6, high_mm=10, source=_COMMON),
        EverydaySize(word="bean", mm=12, low_mm=9, high_mm=16, source=_COMMON),
        EverydaySize(word="grape", mm=18, low_mm=14, high_mm=24, source=_COMMON),
        EverydaySize(word="cherry", mm=22, low_mm=17, high_mm=27, source=_COMMON),
        EverydaySize(word="walnut", mm=35, low_mm=28, high_mm=42, source=_COMMON),
        EverydaySize(word="plum", mm=43, low_mm=36, high_mm=50, source=_GOLF),
        EverydaySize(word="egg", mm=50, low_mm=40, high_mm=60, source=_COMMON),
        EverydaySize(word="apple", mm=67, low_mm=58, high_mm=76, source=_TENNIS),
        EverydaySize(word="orange", mm=80, low_mm=66, high_mm=94, source=_COMMON),
    )
}  # fmt: skip
"""Everyday sizes by the word of the length grammar, which holds each one's like (rice, marble)."""
