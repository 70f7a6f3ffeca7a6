"""HL7 FHIR R4B: one Bundle of Patients (the animals) and Observations.

Shapes follow hl7.org/fhir/R4B; units are UCUM codes. A LOINC code stands only where the code means
the same thing in a dog as here; our own items are coded in our own system besides. A doubted answer
is ``preliminary``; what was not observed has a reason and never a value.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from typing import IO, TYPE_CHECKING, Any

from handsfree.judging.result import Telling
from handsfree.review.series import how_taken
from handsfree.review.wording import answer_words, item_title, sentence, side_title
from handsfree.units import UCUM, UNITS

if TYPE_CHECKING:
    from handsfree.records import Answer, Dog, Store

__all__ = ["ITEMS", "LOINC", "write_fhir"]

ITEMS = "urn:handsfree:items"
VALUES = "urn:handsfree:values"
ANIMAL = "http://hl7.org/fhir/StructureDefinition/patient-animal"
LOINC: dict[str, tuple[str, str]] = {
    "weight.kg": ("29463-7", "Body weight"),
    "heart.rate": ("8867-4", "Heart rate"),
    "heart.recount": ("8867-4", "Heart rate"),
    "breaths.rate": ("9279-1", "Respiratory rate"),
    "breaths.recount": ("9279-1", "Respiratory rate"),
    "temperature.degrees": ("8310-5", "Body temperature"),
    "temperature.recheck": ("8310-5", "Body temperature"),
}
"""Codes of the FHIR vital signs profile. Refill is left out: its LOINC code is of a nail bed."""

_ABSENT = "http://terminology.hl7.org/CodeSystem/data-absent-reason"
_CATEGORY = "http://terminology.hl7.org/CodeSystem/observation-category"


def write_fhir(
    file: IO[str],
    store: Store,
    dogs: Sequence[Dog],
    telling: Telling,
    *,
    now: datetime,
    told: Callable[[int, int], None],
) -> int:
    """Write a Bundle of these dogs with all that was answered; return the number of resources."""
    head = {"resourceType": "Bundle", "type": "collection", "timestamp": now.isoformat()}
    file.write(json.dumps(head)[:-1])  # FHIR has no empty arrays: entries begin with the first
    count = 0
    for done, dog in enumerate(dogs, 1):
        for resource in _resources(store, dog, telling):
            entry = {"fullUrl": f"urn:uuid:{resource['id']}", "resource": resource}
            text = json.dumps(entry, ensure_ascii=False, separators=(",", ":"))
            file.write((",\n" if count else ', "entry": [\n') + text)
            count += 1
        told(len(dogs) - done, len(dogs))
    file.write("\n]}\n" if count else "}\n")
    return count


def _resources(store: Store, dog: Dog, telling: Telling) -> Iterator[dict[str, Any]]:
    yield _patient(dog)
    places = {lump.key: lump.place for lump in store.lumps.of_dog(dog.id, gone=True)}
    answers = store.exams.dog_answers(dog.id)
    for exam in reversed(store.exams.of_dog(dog.id)):
        for answer in answers.get(exam.id, ()):
            yield _observation(answer, dog, telling, places)
    for weight in store.weights.of_dog(dog.id):
        if weight.exam_id is None:
            yield {
                **_head(weight.id, dog, weight.at, "weight.kg"),
                "status": "final",
                "valueQuantity": _quantity(weight.weight_kg, "kg"),
                **({"method": {"text": weight.how}} if weight.how.strip() else {}),
            }


def _patient(dog: Dog) -> dict[str, Any]:
    parts = [
        {
            "url": "species",
            "valueCodeableConcept": {
                "coding": [
                    {
                        "system": "http://hl7.org/fhir/animal-species",
                        "code": "canislf",
                        "display": "Dog",
                    }
                ],
                "text": "Dog",
            },
        }
    ]
    if dog.breed.strip():
        parts.append({"url": "breed", "valueCodeableConcept": {"text": dog.breed}})
    status = {"yes": "neutered", "no": "intact"}.get(dog.neutered.value, "unknown")
    parts.append(
        {
            "url": "genderStatus",
            "valueCodeableConcept": {
                "coding": [{"system": "http://hl7.org/fhir/animal-genderstatus", "code": status}]
            },
        }
    )
    patient: dict[str, Any] = {
        "resourceType": "Patient",
        "id": dog.id,
        "extension": [{"url": ANIMAL, "extension": parts}],
        "active": dog.retired_at is None,
        "name": [{"text": dog.name}],
        "gender": dog.sex.value,
    }
    if dog.chip:
        patient["identifier"] = [{"type": {"text": "Microchip"}, "value": dog.chip}]
    if dog.birth is not None:
        precision = dog.birth_precision.value if dog.birth_precision else "day"
        length = {"year": 4, "month": 7}.get(precision, 10)
        patient["birthDate"] = dog.birth.isoformat()[:length]
    if dog.owner.strip():
        patient["contact"] = [
            {"relationship": [{"text": "Owner"}], "name": {"text": dog.owner}},
        ]
    return patient


def _head(key: str, dog: Dog, at: datetime, item: str) -> dict[str, Any]:
    coding = [{"system": ITEMS, "code": item}]
    category = "exam"
    if item in LOINC:
        code, display = LOINC[item]
        coding.insert(0, {"system": "http://loinc.org", "code": code, "display": display})
        category = "vital-signs"
    return {
        "resourceType": "Observation",
        "id": key,
        "category": [{"coding": [{"system": _CATEGORY, "code": category}]}],
        "code": {"coding": coding, "text": sentence(item_title(item))},
        "subject": {"reference": f"urn:uuid:{dog.id}"},
        "effectiveDateTime": at.isoformat(timespec="seconds"),
    }


def _observation(
    answer: Answer, dog: Dog, telling: Telling, places: dict[str, str]
) -> dict[str, Any]:
    sure = answer.confirmed.value == "confirmed" or answer.status.value != "observed"
    found = {
        **_head(answer.id, dog, answer.at, answer.item),
        "status": "final" if sure else "preliminary",
    }
    if answer.side is not None:
        found["bodySite"] = {"text": side_title(answer.side, places)}
    if answer.status.value != "observed":
        code = "not-applicable" if answer.status.value == "not_applicable" else "not-performed"
        found["dataAbsentReason"] = {
            "coding": [{"system": _ABSENT, "code": code}],
            "text": answer_words(answer, telling),
        }
    elif isinstance(answer.value, float):
        found["valueQuantity"] = _quantity(answer.value, answer.unit or "1")
        found["method"] = {"text": how_taken(answer) or "not noted"}
    else:
        found["valueCodeableConcept"] = {
            "coding": [{"system": VALUES, "code": str(answer.value)}],
            "text": answer_words(answer, telling),
        }
    return found


def _quantity(value: float, unit: str) -> dict[str, Any]:
    known = UNITS.get(unit)
    return {
        "value": value,
        "unit": known.written if known else unit,
        "system": "http://unitsofmeasure.org",
        "code": UCUM.get(unit, unit),
    }
