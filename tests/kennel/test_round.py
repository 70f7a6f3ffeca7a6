"""The round: its order, what lies between two dogs, flags, doses, outbreaks; and one by keys."""

from __future__ import annotations

import subprocess
import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from handsfree.commands.main import main
from handsfree.commands.replay import replay
from handsfree.errors import CallerError
from handsfree.kennel.contagion import SIGNS, signs_in
from handsfree.kennel.doses import challenge, state_of
from handsfree.kennel.handover import gather
from handsfree.kennel.importing import take_roster
from handsfree.kennel.model import Dose, DoseOutcome, FlagKind, Medicine, RowKind
from handsfree.kennel.names import Names
from handsfree.kennel.order import Stop, in_order, reminder
from handsfree.kennel.outbreak import Case, alarms, table
from handsfree.kennel.roster_csv import read_roster
from handsfree.kennel.round import (
    PUT_ASIDE_AT_MOST,
    AskInstead,
    AskLooked,
    AskPlace,
    AskStopping,
    AskWho,
    Begin,
    Ended,
    Note,
    Round,
    RoundAction,
    Say,
    SignIn,
)
from handsfree.kennel.running import stops_of
from handsfree.kennel.wordings import place
from handsfree.protocol.loader import load
from handsfree.records import Store


def stop(name: str, kind: RowKind = RowKind.HEALTHY, **more: Any) -> Stop:
    """Return a dog of a round."""
    return Stop(dog_id=name, name=name, pen_id="p" + name, pen=name, kind=kind, **more)


def said(actions: list[RoundAction]) -> str:
    """Return all that is said."""
    return " ".join(a.text for a in actions if isinstance(a, Say))


def test_healthy_and_young_come_first_and_isolation_last() -> None:
    """Flagged dogs and their pen-mates come behind all that are well."""
    order = in_order(
        [
            stop("iso", RowKind.ISOLATION),
            stop("cough", contagious=True),
            stop("mate", exposed=True),
            stop("new", RowKind.INTAKE),
            stop("well"),
            stop("pup", young=True),
        ]
    )
    assert [s.name for s in order] == ["pup", "well", "new", "mate", "cough", "iso"]
    assert reminder(order[0], order[0]) == ""
    assert "ash your hands" in reminder(order[1], order[2])
    assert "gloves" in reminder(order[4], order[5])


def asked(actions: list[RoundAction]) -> list[str]:
    """Return which dogs are asked for."""
    return [a.stop.name for a in actions if isinstance(a, AskPlace)]


def test_parked_dogs_come_back_and_the_rest_is_named() -> None:
    """The count is always to be had, and what was not seen is read out at the end."""
    machine = Round([stop("Rex"), stop("Bella"), stop("Moss")])
    assert "3 dogs" in said(machine.begin())
    assert asked(machine.take("park this one")) == ["Bella"]
    assert "3 dogs left, 1 of them parked" in said(machine.take("dogs left"))
    begun = machine.take("")
    assert isinstance(begun[0], Begin)
    assert begun[0].stop.name == "Bella"
    assert asked(machine.seen(looked_s=9.0)) == ["Moss"]
    assert isinstance(machine.take("wrong place")[0], AskInstead)
    back = machine.take("nobody")
    assert "put aside" in said(back)
    assert asked(back) == ["Rex"]
    ended = machine.take("stop")
    assert isinstance(ended[-1], Ended)
    assert ended[-1].stopped
    assert [s.name for s in ended[-1].not_seen] == ["Rex", "Moss"]
    assert "Not seen in this round: Rex in Rex, Moss in Moss." in said(ended)


def test_parked_dogs_come_before_what_may_be_catching() -> None:
    """Isolation stays last; a well dog that is parked again waits for the end."""
    machine = Round([stop("a"), stop("b"), stop("iso", RowKind.ISOLATION)])
    machine.begin()
    machine.take("park")
    machine.take("yes")
    assert asked(machine.seen(looked_s=None)) == ["a"]
    assert asked(machine.take("park")) == ["iso"]
    machine.take("yes")
    assert asked(machine.seen(looked_s=None)) == ["a"]


