"""Exports and what is read back: whole, harmless, and nothing half written."""

from __future__ import annotations

import csv
import errno
import json
import os
import subprocess
import sys
from datetime import UTC, date, datetime
from io import StringIO
from pathlib import Path
from typing import IO, cast

import pytest
from moved_clock import MovedClock

from handsfree.errors import DataError
from handsfree.judging.result import Telling
from handsfree.judging.rules import read_table
from handsfree.records import Dog, Store
from handsfree.records.transfer import TABLES
from handsfree.review.exports.answers_csv import COLUMNS, defused, write_csv
from handsfree.review.exports.jsonl import read_jsonl, schema, write_jsonl
from handsfree.review.exports.weights_csv import read_weights
from handsfree.review.sink import writing
from review.conftest import check

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
SCHEMA = Path(__file__).parents[2] / "handsfree" / "review" / "data" / "records.schema.json"
NASTY = ("<script>alert(1)</script>", "=cmd()", "🐕‍🦺 Ünï", "כלב طيب", "x" * 200, "a\"b,c;'d")


def _quiet(_left: int, _of: int) -> None:
    pass


def _jsonl(store: Store, path: Path, dog_id: str | None = None) -> int:
    with path.open("w", encoding="utf-8") as file:
        return write_jsonl(file, store, dog_id, program="0", now=NOW, told=_quiet)


def test_what_went_out_comes_back_whole(store: Store, bramble: Dog, tmp_path: Path) -> None:
    """Reading an export into empty records gives the same dog, exams, answers and results."""
    photo = {"item": "ears.look", "side": "left", "kind": "image/png", "width": 1, "height": 1}
    store.photos.add(bramble.id, data=b"\x00\xff picture", note="כלב", **photo)  # type: ignore[arg-type]  # the fields of a photo
    path = tmp_path / "all.jsonl"
    count = _jsonl(store, path)
    with Store.open(tmp_path / "other") as other:
        added, known = read_jsonl(path, other, keep=True, told=_quiet)
        assert sum(added.values()) == count
        assert not known
        assert other.dogs.get(bramble.id) == bramble
        for exam in store.exams.of_dog(bramble.id):
            assert other.exams.get(exam.id) == exam
            assert other.exams.answer_history(exam.id) == store.exams.answer_history(exam.id)
            assert other.results.of_exam(exam.id) == store.results.of_exam(exam.id)
        assert other.lumps.of_dog(bramble.id) == store.lumps.of_dog(bramble.id)
        assert other.photos.of_dog(bramble.id) == store.photos.of_dog(bramble.id)
        again, known = read_jsonl(path, other, keep=True, told=_quiet)
        assert not again
        assert sum(known.values()) == count


def test_one_dog_goes_out_alone(store: Store, bramble: Dog, tmp_path: Path) -> None:
    """An export of one dog holds nothing of another and no settings."""
    other = store.dogs.add("Sorrel")
    store.weights.enter(other.id, 12.0)
    path = tmp_path / "one.jsonl"
    _jsonl(store, path, bramble.id)
    text = path.read_text(encoding="utf-8")
    assert other.id not in text
    assert "01632 960 100" not in text


def test_newest_edit_wins_when_merged(
    store: Store, bramble: Dog, clock: MovedClock, tmp_path: Path
) -> None:
    """A dog that was edited elsewhere takes the newest value of each field."""
    path = tmp_path / "one.jsonl"
    _jsonl(store, path)
    with Store.open(tmp_path / "other", clock=clock) as other:
        read_jsonl(path, other, keep=True, told=_quiet)
        store.dogs.edit(bramble.id, owner="somebody new", known=("a", "b"))
        _jsonl(store, path)
        read_jsonl(path, other, keep=True, told=_quiet)
        assert other.dogs.get(bramble.id) == store.dogs.get(bramble.id)


