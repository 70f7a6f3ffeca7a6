"""Storing exams: answers, corrections, confirmations, resumption."""

from __future__ import annotations

import sqlite3
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from moved_clock import MovedClock

from handsfree.dialogue.actions import (
    Confirm,
    Confirmed,
    LogFact,
    Measure,
    Record,
    Speak,
    SpeechKind,
    Status,
)
from handsfree.errors import CallerError
from handsfree.hearing.verdict import Candidate, Meaning, MeaningKind
from handsfree.records import Dog, Outcome, Store, Versions, actions_digest

from .conftest import VERSIONS


def seen(ref: int, item: str, value: str | float, **more: object) -> Record:
    """Return an observed answer."""
    return Record(ref=ref, item=item, status=Status.OBSERVED, value=value, **more)  # type: ignore[arg-type]


def test_an_answer_is_read_back_whole(store: Store, exam_id: str, dog: Dog) -> None:
    """Everything that is stored of an answer comes back as it was."""
    candidates = (
        Candidate(
            meaning=Meaning(kind=MeaningKind.ANSWER, value="pale"), words="pale", probability=0.7
        ),
        Candidate(
            meaning=Meaning(kind=MeaningKind.COMMAND, value="goto", target="ears"),
            words="go to ears",
            probability=0.2,
        ),
        Candidate(
            meaning=Meaning(kind=MeaningKind.ANSWER, value=12.4, unit="kg"),
            words="twelve point four",
            probability=0.1,
        ),
    )
    record = seen(
        1,
        "mouth.gum_colour",
        "pale",
        side="left",
        words="pale",
        candidates=candidates,
        stream="s1",
        start=16_000,
        end=24_000,
        attempt=2,
        by="touch",
        method=(("window_s", 60.0), ("scale", "kitchen")),
    )
    key = store.exams.record(exam_id, record)
    (answer,) = store.exams.answers(exam_id)
    assert answer.id == key
    assert answer.dog_id == dog.id
    assert answer.station_id == store.station_id
    for name in ("ref", "item", "side", "status", "reason", "value", "unit", "words", "candidates",
                 "confirmed", "stream", "start", "end", "attempt", "by", "method"):  # fmt: skip
        assert getattr(answer, name) == getattr(record, name), name
    assert answer.at.utcoffset() == timedelta(hours=2)


def test_a_correction_keeps_the_old_answer(store: Store, exam_id: str) -> None:
    """A correction is a new row that names the old one; only the new one counts."""
    first = store.exams.record(exam_id, seen(1, "now.gums", "pale"))
    second = store.exams.record(exam_id, seen(2, "now.gums", "pink", supersedes=1))
    assert [a.value for a in store.exams.answers(exam_id)] == ["pink"]
    history = store.exams.answer_history(exam_id)
    assert [(a.id, a.corrects) for a in history] == [(first, None), (second, first)]


def test_a_correction_that_names_another_item_withdraws_the_old(store: Store, exam_id: str) -> None:
    """An answer that was corrected drops out, wherever the correction stands."""
    store.exams.record(exam_id, seen(1, "now.gums", "pale"))
    store.exams.record(exam_id, seen(2, "mouth.gum_colour", "pale", supersedes=1))
    assert [a.item for a in store.exams.answers(exam_id)] == ["mouth.gum_colour"]


def test_sides_are_kept_apart(store: Store, exam_id: str) -> None:
    """A later answer for the right ear leaves the left one as it is."""
    store.exams.record(exam_id, seen(1, "ears.look", "red", side="left"))
    store.exams.record(exam_id, seen(2, "ears.look", "clean", side="right"))
    answers = store.exams.answers(exam_id)
    assert [(a.side, a.value) for a in answers] == [("left", "red"), ("right", "clean")]


def test_the_last_confirmation_counts(store: Store, exam_id: str) -> None:
    """An answer is unconfirmed when stored, then as settled as was said last."""
    store.exams.record(exam_id, seen(1, "now.gums", "pale"))
    assert store.exams.answers(exam_id)[0].confirmed is Confirmed.UNCONFIRMED
    store.exams.confirm(exam_id, Confirm(ref=1, confirmed=Confirmed.POSSIBLE))
    assert store.exams.answers(exam_id)[0].confirmed is Confirmed.POSSIBLE
    store.exams.confirm(exam_id, Confirm(ref=1))
    assert store.exams.answers(exam_id)[0].confirmed is Confirmed.CONFIRMED