def test_a_dog_that_is_twice_not_there_stays_not_seen() -> None:
    """It is asked for once more at the end, and then the round ends without it."""
    machine = Round([stop("Rex"), stop("Bella")])
    machine.begin()
    machine.take("no")
    assert "once more at the end" in said(machine.take("nobody"))
    machine.take("yes")
    machine.seen(looked_s=None)
    machine.take("no")
    ended = machine.take("nobody")
    assert isinstance(ended[-1], Ended)
    assert not ended[-1].stopped
    assert [s.name for s in ended[-1].not_seen] == ["Rex"]


def test_a_dog_put_aside_for_ever_comes_to_an_end() -> None:
    """No round is without an end, whatever is said over and over."""
    machine = Round([stop("Rex")])
    machine.begin()
    for _ in range(PUT_ASIDE_AT_MOST + 1):
        assert not machine.ended
        actions = machine.take("park this one")
    assert machine.ended
    assert isinstance(actions[-1], Ended)


def test_another_dog_in_the_pen_is_looked_at_and_both_are_noted() -> None:
    """The dog that was named is begun; the one that was not there comes at the end."""
    machine = Round([stop("Rex"), stop("Bella"), stop("Moss")])
    machine.begin()
    machine.take("no")
    actions = machine.named("Moss")
    notes = {a.dog_id: a.detail for a in actions if isinstance(a, Note) and "pen" in a.detail}
    assert notes == {"Rex": {"pen": "Rex"}, "Moss": {"pen": "Moss", "found_in": "Rex"}}
    assert [a.stop.name for a in actions if isinstance(a, Begin)] == ["Moss"]
    assert asked(machine.seen(looked_s=None)) == ["Bella"]
    assert asked(machine.named("Bella")) == ["Bella"]
    assert asked(machine.named("Moss")) == ["Moss"]
    assert "not in this round" in said(Round([stop("Rex")]).named("Fido"))


def test_going_back_asks_the_dog_before_anew() -> None:
    """A no leaves what was said; a yes begins a check of its own."""
    machine = Round([stop("Rex"), stop("Bella")])
    machine.begin()
    assert "first dog" in said(machine.take("back"))
    machine.take("yes")
    machine.seen(looked_s=None)
    assert asked(machine.take("back")) == ["Rex"]
    assert machine.left == 1
    assert asked(machine.take("no")) == ["Bella"]
    machine.take("back")
    anew = machine.take("yes")
    assert [a.name for a in anew if isinstance(a, Note)] == ["again"]
    assert [a.again for a in anew if isinstance(a, Begin)] == [False]
    assert asked(machine.seen(looked_s=None)) == ["Bella"]


def test_a_spoken_stop_is_asked_back_and_a_typed_one_is_not() -> None:
    """A stop may be said to a dog."""
    machine = Round([stop("Rex"), stop("Bella")])
    machine.begin()
    assert machine.take("stop", spoken=True) == [AskStopping(left=2)]
    assert asked(machine.take("no")) == ["Rex"]
    machine.take("yes")
    assert machine.left_open(stopped=True)[-1] == AskStopping(left=2)
    assert isinstance(machine.take("yes")[-1], Ended)


def test_all_well_faster_than_a_look_is_asked_back() -> None:
    """Three in a row: a no brings them again, and both are noted."""
    machine = Round([stop(n) for n in "abcd"])
    machine.begin()
    for _ in "ab":
        machine.take("yes")
        machine.seen(looked_s=0.5)
    machine.take("yes")
    (question,) = machine.seen(looked_s=0.5)
    assert isinstance(question, AskLooked)
    assert [s.name for s in question.stops] == ["a", "b", "c"]
    assert isinstance(machine.take("dogs left")[0], AskLooked)
    back = machine.take("no")
    fast = [a.dog_id for a in back if isinstance(a, Note) and a.name == "too_fast"]
    assert fast == ["a", "b", "c"]
    assert machine.left == 4


def test_pen_mates_of_a_dog_with_a_sign_come_last() -> None:
    """They are seen after all others of this round too, with fresh gloves."""
    machine = Round([stop("a"), stop("mate"), stop("c"), stop("d")])
    machine.begin()
    machine.take("yes")
    actions = machine.seen(looked_s=None, flagged_with=("mate",))
    assert "gloves" in said(actions)
    assert asked(actions) == ["c"]
    for name in ("d", "mate"):
        machine.take("yes")
        assert asked(machine.seen(looked_s=None)) == [name]


