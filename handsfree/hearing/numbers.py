"""Spoken numbers: the tags met along a number grammar, to a value and a unit.

Only tags are read here, never words, so a grammar of another language needs nothing here; what
each tag does is the table in ``grammars/README.md``. Which numbers are plausible is the protocol's.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

__all__ = ["UNITS", "Quantity", "evaluate", "is_number_tag"]

UNITS: frozenset[str] = frozenset(
    {"kg", "g", "lb", "oz", "Cel", "degF", "mm", "cm", "in", "mL", "L"}
)
"""Unit tokens a tag may give; case-sensitive symbols as in UCUM where that has them."""

_SMALLER: dict[tuple[str, str], Fraction] = {
    ("lb", "oz"): Fraction(1, 16),
    ("kg", "g"): Fraction(1, 1000),
    ("cm", "mm"): Fraction(1, 10),
    ("L", "mL"): Fraction(1, 1000),
}
"""How much of the first unit one of the second is."""

_SHARES = {"half": Fraction(1, 2), "quarter": Fraction(1, 4), "three_quarters": Fraction(3, 4)}

_TAG = re.compile(
    r"\+(?P<add>\d{1,6})|\*(?P<times>100|1000)|(?P<point>point)|\.(?P<digit>\d)"
    r"|(?P<share>half|quarter|three_quarters)|unit:(?P<unit>\w+)"
    r"|size:(?P<size>\d+(?:\.\d+)?):(?P<of>\w+):(?P<like>\w+)"
)


@dataclass(frozen=True, kw_only=True)
class Quantity:
    """A number that was said.

    Attributes:
        value: In ``unit``, or bare.
        unit: One of UNITS; None where none was said.
        like: The everyday thing said in its place ("pea"), else None.
    """

    value: float
    unit: str | None = None
    like: str | None = None


def is_number_tag(tag: str) -> bool:
    """Whether this tag belongs to a spoken number."""
    return _TAG.fullmatch(tag) is not None


@dataclass
class _Part:
    """The open part: what has been said since the last unit."""

    whole: int = 0
    share: Fraction = Fraction(0)
    decimals: str | None = None
    said: bool = False

    def value(self) -> Fraction | None:
        if not self.said or self.decimals == "":
            return None
        value = self.whole + self.share
        if self.decimals:
            value += Fraction(int(self.decimals), 10 ** len(self.decimals))
        return value


def evaluate(tags: Sequence[str]) -> Quantity | None:
    """Return the quantity that the tags give, or None when they make no number.

    Args:
        tags: In the order said, each one of the forms of ``grammars/README.md``.
    """
    total = Fraction(0)
    first: str | None = None  # the unit of the first part: the value is in it
    part = _Part()
    for tag in tags:
        met = _TAG.fullmatch(tag)
        if met is None:
            return None
        if met["like"]:
            if len(tags) > 1:
                return None
            return Quantity(value=float(met["size"]), unit=met["of"], like=met["like"])
        if met["unit"]:
            value = part.value()
            if value is None or met["unit"] not in UNITS:
                return None
            if first is None:
                first, total = met["unit"], value
            elif (first, met["unit"]) in _SMALLER:
                total += value * _SMALLER[first, met["unit"]]
            else:
                return None
            part = _Part()
        elif not _say(part, met):
            return None
    if part.said:
        value = part.value()
        if value is None or (first is not None and (part.whole or part.decimals)):
            return None  # after a unit only "and a half" may stand alone
        total += value
    elif first is None:
        return None
    return Quantity(value=round(float(total), 6), unit=first)


def _say(part: _Part, met: re.Match[str]) -> bool:
    """Add one tag to the open part; False when it cannot follow."""
    if met["digit"]:
        if part.decimals is None:
            return False
        part.decimals += met["digit"]
    elif met["point"]:
        if part.decimals is not None:
            return False
        part.decimals = ""
    elif met["share"]:
        if part.share or part.decimals is not None:
            return False
        part.share = _SHARES[met["share"]]
    elif part.decimals is not None or part.share:
        return False
    elif met["add"]:
        part.whole += int(met["add"])
    else:
        part.whole = max(part.whole, 1) * int(met["times"])
    part.said = True
    return True
