"""What exams came to, kept as it was said."""

from __future__ import annotations

from datetime import date
from types import SimpleNamespace

from handsfree.records import Dog, Store
from handsfree.records.model import FiredRule, NotCovered

from .conftest import VERSIONS, MovedClock


def judged(level: str, *names: str) -> SimpleNamespace:
    """Return a judgement in the shape in which judging gives it."""
    rule = SimpleNamespace(
        id="gums_pale",
        name="pale gums",
        say="Ring a vet now.",
        meanwhile="Keep the dog warm.",
        avoid="Give no food.",
        recheck="",
    )
    finding = SimpleNamespace(item="now.gums", side=None)
    fired = SimpleNamespace(
        rule=rule,
        level=level,
        sides=("left",),
        evidence=(finding,),
        possible=True,
        stepped="in a puppy",
    )
    gap = SimpleNamespace(item="mouth.teeth", side=None, reason="dog_refused", vital=False)
    return SimpleNamespace(
        level=level,
        fired=(fired,) * len(names),
        not_covered=(gap,),
        cautions=("warmth",),
        contradictions=("gums both pale and pink",),
        body_condition="5 of 9",
        rules_version="7",
        on=date(2026, 3, 14),
        unfinished=True,
    )


def test_a_result_comes_back_as_it_was_said(store: Store, exam_id: str) -> None:
    """Everything that a person was told is there, whatever the rules become."""
    assert store.results.of_exam(exam_id) is None
    store.results.keep(exam_id, judged("now", "pale gums"))
    result = store.results.of_exam(exam_id)
    assert result is not None
    assert (result.level, result.rules, result.judged_on) == ("now", "7", date(2026, 3, 14))
    assert result.unfinished
    assert result.fired == (
        FiredRule(
            rule="gums_pale",
            level="now",
            name="pale gums",
            say="Ring a vet now.",
            meanwhile="Keep the dog warm.",
            avoid="Give no food.",
            sides=("left",),
            possible=True,
            stepped="in a puppy",
            evidence=(("now.gums", None),),
        ),
    )
    assert result.gaps == (NotCovered(item="mouth.teeth", reason="dog_refused"),)
    assert result.cautions == ("warmth",)
    assert result.contradictions == ("gums both pale and pink",)
    assert result.body_condition == "5 of 9"


def test_the_last_judgement_of_each_exam_counts(
    store: Store, exam_id: str, dog: Dog, clock: MovedClock
) -> None:
    """An exam judged again has one result; a dog's results come newest first."""
    store.results.keep(exam_id, judged("now"))
    store.results.keep(exam_id, judged("watch"))
    clock.move(days=1)
    later = store.exams.begin(dog.id, person_id=None, routine="full", versions=VERSIONS)
    store.results.keep(later.id, judged("none_found"))
    assert [r.level for r in store.results.of_dog(dog.id)] == ["none_found", "watch"]
    other = store.dogs.add("Fern")
    assert {key: r.level for key, r in store.results.overview().items()} == {dog.id: "none_found"}
    assert store.results.of_dog(other.id) == ()
    store.dogs.retire(dog.id)
    assert store.results.overview() == {}
