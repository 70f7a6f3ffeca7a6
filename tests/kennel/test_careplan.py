"""Arrival, care, bites, flags, doses and leaving by command, and what each refuses."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from handsfree.commands.main import main
from handsfree.errors import CallerError
from handsfree.kennel.careplan import arrive, here, leave, medicine_named, states_of, store_dose
from handsfree.kennel.day_page import day_page
from handsfree.kennel.doses import too_close
from handsfree.kennel.handover import Handover, cases_of, gather
from handsfree.kennel.importing import take_roster
from handsfree.kennel.model import DoseOutcome, FlagKind
from handsfree.kennel.outbreak import alarms
from handsfree.kennel.roster_csv import read_roster
from handsfree.records import Store

from .test_handover import observe

NOW = datetime(2026, 3, 14, 18, 0, tzinfo=UTC)
ROSTER = "name,pen,row,arrived,feeding\nRex,1,A,2026-03-01,200 g\nBella,1,A,,\nMoss,1,Q,,\n"

Run = Callable[..., tuple[int, str]]


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """Return a data folder with three dogs and a person."""
    with Store.open(tmp_path / "data") as store:
        take_roster(store, read_roster(ROSTER), dry_run=False)
        store.people.add("Kim")
    return tmp_path / "data"


@pytest.fixture
def run(data: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    """Return what runs a command of the kennel: its exit status, and all that it wrote."""

    def runs(*words: str) -> tuple[int, str]:
        code = main(["--data", str(data), "kennel", *words])
        out, err = capsys.readouterr()
        return code, out + err

    return runs


@pytest.fixture
def store(tmp_path: Path) -> Store:
    """Return a store whose clock moves by microseconds."""
    ticks = itertools.count()
    opened = Store.open(tmp_path / "still", clock=lambda: NOW + timedelta(microseconds=next(ticks)))
    take_roster(opened, read_roster(ROSTER), dry_run=False)
    return opened


def handed(store: Store) -> Handover:
    """Return the handover of the last half day."""
    return gather(store, since=NOW - timedelta(hours=12), now=NOW, last_synced=None, stations=1)


def test_a_dog_arrives_and_leaves_and_comes_back(run: Run) -> None:
    """One stay at a time; impossible days are refused; what is still open is named."""
    assert "here since 2026-03-01" in run("arrive", "Rex")[1]
    assert "lies in the future" in run("arrive", "Moss", "--on", "2999-01-01")[1]
    code, text = run("arrive", "Moss", "--pen", "A 1", "--feeding", "100 g", "--set-by", "Dr Reed")
    assert code == 0
    assert "in Home/A/1" in text
    assert run("arrive", "Bella", "--pen", "Z 9")[0] == 2
    assert "no stay here" in run("feeding", "Bella", "50 g")[1]  # the wrong pen stored nothing
    assert run("flag", "Moss", "full_check", "--why", "thin")[0] == 0
    assert "it arrived on" in run("leave", "Moss", "--on", "2020-01-01")[1]
    assert "Still open: flag full check, thin" in run("leave", "Moss", "--why", "went home")[1]
    assert "not here" in run("leave", "Moss")[1]
    assert "Moss" not in run("list")[1]
    assert run("arrive", "Moss")[0] == 0
    assert "left: went home" in run("list", "--dog", "Moss")[1]


def test_a_pen_is_given_up_once_it_is_empty(run: Run) -> None:
    """Where a dog was before stays readable."""
    assert "has a dog in pen '1'" in run("pen", "Q", "1", "--end")[1]
    assert run("pen", "A", "2")[0] == 0
    assert "before in Home/Q/1" in run("place", "Moss", "A 2")[1]
    assert "has no pen '9'" in run("pen", "Q", "1", "9", "--end")[1]
    assert "Given up: pen Q 1" in run("pen", "Q", "1", "--end")[1]
    assert run("place", "Moss", "Q 1")[0] == 2
    assert "Home/Q/1: roster" in run("list", "--dog", "Moss")[1]


def test_the_alarm_of_an_outbreak_is_set_for_the_kennel(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """As set, unless the command says otherwise; nonsense is refused."""
    with Store.open(data) as store:
        for name in ("Rex", "Bella"):
            observe(store, name, "noticed.cough", "often")

    def runs(*words: str) -> tuple[int, str]:
        code = main(["--data", str(data), *words])
        out, err = capsys.readouterr()
        return code, out + err

    assert "Alarm on" in runs("handover", "--outbreak")[1]
    assert runs("settings", "set", "outbreak_dogs", "0")[0] == 2
    assert runs("settings", "set", "outbreak_dogs", "3")[0] == 0
    assert "Alarm on" not in runs("handover", "--outbreak")[1]
    assert "Alarm on" in runs("handover", "--outbreak", "--dogs", "2")[1]


@pytest.mark.parametrize(
    "words",
    [
        ("handover", "--hours", "nan"),
        ("handover", "--hours", "-5"),
        ("handover", "--hours", "1e12"),
        ("handover", "--remove-older-than", "5000"),
        ("kennel", "differs", "--days", "99999999"),
        ("kennel", "differs", "--days", "0"),
        ("kennel", "medicine", "Rex", "X", "--amount", "1", "--every", "nan", "--set-by", "V"),
    ],
)
def test_spans_that_cannot_be_are_refused_in_words(
    data: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...]
) -> None:
    """With what can be, and nothing stored."""
    assert main(["--data", str(data), *words]) == 2
    assert "give" in capsys.readouterr().err


def test_feeding_and_plan_are_as_the_vet_set_them(run: Run, data: Path) -> None:
    """With the vet's name; what it was before stays in the history."""
    assert "set by Dr Reed" in run("feeding", "Rex", "150 g", "--set-by", "Dr Reed")[1]
    assert run("plan", "Rex", "walk alone")[0] == 0
    told = run("list", "--dog", "Rex")[1]
    assert "Feeding: 150 g, set by Dr Reed" in told
    assert "Plan: walk alone" in told
    with Store.open(data) as store:
        edits = store.file.rows("SELECT value FROM edits WHERE field = 'feeding' ORDER BY id")
        assert [row["value"] for row in edits] == ['"200 g"', '"150 g"']


