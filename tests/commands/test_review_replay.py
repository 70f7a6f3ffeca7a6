"""Looking back and running again: what was stored is told, and the machine does it again."""

from __future__ import annotations

import json
from pathlib import Path

from handsfree.dialogue.actions import Confirm, Confirmed, Finish, Record, Status
from handsfree.dialogue.codec import event_to_json
from handsfree.dialogue.events import Event, Key, Keyed, Opened, SpokenOut
from handsfree.dialogue.machine import Exam as Machine
from handsfree.dialogue.states import State
from handsfree.protocol.loader import load
from handsfree.records import Store, Versions, actions_digest

from .conftest import Command

VERSIONS = Versions(protocol="x", grammars="y", engine="keys", program="z")


def hold_exam(data: Path, *, digest_of_event_3: str | None = None) -> str:
    """Hold a short check by keys, always the first choice, and store it; return its key."""
    with Store.open(data) as store:
        dog = store.dogs.add("Fern")
        exam = store.exams.begin(dog.id, person_id=None, routine="glance", versions=VERSIONS)
        machine = Machine(load())
        sample = 0
        event: Event = Opened(stream="s", sample=0, subject=store.subject(dog.id), routine="glance")
        log = []
        for number in range(300):
            actions = machine.step(event)
            digest = actions_digest(actions)
            if number == 3 and digest_of_event_3 is not None:
                digest = digest_of_event_3
            log.append((json.dumps(event_to_json(event)), digest))
            for action in actions:
                if isinstance(action, Record):
                    store.exams.record(exam.id, action)
                elif isinstance(action, Confirm):
                    store.exams.confirm(exam.id, action)
                elif isinstance(action, Finish):
                    store.exams.finish(exam.id, action.outcome)
            if machine.state in (State.FINISHED, State.CONCLUDING):
                break
            sample += 16_000
            event = (
                SpokenOut(stream="s", sample=sample)
                if number % 2 == 0
                else Keyed(stream="s", sample=sample, key=Key.NUMBER, text="1")
            )
        store.exams.log_events(exam.id, 0, log)
        assert len(store.exams.answers(exam.id)) >= 4
        return exam.id


def test_a_stored_check_replays_the_same(command: Command, data: Path) -> None:
    """The same events lead to the same actions and answers."""
    done = command("replay", hold_exam(data))
    assert (done.code, done.err) == (0, "")
    assert done.out.startswith("The same: ")


def test_a_difference_is_found(command: Command, data: Path) -> None:
    """Where the machine does something else now, the first such event is named."""
    done = command("replay", hold_exam(data, digest_of_event_3="0123456789abcdef"))
    assert done.code == 1
    assert "Different from event 3" in done.out
    assert "check's data was version x then" in done.out


def test_a_stored_answer_that_no_event_explains_is_found(command: Command, data: Path) -> None:
    """An answer that the events do not lead to is named."""
    exam_id = hold_exam(data)
    with Store.open(data) as store:
        ref = store.exams.next_ref(exam_id)
        strange = Record(ref=ref, item="now.gums", status=Status.OBSERVED, value="blue")
        store.exams.record(exam_id, strange)
    done = command("replay", exam_id)
    assert done.code == 1
    assert f"answer {ref} (now.gums) is only stored" in done.out


def test_a_check_without_a_log_says_so(command: Command, data: Path) -> None:
    """Where nothing was logged there is nothing to run again."""
    with Store.open(data) as store:
        dog = store.dogs.add("Fern")
        exam = store.exams.begin(dog.id, person_id=None, routine="quick", versions=VERSIONS)
    done = command("replay", exam.id)
    assert (done.code, "no stored log" in done.err) == (2, True)


