"""Questions about the past: understood by the grammar, answered from the records."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from moved_clock import MovedClock

from handsfree.errors import HeardError
from handsfree.hearing.verdict import Meaning, MeaningKind
from handsfree.records import Dog, Store
from handsfree.review.questions import answer, understood
from handsfree.review.wording import said_when
from review.conftest import TODAY, check

LATELY = "three weeks ago, on the fourth of November"
CASES = [
    ("What was the last weight?", f"The last weight was 22.4 kilograms, {LATELY}."),
    ("what is the last heart rate", f"The last heart rate was 96 a minute, {LATELY}."),
    ("tell me the temperature last time", "The last temperature was 39.3 degrees Celsius"),
    ("what was the last gum colour", f"When last looked at, {LATELY}: gums pink."),
    ("what was the last lump size", "The last lump length, the left chest was 16 millimetres"),
    ("when were Bramble's ears last red", f"The ears were last red {LATELY}: left ear red."),
    ("when were the feet last cut", f"were last cut {LATELY}: left hind foot cut."),
    ("when were the gums last pale", "The gums were never pale in the checks on record."),
    ("when was Bramble last limping", "The walk was never unusual in the checks on record."),
    ("when did she last vomit", "Vomiting was never noted in the checks on record."),
    ("when were her eyes last unusual", "The eyes were never unusual in the checks on record."),
    ("when was his urine last red", "The urine was never red in the checks on record."),
    ("when was he last weighed", f"The last weight was 22.4 kilograms, {LATELY}."),
    ("when was the last check", f"Bramble was last checked {LATELY}."),
    ("how were the ears last time", f"The ears, {LATELY}: left ear red and right ear clean."),
    ("what has changed", f"In the last check, {LATELY}: New: Left ear red."),
    (
        "what was skipped last time",
        "mammary line (the dog would not have it); rear tail",
    ),
    ("what did the last check find", f"The last check, {LATELY}, came to: call a vet today."),
]


@pytest.mark.parametrize(("question", "expected"), CASES)
def test_a_question_is_answered(store: Store, bramble: Dog, question: str, expected: str) -> None:
    """Each question, typed as people do, gets its answer with the day as people say it."""
    told = answer(store, bramble, understood(question, bramble.name), TODAY)
    assert expected in told
    assert told.endswith(".")


@pytest.mark.parametrize("question", [one for one, _ in CASES])
def test_a_dog_without_checks_gets_an_answer(store: Store, question: str) -> None:
    """With nothing on record each question is answered in words, and nothing is made up."""
    dog = store.dogs.add("Bramble")
    told = answer(store, dog, understood(question, dog.name), TODAY)
    assert any(
        words in told for words in ("on record", "not been checked", "not looked at", "No weight")
    )


def test_one_check_has_nothing_to_compare_with(store: Store, clock: MovedClock) -> None:
    """After the first check, what changed is not guessed."""
    dog = store.dogs.add("Sorrel")
    check(store, dog, [("ears.look", "left", "red", None)])
    told = answer(store, dog, understood("what changed"), clock.now.date())
    assert told == "There is only one check, today, so nothing can be compared."


def test_an_unfinished_check_is_compared_too(store: Store, clock: MovedClock) -> None:
    """A check without a result is compared with the ones before it."""
    dog = store.dogs.add("Sorrel")
    check(store, dog, [("ears.look", "left", "clean", None)])
    clock.now += timedelta(days=7)
    check(store, dog, [("ears.look", "left", "red", None)], finish=None)
    told = answer(store, dog, understood("what changed"), clock.now.date())
    assert told == "In the last check, today: New: Left ear red."
    told = answer(store, dog, understood("what was the last result"), clock.now.date())
    assert told == "The last check, today, was not finished, so it has no result."


def test_a_doubted_answer_is_told_as_doubted(store: Store, clock: MovedClock) -> None:
    """What was never settled is said as such."""
    dog = store.dogs.add("Sorrel")
    rows: list[tuple[str, str | None, str | float | None, str | None]] = [
        ("mouth.gum_colour", None, "white", None)
    ]
    check(store, dog, rows, possible=frozenset({"mouth.gum_colour"}))
    told = answer(store, dog, understood("when were the gums last white"), clock.now.date())
    assert told == "The gums were last white today: gums white, though it was never settled."


def test_a_weight_entered_by_hand_counts(store: Store, bramble: Dog, clock: MovedClock) -> None:
    """The last weight is the last one, wherever it came from; pounds where those are chosen."""
    store.settings.set("units", "imperial")
    store.weights.enter(bramble.id, 22.0, at=clock.now - timedelta(days=1))
    told = answer(store, bramble, understood("what was the last weight"), TODAY)
    assert told == "The last weight was 48.5 pounds, yesterday."


@pytest.mark.parametrize("text", ["", "who are you", "what was the last", "when were the ears"])
def test_what_is_no_question_is_told_with_examples(text: str) -> None:
    """A question outside of the grammar is refused with questions that work."""
    with pytest.raises(HeardError, match="what was the last weight"):
        understood(text)


def test_a_foreign_meaning_is_refused(store: Store, bramble: Dog) -> None:
    """A meaning of another grammar is no question."""
    with pytest.raises(HeardError, match="no question about the past"):
        answer(store, bramble, Meaning(kind=MeaningKind.ANSWER, value="pink"), TODAY)


@pytest.mark.parametrize(
    ("day", "words"),
    [
        (date(2026, 11, 25), "today"),
        (date(2026, 11, 24), "yesterday"),
        (date(2026, 11, 21), "four days ago, on Saturday"),
        (date(2026, 11, 18), "a week ago, on the eighteenth of November"),
        (date(2026, 11, 4), "three weeks ago, on the fourth of November"),
        (date(2026, 11, 1), "about three weeks ago, on the first of November"),
        (date(2026, 6, 4), "about six months ago, on the fourth of June"),
        (date(2024, 11, 30), "about two years ago, on the thirtieth of November 2024"),
        (date(2026, 12, 3), "on the third of December 2026"),
    ],
)
def test_days_are_said_as_people_say_them(day: date, words: str) -> None:
    """How long ago and which day, no more exact than people are."""
    assert said_when(day, TODAY) == words


def test_a_single_measurement_is_not_the_last_check(store: Store, bramble: Dog) -> None:
    """What the last check came to stays what it was, however often the dog is weighed since."""
    questions = ("what was the last result", "what was skipped last time", "what changed")
    before = [answer(store, bramble, understood(text), TODAY) for text in questions]
    for _ in range(6):
        check(store, bramble, [("weight.kg", None, 22.4, "kg")], routine="measure_weight")
    assert [answer(store, bramble, understood(text), TODAY) for text in questions] == before
