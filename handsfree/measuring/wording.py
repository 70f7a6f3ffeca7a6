"""How measured numbers are said and shown: never sharper than they are.

Ranges in half seconds and whole rates in words live here; no number is judged here.
"""

from __future__ import annotations

import math

__all__ = ["half_seconds", "range_of", "spoken_range"]


def range_of(median_s: float, spread_s: float, lag_s: float = 0.0) -> tuple[float, float]:
    """Return the range in half seconds that holds the median with half its spread on either side.

    A lag is taken off the lower edge alone: the person may have spoken late, never early.
    """
    low = max(0.0, median_s - spread_s / 2.0 - max(0.0, lag_s))
    high = median_s + spread_s / 2.0
    low_step = math.floor(low * 2.0 + 1e-9)
    high_step = max(math.ceil(high * 2.0 - 1e-9), low_step + 1)
    return low_step / 2.0, high_step / 2.0


def half_seconds(seconds: float) -> str:
    """Return a multiple of half a second in words, without the unit: "one and a half"."""
    whole = int(seconds)
    word = _NUMBERS[whole] if whole < len(_NUMBERS) else str(whole)
    if seconds == whole:
        return word
    return "half" if whole == 0 else f"{word} and a half"


def spoken_range(low_s: float, high_s: float) -> str:
    """Return a range as it is said: "between one and one and a half seconds"."""
    if low_s <= 0.0:
        return "under half a second" if high_s <= 0.5 else f"under {_with_unit(high_s)}"
    lower = "half a second" if low_s == 0.5 else half_seconds(low_s)
    return f"between {lower} and {_with_unit(high_s)}"


def _with_unit(seconds: float) -> str:
    if seconds == 0.5:
        return "half a second"
    return "one second" if seconds == 1.0 else f"{half_seconds(seconds)} seconds"


_NUMBERS = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
    "eleven", "twelve",
)  # fmt: skip
