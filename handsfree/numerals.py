"""Numbers as a person says them: for names of pens, and for the simulated examiner."""

from __future__ import annotations

__all__ = ["ONES", "TENS", "in_words"]

ONES = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
]
TENS = [
    "zero",
    "ten",
    "twenty",
    "thirty",
    "forty",
    "fifty",
    "sixty",
    "seventy",
    "eighty",
    "ninety",
]


def in_words(value: float) -> str:
    """Return a number from 0 to 999 in words, with its decimals digit by digit.

    Raises:
        ValueError: It is negative or too large to be said here.
    """
    if not 0 <= value < 1000:
        msg = f"{value} is not a number from 0 to 999"
        raise ValueError(msg)
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    whole, _, decimals = text.partition(".")
    said = _whole(int(whole))
    if decimals:
        said += " point " + " ".join(ONES[int(digit)] for digit in decimals)
    return said


def _whole(value: int) -> str:
    if value >= 100:
        rest = value % 100
        hundreds = f"{ONES[value // 100]} hundred" if value >= 200 else "a hundred"
        return f"{hundreds} and {_whole(rest)}" if rest else hundreds
    if value >= 20:
        return TENS[value // 10] + (f" {ONES[value % 10]}" if value % 10 else "")
    return ONES[value]