def test_a_round_goes_on_without_the_dogs_seen() -> None:
    """Those put aside come last; one that was seen can still be named."""
    rex, bella, moss = stop("Rex"), stop("Bella"), stop("Moss")
    machine = Round([bella, moss], seen=[rex], put_aside={"Bella"})
    first = machine.begin(again=True)
    assert "goes on: 2 dogs left" in said(first)
    assert asked(first) == ["Moss"]
    (once_more,) = machine.named("Rex")
    assert isinstance(once_more, AskPlace)
    assert "seen already" in once_more.text
    machine.take("no")
    machine.take("yes")
    assert asked(machine.seen(looked_s=None)) == ["Bella"]
    assert [a.again for a in machine.take("yes") if isinstance(a, Begin)] == [True]


def test_people_change_in_mid_round() -> None:
    """Signing in keeps the place in the round."""
    machine = Round([stop("a", has_bitten=True)], brief=True)
    machine.begin()
    actions = machine.take("sign in Kim Ash")
    assert SignIn(name="Kim Ash") in actions
    assert asked(actions) == ["a"]
    assert isinstance(machine.take("someone else")[0], AskWho)


def test_wording_between_dogs_is_short_for_practised_people() -> None:
    """The dog that has bitten is named as such in both."""
    names = Names([stop("a")], [])
    full = place(stop("a", has_bitten=True), names, brief=False).text
    short = place(stop("a", has_bitten=True), names, brief=True).text
    assert "bitten" in short
    assert len(short) < len(full)


def test_signs_are_answers_that_the_check_knows() -> None:
    """Every sign hangs on an item and value of the check."""
    protocol = load()
    for item, values in SIGNS.items():
        assert set(values) <= set(protocol.question(item).values), item
    assert signs_in([("noticed.cough", "often"), ("noticed.stools", "normal")]) == ("cough",)


NOW = datetime(2026, 3, 14, 18, 0, tzinfo=UTC)
MEDICINE = Medicine(
    id="m", dog_id="d", name="Carprofen", amount="1 tablet", interval_h=12, set_by="Dr Reed",
    begins=date(2026, 3, 10), ends=date(2026, 3, 20), added_at=NOW,
)  # fmt: skip


@pytest.mark.parametrize(
    ("hours", "word"), [(1, "waiting"), (10, "waiting"), (11, "due"), (14, "due"), (16, "missed")]
)
def test_a_second_dose_within_the_interval_is_challenged(hours: int, word: str) -> None:
    """What is stored says due, missed or too early; the words never tell to give."""
    dose = Dose(
        id="x", medicine_id="m", dog_id="d", outcome=DoseOutcome.GIVEN, amount="1 tablet",
        given_at=NOW - timedelta(hours=hours), early=False, person_id=None, station_id="s",
    )  # fmt: skip
    state = state_of(MEDICINE, [dose], NOW)
    assert state.word == word
    asked = challenge(state, NOW)
    assert bool(asked) is (word == "waiting")
    assert "give " not in asked.lower()


def test_a_medicine_is_not_due_before_or_after_its_days() -> None:
    """First and last day are the vet's."""
    assert state_of(MEDICINE, [], NOW - timedelta(days=5)).word == "not_begun"
    assert state_of(MEDICINE, [], NOW + timedelta(days=9)).word == "ended"
    assert state_of(MEDICINE, [], NOW).word == "due"


def test_an_outbreak_shows_in_the_second_case() -> None:
    """Two different dogs of one row within three days; one dog twice is no outbreak."""

    def case(day: int, dog: str, row: str = "A") -> Case:
        return Case(day=date(2026, 3, day), row=row, sign="cough", dog_id=dog)

    assert alarms([case(1, "a"), case(2, "a")]) == ()
    assert alarms([case(1, "a"), case(2, "b", "B")]) == ()
    assert [a.day.day for a in alarms([case(1, "a"), case(3, "b")])] == [3]
    assert alarms([case(1, "a"), case(4, "b")]) == ()
    assert table([case(1, "a"), case(1, "b"), case(1, "b")]) == {
        (date(2026, 3, 1), "A", "cough"): 2
    }
    with pytest.raises(CallerError):
        alarms([], dogs=0)