def test_a_chip_is_checked_and_read_back(run: Run) -> None:
    """Not another dog's, not in place of another number unless that is said."""
    assert "eight two six" in run("chip", "Rex", "826 000 000 000 001")[1]
    assert "Rex's already" in run("chip", "Moss", "826000000000001")[1]
    assert "say --instead" in run("chip", "Rex", "826000000000002")[1]
    assert run("chip", "Rex", "826000000000002", "--instead")[0] == 0
    assert "no country" in run("chip", "Rex", "000000000000002")[1]
    assert "no chip can hold" in run("chip", "Moss", "826999999999999")[1]


def test_a_bite_is_kept_and_warned_of(run: Run, data: Path) -> None:
    """Each with its day and whom; the dog bears the mark from then on."""
    assert run("bite", "Moss", "--whom", "Kim", "--what", "at its bowl")[0] == 0
    assert "stored of Moss: 2" in run("bite", "Moss", "--whom", "a dog", "--on", "2026-03-02")[1]
    assert "future" in run("bite", "Moss", "--whom", "Kim", "--on", "2999-01-01")[1]
    assert "Whom it bit is empty" in run("bite", "Moss", "--whom", " ")[1]
    told = run("list", "--dog", "Moss")[1]
    assert told.index("2026-03-02 a dog") < told.index("Kim: at its bowl")
    with Store.open(data) as store:
        assert store.dogs.find("Moss").has_bitten


def test_a_flag_by_hand_takes_the_pen_mates_along(run: Run, data: Path) -> None:
    """As a sign in a round does; a full check takes nobody along."""
    assert "flagged as exposed: Bella" in run("flag", "Rex", "contagious", "--why", "vet's word")[1]
    assert "exposed" not in run("flag", "Moss", "full_check", "--why", "thin")[1]
    with Store.open(data) as store:
        kinds = sorted(flag.kind.value for flag in store.rounds.flags())
        assert kinds == [FlagKind.CONTAGIOUS, FlagKind.EXPOSED, FlagKind.FULL_CHECK]


