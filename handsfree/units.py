"""Units of measure and their exact factors; stored values are kg, Cel, mm, mL, s and /min.

Tokens are those of UCUM where they can be said plainly; ``UCUM`` gives the code for exports.
Factors: NIST Special Publication 811 (2008), appendix B; the pound, ounce and inch are exact there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from handsfree.errors import CallerError

__all__ = ["STORED", "UCUM", "UNITS", "Unit", "convert", "parse_quantity", "shown"]


@dataclass(frozen=True, kw_only=True)
class Unit:
    """One unit: ``stored = (value - zero) * factor``.

    Attributes:
        token: As stored beside a value.
        kind: What it measures; only units of one kind convert.
        factor: Size of one in the stored unit of its kind.
        zero: Its reading at the stored unit's zero (32 for degrees Fahrenheit).
        spoken: As read out, for several.
        written: As written behind a number.
        decimals: Decimals that are worth showing.
    """

    token: str
    kind: str
    factor: float
    zero: float = 0.0
    spoken: str
    written: str
    decimals: int = 1


UNITS: dict[str, Unit] = {
    unit.token: unit
    for unit in (
        Unit(token="kg", kind="mass", factor=1.0, spoken="kilograms", written="kg"),
        Unit(token="g", kind="mass", factor=1e-3, spoken="grams", written="g", decimals=0),
        Unit(token="lb", kind="mass", factor=0.45359237, spoken="pounds", written="lb"),
        Unit(token="oz", kind="mass", factor=0.028349523125, spoken="ounces", written="oz"),
        Unit(token="st", kind="mass", factor=6.35029318, spoken="stone", written="st"),
        Unit(
            token="Cel",
            kind="temperature",
            factor=1.0,
            spoken="degrees Celsius",
            written="°C",
        ),
        Unit(
            token="degF",
            kind="temperature",
            factor=1 / 1.8,
            zero=32.0,
            spoken="degrees Fahrenheit",
            written="°F",
        ),
        Unit(token="mm", kind="length", factor=1.0, spoken="millimetres", written="mm", decimals=0),
        Unit(token="cm", kind="length", factor=10.0, spoken="centimetres", written="cm"),
        Unit(token="in", kind="length", factor=25.4, spoken="inches", written="in"),
        Unit(token="mL", kind="volume", factor=1.0, spoken="millilitres", written="mL", decimals=0),
        Unit(token="L", kind="volume", factor=1000.0, spoken="litres", written="L"),
        Unit(token="s", kind="time", factor=1.0, spoken="seconds", written="s"),
        Unit(token="/min", kind="rate", factor=1.0, spoken="a minute", written="/min", decimals=0),
    )
}
"""Every unit by its token."""

STORED: dict[str, str] = {
    "mass": "kg",
    "temperature": "Cel",
    "length": "mm",
    "volume": "mL",
    "time": "s",
    "rate": "/min",
}
"""The unit in which each kind is stored."""

UCUM: dict[str, str] = {
    "kg": "kg",
    "g": "g",
    "lb": "[lb_av]",
    "oz": "[oz_av]",
    "st": "[stone_av]",
    "Cel": "Cel",
    "degF": "[degF]",
    "mm": "mm",
    "cm": "cm",
    "in": "[in_i]",
    "mL": "mL",
    "L": "L",
    "s": "s",
    "/min": "/min",
}
"""Token to UCUM code."""

_IMPERIAL: dict[str, str] = {"kg": "lb", "Cel": "degF", "mm": "in"}


def convert(value: float, unit: str, to: str) -> float:
    """Return ``value`` given in ``unit``, in the unit ``to``.

    Raises:
        CallerError: A unit is unknown, the two measure different things, or the value is no
            finite number.
    """
    source, target = _known(unit), _known(to)
    if source.kind != target.kind:
        msg = f"{unit} measures {source.kind} and {to} measures {target.kind}: give another unit."
        raise CallerError(msg)
    if not math.isfinite(value):
        msg = f"{value} {unit} is no finite number."
        raise CallerError(msg)
    if source is target:
        return value
    return (value - source.zero) * source.factor / target.factor + target.zero


def parse_quantity(text: str, *, kind: str, default: str) -> float:
    """Return a typed quantity such as "12.4 kg" or "27lb" in the stored unit of its kind.

    Args:
        text: Number and, if wanted, a unit; a decimal comma is taken as a point.
        kind: What is measured: a key of STORED.
        default: Unit taken where none is given.

    Raises:
        CallerError: It is no such quantity.
    """
    plain = text.strip().replace(",", ".")
    number = plain.rstrip("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ/°")
    unit = plain[len(number) :].lower()
    token = _ALIASES.get(unit, default if not unit else None)
    try:
        value = float(number)
    except ValueError:
        value = math.nan
    if token is None or UNITS[token].kind != kind or not math.isfinite(value):
        units = ", ".join(u.token for u in UNITS.values() if u.kind == kind)
        msg = f"{text!r} is no {kind}: give a number and one of {units}, such as '12.4 {default}'."
        raise CallerError(msg)
    return convert(value, token, STORED[kind])


def shown(value: float, unit: str, *, imperial: bool = False) -> str:
    """Return a stored value as people read it, with its unit, in the system they chose."""
    token = _IMPERIAL.get(unit, unit) if imperial else unit
    target = UNITS.get(token)
    if target is None:
        return f"{value:g} {unit}".strip()
    number = round(convert(value, unit, token), target.decimals)
    if unit == "kg" and token == "kg" and value < 10:
        number = round(value, 2)
    return f"{number:g} {target.written}"


def _known(token: str) -> Unit:
    unit = UNITS.get(token)
    if unit is None:
        msg = f"{token!r} is no unit that is known: choose from {', '.join(UNITS)}."
        raise CallerError(msg)
    return unit


_ALIASES: dict[str, str] = {
    **{unit.token.lower(): unit.token for unit in UNITS.values()},
    **{unit.written.lower(): unit.token for unit in UNITS.values()},
    **{unit.spoken.lower(): unit.token for unit in UNITS.values()},
    "c": "Cel",
    "f": "degF",
    "lbs": "lb",
    "kilos": "kg",
    "kgs": "kg",
    "inch": "in",
    "millimeters": "mm",
    "centimeters": "cm",
}
