"""The commands that look back: report, export, import, attach, ask."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image

from handsfree.dialogue.actions import Record, Status
from handsfree.records import Store, Versions

from .conftest import Command

VERSIONS = Versions(protocol="x", grammars="y", engine="keys")


@pytest.fixture
def rex(data: Path) -> str:
    """Store an invented dog with a check; return its key."""
    with Store.open(data) as store:
        dog = store.dogs.add("Rex")
        exam = store.exams.begin(dog.id, person_id=None, routine="quick", versions=VERSIONS)
        for ref, (side, value) in enumerate([("left", "red"), ("right", "clean")], 1):
            store.exams.record(
                exam.id,
                Record(ref=ref, item="ears.look", side=side, status=Status.OBSERVED, value=value),
            )
        store.exams.finish(exam.id, "complete")
        return dog.id


def test_a_report_is_written_where_it_was_asked_for(
    command: Command, rex: str, tmp_path: Path
) -> None:
    """One file, private to the user, replaced when written again."""
    target = tmp_path / "rex.html"
    target.write_text("old", encoding="utf-8")
    done = command("report", "Rex", "-o", str(target))
    assert (done.code, done.err) == (0, "")
    assert str(target) in done.out
    text = target.read_text(encoding="utf-8")
    assert "Left ear red" in text
    assert target.stat().st_mode & 0o077 == 0


def test_the_overview_holds_every_dog(command: Command, rex: str, tmp_path: Path) -> None:
    """All dogs on one page; naming a dog as well, or nothing, is told."""
    command("dog", "add", "Sorrel")
    done = command("report", "--all", "-o", str(tmp_path / "all.html"))
    assert done.code == 0
    text = (tmp_path / "all.html").read_text(encoding="utf-8")
    assert "Rex" in text
    assert "Sorrel" in text
    for wrong in (("report",), ("report", "Rex", "--all")):
        done = command(*wrong)
        assert done.code == 2
        assert "Name one dog" in done.err


def test_a_report_that_cannot_be_written_is_told(
    command: Command, rex: str, tmp_path: Path
) -> None:
    """No folder there: clear words, an error code, nothing left."""
    done = command("report", "Rex", "-o", str(tmp_path / "no" / "rex.html"))
    assert done.code == 5
    assert "cannot be written" in done.err


@pytest.mark.parametrize("kind", ["csv", "jsonl", "fhir", "ical"])
def test_each_format_is_written(command: Command, rex: str, tmp_path: Path, kind: str) -> None:
    """Each format writes a file for all dogs and for one; an unknown dog is told."""
    target = tmp_path / f"out.{kind}"
    for dog in ((), ("Rex",)):
        done = command("export", *dog, "--format", kind, "-o", str(target))
        assert (done.code, done.err) == (0, "")
        assert b"Rex" in target.read_bytes()
    assert command("export", "Nobody", "--format", kind, "-o", str(target)).code == 2
    assert [path for path in tmp_path.iterdir() if path.name.endswith(".part")] == []


def test_the_schema_is_printed(command: Command) -> None:
    """The JSON Schema comes without touching any records."""
    done = command("export", "--schema")
    assert done.code == 0
    assert "json-schema.org/draft/2020-12" in done.out


def test_an_export_comes_back(command: Command, data: Path, rex: str, tmp_path: Path) -> None:
    """A dry run says what would come in; the real one brings it; a second finds nothing new."""
    target = tmp_path / "all.jsonl"
    command("export", "--format", "jsonl", "-o", str(target))
    other = str(tmp_path / "other")
    done = command("import", str(target), "--dry-run", "--data", other)
    assert done.code == 0
    assert "Would take in 1 of dogs." in done.out
    assert done.out.endswith("Nothing was changed.\n")
    done = command("import", str(target), "--data", other)
    assert "Took in 2 of answers." in done.out
    done = command("import", str(target), "--data", other)
    assert "Nothing new in this file." in done.out


def test_weights_are_imported(command: Command, rex: str, tmp_path: Path) -> None:
    """A dry run shows each weight, the real one stores them."""
    path = tmp_path / "w.csv"
    path.write_text("dog,day,weight\nRex,2026-01-02,12.4\n", encoding="utf-8")
    assert "Rex, 2026-01-02: 12.4 kg" in command("import", str(path), "--dry-run").out
    assert "Took in 1 weights" in command("import", str(path)).out
    assert "12.4 kilograms" in command("ask", "Rex", "what was the last weight").out


@pytest.mark.parametrize(("name", "says"), [("x.txt", "neither"), ("x.csv", "not there")])
def test_what_cannot_be_imported_is_told(command: Command, name: str, says: str) -> None:
    """Another kind of file and a missing one are told in words."""
    done = command("import", name)
    assert done.code != 0
    assert says in done.err


def test_bytes_that_are_no_text_are_told(command: Command, rex: str, tmp_path: Path) -> None:
    """A file in another encoding is refused whole."""
    for name in ("x.csv", "x.jsonl"):
        path = tmp_path / name
        path.write_bytes(b"dog,day,weight\nR\xe9x,2026-01-02,12\n")
        done = command("import", str(path))
        assert done.code == 5
        assert "UTF-8" in done.err


def test_a_photo_is_kept_and_shown(command: Command, data: Path, rex: str, tmp_path: Path) -> None:
    """The report shows the copy; the backup holds it; wrong items and sides are told."""
    path = tmp_path / "ear.png"
    Image.new("RGB", (40, 30), "red").save(path)
    done = command(
        "attach", "Rex", "--item", "ears.look", "--side", "left", str(path), "--note", "<b>"
    )
    assert (done.code, done.err) == (0, "")
    command("report", "Rex", "-o", str(tmp_path / "rex.html"))
    text = (tmp_path / "rex.html").read_text(encoding="utf-8")
    assert "data:image/png;base64," in text
    assert "&lt;b&gt;" in text
    assert "<b>" not in text
    command("backup", str(tmp_path / "copy.sqlite"))
    command("restore", str(tmp_path / "copy.sqlite"), "--data", str(tmp_path / "back"))
    with Store.open(tmp_path / "back") as store:
        assert len(store.photos.of_dog(rex)) == 1
    for wrong, says in (
        (("--item", "ears.nothing"), "no item"),
        (("--item", "ears.look"), "say --side"),
        (("--item", "nose.look", "--side", "left"), "leave --side out"),
    ):
        done = command("attach", "Rex", *wrong, str(path))
        assert done.code == 2
        assert says in done.err


def test_a_question_is_answered_or_told(command: Command, rex: str) -> None:
    """A known question is answered; another is refused with examples."""
    done = command("ask", "Rex", "when", "were", "Rex's", "ears", "last", "red?")
    assert done.out == "The ears were last red today: left ear red.\n"
    done = command("ask", "Rex", "what is the meaning of life")
    assert done.code == 3
    assert "when were the ears last red" in done.err