def test_what_is_not_there_cannot_be_confirmed_or_corrected(store: Store, exam_id: str) -> None:
    """A confirmation or correction of no answer is refused, and nothing is stored of it."""
    with pytest.raises(CallerError, match="no answer number 7"):
        store.exams.confirm(exam_id, Confirm(ref=7))
    with pytest.raises(CallerError, match="no answer number 7"):
        store.exams.record(exam_id, seen(8, "now.gums", "pink", supersedes=7))
    assert store.exams.answer_history(exam_id) == ()


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_a_number_that_is_none_is_refused(store: Store, exam_id: str, value: float) -> None:
    """Nothing that is no finite number gets into the records."""
    with pytest.raises(CallerError, match="no finite number"):
        store.exams.record(exam_id, seen(1, "weight.kg", value))


@pytest.mark.parametrize(
    "table",
    ["answers", "confirmations", "measurements", "exam_facts", "exam_states", "events", "edits"],
)
def test_facts_cannot_be_changed(store: Store, exam_id: str, table: str) -> None:
    """The database itself refuses to change or delete a fact."""
    store.exams.record(exam_id, seen(1, "now.gums", "pale"))
    store.exams.confirm(exam_id, Confirm(ref=1))
    store.exams.measure(
        exam_id,
        Measure(
            item="mouth.refill", kind="said", ordinal=1, stream="", samples=(), value=1, unit="s"
        ),
    )
    store.exams.fact(exam_id, LogFact(name="paused"))
    store.exams.log_event(exam_id, 0, "{}")
    other = sqlite3.connect(store.path)
    for statement in (f"UPDATE {table} SET at = ''", f"DELETE FROM {table}"):
        with pytest.raises(sqlite3.IntegrityError, match="never changed"):
            other.execute(statement)
    other.close()


def test_repeats_and_facts_come_back(store: Store, exam_id: str) -> None:
    """Raw repeats keep every sample position; facts keep their detail."""
    measure = Measure(
        item="mouth.refill",
        kind="refill",
        ordinal=2,
        stream="s1",
        samples=(("press", 1000), ("release", 60_000), ("pink", 84_000)),
        value=None,
        unit="s",
        spoiled="noise",
        doubtful=True,
        side="left",
    )
    store.exams.measure(exam_id, measure)
    store.exams.fact(exam_id, LogFact(name="told", detail=(("who", "Kim"), ("when", "10:05"))))
    (back,) = store.exams.measurements(exam_id)
    for name in ("item", "side", "kind", "ordinal", "stream", "samples", "value", "unit",
                 "spoiled", "doubtful"):  # fmt: skip
        assert getattr(back, name) == getattr(measure, name), name
    (fact,) = store.exams.facts(exam_id)
    assert (fact.name, fact.detail) == ("told", (("who", "Kim"), ("when", "10:05")))


def test_the_event_log_comes_back_in_order(store: Store, exam_id: str) -> None:
    """Single events and stretches are one log, with the digests that were given."""
    store.exams.log_event(exam_id, 0, '{"a":0}', digest="d0")
    store.exams.log_events(exam_id, 1, [('{"a":1}', ""), ('{"a":2}', "d2")])
    assert store.exams.next_seq(exam_id) == 3
    events = list(store.exams.events(exam_id))
    assert [e.seq for e in events] == [0, 1, 2]
    assert [e.text for e in events] == ['{"a":0}', '{"a":1}', '{"a":2}']
    assert [e.digest for e in events] == ["d0", "", "d2"]


def test_a_whole_step_is_kept_or_nothing(store: Store, exam_id: str) -> None:
    """What is stored within one transaction is kept together or not at all."""

    def step_that_is_cut() -> None:
        with store.transaction():
            store.exams.log_event(exam_id, 0, "{}")
            store.exams.record(exam_id, seen(1, "now.gums", "pink"))
            raise RuntimeError("cut")

    with pytest.raises(RuntimeError, match="cut"):
        step_that_is_cut()
    assert store.exams.next_seq(exam_id) == 0
    assert store.exams.answers(exam_id) == ()