def stored_exam(data: Path) -> str:
    """Store a check with one answer of each kind; return its key."""
    with Store.open(data) as store:
        dog = store.dogs.add("Bramble")
        kim = store.people.add("Kim")
        exam = store.exams.begin(dog.id, person_id=kim.id, routine="full", versions=VERSIONS)
        answers = [
            Record(ref=1, item="mouth.gum_colour", status=Status.OBSERVED, value="pale",
                   words="pale"),
            Record(ref=2, item="ears.look", side="left", status=Status.OBSERVED, value="clean",
                   confirmed=Confirmed.CONFIRMED),
            Record(ref=3, item="mouth.teeth", status=Status.NOT_OBSERVED, reason="dog_refused"),
            Record(ref=4, item="genitals.sheath", status=Status.NOT_APPLICABLE, reason="sex"),
            Record(ref=5, item="weight.kg", status=Status.OBSERVED, value=18.25, unit="kg"),
            Record(ref=6, item="gone.item", status=Status.OBSERVED, value="odd_value"),
        ]  # fmt: skip
        for answer in answers:
            store.exams.record(exam.id, answer)
        store.exams.confirm(exam.id, Confirm(ref=1, confirmed=Confirmed.POSSIBLE))
        store.exams.finish(exam.id, "complete")
        return exam.id


def test_a_review_tells_every_answer_as_it_is_known(command: Command, data: Path) -> None:
    """Observed, doubted, not observed and retired items are each told for what they are."""
    exam_id = stored_exam(data)
    for what in ("Bramble", exam_id, exam_id[-6:]):
        done = command("review", what)
        assert (done.code, done.err) == (0, "")
        for text in (
            "full check by Kim, complete",
            'Gums pale (possible, never settled), heard "pale"',
            "Left ear clean\n",
            "mouth teeth: not observed (the dog would not have it)",
            "Weight 18.2 kg (not confirmed)",
            "gone item: odd value",
            "Asked of other dogs only: 1.",
        ):
            assert text in done.out, text


def test_a_review_tells_what_was_said_then(command: Command, data: Path) -> None:
    """The judgement of a check is told in the words that were spoken, and in the overview."""
    exam_id = stored_exam(data)
    with Store.open(data) as store:
        store.results.keep(
            exam_id, rules="1", level="now", body={"spoken": ["Call a vet now: pale gums."]}
        )
        store.dogs.add("Fern")
    out = command("review", "Bramble").out
    assert "What it came to: call a vet now." in out
    assert "Call a vet now: pale gums." in out
    overview = command("review").out
    assert "; call a vet now" in overview
    assert "not checked yet" in overview


def test_a_dog_without_a_check_says_so(command: Command, data: Path) -> None:
    """No check yet is said plainly, and is no error."""
    command("dog", "add", "Fern")
    done = command("review", "Fern")
    assert (done.code, "not been checked yet" in done.out) == (0, True)


def test_earlier_checks_are_listed(command: Command, data: Path) -> None:
    """The newest check is told in full, the earlier ones in a line each."""
    stored_exam(data)
    with Store.open(data) as store:
        (dog,) = store.dogs.all()
        exam = store.exams.begin(dog.id, person_id=None, routine="quick", versions=VERSIONS)
        store.exams.finish(exam.id, "complete")
    out = command("review", "Bramble").out
    assert out.index("quick check, complete") < out.index("Earlier checks:")
    assert out.index("Earlier checks:") < out.index("full check by Kim")
    assert "Gums pale" not in out
    assert "Gums pale" in command("review", "Bramble", "--all").out


def test_backup_and_restore_by_command(command: Command, data: Path, tmp_path: Path) -> None:
    """A copy is made, checked, and brought back only when it is said that it may."""
    command("dog", "add", "Fern")
    target = tmp_path / "copy.sqlite"
    done = command("backup", str(target))
    assert (done.code, "1 dogs" in done.out) == (0, True)
    assert command("backup", str(target)).code == 2
    assert "is sound" in command("restore", str(target), "--check").out
    assert command("restore", str(target)).code == 2
    command("dog", "add", "Later")
    done = command("restore", str(target), "--replace")
    assert done.code == 0
    assert "kept in" in done.out
    assert "Later" not in command("dog", "list").out
    assert command("backup").code == 0
    assert len(list((data / "backups").iterdir())) == 1
