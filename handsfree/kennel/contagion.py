"""Signs that may be catching: whom they flag. Pure. A flag is no diagnosis.

The signs are those for which shelters separate dogs (University of Florida open text, isolation of
sick animals): cough, vomiting, diarrhoea, discharge from eyes or nose, crusts of the skin. Which
answers count as such is our own judgement, awaiting a vet.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

__all__ = ["GROUPS", "SIGNS", "signs_in"]

SIGNS: Mapping[str, Mapping[str, str]] = {
    "noticed.cough": dict.fromkeys(("sometimes", "often", "fits"), "cough"),
    "noticed.vomiting": dict.fromkeys(("once", "twice", "more", "bloody"), "vomiting"),
    "noticed.stools": dict.fromkeys(("soft", "watery", "bloody"), "diarrhoea"),
    "kennel.eyes_nose": dict.fromkeys(("eyes", "nose", "both"), "runny eyes or nose"),
    "coat.look": dict.fromkeys(("bald", "flaky", "several"), "bald or flaky skin"),
}
"""Item, value and the sign that it is."""

GROUPS = ("vomiting", "diarrhoea", "cough")
"""Signs that are counted over the house."""


def signs_in(answers: Iterable[tuple[str, object]]) -> tuple[str, ...]:
    """Return the signs that may be catching among (item, value), each once, in their order."""
    found = (SIGNS[item].get(str(value)) for item, value in answers if item in SIGNS)
    return tuple(dict.fromkeys(sign for sign in found if sign is not None))