def test_a_crashed_exam_is_resumable_for_an_hour(
    store: Store, exam_id: str, dog: Dog, clock: MovedClock
) -> None:
    """An exam that was never finished can be taken up where it stopped, an hour long."""
    store.exams.record(exam_id, seen(1, "now.gums", "pink"))
    clock.move(minutes=59)
    exam = store.exams.resumable(dog.id)
    assert exam is not None
    assert exam.id == exam_id
    (prior,) = store.exams.prior(exam_id)
    assert (prior.ref, prior.item, prior.value, prior.confirmed) == (
        1,
        "now.gums",
        "pink",
        "unconfirmed",
    )
    assert store.exams.next_ref(exam_id) == 2


def test_what_is_handed_over_names_the_words_that_stood_there_before(
    store: Store, exam_id: str
) -> None:
    """An alarming answer that was replaced is still known once the exam is taken up again."""
    store.exams.record(exam_id, seen(1, "now.gums", "pale"))
    store.exams.record(exam_id, seen(2, "weight.kg", 12.0))
    store.exams.record(exam_id, seen(3, "weight.kg", 12.5, supersedes=2))
    store.exams.record(exam_id, seen(4, "now.gums", "pink", supersedes=1))
    handed = {prior.item: (prior.value, prior.earlier) for prior in store.exams.prior(exam_id)}
    assert handed == {"weight.kg": (12.5, ()), "now.gums": ("pink", ("pale",))}


def test_the_hour_runs_from_the_last_answer(
    store: Store, exam_id: str, dog: Dog, clock: MovedClock
) -> None:
    """A long check does not go stale while it is going on."""
    clock.move(minutes=50)
    store.exams.record(exam_id, seen(1, "now.gums", "pink"))
    clock.move(minutes=50)
    assert store.exams.resumable(dog.id) is not None


def test_a_stale_exam_is_closed_and_followed(
    store: Store, exam_id: str, dog: Dog, clock: MovedClock
) -> None:
    """After an hour an exam is closed as partial, and the next one knows that it follows it."""
    clock.move(minutes=61)
    assert store.exams.resumable(dog.id) is None
    closed = store.exams.get(exam_id)
    assert (closed.outcome, closed.outcome_why) == (Outcome.PARTIAL, "stale")
    later = store.exams.begin(dog.id, person_id=None, routine="quick", versions=VERSIONS)
    assert later.follows == exam_id
    store.exams.finish(later.id, "complete")
    clock.move(days=1)
    last = store.exams.begin(dog.id, person_id=None, routine="quick", versions=VERSIONS)
    assert last.follows is None


def test_beginning_closes_what_was_left_alone(
    store: Store, exam_id: str, dog: Dog, clock: MovedClock
) -> None:
    """A new exam closes a stale one even where nobody asked for a resumable one before."""
    clock.move(hours=5)
    later = store.exams.begin(dog.id, person_id=None, routine="full", versions=VERSIONS)
    assert later.follows == exam_id


def test_a_paused_exam_resumes_and_an_ended_one_does_not(
    store: Store, exam_id: str, dog: Dog, clock: MovedClock
) -> None:
    """A paused exam goes on under the person who took it up; an ended one is refused."""
    store.exams.finish(exam_id, Outcome.PAUSED)
    clock.move(minutes=30)
    assert store.exams.resumable(dog.id) is not None
    kim = store.people.add("Kim")
    assert store.exams.resume(exam_id, person_id=kim.id).outcome is None
    store.exams.record(exam_id, seen(1, "now.gums", "pink"))
    assert store.exams.answers(exam_id)[0].person_id == kim.id
    store.exams.finish(exam_id, "complete")
    assert store.exams.resumable(dog.id) is None
    with pytest.raises(CallerError, match="has ended"):
        store.exams.resume(exam_id)
    assert [state for _, state, _ in store.exams.states(exam_id)] == [
        "begun",
        "paused",
        "resumed",
        "complete",
    ]


