"""What exams came to, kept as it was said."""

from __future__ import annotations

from handsfree.records import Dog, Store

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
    last = store.results.latest_of_dog(dog.id)
    assert last is not None
    assert last.exam_id == later.id
    store.results.keep(exam_id, rules="8", level="watch", body={})  # the earlier one, judged again
    assert store.results.overview()[dog.id].level == "none_found"
    assert store.results.latest_of_dog(dog.id) == last
    store.dogs.retire(dog.id)
    assert store.results.overview() == {}
