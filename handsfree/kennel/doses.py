"""Which medicine is due, missed or too early. Pure. It shows what is stored, never "give"."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from handsfree.kennel.model import Dose, DoseOutcome, Medicine

__all__ = ["State", "challenge", "is_early", "state_of", "too_close"]

GRACE = 0.25
"""Part of the interval after which a dose counts as missed; our own judgement, awaiting a vet."""

EARLY = 0.1
"""Part of the interval by which a dose may come early without being challenged; the same."""


@dataclass(frozen=True, kw_only=True)
class State:
    """How one medicine stands: ``word`` is not_begun, ended, due, missed or waiting."""

    medicine: Medicine
    word: str
    last: Dose | None
    next_at: datetime | None


def state_of(medicine: Medicine, doses: Sequence[Dose], now: datetime) -> State:
    """Return how a medicine stands now, by its doses in any order."""
    given = [d for d in doses if d.outcome is DoseOutcome.GIVEN and d.medicine_id == medicine.id]
    last = max(given, key=lambda d: d.given_at, default=None)
    if now.date() < medicine.begins:
        return State(medicine=medicine, word="not_begun", last=last, next_at=None)
    if medicine.gone_at is not None or (medicine.ends is not None and now.date() > medicine.ends):
        return State(medicine=medicine, word="ended", last=last, next_at=None)
    interval = timedelta(hours=medicine.interval_h)
    if last is None:
        return State(medicine=medicine, word="due", last=None, next_at=None)
    next_at = last.given_at + interval
    if now < next_at - interval * EARLY:
        word = "waiting"
    elif now <= next_at + interval * GRACE:
        word = "due"
    else:
        word = "missed"
    return State(medicine=medicine, word=word, last=last, next_at=next_at)


def challenge(state: State, now: datetime) -> str:
    """Return what is asked before a dose is stored that comes too early; empty if it does not."""
    if state.word != "waiting" or state.last is None:
        return ""
    minutes = (now - state.last.given_at).total_seconds() / 60
    ago = f"{minutes:.0f} minutes" if minutes < 90 else f"{minutes / 60:.1f} hours"
    return (
        f"{state.medicine.name} was stored as given {ago} ago, and the vet set every "
        f"{state.medicine.interval_h:g} hours. Was it really given again?"
    )


def is_early(medicine: Medicine, before: datetime, at: datetime) -> bool:
    """Return whether a dose comes too early after another to be stored unasked."""
    return at - before < timedelta(hours=medicine.interval_h * (1 - EARLY))


def too_close(
    medicines: Sequence[Medicine], doses: Sequence[Dose]
) -> tuple[tuple[Dose, Dose], ...]:
    """Return pairs of doses given within one interval that nobody was asked about.

    Two stations that had not shared could each store one.
    """
    pairs = []
    for medicine in medicines:
        given = sorted(
            (d for d in doses if d.outcome is DoseOutcome.GIVEN and d.medicine_id == medicine.id),
            key=lambda d: d.given_at,
        )
        pairs += [
            (one, two)
            for one, two in itertools.pairwise(given)
            if is_early(medicine, one.given_at, two.given_at) and not two.early
        ]
    return tuple(pairs)
