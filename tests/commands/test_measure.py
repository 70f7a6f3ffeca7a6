"""Single measurements by keys: stored like those of a check, and never in a check's way."""

from __future__ import annotations

import itertools
import queue
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from handsfree.commands.main import main
from handsfree.commands.review import exam_sentences
from handsfree.dialogue.actions import Confirmed, Record, Status
from handsfree.interview.measures import MEASURES, machine_for, with_measure
from handsfree.protocol.loader import load
from handsfree.protocol.subject import Sight
from handsfree.records import Store, Versions
from handsfree.records.model import Answer, Exam, Outcome
from handsfree.session.assembly import open_check
from handsfree.session.typed import TypedDriver

COMMAND = [sys.executable, "-m", "handsfree.commands.main"]


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """Return a data folder with a person, a dog and its known lump."""
    with Store.open(tmp_path) as store:
        store.people.add("Kim")
        dog = store.dogs.add("Rex")
        store.lumps.add(dog.id, "the left chest")
        store.lumps.add(dog.id, "the belly")
    return tmp_path


def measure(data: Path, lines: str, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run one measurement with these lines typed."""
    return subprocess.run(
        [*COMMAND, "--data", str(data), "measure", "Rex", *arguments, "--typed"],
        input=lines, capture_output=True, text=True, timeout=60,
    )  # fmt: skip


def stored(data: Path) -> tuple[Exam, dict[tuple[str, str | None], Answer]]:
    """Return the dog's newest exam and its answers."""
    with Store.open(data) as store:
        exam = store.exams.of_dog(store.dogs.find("Rex").id)[0]
        return exam, {(a.item, a.side): a for a in store.exams.answers(exam.id)}


def test_a_weight_is_stored_with_what_is_around_it(data: Path) -> None:
    """The number, its scale, who measured, and when the dog last ate."""
    done = measure(data, "hours\nplatform\n12.4 kg\nyes\n\n", "weight")
    assert done.returncode == 0, done.stderr
    exam, answers = stored(data)
    assert (exam.routine, exam.outcome) == ("measure_weight", Outcome.COMPLETE)
    assert answers["weight.kg", None].value == 12.4
    assert answers["weight.scale", None].value == "platform"
    with Store.open(data) as store:
        (fact,) = [f for f in store.exams.facts(exam.id) if f.name == "measured"]
        assert [w.weight_kg for w in store.weights.of_dog(exam.dog_id)] == [12.4]
    assert dict(fact.detail) == {"food": "hours", "who": "Kim"}
    assert "Not enough was seen" not in done.stdout
    assert "The measurement is complete." in done.stdout
    assert "The check is complete." not in done.stdout


def test_a_measurement_can_be_run_again(data: Path) -> None:
    """Its log gives the same actions."""
    measure(data, "hours\nplatform\n12.4 kg\nyes\n\n", "weight")
    measure(data, "hours\n72.4\n60\n72.4\n60\n72.4\n60\n\n", "weight", "--difference")
    with Store.open(data) as store:
        exams = store.exams.of_dog(store.dogs.find("Rex").id)
    assert {exam.routine for exam in exams} == {"measure_weight", "measure_weight_difference"}
    for exam in exams:
        assert main(["--data", str(data), "replay", exam.id]) == 0


def test_a_temperature_is_asked_with_its_site(data: Path) -> None:
    """No thermometer is asked after: it is at hand, or one would not measure."""
    measure(data, "calm\nhours\nrectal\n38.6\nyes\n\n", "temperature")
    _, answers = stored(data)
    assert answers["temperature.site", None].value == "rectal"
    assert answers["temperature.degrees", None].value == 38.6


def test_one_lump_alone_is_measured(data: Path) -> None:
    """The chosen lump is asked after, length by width, and no other."""
    done = measure(data, "yes\nsame\n18 mm\nyes\n12 mm\nyes\n\n", "lump", "--lump", "lump2")
    _, answers = stored(data)
    assert {side for _, side in answers} == {"lump2"}
    assert answers["lumps.known_length", "lump2"].value == 18.0
    assert answers["lumps.known_width", "lump2"].value == 12.0
    assert "the belly" in done.stdout


def test_a_measurement_broken_off_is_not_taken_up_by_a_check(data: Path) -> None:
    """It ends as partial, and the next check begins afresh with the first signs."""
    measure(data, "hours\nplatform\n", "weight")
    exam, _ = stored(data)
    assert exam.outcome is Outcome.PARTIAL
    done = subprocess.run(
        [*COMMAND, "--data", str(data), "check", "Rex", "--routine", "glance", "--typed"],
        input="none\n1\npink\nbright\n\n", capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert "Welcome back" not in done.stdout
    assert "The check is complete." in done.stdout
    assert stored(data)[0].outcome is Outcome.COMPLETE


def test_a_measurement_that_crashed_does_not_hide_a_stopped_check(data: Path) -> None:
    """An open measurement is closed, and the stopped check before it is taken up."""
    with Store.open(data) as store:
        dog = store.dogs.find("Rex")
        keys = TypedDriver(lines=queue.SimpleQueue(), write=lambda _text: None)
        settings = store.settings.get()

        def start(routine: str, *, resume: bool) -> bool:
            check = open_check(
                store, dog, person=None, settings=settings, routine=routine, output=keys,
                engine="keys", on=date.today(), resume=resume,
                protocol=with_measure(load(), MEASURES["heart"]) if "_" in routine else None,
            )  # fmt: skip
            return check.resumed

        start("glance", resume=False)
        start("measure_heart", resume=False)
        assert start("glance", resume=True)


def _by_keys(
    data: Path, routine: str, lines: list[str], *, sight: Sight = Sight.FULL, step_s: float = 4.0
) -> list[str]:
    """Run a measurement by keys on a clock that runs fast; return what was written."""
    kind = MEASURES[routine.removeprefix("measure_").split("_")[0]]
    queued: queue.SimpleQueue[str | None] = queue.SimpleQueue()
    for line in [*lines, None]:
        queued.put(line)
    ticking = itertools.count()
    written: list[str] = []
    keys = TypedDriver(lines=queued, write=written.append, clock=lambda: next(ticking) * step_s)
    with Store.open(data) as store:
        person = store.people.edit(store.people.find("Kim").id, sight=sight)
        check = open_check(
            store, store.dogs.find("Rex"), person=person, settings=store.settings.get(),
            routine=routine, output=keys, engine="keys", on=date.today(), resume=False,
            protocol=with_measure(load(), kind), machine=machine_for(routine, load()),
        )  # fmt: skip
        keys.run(check.runner, check.opened)
    return written


def test_a_heart_rate_comes_with_the_mood(data: Path) -> None:
    """Forty beats in half a minute are eighty, and how the dog was is asked."""
    _by_keys(data, "measure_heart", ["", "40", "yes", "calm", ""])
    _, answers = stored(data)
    assert answers["heart.rate", None].value == 80.0
    assert answers["heart.mood", None].value == "calm"


def test_an_unusual_heart_rate_is_counted_twice(data: Path) -> None:
    """Past the caution line a second count is asked for, and a calm one clears the first."""
    _by_keys(data, "measure_heart", ["", "70", "yes", "calm", "", "55", "yes", ""])
    exam, answers = stored(data)
    assert answers["heart.rate", None].value == 140.0
    assert answers["heart.recount", None].value == 110.0
    assert exam.outcome == "complete"


def test_fast_breaths_are_counted_twice(data: Path) -> None:
    """Over the caution line a second minute is asked for before it counts."""
    _by_keys(data, "measure_breaths", ["resting", "", "36", "yes", "", "34", "yes", ""])
    _, answers = stored(data)
    assert answers["breaths.rate", None].value == 36.0
    assert answers["breaths.recount", None].value == 34.0


def test_breaths_are_told_by_a_key_each(data: Path) -> None:
    """Each Enter is a breath; what came of it is stored, with every onset."""
    _by_keys(data, "measure_breaths_said", ["asleep", *[""] * 40, "yes"], step_s=1.0)
    exam, answers = stored(data)
    assert exam.routine == "measure_breaths_said"
    assert answers["breaths.state", None].value == "asleep"
    with Store.open(data) as store:
        (series, *_) = store.exams.measurements(exam.id)
    assert series.kind == "said"
    assert len(series.samples) >= 5, "the window's ends, and an onset for each breath"
    rate = answers["breaths.rate", None]
    assert rate.by == "keys"
    assert rate.value == pytest.approx(series.value)


def test_who_cannot_see_is_not_asked_for_the_refill(data: Path) -> None:
    """Without a sighted helper it is stored as not observed."""
    _by_keys(data, "measure_refill", ["no", ""], sight=Sight.NONE)
    _, answers = stored(data)
    refill = answers["mouth.refill", None]
    assert (refill.status, refill.reason) == (Status.NOT_OBSERVED, "cannot_see")


@pytest.mark.parametrize(
    "arguments, words",
    [
        (("heart", "--asleep"), "--asleep goes with breaths"),
        (("refill", "--way", "say"), "--way say goes with breaths"),
        (("breaths", "--difference"), "--difference goes with weight"),
        (("breaths", "--asleep", "--way", "say"), "Choose one"),
        (("lump", "--lump", "lump9"), "no lump 'lump9'"),
    ],
)
def test_options_that_do_not_go_together_are_told(
    data: Path, arguments: tuple[str, ...], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """One sentence and an exit code other than 0, before anything is opened."""
    assert main(["--data", str(data), "measure", "Rex", *arguments, "--typed"]) != 0
    assert words in capsys.readouterr().err


def test_a_dog_without_lumps_has_none_to_measure(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It is told how to enter one."""
    with Store.open(tmp_path) as store:
        store.dogs.add("Rex")
    assert main(["--data", str(tmp_path), "measure", "Rex", "lump", "--typed"]) != 0
    assert "no known lump" in capsys.readouterr().err


def test_a_lone_measurement_is_reviewed_by_itself(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The review says that only this was measured, and not that too little was looked at."""
    measure(data, "hours\nplatform\n12.4 kg\nyes\n\n", "weight")
    for what in ([], ["Rex"], [stored(data)[0].id]):
        assert main(["--data", str(data), "review", *what]) == 0
        told = capsys.readouterr().out
        assert "enough" not in told
        assert ("Only this was measured: the weight." in told) == bool(what)
    assert main(["--data", str(data), "judge", "--exam", stored(data)[0].id]) == 0
    assert "Only this was measured: the weight." in capsys.readouterr().out
    with Store.open(data) as store:
        (exam, _) = stored(data)
        told = exam_sentences(store, store.dogs.find("Rex"), exam, load())[0]
        assert told.startswith("Rex, measured on")


@pytest.mark.parametrize("killed", [False, True])
def test_an_alarm_of_a_measurement_that_broke_off_is_told(
    data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], killed: bool
) -> None:
    """By the end of input or a killed process: review, page, overview and questions tell it."""
    if killed:
        with Store.open(data) as store:
            dog = store.dogs.find("Rex")
            versions = Versions(protocol="x", grammars="y", engine="keys")
            exam_id = store.exams.begin(
                dog.id, person_id=None, routine="measure_temperature", versions=versions
            ).id
            number = Record(
                ref=1, item="temperature.degrees", status=Status.OBSERVED, value=41.2, unit="Cel",
                confirmed=Confirmed.CONFIRMED,
            )  # fmt: skip
            store.exams.record(exam_id, number)
    else:
        measure(data, "calm\nhours\nrectal\n41.2\nyes\n", "temperature")
        exam_id = stored(data)[0].id
    page = tmp_path / "page.html"

    def told(*arguments: str) -> str:
        assert main(["--data", str(data), *arguments]) == 0
        return capsys.readouterr().out

    assert "call a vet now" in told("review")
    review = told("review", "Rex")
    assert "What it came to: call a vet now." in review
    assert "The measurement was not finished" in review
    told("report", "Rex", "-o", str(page))
    assert "Call a vet now" in page.read_text(encoding="utf-8")
    told("report", "--all", "-o", str(page))
    assert '"now"' in page.read_text(encoding="utf-8")
    assert "not finished: call a vet now." in told("ask", "Rex", "what was the last result")
    measure(data, "hours\nplatform\n12.4 kg\nyes\n\n", "weight")
    still = "Still standing: the temperature, today, not finished: call a vet now."
    assert still in told("review", "Rex")
    told("report", "Rex", "-o", str(page))
    assert still in page.read_text(encoding="utf-8")
    with Store.open(data) as store:
        assert len(store.results.of_exam(exam_id)) == 1, "judged once"