def test_a_trial_changes_nothing(store: Store, bramble: Dog, tmp_path: Path) -> None:
    """A dry run says what would come in and leaves the records as they were."""
    path = tmp_path / "all.jsonl"
    count = _jsonl(store, path)
    with Store.open(tmp_path / "other") as other:
        added, _ = read_jsonl(path, other, keep=False, told=_quiet)
        assert sum(added.values()) == count
        assert other.dogs.all() == ()


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda row: row | {"words": 3}, "words of answers cannot be 3"),
        (lambda row: row | {"surprise": "x"}, "surprise of answers cannot be"),
        (lambda row: {"row": "unheard"}, "'unheard' is no kind of row"),
        (lambda row: {k: v for k, v in row.items() if k != "item"}, "does not have the columns"),
        (lambda row: row | {"exam_id": "nowhere", "ref": 900}, "belongs to exams that are not"),
    ],
)
def test_one_wrong_line_refuses_the_file(
    store: Store, bramble: Dog, tmp_path: Path, change: object, says: str
) -> None:
    """A file with one wrong line, at its end, brings nothing in and is told by its line."""
    assert callable(change)
    path = tmp_path / "all.jsonl"
    _jsonl(store, path)
    lines = path.read_text(encoding="utf-8").splitlines()
    place = next(n for n, text in enumerate(lines) if json.loads(text)["row"] == "answers")
    row = change(json.loads(lines[place]))
    path.write_text("\n".join([*lines[:place], *lines[place + 1 :], json.dumps(row)]), "utf-8")
    with Store.open(tmp_path / "other") as other:
        with pytest.raises(DataError, match=says):
            read_jsonl(path, other, keep=True, told=_quiet)
        assert other.dogs.all() == ()


def test_a_row_that_differs_is_refused(store: Store, bramble: Dog, tmp_path: Path) -> None:
    """Stored answers are never changed by what comes in."""
    path = tmp_path / "all.jsonl"
    _jsonl(store, path)
    text = path.read_text(encoding="utf-8").replace('"value_text":"pink"', '"value_text":"pale"')
    path.write_text(text, encoding="utf-8")
    with pytest.raises(DataError, match="differs from the one that is stored"):
        read_jsonl(path, store, keep=True, told=_quiet)


@pytest.mark.parametrize("text", ["", "{}\n", "no json\n", '{"row": "handsfree-records"}\n'])
def test_a_foreign_file_is_refused(store: Store, tmp_path: Path, text: str) -> None:
    """What is no export of ours is refused in words."""
    path = tmp_path / "x.jsonl"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(DataError, match=r"first line|written in form"):
        read_jsonl(path, store, keep=True, told=_quiet)


def test_every_table_of_a_dog_goes_out(store: Store) -> None:
    """No table of the records is forgotten but those that belong to one machine."""
    from handsfree.records.schema_page import tables

    local = {
        "stations",
        "clock_checks",
        "retentions",
        "sync_state",
        "sync_out",
        "sync_held",
        "sync_judge",
    }
    assert {table.name for table in tables()} == {*TABLES, *local}


def test_the_published_schema_is_up_to_date() -> None:
    """The schema that is shipped is the one that the records make."""
    assert json.loads(SCHEMA.read_text(encoding="utf-8")) == schema(), (
        "run: python -m handsfree.review.exports.jsonl > handsfree/review/data/records.schema.json"
    )


def test_csv_holds_each_answer_that_counts(store: Store, bramble: Dog) -> None:
    """Read by the csv module, rows and values are those of the records."""
    file = StringIO(newline="")
    telling = Telling(catalogue=read_table().catalogue)
    count = write_csv(file, store, [bramble], telling, _quiet)
    file.seek(0)
    rows = list(csv.DictReader(file))
    stored = [a for exam in store.exams.of_dog(bramble.id) for a in store.exams.answers(exam.id)]
    assert len(rows) == count == len(stored)
    assert tuple(rows[0]) == COLUMNS
    weights = [float(row["value"]) for row in rows if row["item"] == "weight.kg"]
    assert weights == [w.weight_kg for w in store.weights.of_dog(bramble.id)[::-1]]
    missing = next(row for row in rows if row["item"] == "mammary.line")
    assert missing["status"] == "not_observed"
    assert missing["value"] == ""
    assert missing["in_words"] == "not observed: the dog would not have it"


@pytest.mark.parametrize("name", NASTY)
def test_csv_is_harmless_and_whole(store: Store, name: str) -> None:
    """No cell begins like a formula, and the name is all there."""
    dog = store.dogs.add(name)
    check(store, dog, [("mouth.gum_colour", None, "pink", None)])
    file = StringIO(newline="")
    write_csv(file, store, [dog], Telling(catalogue=read_table().catalogue), _quiet)
    file.seek(0)
    (row,) = csv.DictReader(file)
    assert row["dog"].removeprefix("'") == name
    assert not any(cell.startswith(("=", "+", "-", "@")) for cell in row.values())


