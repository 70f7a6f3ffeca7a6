"""From a stored dog to the subject of a check: age on a day, last weight, known lumps."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from handsfree.protocol.subject import KnownLump, Subject
from handsfree.records.dogs import age_months
from handsfree.records.model import Dog, Lump, Weight

__all__ = ["subject_of"]


def subject_of(
    dog: Dog,
    *,
    on: date,
    weights: Sequence[Weight] = (),
    lumps: Sequence[tuple[Lump, float | None, float | None]] = (),
) -> Subject:
    """Return the dog as the exam machine sees it.

    Args:
        dog: The dog.
        on: The day of the check.
        weights: Its weights, newest first.
        lumps: Its lumps, each with last length and width in mm.
    """
    season = None if dog.season_began is None else (on - dog.season_began).days
    return Subject(
        dog_id=dog.id,
        name=dog.name,
        sex=dog.sex,
        neutered=dog.neutered,
        age_months=age_months(dog, on),
        weight_kg=weights[0].weight_kg if weights else None,
        shape=dog.shape,
        size=dog.size,
        missing=dog.missing,
        dewclaws=dog.dewclaws,
        pigmented_gums=dog.pigmented_gums,
        season=None if season is None or season < 0 else season,
        pregnant=dog.pregnant,
        conditions=dog.conditions,
        medicines=dog.medicines,
        muzzle_trained=dog.muzzle_trained,
        has_bitten=dog.has_bitten,
        lumps=tuple(
            KnownLump(
                key=lump.key,
                place=lump.place,
                vet_result=lump.vet_result,
                length_mm=length,
                width_mm=width,
            )
            for lump, length, width in lumps
        ),
        known=dog.known,
    )
