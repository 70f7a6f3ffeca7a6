"""Numbers of microchips under ISO 11784: what can be one, and how it is read back. Pure.

Fifteen digits: three of a country (ISO 3166-1 numeric, 004 to 894) or of a maker (900 to 998), then
twelve of the animal, which the chip holds in 38 bits. 999 marks test chips. There is no check
digit, so no sum can catch a misheard digit: the number is read back digit by digit.
"""

from __future__ import annotations

import re

from handsfree.errors import CallerError

__all__ = ["checked_chip", "read_back"]

DIGITS = 15
COUNTRIES = range(4, 895)
"""Numbers that ISO 3166-1 has given to countries, the lowest to the highest."""

MOST = 2**38 - 1
"""The greatest number of an animal: 274877906943."""

_WORDS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


def checked_chip(text: str) -> str:
    """Return the fifteen digits of a chip number, without spaces, dots or dashes.

    Raises:
        CallerError: It is no number that a dog's chip can have; says why.
    """
    digits = re.sub(r"[\s.\-]", "", text)
    if not re.fullmatch(r"[0-9]+", digits):
        msg = f"{text!r} is no chip number: give {DIGITS} digits."
        raise CallerError(msg)
    if len(digits) != DIGITS:
        few = "too short" if len(digits) < DIGITS else "too long"
        msg = (
            f"Chip number {digits} is {few}: it has {len(digits)} digits, not {DIGITS}. Read again."
        )
        raise CallerError(msg)
    code = int(digits[:3])
    if code == 0:
        msg = f"Chip number {digits} begins with 000, which is no country and no maker. Read again."
        raise CallerError(msg)
    if code == 999:
        msg = f"Chip number {digits} begins with 999, which marks a test chip. Read again."
        raise CallerError(msg)
    if code < 900 and code not in COUNTRIES:
        msg = f"Chip number {digits} begins with {digits[:3]}, which no country has. Read again."
        raise CallerError(msg)
    if int(digits[3:]) > MOST:
        msg = (
            f"Chip number {digits} ends in {digits[3:]}, and no chip can hold more than {MOST} "
            "there. Read again."
        )
        raise CallerError(msg)
    return digits


def read_back(digits: str) -> str:
    """Return the number as spoken: digit by digit, in groups of three."""
    groups = [digits[start : start + 3] for start in range(0, len(digits), 3)]
    return ", ".join(" ".join(_WORDS[int(digit)] for digit in group) for group in groups)
