"""Cases from JSON: what is read, and clear words for what cannot be."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from handsfree.errors import CallerError
from handsfree.judging.casefile import Case, case_of, read_case
from handsfree.protocol.subject import Neutered, Sex, Shape

from .shared import DAY, table

FULL: dict[str, Any] = {
    "dog": {
        "age_months": 60,
        "sex": "female",
        "neutered": False,
        "weight_kg": 12.5,
        "shape": "flat_faced",
        "known": ["heart", "pigmented gums", "an old scar"],
    },
    "findings": {
        "watch.attitude": "bright",
        "mouth.refill": 1.5,
        "eyes.look": {"left": "red", "right": "normal"},
        "now.gums": {"value": "pale", "certainty": "possible"},
        "weight.kg": {"value": 12, "unit": "kg"},
        "rear.look": {"status": "not_observed", "reason": "dog_refused"},
        "ears.look": [{"side": "left", "value": "waxy"}],
    },
    "past": [{"on": "2025-12-01", "findings": {"weight.kg": 13.0}}],
}


def read(raw: object) -> Case:
    """Read JSON data."""
    return case_of(raw, table().catalogue, DAY)


def test_a_whole_case_is_read() -> None:
    """Dog, findings in every form, and the past."""
    case = read(FULL)
    dog = case.subject
    assert (dog.age_months, dog.weight_kg) == (60, 12.5)
    assert (dog.sex, dog.neutered, dog.shape) == (Sex.FEMALE, Neutered.NO, Shape.FLAT_FACED)
    assert dog.conditions == {"heart"}
    assert dog.pigmented_gums
    found = {f.key: f for f in case.findings}
    assert found["eyes.look", "left"].value == "red"
    assert found["now.gums", None].certainty == "possible"
    assert found["weight.kg", None].value == 12.0
    assert found["rear.look", None].reason == "dog_refused"
    assert found["ears.look", "left"].value == "waxy"
    assert case.past[0].findings[0].value == 13.0


def test_a_sided_item_without_its_side_is_read() -> None:
    """A vet who tries the table need not say which eye."""
    (finding,) = read({"findings": {"eyes.look": "red"}}).findings
    assert (finding.value, finding.side) == ("red", None)


@pytest.mark.parametrize(
    ("raw", "named"),
    [
        ([], "one object with dog and findings"),
        ({"cat": {}}, "unknown key cat"),
        ({"findings": {"mouth.toes": "red"}}, "no item 'mouth.toes'"),
        ({"findings": {"derived.water": 3}}, "no item 'derived.water'"),
        ({"findings": {"mouth.teeth": "gold"}}, "no value 'gold'; it has clean"),
        ({"findings": {"weight.kg": "heavy"}}, "is a number in kg"),
        ({"findings": {"weight.kg": True}}, "is a number in kg"),
        ({"findings": {"weight.kg": {"value": 27, "unit": "lb"}}}, "is in kg, not in lb"),
        ({"findings": {"eyes.look": {"middle": "red"}}}, "no side 'middle'"),
        ({"findings": {"mouth.teeth": {"value": "tartar", "certainty": "hm"}}}, "certainty 'hm'"),
        ({"findings": []}, "must be an object"),
        ({"dog": {"born": "2027-01-01"}}, "lies in the future"),
        ({"dog": {"born": "soon"}}, "is no date"),
        ({"dog": {"age_months": -3}}, "age_months is -3"),
        ({"dog": {"age_months": "old"}}, "age_months is 'old'"),
        ({"dog": {"sex": "cat"}}, "choose one of female, male, unknown"),
        ({"dog": {"wings": 2}}, "unknown key wings"),
        ({"dog": {"known": 5}}, "must be a list of words"),
        ({"dog": 7}, "dog must be an object"),
        ({"past": {}}, "past must be a list"),
        ({"past": [{}]}, "past exam 1 needs on and findings"),
        ({"past": [{"on": "2030-01-01", "findings": {}}]}, "lies after"),
        ({"on": "never"}, "is no date"),
    ],
)
def test_each_mistake_is_told_in_words(raw: object, named: str) -> None:
    """What is wrong, and what would be right."""
    with pytest.raises(CallerError) as told:
        read(raw)
    assert named in str(told.value)


def test_all_mistakes_are_told_at_once() -> None:
    """Not one after the other."""
    raw = {"dog": {"sex": "cat"}, "findings": {"a.b": 1, "mouth.teeth": "gold"}}
    with pytest.raises(CallerError, match="3 mistakes"):
        read(raw)


def test_age_from_a_birth_date() -> None:
    """Whole months on the day of the case."""
    assert read({"dog": {"born": "2025-09-15"}}).subject.age_months == 5
    assert read({"dog": {"born": "2025-09-14"}}).subject.age_months == 6


def test_files_that_cannot_be_read_are_told(tmp_path: Path) -> None:
    """No file, no JSON, or no text."""
    with pytest.raises(CallerError, match="cannot be read"):
        read_case(tmp_path / "none.json", table().catalogue, DAY)
    broken = tmp_path / "broken.json"
    for content in (b"{", b"\xff\xfe\x00"):
        broken.write_bytes(content)
        with pytest.raises(CallerError, match="is no JSON"):
            read_case(broken, table().catalogue, DAY)
    broken.write_text(json.dumps(FULL))
    assert read_case(broken, table().catalogue, DAY).findings