def test_a_dose_by_command_is_read_back_challenged_and_replaced(run: Run) -> None:
    """A second one within the interval is stored only when said again; a wrong one is replaced."""
    words = ("--amount", "1 tablet", "--every", "12", "--set-by", "Dr Reed")
    assert run("medicine", "Rex", "Carprofen", *words)[0] == 0
    assert "End it first" in run("medicine", "Rex", "carprofen", *words)[1]
    assert "1 tablet, given" in run("dose", "Rex", "carprofen", "given", "--by", "Kim")[1]
    code, text = run("dose", "Rex", "Carprofen", "given")
    assert code == 2
    assert "really given again? Nothing was stored" in text
    assert "tell the vet" in run("dose", "Rex", "Carprofen", "given", "--again")[1]
    assert "In place of" in run("dose", "Rex", "Carprofen", "refused", "--instead")[1]
    assert "lies in the future" in run("dose", "Rex", "Carprofen", "given", "--at", "2999-01-01")[1]
    assert "days ago" in run("dose", "Rex", "Carprofen", "given", "--at", "2020-01-01 08:00")[1]
    assert "no time" in run("dose", "Rex", "Carprofen", "given", "--at", "25:00")[1]
    assert "There is: Carprofen" in run("dose", "Rex", "Aspirin", "given")[1]
    assert run("medicine", "Rex", "CARPROFEN", "--end")[0] == 0
    assert "There is: none" in run("dose", "Rex", "Carprofen", "given")[1]


def set_carprofen(store: Store) -> None:
    """Set a medicine for Rex, twice a day."""
    store.kennel.add_medicine(
        store.dogs.find("Rex").id, "Carprofen", amount="1 tablet", interval_h=12,
        set_by="Dr Reed", begins=date(2026, 3, 10),
    )  # fmt: skip


def test_a_dose_that_is_entered_late_is_challenged_by_a_later_one(store: Store) -> None:
    """Whichever was stored first, two within the interval are asked about."""
    set_carprofen(store)
    rex = store.dogs.find("Rex")
    medicine = medicine_named(store, rex, "carprofen")
    store_dose(store, rex, medicine, DoseOutcome.GIVEN, at=NOW - timedelta(hours=1))
    with pytest.raises(CallerError, match="really given twice"):
        store_dose(store, rex, medicine, DoseOutcome.GIVEN, at=NOW - timedelta(hours=3))
    store_dose(store, rex, medicine, DoseOutcome.MISSED, at=NOW - timedelta(hours=13))
    with pytest.raises(CallerError, match="begins on"):
        store_dose(store, rex, medicine, DoseOutcome.GIVEN, at=NOW - timedelta(days=6))
    (state,) = states_of(store, rex.id, NOW)
    assert state.word == "waiting"


def test_a_late_dose_far_enough_from_a_later_one_is_no_challenge(store: Store) -> None:
    """A morning's dose entered in the evening, after the evening's."""
    set_carprofen(store)
    rex = store.dogs.find("Rex")
    medicine = medicine_named(store, rex, "carprofen")
    store_dose(store, rex, medicine, DoseOutcome.GIVEN, at=NOW)
    done = store_dose(store, rex, medicine, DoseOutcome.GIVEN, at=NOW - timedelta(hours=12))
    assert not done.early


def test_two_doses_of_stations_apart_are_shown_together(store: Store) -> None:
    """Neither station could ask; the handover names both, and never says to give one."""
    set_carprofen(store)
    rex = store.dogs.find("Rex")
    medicine = medicine_named(store, rex, "carprofen")
    for hours in (9, 8):
        store.rounds.dose(
            medicine.id, rex.id, DoseOutcome.GIVEN, amount="1 tablet",
            given_at=NOW - timedelta(hours=hours),
        )  # fmt: skip
    assert len(too_close([medicine], store.rounds.doses(rex.id))) == 1
    parts = dict(handed(store).parts)
    assert any("within its interval" in line for line in parts["Medicines due or missed"])
    assert len(parts["Doses stored since"]) == 2
    assert "due again" in parts["Doses stored since"][1]
    assert "give " not in " ".join(handed(store).sentences()).lower()


def test_a_dog_that_left_needs_no_medicine(store: Store) -> None:
    """What is due is that of the dogs that are here."""
    set_carprofen(store)
    rex = store.dogs.find("Rex")
    assert dict(handed(store).parts)["Medicines due or missed"] != ()
    leave(store, rex, on=NOW.date())
    assert rex not in here(store)
    parts = dict(handed(store).parts)
    assert parts["Medicines due or missed"] == ()
    assert "Rex: left." in parts["New since the last shift"]
    arrive(store, rex, on=NOW.date(), plan="walk alone")
    parts = dict(handed(store).parts)
    assert parts["Medicines due or missed"] != ()
    assert "Rex: walk alone." in parts["Need something"]


