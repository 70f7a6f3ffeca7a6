"""Exports as independent libraries read them.

FHIR R4B (hl7.org/fhir/R4B): fhir.resources. iCalendar (RFC 5545): icalendar. JSON Schema 2020-12:
jsonschema. LOINC codes of vital signs: hl7.org/fhir/R4B/observation-vitalsigns.html, from memory.
"""

from __future__ import annotations

import importlib
import json
from datetime import UTC, date, datetime, timedelta
from io import StringIO
from typing import Any

import icalendar
import jsonschema
import pytest
from moved_clock import MovedClock
from review.conftest import TODAY, bramble, check, clock

from handsfree.judging.result import Telling
from handsfree.judging.rules import read_table
from handsfree.protocol.subject import Sex
from handsfree.records import Dog, Store
from handsfree.review.dues import dues_of
from handsfree.review.exports.fhir import LOINC, write_fhir
from handsfree.review.exports.ical import calendar_bytes, uid_of
from handsfree.review.exports.jsonl import schema, write_jsonl

__all__ = ["bramble", "clock"]  # fixtures

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
NASTY = ("<script>alert(1)</script>", "=cmd()", "🐕‍🦺 Ünï", "כלב طيب", "x" * 200, "a\nb;c,d\\e")


def _quiet(_left: int, _of: int) -> None:
    pass


def _bundle(store: Store, dogs: list[Dog]) -> dict[str, Any]:
    file = StringIO()
    telling = Telling(catalogue=read_table().catalogue)
    write_fhir(file, store, dogs, telling, now=NOW, told=_quiet)
    found: dict[str, Any] = json.loads(file.getvalue())
    return found


def _valid(bundle: dict[str, Any]) -> None:
    module = importlib.import_module("fhir.resources.R4B.bundle")
    module.Bundle.model_validate(bundle)


def test_the_bundle_is_fhir_r4b(store: Store, bramble: Dog) -> None:
    """fhir.resources takes the Bundle, and each Observation is of the animal in it."""
    bundle = _bundle(store, [bramble])
    _valid(bundle)
    patient, *observations = [entry["resource"] for entry in bundle["entry"]]
    assert patient["extension"][0]["url"].endswith("/patient-animal")
    assert {o["subject"]["reference"] for o in observations} == {bundle["entry"][0]["fullUrl"]}
    weights = [o for o in observations if o["code"]["coding"][0]["code"] == "29463-7"]
    stored = [w.weight_kg for w in store.weights.of_dog(bramble.id)[::-1]]
    assert [o["valueQuantity"]["value"] for o in weights] == stored
    assert {o["valueQuantity"]["code"] for o in weights} == {"kg"}


def test_what_was_not_observed_has_a_reason_and_no_value(store: Store, bramble: Dog) -> None:
    """An Observation has either a value or a reason for its absence (FHIR constraint obs-6)."""
    for entry in _bundle(store, [bramble])["entry"][1:]:
        one = entry["resource"]
        valued = any(key.startswith("value") for key in one)
        assert valued != ("dataAbsentReason" in one)


def test_a_doubted_answer_is_preliminary(store: Store) -> None:
    """What was never settled is not final."""
    dog = store.dogs.add("Sorrel", sex=Sex.MALE)
    rows: list[Any] = [("mouth.gum_colour", None, "white", None)]
    check(store, dog, rows, possible=frozenset({"mouth.gum_colour"}))
    bundle = _bundle(store, [dog])
    _valid(bundle)
    assert bundle["entry"][1]["resource"]["status"] == "preliminary"


def test_loinc_codes_are_those_of_the_vital_signs() -> None:
    """Codes of the FHIR vital signs page: weight, heart, breathing, temperature."""
    assert {code for code, _ in LOINC.values()} == {"29463-7", "8867-4", "9279-1", "8310-5"}


@pytest.mark.parametrize("name", NASTY)
def test_any_name_is_valid_and_whole(store: Store, name: str) -> None:
    """Names come through FHIR, JSON Lines and iCalendar as they are."""
    dog = store.dogs.add(name, breed=name, owner=name)
    check(store, dog, [("ears.look", "left", "clean", None)])
    bundle = _bundle(store, [dog])
    _valid(bundle)
    assert bundle["entry"][0]["resource"]["name"][0]["text"] == name
    dues = dues_of(store, dog.id, TODAY)
    raw = calendar_bytes([(dog, dues)], on=TODAY, now=NOW, program="0")
    summaries = [str(e["summary"]) for e in icalendar.Calendar.from_ical(raw).walk("VEVENT")]
    assert summaries
    assert all(text.startswith(f"{name}: ") for text in summaries)
    file = StringIO()
    write_jsonl(file, store, dog.id, program="0", now=NOW, told=_quiet)
    rows = [json.loads(text) for text in file.getvalue().splitlines()]
    assert next(row for row in rows if row["row"] == "dogs")["name"] == name


def test_an_empty_bundle_is_valid(store: Store) -> None:
    """Records without a dog give a Bundle without entries: FHIR JSON has no empty arrays."""
    bundle = _bundle(store, [])
    assert "entry" not in bundle
    _valid(bundle)


def test_each_line_fits_the_published_schema(store: Store, bramble: Dog) -> None:
    """Jsonschema finds nothing wrong in any line, and the schema itself is one."""
    jsonschema.Draft202012Validator.check_schema(schema())
    validator = jsonschema.Draft202012Validator(schema())
    file = StringIO()
    write_jsonl(file, store, None, program="0", now=NOW, told=_quiet)
    seen: set[str] = set()
    for text in file.getvalue().splitlines():
        row = json.loads(text)
        if row["row"] not in seen or len(seen) > 8:
            validator.validate(row)
        seen.add(row["row"])
    assert {"dogs", "exams", "answers", "lumps", "results", "edits"} <= seen
    with pytest.raises(jsonschema.ValidationError):
        validator.validate({"row": "answers"})


def test_importing_again_moves_the_events(store: Store, bramble: Dog, clock: MovedClock) -> None:
    """RFC 5545: the same UID with a higher SEQUENCE is the same event, moved."""
    first = _events(store, bramble, TODAY, NOW)
    clock.now += timedelta(days=3)
    check(store, bramble, [("ears.look", "left", "clean", None)])
    later = _events(store, bramble, TODAY + timedelta(days=3), NOW + timedelta(days=3))
    assert set(first) == set(later)
    ears = uid_of(bramble.id, "ears")
    assert ears in first
    assert later[ears]["dtstart"].dt > first[ears]["dtstart"].dt
    assert all(int(later[uid]["sequence"]) > int(first[uid]["sequence"]) for uid in first)


def _events(store: Store, dog: Dog, on: date, now: datetime) -> dict[str, Any]:
    raw = calendar_bytes([(dog, dues_of(store, dog.id, on))], on=on, now=now, program="0")
    assert all(len(line) <= 75 for line in raw.split(b"\r\n"))  # RFC 5545, 3.1
    events = icalendar.Calendar.from_ical(raw).walk("VEVENT")
    found = {str(event["uid"]): event for event in events}
    assert len(found) == len(events)
    return found
