"""Answers of two people that differ: both stay, the worse counts, until a person settles it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest
from moved_clock import MovedClock

from handsfree.commands.main import main
from handsfree.dialogue.actions import Confirmed, Record, Status
from handsfree.errors import CallerError
from handsfree.judging.differing import contested_of, differences_of
from handsfree.judging.gather import exam_case, history_of, judge_anew, judge_exam, keep, telling_of
from handsfree.judging.model import Level
from handsfree.judging.rules import read_table
from handsfree.kennel.findings import acknowledge, judge_left, of_dog, open_findings, tell
from handsfree.kennel.handover import gather
from handsfree.kennel.settling import find, lines_of, settle
from handsfree.records import Store, Versions
from handsfree.records.model import Outcome

ZONE = timezone(timedelta(hours=2))


@pytest.fixture
def clock() -> MovedClock:
    """Return a clock that the test moves, early on the first day."""
    return MovedClock(datetime(2026, 3, 14, 8, 0, tzinfo=ZONE))


@pytest.fixture
def store(tmp_path: Path, clock: MovedClock) -> Iterator[Store]:
    """Return a store with a dog and two people."""
    with Store.open(tmp_path / "data", clock=clock) as opened:
        opened.dogs.add("Rex")
        opened.people.add("Kim")
        opened.people.add("Robin")
        yield opened


def observe(store: Store, who: str | None, *, judged: bool = True, **values: str | float) -> str:
    """Store a check with these answers (``region__question``); return its key."""
    exam = store.exams.begin(
        store.dogs.find("Rex").id,
        person_id=store.people.find(who).id if who else None,
        routine="kennel",
        versions=Versions(protocol="1", grammars="g", engine="none"),
    )
    for ref, (item, value) in enumerate(values.items(), 1):
        store.exams.record(
            exam.id,
            Record(
                ref=ref, item=item.replace("__", "."), status=Status.OBSERVED, value=value,
                unit="kg" if isinstance(value, float) else None, confirmed=Confirmed.CONFIRMED,
            ),
        )  # fmt: skip
    store.exams.finish(exam.id, Outcome.COMPLETE)
    if judged:
        table = read_table()
        keep(
            store,
            exam.id,
            judge_exam(store, exam.id, table),
            telling_of(store, exam.dog_id, table),
        )
    return exam.id


def test_two_people_that_differ_and_one_that_changes_its_mind(store: Store) -> None:
    """Two people differ; one person's later answer replaces the own one and is no difference."""
    observe(store, "Kim", kennel__eaten="all")
    assert differences_of(store) == ()
    observe(store, "Kim", kennel__eaten="none")
    assert differences_of(store) == ()
    observe(store, "Robin", kennel__eaten="all")
    (one,) = differences_of(store)
    assert [answer.value for answer in one.answers] == ["none", "all"]
    observe(store, "Kim", kennel__eaten="all")
    assert differences_of(store) == ()


def test_what_was_taken_back_does_not_differ(store: Store) -> None:
    """An answer that the same check corrects, or leaves unobserved in the end, counts no more."""
    observe(store, "Kim", kennel__eaten="all")
    exam = observe(store, "Robin", kennel__eaten="none", kennel__drunk="normal")
    assert len(differences_of(store)) == 1
    store.exams.record(
        exam, Record(ref=9, item="kennel.eaten", status=Status.NOT_OBSERVED, reason="could_not_see")
    )
    assert differences_of(store) == ()
    other = observe(store, "Robin", kennel__eaten="half")
    assert len(differences_of(store)) == 1
    store.exams.record(
        other,
        Record(ref=9, supersedes=1, item="kennel.eaten", status=Status.OBSERVED, value="all"),
    )
    assert differences_of(store) == ()


def test_other_days_and_what_was_done_at_an_hour_do_not_differ(
    store: Store, clock: MovedClock
) -> None:
    """A day is the local day, to its last minute; a medicine given once is not due later."""
    observe(store, "Kim", kennel__eaten="all", kennel__medicine="given")
    clock.now = clock.now.replace(hour=23, minute=59)
    observe(store, "Robin", kennel__eaten="all", kennel__medicine="not_due")
    assert differences_of(store) == ()
    clock.now += timedelta(minutes=2)
    observe(store, "Robin", kennel__eaten="none")
    assert differences_of(store) == ()


