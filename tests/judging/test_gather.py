"""From stored exams to judging: the dog as it was, and its past."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from moved_clock import MovedClock

from handsfree.dialogue.actions import Confirm, Confirmed, Record, Status
from handsfree.errors import DataError
from handsfree.judging.care import CareFact
from handsfree.judging.gather import (
    care_facts,
    exam_case,
    history_of,
    judge_exam,
    judge_left,
    note_care,
)
from handsfree.judging.model import ChangeKind, Level
from handsfree.records import Dog, Store, Versions

from .shared import table


def stored(
    store: Store, dog: Dog, clock: MovedClock, *records: Record, outcome: str | None = "complete"
) -> str:
    """Store an exam, a week after the last."""
    clock.now += timedelta(days=7)
    versions = Versions(protocol="1", grammars="a", engine="none 0")
    exam = store.exams.begin(dog.id, person_id=None, routine="full", versions=versions)
    for record in records:
        store.exams.record(exam.id, record)
    if outcome is not None:
        store.exams.finish(exam.id, outcome)
    return exam.id


def answer(
    ref: int, item: str, value: str | float, *, certainty: Confirmed = Confirmed.CONFIRMED
) -> Record:
    """One observed answer."""
    return Record(
        ref=ref,
        item=item,
        status=Status.OBSERVED,
        value=value,
        unit="kg" if item == "weight.kg" else None,
        confirmed=certainty,
    )


def test_an_exam_is_judged_with_the_past_it_had(store: Store, clock: MovedClock) -> None:
    """Earlier exams count, later ones do not; weights entered by hand do."""
    dog = store.dogs.add("Bramble")
    stored(store, dog, clock, answer(1, "mouth.teeth", "clean"))
    store.weights.enter(dog.id, 22.0)
    second = stored(store, dog, clock, answer(1, "mouth.teeth", "tartar"))
    stored(store, dog, clock, answer(1, "mouth.teeth", "broken"))
    past = history_of(store, dog.id, before=second)
    assert [f.value for e in past for f in e.findings] == ["clean", 22.0]
    judgement = judge_exam(store, second, table())
    assert [c.kind for c in judgement.changes] == [ChangeKind.FIRST_SEEN]
    assert not judgement.unfinished


def test_an_exam_that_stopped_after_three_answers_says_so(store: Store, clock: MovedClock) -> None:
    """It is judged on what it has."""
    dog = store.dogs.add("Bramble")
    few = (
        answer(1, "now.signs", "none"),
        answer(2, "now.danger", "none"),
        answer(3, "now.gums", "white"),
    )
    for outcome in (None, "partial"):
        judgement = judge_exam(store, stored(store, dog, clock, *few, outcome=outcome), table())
        assert judgement.unfinished
        assert judgement.level is Level.NOW


def test_a_doubted_answer_stays_possible(store: Store, clock: MovedClock) -> None:
    """Stored as possible, judged as possible."""
    dog = store.dogs.add("Bramble")
    exam = stored(store, dog, clock, answer(1, "now.gums", "blue", certainty=Confirmed.UNCONFIRMED))
    store.exams.confirm(exam, Confirm(ref=1, confirmed=Confirmed.POSSIBLE))
    (fired,) = judge_exam(store, exam, table()).fired
    assert fired.possible
    assert fired.level is Level.NOW


def test_the_dog_is_as_it_was_on_that_day(store: Store, clock: MovedClock) -> None:
    """A pup then is judged as a pup."""
    dog = store.dogs.add("Bramble", birth=datetime(2026, 1, 1).date())
    exam = stored(store, dog, clock, answer(1, "watch.gait", "limping"))
    clock.now += timedelta(days=400)
    assert exam_case(store, exam).subject.age_months == 2
    assert judge_exam(store, exam, table()).level is Level.SAME_DAY


def test_care_is_kept_and_read(store: Store) -> None:
    """As it was said; what cannot be read is named."""
    dog = store.dogs.add("Bramble")
    fact = CareFact(task="nails", kind="interval", days=21)
    note_care(store, dog.id, fact)
    assert care_facts(store, dog.id) == (fact,)
    store.care.note(dog.id, "nails", {"kind": "nonsense"})
    with pytest.raises(DataError, match="nails"):
        care_facts(store, dog.id)


def test_what_broke_off_is_judged_once_and_again_when_it_went_on(
    store: Store, clock: MovedClock
) -> None:
    """Only exams with answers that no judgement has seen are left; finished ones never are."""
    dog = store.dogs.add("Bramble")
    stored(store, dog, clock, answer(1, "now.gums", "pink"))
    stored(store, dog, clock, outcome=None)
    killed = stored(store, dog, clock, answer(1, "now.gums", "pink"), outcome=None)
    assert judge_left(store, but=killed) == ()
    assert judge_left(store, dog_id=store.dogs.add("Fern").id) == ()
    assert judge_left(store, since=clock.now) == ()
    assert judge_left(store) == (killed,)
    assert judge_left(store) == ()
    store.exams.record(killed, answer(2, "mouth.gum_colour", "white"))
    assert judge_left(store, dog_id=dog.id) == (killed,)
    assert judge_left(store) == ()
    assert [one.level for one in store.results.of_exam(killed)] == ["now", "not_enough"]
