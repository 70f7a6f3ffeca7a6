"""From log odds to a probability, for every model of hearing alike."""

from __future__ import annotations

import math

__all__ = ["probability_of"]

_MOST = 30.0
"""Log odds beyond which a probability is as good as certain, and an exponential might overflow."""


def probability_of(log_odds: float) -> float:
    """Return the probability with these log odds (natural logarithm)."""
    return 1.0 / (1.0 + math.exp(-max(-_MOST, min(_MOST, log_odds))))