def test_who_was_told_is_handed_over_after_it_was_acknowledged(store: Store) -> None:
    """The next shift hears of it once more, with name and time."""
    exam_id = observe(store, "Rex", "watch.breathing", "hard")
    fired = [{"rule": "r1", "level": "now", "say": "Hard breathing cannot wait."}]
    store.results.keep(exam_id, rules="1", level="now", body={"fired": fired})
    rex = store.dogs.find("Rex").id
    store.rounds.tell(rex, exam_id, "r1", "Dr Reed", told_at="17:50")
    store.rounds.tell(rex, exam_id, "r1", "Dr Reed", acknowledged=True)
    parts = dict(handed(store).parts)
    assert parts["Cannot wait, not acknowledged"] == ()
    assert parts["Who was told and when"] == (
        "Rex: Dr Reed was told at 17:50.",
        "Rex: Dr Reed acknowledged it at 18:00.",
    )


def test_findings_by_command_come_back_until_acknowledged(run: Run, data: Path) -> None:
    """Listed, told, acknowledged; a check that was never judged is judged first."""
    assert "Nothing that cannot wait" in run("findings")[1]
    with Store.open(data) as store:
        observe(store, "Rex", "watch.breathing", "hard")
    assert "Nobody was told, not acknowledged" in run("findings")[1]
    assert "until somebody acknowledges" in run("told", "Rex", "Dr Reed", "--at", "17:50")[1]
    assert "Dr Reed was told at 17:50, not acknowledged" in run("findings")[1]
    assert "Who? Give a name" in run("acknowledge", "Rex", " ")[1]
    assert "Acknowledged for Rex by Dr Reed" in run("acknowledge", "Rex", "Dr Reed")[1]
    assert "Nothing that cannot wait" in run("findings")[1]
    assert run("acknowledge", "Rex", "Dr Reed")[0] == 2


def test_a_dog_counts_in_the_row_in_which_it_showed_the_sign(store: Store) -> None:
    """Moved to isolation it still is the first case of its row: the second makes the alarm."""
    observe(store, "Rex", "noticed.cough", "often")
    store.kennel.place(store.dogs.find("Rex").id, store.kennel.pen_named("Q 1").id, "coughs")
    observe(store, "Bella", "noticed.cough", "often")
    assert [(a.row, a.dogs) for a in alarms(cases_of(store, NOW))] == [("A", 2)]


def test_a_roster_changes_what_it_gives_and_leaves_the_rest(tmp_path: Path) -> None:
    """A known dog: new chip, feeding, plan and contact, each said; a second time nothing."""
    with Store.open(tmp_path) as store:
        take_roster(store, read_roster(ROSTER), dry_run=False)
        store.dogs.edit(store.dogs.find("Rex").id, breed="collie")
        again = read_roster(
            "name,pen,row,arrived,feeding,plan,breed,chip,vet,vet_phone\n"
            "Rex,1,A,2026-03-01,150 g,walk alone,,826000000000001,Dr Reed,01632 960100\n"
            "Bella,1,A,2026-03-05,,,,,,\n"
        )
        said = take_roster(store, again, dry_run=True)
        assert store.dogs.find("Rex").chip is None
        assert take_roster(store, again, dry_run=False) == said == (
            "Rex: new chip", "Rex: new vet Dr Reed", "Rex: new feeding", "Rex: new plan",
            "Bella: arrived on 2026-03-05",
        )  # fmt: skip
        assert take_roster(store, again, dry_run=False) == ()
        assert store.dogs.find("Rex").breed == "collie"


def test_the_days_page_has_stay_care_and_bites(store: Store) -> None:
    """Of the dogs that are here, or were seen that day."""
    rex = store.dogs.find("Rex")
    set_carprofen(store)
    store.rounds.bite(rex.id, date(2026, 3, 2), "a dog", "at the fence")
    page = day_page(store, handed(store))
    for words in ("here since 2026-03-01", "feeding: 200 g", "Carprofen", "bite: 2026-03-02"):
        assert words in page
    leave(store, rex, on=NOW.date())
    assert "here since 2026-03-01" not in day_page(store, handed(store))
