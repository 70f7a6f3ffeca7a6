"""How fast a lump grows: volume ratio and doubling time, taken as a ball of its longest diameter.

Printed for a vet's eye; no row of the table rests on it.
"""

from __future__ import annotations

import math

__all__ = ["doubling_days", "volume_ratio"]


def volume_ratio(before_mm: float, now_mm: float) -> float:
    """How many times the volume, by the cube of the diameters.

    Raises:
        ValueError: A diameter is not above zero.
    """
    if before_mm <= 0 or now_mm <= 0:
        msg = f"diameters of {before_mm} and {now_mm} mm have no volume ratio"
        raise ValueError(msg)
    return (now_mm / before_mm) ** 3


def doubling_days(before_mm: float, now_mm: float, days: float) -> float | None:
    """Days in which the volume doubles: days · ln 2 / (3 · ln(now / before)).

    None where it has not grown, or no time has passed.
    """
    ratio = volume_ratio(before_mm, now_mm)
    if ratio <= 1 or days <= 0:
        return None
    return days * math.log(2) / math.log(ratio)
