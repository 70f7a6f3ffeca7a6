"""What exams came to, kept as it was said."""

from __future__ import annotations

import pytest

from handsfree.judging.model import Level
from handsfree.records import Dog, Store
from handsfree.records.results import URGENCY

from .conftest import VERSIONS


def test_every_judgement_of_an_exam_is_kept(store: Store, exam_id: str, dog: Dog) -> None:
    """An exam judged again has both judgements, newest first, each as it was said."""
    assert store.results.of_exam(exam_id) == ()
    body = {"fired": [{"rule": "gums_pale", "sides": []}], "said": ["Ring a vet now."]}
    store.results.keep(exam_id, rules="7", level="now", body=body)
    store.results.keep(exam_id, rules="8", level="watch", body={})
    new, old = store.results.of_exam(exam_id)
    assert (new.rules, new.level) == ("8", "watch")
    assert (old.rules, old.level, old.body) == ("7", "now", body)
    assert old.dog_id == dog.id


def test_the_overview_has_the_newest_of_each_dog(store: Store, exam_id: str, dog: Dog) -> None:
    """A dog without a judgement, or retired, is not in the overview; others are once."""
    store.dogs.add("Fern")
    store.results.keep(exam_id, rules="7", level="now", body={})
    later = store.exams.begin(dog.id, person_id=None, routine="full", versions=VERSIONS)
    store.results.keep(later.id, rules="7", level="none_found", body={})
    assert {key: r.level for key, r in store.results.overview().items()} == {dog.id: "none_found"}
    last = store.results.standing_of_dog(dog.id)
    assert last is not None
    assert last.exam_id == later.id
    store.results.keep(exam_id, rules="8", level="watch", body={})  # the earlier one, judged again
    assert store.results.overview()[dog.id].level == "none_found"
    assert store.results.standing_of_dog(dog.id) == last
    store.dogs.retire(dog.id)
    assert store.results.overview() == {}


@pytest.mark.parametrize(
    ("check", "measured", "stands"),
    [
        ("same_day", ["none_found"], "same_day"),
        ("same_day", ["watch", "not_enough"], "same_day"),
        ("watch", ["now", "none_found"], "now"),
        ("none_found", ["watch", "same_day"], "same_day"),
        ("not_enough", ["none_found"], "not_enough"),
    ],
)
def test_measurements_since_a_check_only_make_it_worse(
    store: Store, dog: Dog, check: str, measured: list[str], stands: str
) -> None:
    """What a check found is not taken back by a single number; the next check begins afresh."""

    def judged(routine: str, level: str) -> None:
        exam = store.exams.begin(dog.id, person_id=None, routine=routine, versions=VERSIONS)
        store.results.keep(exam.id, rules="7", level=level, body={})

    judged("full", "now")
    judged("quick", check)
    for level in measured:
        judged("measure_weight", level)
    found = store.results.standing_of_dog(dog.id)
    assert found is not None
    assert found.level == store.results.overview()[dog.id].level == stands
    judged("glance", "none_found")
    assert store.results.overview()[dog.id].level == "none_found"


def test_a_dog_that_was_only_measured_has_no_standing(store: Store, dog: Dog) -> None:
    """One number that set nothing off says nothing of how it stands with the dog."""
    exam = store.exams.begin(dog.id, person_id=None, routine="measure_heart", versions=VERSIONS)
    store.results.keep(exam.id, rules="7", level="none_found", body={})
    assert store.results.standing_of_dog(dog.id) is None
    assert store.results.overview() == {}


def test_a_check_that_broke_off_takes_nothing_back(store: Store, dog: Dog) -> None:
    """What a finished check found stands, unless what was answered since then is more urgent."""

    def judged(level: str, *, unfinished: bool) -> None:
        exam = store.exams.begin(dog.id, person_id=None, routine="full", versions=VERSIONS)
        store.results.keep(exam.id, rules="7", level=level, body={"unfinished": unfinished})

    def stands() -> str:
        found = store.results.standing_of_dog(dog.id)
        assert found is not None
        assert store.results.overview()[dog.id] == found
        return found.level

    judged("not_enough", unfinished=True)
    assert stands() == "not_enough"
    judged("none_found", unfinished=False)
    judged("not_enough", unfinished=True)
    assert stands() == "none_found"
    judged("now", unfinished=True)
    judged("watch", unfinished=True)
    assert stands() == "now"
    judged("none_found", unfinished=False)
    assert stands() == "none_found"


def test_levels_are_ordered_as_judging_orders_them() -> None:
    """The records sort by the same urgency."""
    assert list(URGENCY) == [level.value for level in Level]