def test_numbers_differ_only_past_their_measuring_error(store: Store) -> None:
    """Two weighings that differ by measuring alone are no difference; by a kilogram they are."""
    observe(store, "Kim", weight__kg=20.0)
    observe(store, "Robin", weight__kg=20.2)
    assert differences_of(store) == ()
    observe(store, "Robin", weight__kg=21.2)
    assert [one.item for one in differences_of(store)] == ["weight.kg"]


def test_the_worse_counts_for_both_until_it_is_settled(store: Store) -> None:
    """A hard-breathing dog of one and an easy one of the other: both checks come to the worse."""
    table = read_table()
    well = observe(store, "Kim", watch__breathing="easy")
    assert judge_exam(store, well, table).level is not Level.NOW
    ill = observe(store, "Robin", watch__breathing="hard")
    for exam_id in (well, ill):
        judgement = judge_exam(store, exam_id, table)
        assert judgement.level is Level.NOW
        assert any("differ on watch breathing" in text for text in judgement.contradictions)
    (one,) = differences_of(store)
    done = settle(store, one, 1, person_id=store.people.find("Kim").id, why="looked again")
    assert done.judged == 2
    for exam_id in (well, ill):
        judgement = judge_exam(store, exam_id, table)
        assert judgement.level is not Level.NOW
        assert judgement.contradictions == ()
    assert differences_of(store) == ()
    assert "Settled by Kim" in lines_of(store, find(store, one.key))[-1]
    assert len(store.exams.answers(ill)) == 1


def test_a_later_answer_opens_a_settled_question_again(store: Store) -> None:
    """A settlement names what it settles; a third person's answer is not in it."""
    observe(store, "Kim", kennel__eaten="all")
    observe(store, "Robin", kennel__eaten="none")
    (one,) = differences_of(store)
    settle(store, one, 1, person_id=store.people.find("Kim").id, why="")
    observe(store, None, kennel__eaten="half")
    (again,) = differences_of(store)
    assert again.settled is None
    assert len(again.answers) == 3
    settle(store, again, 3, person_id=store.people.find("Robin").id, why="")
    settle(store, find(store, again.key), 2, person_id=store.people.find("Kim").id, why="")
    (last,) = differences_of(store, settled=True)
    assert last.counts is not None
    assert last.counts.value == "none"
    assert len(store.settling.of_dog(last.dog_id)) == 3


def test_what_was_settled_stands_in_the_dogs_past(store: Store, clock: MovedClock) -> None:
    """Later checks compare with the answer that counts, in both ways of reading the past."""
    observe(store, "Kim", kennel__eaten="all")
    wrong = observe(store, "Robin", kennel__eaten="none")
    (one,) = differences_of(store)
    settle(store, one, 1, person_id=store.people.find("Kim").id, why="")
    clock.now += timedelta(days=1)
    today = observe(store, "Kim", kennel__eaten="all")
    past = history_of(store, one.dog_id, before=today)
    assert [finding.value for exam in past for finding in exam.findings] == ["all", "all"]
    assert exam_case(store, today).past.last_of("kennel.eaten") == "all"
    from handsfree.review.earlier import past_before

    days = store.exams.days(one.dog_id)
    assert past_before(store, store.exams.get(today), days).last_of("kennel.eaten") == "all"
    assert store.exams.answers(wrong)[0].value == "none"


def test_judging_anew_answers_no_judgement_with_another(store: Store) -> None:
    """Only another difference is judged anew: two stations that share do not go on for ever."""
    well = observe(store, "Kim", watch__breathing="easy")
    ill = observe(store, "Robin", watch__breathing="hard")
    table = read_table()
    assert judge_anew(store, [well, ill], table) == (well,)
    assert judge_anew(store, [well, ill], table) == ()
    assert len(store.results.of_exam(well)) == 2


def test_a_finding_of_both_is_asked_once_and_leaves_when_settled_away(store: Store) -> None:
    """One dog, one breath, two checks: who was told is asked once; settling takes it away."""
    well = observe(store, "Kim", watch__breathing="easy")
    ill = observe(store, "Robin", watch__breathing="hard")
    judge_anew(store, [well, ill], read_table())
    rules = [one.rule for one in open_findings(store)]
    assert rules
    assert len(rules) == len(set(rules))
    dog = store.dogs.find("Rex")
    for one in of_dog(store, dog.id):
        tell(store, one, "Dr Reed", at="17:50")
    assert "Dr Reed was told at 17:50" in open_findings(store)[0].words()
    for one in of_dog(store, dog.id):
        acknowledge(store, one, "Dr Reed")
    assert open_findings(store) == ()
    with pytest.raises(CallerError, match="no finding that waits"):
        of_dog(store, dog.id)


