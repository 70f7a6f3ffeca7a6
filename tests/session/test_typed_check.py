"""A whole check by keys, as a person would type it; and what a crash leaves."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from handsfree.dialogue.actions import Confirmed
from handsfree.records import Store
from handsfree.records.model import Outcome

COMMAND = [sys.executable, "-m", "handsfree.commands.main"]


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """Return a data folder with one dog."""
    with Store.open(tmp_path) as store:
        store.dogs.add("Rex")
        store.settings.set("vet_number", "01632 960 100")
    return tmp_path


def typed(data: Path, lines: str, *more: str) -> subprocess.CompletedProcess[str]:
    """Run a glance with these lines typed."""
    return subprocess.run(
        [*COMMAND, "--data", str(data), "check", "Rex", "--routine", "glance", "--typed", *more],
        input=lines, capture_output=True, text=True, timeout=60,
    )  # fmt: skip


def test_a_glance_by_keys_is_stored_whole(data: Path) -> None:
    """Values, numbers and words all answer, and the check ends complete."""
    done = typed(data, "none\n1\npink\nbright\n\n")
    assert done.returncode == 0, done.stderr
    with Store.open(data) as store:
        exam = store.exams.of_dog(store.dogs.find("Rex").id)[0]
        answers = {a.item: a for a in store.exams.answers(exam.id)}
        assert exam.outcome is Outcome.COMPLETE
    assert answers["now.gums"].value == "pink"
    assert answers["now.gums"].by == "keys"
    assert all(a.confirmed is Confirmed.CONFIRMED for a in answers.values())


def test_an_alarm_stops_the_questions_and_gives_the_number(data: Path) -> None:
    """Pale gums, confirmed: the vet's number is said and nothing more is asked."""
    done = typed(data, "none\n1\npale\n\n")
    said = done.stdout.splitlines()
    alarm = next(i for i, text in enumerate(said) if "01632 960 100" in text)
    assert said[alarm].startswith("! ")
    assert not any(text.endswith("?") for text in said[alarm : alarm + 3])


def test_the_end_of_the_input_stops_and_saves(data: Path) -> None:
    """A closed terminal loses nothing: the next check takes up the same question."""
    typed(data, "none\n")
    with Store.open(data) as store:
        exam = store.exams.resumable(store.dogs.find("Rex").id)
        assert exam is not None
        assert [a.item for a in store.exams.answers(exam.id) if a.value] == ["now.signs"]
    # What was only echoed when the terminal closed is asked once more.
    done = typed(data, "none\n1\npink\nbright\n\n")
    assert "Welcome back" in done.stdout
    with Store.open(data) as store:
        exams = store.exams.of_dog(store.dogs.find("Rex").id)
        assert [exam.outcome for exam in exams] == [Outcome.COMPLETE]


def test_a_killed_check_resumes_at_the_same_question(data: Path) -> None:
    """After kill -9 all answers but the one being given are there, and the check goes on."""
    check = subprocess.Popen(
        [*COMMAND, "--data", str(data), "check", "Rex", "--routine", "glance", "--typed"],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env={**os.environ},
    )  # fmt: skip
    assert check.stdin is not None
    assert check.stdout is not None
    check.stdin.write("none\nnone\n")
    check.stdin.flush()
    while "gums" not in check.stdout.readline():
        time.sleep(0.01)
    check.send_signal(signal.SIGKILL)
    check.wait(timeout=10)
    check.stdin.close()
    check.stdout.close()
    done = typed(data, "none\npink\nbright\n\n")
    assert "Welcome back" in done.stdout
    assert "hard breathing" not in done.stdout
    with Store.open(data) as store:
        exams = store.exams.of_dog(store.dogs.find("Rex").id)
        values = {a.item: a.value for a in store.exams.answers(exams[0].id)}
    assert [exam.outcome for exam in exams] == [Outcome.COMPLETE]
    assert values["now.signs"] == "none"
    assert values["now.gums"] == "pink"


def test_a_stopped_check_can_be_left_for_a_new_one(data: Path) -> None:
    """--new begins afresh and leaves the stopped one as it is."""
    typed(data, "none\nstop\n\n")
    done = typed(data, "none\n1\npink\nbright\n\n", "--new")
    assert "Welcome back" not in done.stdout
    with Store.open(data) as store:
        assert len(store.exams.of_dog(store.dogs.find("Rex").id)) == 2


@pytest.mark.parametrize(
    "arguments, words",
    [
        (("check", "Nobody", "--typed"), "Nobody"),
        (("check", "Rex", "--routine", "nose"), "There is no routine"),
        (("rehearse", "nothing"), "There is no scenario"),
    ],
)
def test_what_cannot_be_is_said_in_one_sentence(
    data: Path, arguments: tuple[str, ...], words: str
) -> None:
    """A wrong name gets one line and an exit code other than 0."""
    done = subprocess.run(
        [*COMMAND, "--data", str(data), *arguments],
        input="", capture_output=True, text=True, timeout=60,
    )  # fmt: skip
    assert done.returncode != 0
    assert len(done.stderr.strip().splitlines()) == 1
    assert words in done.stderr
