"""A single measurement: a routine of its own beside those of the check, named by what it takes.

Names and titles alone; what each asks, and in which ways it is taken, stands in ``interview``.
"""

from __future__ import annotations

__all__ = ["PREFIX", "TITLES", "single_title"]

PREFIX = "measure_"
"""What the routine of a single measurement begins with; its name and its way follow."""

TITLES = {
    "breaths": "breaths at rest",
    "heart": "the heartbeat",
    "refill": "the refill",
    "weight": "the weight",
    "temperature": "the temperature",
    "lump": "the lump",
}
"""What each measures, as spoken."""


def single_title(routine: str) -> str:
    """Return what a routine measures and nothing else, as spoken; empty if it is a check."""
    if not routine.startswith(PREFIX):
        return ""
    name = routine.removeprefix(PREFIX)
    return TITLES.get(name.partition("_")[0], name.replace("_", " "))
