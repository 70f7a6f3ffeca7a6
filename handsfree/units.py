"""Units by their UCUM tokens, and the factors between them.

Factors from NIST Special Publication 811, Guide for the Use of the International System of Units,
appendix B (the pound and the inch are exact by definition).
"""

from __future__ import annotations

__all__ = ["KG_PER_LB", "KG_PER_OZ", "MM_PER_INCH", "convert"]

KG_PER_LB = 0.45359237
KG_PER_OZ = KG_PER_LB / 16
MM_PER_INCH = 25.4

_FACTORS: dict[str, tuple[str, float]] = {
    "kg": ("mass", 1.0),
    "g": ("mass", 0.001),
    "lb": ("mass", KG_PER_LB),
    "oz": ("mass", KG_PER_OZ),
    "mm": ("length", 1.0),
    "cm": ("length", 10.0),
    "in": ("length", MM_PER_INCH),
    "mL": ("volume", 1.0),
    "L": ("volume", 1000.0),
    "s": ("time", 1.0),
    "min": ("time", 60.0),
    "h": ("time", 3600.0),
    "d": ("time", 86400.0),
    "/min": ("rate", 1.0),
}
"""Unit to its quantity and its size in that quantity's base unit here."""


def convert(value: float, unit: str, to: str) -> float:
    """Return ``value`` of ``unit`` in ``to``. Temperatures (Cel, degF) are points on a scale.

    Raises:
        ValueError: The units are unknown or measure different things.
    """
    if unit == to:
        return value
    if (unit, to) == ("degF", "Cel"):
        return (value - 32) / 1.8
    if (unit, to) == ("Cel", "degF"):
        return value * 1.8 + 32
    if unit not in _FACTORS or to not in _FACTORS or _FACTORS[unit][0] != _FACTORS[to][0]:
        msg = f"{unit} cannot be turned into {to}"
        raise ValueError(msg)
    return value * _FACTORS[unit][1] / _FACTORS[to][1]
