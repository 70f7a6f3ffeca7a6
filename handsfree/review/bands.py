"""Published bands that charts show behind a dog's own numbers, each with its source.

A band is context for the eye, never a judgement: judging has its own table. Where no source gives
a band, none is drawn and the chart says so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from handsfree.judging.stage import PUPPY_UNTIL_MONTHS, size_of
from handsfree.protocol.subject import Size

if TYPE_CHECKING:
    from handsfree.protocol.subject import Subject

__all__ = ["Band", "band_for"]


@dataclass(frozen=True, kw_only=True)
class Band:
    """A band in the item's stored unit; None at an end that the source leaves open.

    ``source`` is a key of the protocol's sources; ``says`` puts the band into words.
    """

    low: float | None
    high: float | None
    source: str
    says: str

    def __post_init__(self) -> None:
        if self.low is None and self.high is None:
            msg = "a band has at least one end"
            raise ValueError(msg)


_SMALL = (Size.TOY, Size.SMALL)


def band_for(item: str, subject: Subject) -> Band | None:
    """Return the published band of an item for this dog; None where no source gives one."""
    age = subject.age_months
    if age is not None and age < PUPPY_UNTIL_MONTHS:
        return None  # the bands below are of adult dogs
    if item == "breaths.rate":
        return Band(
            low=None,
            high=30.0,
            source="rishniw_2012",
            says="healthy dogs asleep at home are rarely above 30 a minute",
        )
    if item == "heart.rate":
        small = size_of(subject) in _SMALL
        return Band(
            low=70.0 if small else 60.0,
            high=120.0,
            source="merck_triage",
            says=f"{70 if small else 60} to 120 a minute at rest for a "
            f"{'small' if small else 'larger'} adult dog",
        )
    if item == "temperature.degrees":
        return Band(
            low=37.7,
            high=39.5,
            source="temperature_2024",
            says="37.7 to 39.5 °C in the rectum of adult dogs",
        )
    if item == "mouth.refill":
        return Band(
            low=None,
            high=2.0,
            source="merck_triage",
            says="up to 2 seconds is usual",
        )
    return None
