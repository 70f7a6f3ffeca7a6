"""The care calendar: intervals, due days, what the owner changes."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from handsfree.errors import CallerError, DataError
from handsfree.judging.care import (
    CareFact,
    Due,
    calendar,
    care_lines,
    care_tasks,
    read_tasks,
    task_named,
)
from handsfree.judging.model import PastExam
from handsfree.judging.stage import LifeStage, life_stage, senior_from_months

from .shared import DAY, dog, exam, table


def dues(who: str = "", *facts: CareFact, past: tuple[PastExam, ...] = ()) -> dict[str, Due]:
    """The calendar by task."""
    return {due.task.id: due for due in calendar(dog(who), past, facts, DAY)}


def done(task: str, days_ago: int) -> CareFact:
    """A task done so many days ago."""
    return CareFact(task=task, kind="done", day=DAY - timedelta(days=days_ago))


def test_due_is_the_last_day_and_the_interval() -> None:
    """Nails seen ten days ago are three days overdue."""
    due = dues("", done("nails", 10))["nails"]
    assert due.due == DAY - timedelta(days=3)
    assert due.overdue_days == 3


def test_never_noted_is_due_and_not_overdue() -> None:
    """Nothing is taken as done, and nothing invented as missed."""
    due = dues()["nails"]
    assert (due.last, due.due, due.overdue_days) == (None, DAY, 0)


def test_exams_count_as_done() -> None:
    """An exam in which the feet were answered is a look at the nails."""
    past = exam(DAY - timedelta(days=2), "feet.foot@left_front=fine")
    assert dues("", past=(past,))["nails"].last == DAY - timedelta(days=2)


def test_an_exam_without_the_whole_is_not_done() -> None:
    """Lumps need the neck's nodes felt as well."""
    past = exam(DAY - timedelta(days=2), "lumps.new=none")
    assert dues("", past=(past,))["lumps"].last is None


def test_the_owner_can_change_each_interval_and_take_it_back() -> None:
    """The newest word holds; a taken-back one leaves the default."""
    for task in care_tasks():
        own = CareFact(task=task.id, kind="interval", days=100)
        found = dues("age_months=3 sex=female", own, CareFact(task=task.id, kind="on"))[task.id]
        assert (found.days, found.own) == (100, True)
    back = (
        CareFact(task="nails", kind="interval", days=100),
        CareFact(task="nails", kind="interval", days=None),
    )
    assert (dues("", *back)["nails"].days, dues("", *back)["nails"].own) == (7, False)


def test_what_only_a_vet_can_set_says_so() -> None:
    """Vaccines and worming have no day of ours until a vet's is entered."""
    assert dues()["vaccines"].due is None
    set_day = CareFact(task="vaccines", kind="due", day=date(2027, 3, 1))
    assert dues("", set_day)["vaccines"].due == date(2027, 3, 1)
    lines = "\n".join(care_lines(calendar(dog(), [], [], DAY), DAY))
    assert "Vaccines: ask your vet" in lines
    assert "Worming: ask your vet" in lines


def test_a_due_day_that_was_met_is_over() -> None:
    """Done after the vet's day: the next one is for the vet again."""
    facts = (
        CareFact(task="vaccines", kind="due", day=DAY - timedelta(days=5)),
        done("vaccines", 2),
    )
    assert dues("", *facts)["vaccines"].due is None


def test_a_task_can_be_left_out_and_taken_in() -> None:
    """Off and on, as the owner says."""
    off = CareFact(task="nails", kind="off")
    assert "nails" not in dues("", off)
    assert "nails" in dues("", off, CareFact(task="nails", kind="on"))


@pytest.mark.parametrize(
    ("who", "there", "absent"),
    [
        ("age_months=0", "weight_newborn", "weight_growing"),
        ("age_months=1", "weight_growing", "weight_newborn"),
        ("age_months=11", "weight_growing", "weight_adult"),
        ("age_months=12", "weight_adult", "weight_growing"),
        ("age_months=8", "vet_puppy", "vet_adult"),
        ("age_months=9", "vet_adult", "vet_puppy"),
        ("age_months=95", "vet_adult", "vet_senior"),
        ("age_months=96", "vet_senior", "vet_adult"),
        ("sex=female", "mammary", "vet_puppy"),
    ],
)
def test_tasks_follow_the_life_stage(who: str, there: str, absent: str) -> None:
    """Each age has its own weighing and visits."""
    assert there in dues(who)
    assert absent not in dues(who)


def test_a_male_has_no_mammary_reminder_by_default() -> None:
    """Though the line is felt in every full check."""
    assert "mammary" not in dues("sex=male")


@pytest.mark.parametrize(
    ("who", "months"),
    [
        ("weight_kg=8.9", 120),
        ("weight_kg=9", 96),
        ("weight_kg=24.9", 96),
        ("weight_kg=25", 84),
        ("weight_kg=41", 84),
        ("weight_kg=41.1", 72),
        ("size=toy", 120),
        ("size=giant", 72),
        ("shape=giant", 72),
        ("", 96),
    ],
)
def test_senior_by_size(who: str, months: int) -> None:
    """Under 9 kg at 10 years, 9 to 41 kg at 7 to 8, above at 6; the split within 7 to 8 is ours.

    Source: Infectious Disease Management in Animal Shelters 2e, table 2.4 (excerpt).
    """
    assert senior_from_months(dog(who)) == months


def test_life_stages() -> None:
    """After the AAHA life stage guideline 2019 (excerpt); not by a breed's life expectancy."""
    stages = {
        3: LifeStage.PUPPY,
        9: LifeStage.YOUNG_ADULT,
        47: LifeStage.YOUNG_ADULT,
        48: LifeStage.MATURE,
        95: LifeStage.MATURE,
        96: LifeStage.SENIOR,
    }
    assert {age: life_stage(dog(f"age_months={age}")) for age in stages} == stages


def test_items_of_tasks_exist() -> None:
    """What counts as done is asked by some check."""
    for task in care_tasks():
        assert set(task.items) <= set(table().catalogue.items), task.id


def test_mistakes_in_the_list_are_named_at_once() -> None:
    """Both of two broken tasks are named."""
    text = (
        '[[task]]\nid = "a"\ntitle = "A"\ndays = 0\nsource = "x"\nbasis = "clinic"\nread = "full"\n'
        '[[task]]\nid = "b"\ntitle = "B"\nsource = "x"\nbasis = "clinic"\nread = "full"\n'
    )
    with pytest.raises(DataError, match=r"(?s)a: .*0 days.*b: .*days, or ask_vet"):
        read_tasks(text)


def test_an_unknown_task_is_told_with_the_known_ones() -> None:
    """So that the next try works."""
    with pytest.raises(CallerError, match="nails"):
        task_named("claws")