def test_history_of_one_item_takes_what_counted(store: Store, dog: Dog, clock: MovedClock) -> None:
    """The history of an item has one answer for each exam and side, newest first."""
    for value, corrected in ((20.0, 20.5), (19.0, None)):
        exam = store.exams.begin(dog.id, person_id=None, routine="quick", versions=VERSIONS)
        store.exams.record(exam.id, seen(1, "weight.kg", value, unit="kg"))
        if corrected is not None:
            store.exams.record(exam.id, seen(2, "weight.kg", corrected, unit="kg", supersedes=1))
        store.exams.finish(exam.id, "complete")
        clock.move(days=7)
    assert [a.value for a in store.exams.item_history(dog.id, "weight.kg")] == [19.0, 20.5]
    by_exam = store.exams.dog_answers(dog.id)
    assert sorted(a.value for answers in by_exam.values() for a in answers) == [19.0, 20.5]  # type: ignore[type-var]


def test_history_and_exam_agree_on_what_counts(store: Store, dog: Dog) -> None:
    """An answer given anew and then withdrawn leaves the one before, in both ways of reading."""
    exam = store.exams.begin(dog.id, person_id=None, routine="quick", versions=VERSIONS)
    store.exams.record(exam.id, seen(1, "weight.kg", 18.0, unit="kg"))
    store.exams.record(exam.id, seen(2, "weight.kg", 81.0, unit="kg"))
    store.exams.record(exam.id, seen(3, "weight.scale", "platform", supersedes=2))
    store.exams.record(exam.id, seen(4, "ears.look", "red", side="left"))
    store.exams.record(exam.id, seen(5, "ears.look", "clean", side="right"))
    for item in ("weight.kg", "ears.look"):
        by_exam = [a.id for a in store.exams.answers(exam.id) if a.item == item]
        assert sorted(a.id for a in store.exams.item_history(dog.id, item)) == by_exam
    assert [n.value for n in store.exams.numbers(dog.id, "weight.kg")] == [18.0]
    assert store.exams.numbers(dog.id, "ears.look") == ()
    assert [a.value for a in store.exams.item_history(dog.id, "ears.look", side="left")] == ["red"]
    assert len(store.exams.item_history(dog.id, "ears.look", limit=1)) == 1


def test_an_exam_is_found_by_the_end_of_its_key(store: Store, exam_id: str) -> None:
    """The last letters of a key are enough, and what is no key is none."""
    found = store.exams.find(exam_id.replace("-", "")[-8:])
    assert found is not None
    assert found.id == exam_id
    assert store.exams.find("Bramble") is None


def test_an_exam_keeps_its_versions(store: Store, dog: Dog) -> None:
    """What an exam was made with is stored with it."""
    versions = Versions(protocol="3", grammars="f00", engine="vosk 1", rules="2", program="0.1")
    exam = store.exams.begin(dog.id, person_id=None, routine="full", versions=versions)
    assert store.exams.get(exam.id).versions == versions


def test_digests_differ_when_actions_do() -> None:
    """Equal actions have equal digests whatever order their sets come in; no actions have none."""
    one = actions_digest([Speak(sentences=("Gums pale. Right?",), kind=SpeechKind.READ_BACK)])
    two = actions_digest([Speak(sentences=("Gums pink. Right?",), kind=SpeechKind.READ_BACK)])
    assert one != two
    assert len(one) == 16
    assert actions_digest([]) == ""


tokens = st.text(min_size=1, max_size=30)
pairs = st.lists(
    st.tuples(tokens, st.text(max_size=20) | st.floats(allow_nan=False, allow_infinity=False)),
    max_size=3,
).map(tuple)


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    value=st.text() | st.floats(allow_nan=False, allow_infinity=False),
    words=st.text(),
    side=st.none() | tokens,
    method=pairs,
    start=st.integers(0, 2**62),
)
def test_any_value_goes_through_unchanged(
    store: Store,
    dog: Dog,
    value: str | float,
    words: str,
    side: str | None,
    method: tuple[tuple[str, str | float], ...],
    start: int,
) -> None:
    """Whatever text or number an answer carries is read back the same."""
    exam = store.exams.begin(dog.id, person_id=None, routine="quick", versions=VERSIONS)
    record = seen(
        1, "a.b", value, words=words, side=side, method=method, start=start, end=start, unit="u"
    )
    store.exams.record(exam.id, record)
    (back,) = store.exams.answers(exam.id)
    assert (back.value, back.words, back.side, back.method, back.start) == (
        value,
        words,
        side,
        method,
        start,
    )
    assert type(back.value) is type(value)