def test_a_second_finding_of_one_person_is_a_finding_of_its_own(store: Store) -> None:
    """Acknowledged in the morning, it is asked anew in the evening."""
    observe(store, "Kim", watch__breathing="hard")
    dog = store.dogs.find("Rex")
    for one in of_dog(store, dog.id):
        acknowledge(store, one, "Dr Reed")
    observe(store, "Kim", watch__breathing="hard")
    assert open_findings(store) != ()


def test_another_that_sees_it_well_borrows_the_finding(store: Store) -> None:
    """The first found it, the second did not: one finding, of the first, open until acknowledged.

    Found anew by the first person after that, it is a finding of its own.
    """
    ill = observe(store, "Kim", watch__breathing="hard")
    well = observe(store, "Robin", watch__breathing="easy")
    table = read_table()
    judge_anew(store, [ill, well], table)
    assert store.results.of_exam(well)[0].level == "now"
    found = open_findings(store)
    assert {one.exam_id for one in found} == {ill}
    for one in found:
        acknowledge(store, one, "Dr Reed")
    assert open_findings(store) == ()
    again = observe(store, "Kim", watch__breathing="hard")
    assert {one.exam_id for one in open_findings(store)} == {again}


def test_a_check_that_broke_off_is_judged_all_the_same(store: Store) -> None:
    """A finding is not lost with the check that found it."""
    observe(store, "Kim", judged=False, watch__breathing="hard")
    assert open_findings(store) == ()
    assert judge_left(store, store.file.clock()) == 1
    assert open_findings(store) != ()
    assert judge_left(store, store.file.clock()) == 0


def test_a_difference_that_came_in_is_judged_before_a_round_or_handover(store: Store) -> None:
    """By whatever way it came: the check that was well on its own comes to the worse."""
    well = observe(store, "Kim", watch__breathing="easy")
    observe(store, "Robin", judged=False, watch__breathing="hard")
    assert judge_left(store, store.file.clock()) == 2
    assert store.results.of_exam(well)[0].level == "now"
    assert judge_left(store, store.file.clock()) == 0


def test_handover_and_review_show_what_differs(
    store: Store, clock: MovedClock, capsys: pytest.CaptureFixture[str]
) -> None:
    """Open ones in full with who said what, settled ones with what counts."""
    observe(store, "Kim", kennel__eaten="all")
    ill = observe(store, "Robin", kennel__eaten="none")

    def told() -> str:
        handed = gather(
            store, since=clock.now - timedelta(hours=9), now=clock.now, last_synced=None, stations=1
        )
        return " ".join(dict(handed.parts)["Two answers that differ"])

    assert "Ate all by Kim and Ate nothing by Robin; not settled" in told()
    data = ["--data", str(store.path.parent)]
    assert main([*data, "review", ill[-8:]]) == 0
    assert "differs, not settled; another said: ate all" in capsys.readouterr().out.lower()
    assert main([*data, "kennel", "differs"]) == 0
    key = capsys.readouterr().out.split()[0]
    assert main([*data, "kennel", "settle", key, "2", "--by", "Kim"]) == 0
    assert "2 counts" in capsys.readouterr().out
    assert "settled by Kim: Ate nothing counts" in told()
    assert main([*data, "kennel", "settle", key, "3", "--by", "Kim"]) == 2
    assert "give 1 to 2" in capsys.readouterr().err
    page = store.path.parent / "page.html"
    assert main([*data, "report", "Rex", "--out", str(page)]) == 0
    assert "settled: it counts" in page.read_text(encoding="utf-8")


def test_only_the_exams_own_items_are_contested(store: Store) -> None:
    """What others differ on outside of a check is not taken into it."""
    observe(store, "Kim", kennel__eaten="all")
    observe(store, "Robin", kennel__eaten="none")
    other = observe(store, None, noticed__cough="none")
    assert contested_of(store, other) == ()