@pytest.mark.parametrize("text", ["=1", "+1", "-1", "@x", "\tx", "\rx", "＝1"])
def test_formulas_are_defused(text: str) -> None:
    """What a spreadsheet may run gets an apostrophe before it."""
    assert defused(text) == f"'{text}"


def test_a_full_disk_leaves_the_old_file_whole(tmp_path: Path) -> None:
    """When writing fails half way, the file that was there is unchanged and nothing is left."""
    target = tmp_path / "out.csv"
    target.write_text("old", encoding="utf-8")

    def half() -> None:
        with writing(target) as file:
            cast("IO[str]", file).write("new")
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with pytest.raises(DataError, match=r"No space left.*unchanged"):
        half()
    assert target.read_text(encoding="utf-8") == "old"
    assert [one.name for one in tmp_path.iterdir()] == ["out.csv"]


_NO_ROOM = """
import resource, signal, sys
from pathlib import Path
from handsfree.review.sink import writing
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (50_000, 50_000))
with writing(Path(sys.argv[1])) as file:
    for _ in range(10_000):
        file.write("a line of an export\\n")
"""


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no limit on a file's size")
def test_a_write_that_the_system_refuses_leaves_the_old_file(tmp_path: Path) -> None:
    """The kernel refuses to let the new file grow: the old one stays, and nothing is left over."""
    target = tmp_path / "out.jsonl"
    target.write_text("old", encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-c", _NO_ROOM, str(target)], capture_output=True, text=True, check=False
    )
    assert "DataError" in done.stderr
    assert "What was there before is unchanged" in done.stderr
    assert target.read_text(encoding="utf-8") == "old"
    assert [one.name for one in tmp_path.iterdir()] == ["out.jsonl"]


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    """A place that cannot be written is told in words."""
    with pytest.raises(DataError, match="choose another place"), writing(tmp_path / "no" / "x"):
        pass
    with pytest.raises(DataError, match="it is a folder"), writing(tmp_path):
        pass


def test_weights_come_in_with_their_units(store: Store, tmp_path: Path) -> None:
    """Pounds and kilograms mix, a weight that is there already is left out, a trial stores none."""
    dog = store.dogs.add("Sorrel")
    path = tmp_path / "w.csv"
    path.write_text(
        "Dog,Day,Weight,Unit,How\nSorrel,2026-01-02,12.4,,vet\nSorrel,2026-02-02,27,lb,\n"
        "Sorrel,2026-01-02,12.4 kg,,\n",
        encoding="utf-8-sig",
    )
    trial = read_weights(path, store, default_unit="kg", keep=False)
    assert [one.known for one in trial] == [False, False, True]
    assert store.weights.of_dog(dog.id) == ()
    read_weights(path, store, default_unit="kg", keep=True)
    weights = store.weights.of_dog(dog.id)
    assert [w.at.date() for w in weights] == [date(2026, 2, 2), date(2026, 1, 2)]
    assert [w.weight_kg for w in weights] == pytest.approx([27 * 0.45359237, 12.4])
    assert all(one.known for one in read_weights(path, store, default_unit="kg", keep=True))


def test_wrong_weights_are_all_named(store: Store, tmp_path: Path) -> None:
    """Every wrong line is told at once, and nothing is stored."""
    dog = store.dogs.add("Sorrel")
    path = tmp_path / "w.csv"
    path.write_text(
        "dog,day,weight\nSorrel,2026-01-02,12\nNobody,2026-01-02,12\nSorrel,yesterday,12\n"
        "Sorrel,2026-01-03,900\nSorrel,2099-01-01,12\nSorrel,2026-01-03,heavy\n",
        encoding="utf-8",
    )
    with pytest.raises(DataError) as wrong:
        read_weights(path, store, default_unit="kg", keep=True)
    for number in (3, 4, 5, 6, 7):
        assert f"line {number}:" in str(wrong.value)
    assert store.weights.of_dog(dog.id) == ()


@pytest.mark.parametrize("text", ["", "name,when\n", "dog,day,weight,colour\n"])
def test_a_csv_of_other_columns_is_refused(store: Store, tmp_path: Path, text: str) -> None:
    """The columns that are needed are named."""
    path = tmp_path / "w.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(DataError, match="needs the columns dog, day, weight"):
        read_weights(path, store, default_unit="kg", keep=True)