ROSTER = "name,pen\nRex,1\nBella,1\nMoss,2\n"
WELL = ["", "none", "none", "normal", "none", "none", "all", "not_due", "fine"]
"""Which dog, what cannot wait, droppings, vomit, cough, food, medicine, five looks."""


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """Return a data folder with three dogs in two pens."""
    with Store.open(tmp_path) as store:
        take_roster(store, read_roster(ROSTER), dry_run=False)
        store.settings.set("vet_number", "01632 960 100")
        store.people.add("Kim")
    return tmp_path


def by_keys(data: Path, lines: list[str], *more: str) -> str:
    """Run a round with these lines typed; return what was written."""
    more = more or ("--new",)
    done = subprocess.run(
        [sys.executable, "-m", "handsfree", "--data", str(data), "round", "--typed", "--by", "Kim",
         *more],
        input="\n".join(lines) + "\n", capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_all_well_stores_five_looks_said_in_one_go(data: Path) -> None:
    """A well dog: what was asked, and five looks of their own with how they were said."""
    out = by_keys(data, [*WELL, "stop"])
    assert "Not seen in this round: Bella in A 1, Moss in A 2." in out
    with Store.open(data) as store:
        exam = store.exams.of_dog(store.dogs.find("Rex").id)[0]
        answers = {a.item: a for a in store.exams.answers(exam.id)}
        assert exam.outcome is not None
        assert exam.outcome.value == "complete"
        assert store.exams.of_dog(store.dogs.find("Moss").id) == ()
    for item in (
        "watch.attitude", "watch.breathing", "kennel.eyes_nose", "coat.look", "watch.gait",
    ):  # fmt: skip
        assert answers[item].method == (("how", "said in one go"),)
    assert answers["kennel.eaten"].value == "all"


def test_a_sign_flags_the_dog_and_its_pen_mates(data: Path) -> None:
    """A cough: both of the pen go to the end of the next round."""
    cough = [*WELL]
    cough[5:6] = ["often", "1", "dry", "any_time", "normal"]
    out = by_keys(data, [*cough, "stop", "stop", "stop"])
    assert "cough" in out
    assert "may be catching" in out
    assert "Bella shares its pen" in out
    with Store.open(data) as store:
        names = {dog.id: dog.name for dog in store.dogs.all()}
        kinds = {(names[f.dog_id], f.kind) for f in store.rounds.flags()}
        assert ("Rex", FlagKind.CONTAGIOUS) in kinds
        assert ("Bella", FlagKind.EXPOSED) in kinds
        assert all(name != "Moss" for name, _ in kinds)
        order = stops_of(store, site_id=None, row_id=None, now=datetime.now().astimezone())
        assert [s.name for s in order] == ["Moss", "Bella", "Rex"]
    assert main(["--data", str(data), "kennel", "clear", "Rex", "--why", "cough gone"]) == 0
    assert main(["--data", str(data), "kennel", "clear", "Bella", "--why", "cough gone"]) == 0
    with Store.open(data) as store:
        assert store.rounds.flags() == ()


def test_a_dose_is_read_back_and_a_second_one_challenged(data: Path) -> None:
    """Given in one round and again in the next: asked before it is stored, and kept as early."""
    with Store.open(data) as store:
        rex = store.dogs.find("Rex").id
        store.kennel.add_medicine(
            rex, "Carprofen", amount="1 tablet", interval_h=12, set_by="Dr Reed",
            begins=datetime.now().date(),
        )  # fmt: skip
    given = [*WELL]
    given[7] = "given"
    out = by_keys(data, [*given, "1", "stop"])
    assert "Carprofen, 1 tablet, set by Dr Reed: due, none stored." in out
    assert "Stored: Carprofen, 1 tablet, given." in out
    again = by_keys(data, [*given, "2", "stop"])
    assert "Was it really given again?" in again
    assert "Not stored: Carprofen." in again
    assert "Stored" in by_keys(data, [*given, "1", "1", "stop"])
    with Store.open(data) as store:
        assert [dose.early for dose in store.rounds.doses(rex)] == [False, True]


def test_a_finding_that_cannot_wait_asks_who_was_told(data: Path) -> None:
    """It comes back at the next round, until it is acknowledged."""
    out = by_keys(data, ["", "breathing", "", "stop", "", "yes"])
    assert "Who was told?" in out
    out = by_keys(data, ["Dr Reed", "17:50", "stop", "no"])
    assert "Stored: Dr Reed was told at 17:50." in out
    out = by_keys(data, ["yes", "stop"])
    assert "Is it acknowledged?" in out
    assert "Is it acknowledged?" not in by_keys(data, ["stop"])


def test_a_round_that_broke_off_goes_on_with_the_question_that_was_open(data: Path) -> None:
    """The input ends in the middle of a dog: its check is taken up, and no dog is seen twice."""
    out = by_keys(data, [*WELL, "", "none", "none", "normal"])
    assert "All is saved. Begin the round again to go on from here." in out
    out = by_keys(data, ["yes", "yes", *WELL[3:], "dogs left", "stop"], "--site", "")
    assert "was left with 2 dogs not seen. Go on with it?" in out
    assert "Pen A 1: Rex" not in out
    assert "Bella again." in out
    assert "Any hard breathing" not in out
    assert "1 dog left." in out
    with Store.open(data) as store:
        (exam,) = store.exams.of_dog(store.dogs.find("Bella").id)
        assert exam.outcome is not None
        assert exam.outcome.value == "complete"
        assert replay(store, exam, load()).same


def test_the_rounds_own_words_are_open_at_a_dogs_questions(data: Path) -> None:
    """The count is told there; a parked dog with a sign is flagged although it is not done."""
    out = by_keys(
        data, ["", "dogs left", "none", "none", "watery", "", "park this one", "stop"]
    )  # fmt: skip
    assert "3 dogs left." in out
    assert "Rex is flagged: diarrhoea may be catching. Bella shares its pen" in out
    assert "Rex is parked." in out
    assert "Pen A 2: Moss" in out
    assert "Not seen in this round: Moss in A 2, Bella in A 1, Rex in A 1." in out


def test_the_wrong_dog_in_a_pen_is_named_by_keys(data: Path) -> None:
    """Named by name or pen, confirmed, begun; unknown names are asked again."""
    out = by_keys(data, ["no", "fido", "a 2", "yes", *WELL[1:], "another dog", "bella", "stop"])
    assert "Rex is not here. Which dog is?" in out
    assert "No dog of this round is called that." in out
    assert "Moss, of A 2. Right?" in out
    assert "I ask for Rex once more at the end." in out
    assert out.count("Pen A 1: Bella. Is that this dog") == 2
    with Store.open(data) as store:
        now = store.file.clock()
        handed = gather(
            store, since=now - timedelta(hours=1), now=now, last_synced=None, stations=1
        )
    assert set(dict(handed.parts)["Not in place"]) == {
        "Rex: not in its place, A 1.",
        "Moss: not in its place, A 2, but in A 1.",
    }


def test_three_fast_ones_by_keys_are_asked_back_and_handed_over(data: Path) -> None:
    """A no brings them again at the end, as checks of their own."""
    out = by_keys(data, [*WELL, *WELL, *WELL, "no", "stop"])
    assert "Rex, Bella, Moss: all well in a row, faster than five looks take." in out
    assert "They come again at the end." in out
    with Store.open(data) as store:
        now = store.file.clock()
        handed = gather(
            store, since=now - timedelta(hours=1), now=now, last_synced=None, stations=1
        )
    fast = dict(handed.parts)["Said faster than a look takes"]
    assert len(fast) == 3
    assert all(line.endswith("not looked.") for line in fast)


def test_a_skipped_look_is_never_taken_for_well(data: Path) -> None:
    """Without the one answer none of the five is stored."""
    by_keys(data, ["yes", *WELL[1:8], "skip", "stop"])
    with Store.open(data) as store:
        exam = store.exams.of_dog(store.dogs.find("Rex").id)[0]
        answers = {a.item: a for a in store.exams.answers(exam.id)}
    assert answers["kennel.looks"].reason == "skipped"
    assert "watch.gait" not in answers


def test_a_dog_is_named_by_the_end_of_its_chip(data: Path) -> None:
    """Five digits are enough; two dogs with the same end are asked for one by one."""
    with Store.open(data) as store:
        for name, chip in (("Bella", "826000000000014"), ("Moss", "941000000000014")):
            store.dogs.edit(store.dogs.find(name).id, chip=chip)
    out = by_keys(data, ["another dog", "00014", "no", "yes", "stop"])
    assert "Bella, of A 1. Right?" in out
    assert "Moss, of A 2. Right?" in out
    assert "Pen A 2: Moss. Is that this dog" in out
    out = by_keys(data, ["another dog", "826000000000014", "stop"])
    assert "Pen A 1: Bella. Is that this dog" in out
