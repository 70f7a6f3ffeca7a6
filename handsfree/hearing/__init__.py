"""From samples to meaning: segmenting, recognisers, grammars, trust.

Engines are imported only by the modules that need them, when first used.
"""

from handsfree.hearing.verdict import (
    Candidate,
    Listening,
    Meaning,
    MeaningKind,
    Outcome,
    Verdict,
    WordTime,
)

__all__ = ["Candidate", "Listening", "Meaning", "MeaningKind", "Outcome", "Verdict", "WordTime"]
