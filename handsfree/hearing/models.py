"""The store of Vosk models: taken in safely, tried out, hashed, listed, verified.

Nothing is fetched unless an address is handed in. Models are tried in a process of their own,
because a broken one can end the process that loads it.
"""

from __future__ import annotations

import hashlib
import json
import re
import shutil
import subprocess
import sys
import tempfile
import urllib.error
import urllib.request
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path, PurePosixPath

from handsfree.errors import CallerError, DataError, DeviceError, EngineError

__all__ = ["Model", "add", "current", "installed", "verify"]

MOST_BYTES = 4 * 1024**3
"""The largest published models are about half of this."""
MOST_FILES = 5_000
MOST_RATIO = 200
"""A file that unpacks to more than this many times its size is no model."""
_INDEX = "models.json"
_TRIAL_S = 180.0


@dataclass(frozen=True, kw_only=True)
class Model:
    """An installed model.

    Attributes:
        name: Its folder's name in the store.
        sha256: Over all its files, names and contents.
        size_bytes: Of all its files.
        source: Where it came from, as it was named.
        heard: What it made of the clip at its trial; empty when no clip was given.
    """

    name: str
    sha256: str
    size_bytes: int
    source: str
    heard: str = ""


def add(
    source: str,
    store: Path,
    *,
    clip: Path | None = None,
    told: Callable[[str], None] = lambda line: None,
) -> Model:
    """Install the model at ``source`` and return what was installed.

    Args:
        source: A folder, a ZIP file, or an ``https://`` address of one.
        store: The folder of the installed models; made if missing.
        clip: A WAV file of speech that the model is tried on.
        told: Gets a line for people at each longer step.

    Raises:
        CallerError: Nothing is there, or it is neither folder nor ZIP.
        DataError: The ZIP is broken or unsafe, or holds no model.
        DeviceError: The address cannot be reached, or the disk is full.
        EngineError: The model does not load, or takes no grammar.
    """
    store.mkdir(parents=True, exist_ok=True)
    try:
        with tempfile.TemporaryDirectory(prefix=".adding-", dir=store) as scratch:
            root = _model_root(_obtain(source, Path(scratch), told), source)
            told("Trying the model out.")
            heard = _try_out(root, clip)
            name = _name(root, source, Path(scratch))
            digest, size = _digest(root)
            target = store / name
            if target.exists():
                if any(m.name == name and m.sha256 == digest for m in installed(store)):
                    msg = f"the model {name} is installed already, with the same content."
                    raise CallerError(msg)
                name = f"{name}-{digest[:8]}"
                target = store / name
            if root.is_relative_to(scratch):
                root.rename(target)
            else:
                shutil.copytree(root, target)
    except OSError as wrong:
        msg = f"the model cannot be stored in {store} ({wrong}). Free some space there."
        raise DeviceError(msg) from None
    model = Model(name=name, sha256=digest, size_bytes=size, source=source, heard=heard)
    _write_index(store, [*installed(store), model])
    return model


def installed(store: Path) -> tuple[Model, ...]:
    """Return the installed models, oldest first.

    Raises:
        DataError: The store's list is broken.
    """
    index = store / _INDEX
    if not index.is_file():
        return ()
    try:
        return tuple(Model(**entry) for entry in json.loads(index.read_text("utf-8")))
    except (ValueError, TypeError):
        msg = f"{index} is broken. Delete it and add the models again."
        raise DataError(msg) from None


def current(store: Path) -> Path | None:
    """Return the folder of the model added last, or None when there is none.

    Raises:
        DataError: The store's list is broken, or the model's folder is gone.
    """
    models = installed(store)
    if not models:
        return None
    folder = store / models[-1].name
    if not folder.is_dir():
        msg = f"the model {models[-1].name} is gone from {store}. Add it again."
        raise DataError(msg)
    return folder


def verify(store: Path, name: str) -> Model:
    """Return the model ``name`` after comparing all its files with the stored hash.

    Raises:
        CallerError: There is no such model.
        DataError: A file of it has changed or is gone.
    """
    for model in installed(store):
        if model.name == name:
            folder = store / name
            if not folder.is_dir() or _digest(folder)[0] != model.sha256:
                msg = f"the model {name} has changed since it was added. Add it again."
                raise DataError(msg)
            return model
    known = ", ".join(m.name for m in installed(store)) or "none"
    msg = f"there is no model {name!r}. Installed: {known}."
    raise CallerError(msg)


def _write_index(store: Path, models: list[Model]) -> None:
    fresh = store / f"{_INDEX}.new"
    fresh.write_text(json.dumps([asdict(m) for m in models], indent=1) + "\n", "utf-8")
    fresh.replace(store / _INDEX)


def _obtain(source: str, scratch: Path, told: Callable[[str], None]) -> Path:
    """Return a folder that holds the model: the one named, or an unpacked one in ``scratch``."""
    if re.match(r"^[a-z]+://", source):
        if not source.startswith(("https://", "http://127.0.0.1", "http://localhost")):
            msg = f"{source}: only https addresses are taken. Or download it and name the file."
            raise CallerError(msg)
        told("Downloading the model.")
        return _unpack(_download(source, scratch), scratch)
    path = Path(source).expanduser()
    if path.is_dir():
        return path.resolve()
    if not path.exists():
        msg = f"there is no {path}. Name a model's folder, its ZIP file or an https address."
        raise CallerError(msg)
    if not zipfile.is_zipfile(path):
        msg = f"{path} is neither a folder nor a ZIP file. Name the model as it was downloaded."
        raise CallerError(msg)
    told("Unpacking the model.")
    return _unpack(path, scratch)


def _download(address: str, scratch: Path) -> Path:
    file = scratch / "download.zip"
    done = 0
    try:
        with urllib.request.urlopen(address, timeout=30) as answer, file.open("wb") as out:
            while piece := answer.read(1 << 20):
                done += len(piece)
                if done > MOST_BYTES:
                    msg = f"{address} is larger than any model. Check the address."
                    raise DataError(msg)
                out.write(piece)
    except (urllib.error.URLError, TimeoutError, ConnectionError) as wrong:
        msg = f"{address} cannot be downloaded ({wrong}). Check the address and the network."
        raise DeviceError(msg) from None
    if not zipfile.is_zipfile(file):
        msg = f"what lies at {address} is no ZIP file. Check the address."
        raise DataError(msg)
    return file


def _unpack(file: Path, scratch: Path) -> Path:
    """Unpack with nothing outside ``scratch``, nothing linked, nothing of absurd size."""
    target = scratch / "unpacked"
    try:
        with zipfile.ZipFile(file) as archive:
            entries = archive.infolist()
            if len(entries) > MOST_FILES or sum(e.file_size for e in entries) > MOST_BYTES:
                msg = f"{file.name} unpacks to more than any model. It was not unpacked."
                raise DataError(msg)
            for entry in entries:
                parts = PurePosixPath(entry.filename.replace("\\", "/")).parts
                linked = (entry.external_attr >> 16) & 0o170000 == 0o120000
                outside = ".." in parts or entry.filename.startswith(("/", "\\"))
                if linked or outside or any(":" in part for part in parts):
                    msg = f"{file.name} would write outside its folder. It was not unpacked."
                    raise DataError(msg)
                if entry.file_size > MOST_RATIO * max(entry.compress_size, 1 << 16):
                    msg = f"{file.name} holds a file packed beyond belief. It was not unpacked."
                    raise DataError(msg)
            archive.extractall(target)
    except (zipfile.BadZipFile, EOFError, RuntimeError, NotImplementedError) as wrong:
        msg = f"{file.name} is broken ({wrong}). Download it again."
        raise DataError(msg) from None
    return target


def _model_root(folder: Path, source: str) -> Path:
    """Return the folder with the model in it: this one, or the only one below that has one."""
    if _is_model(folder):
        return folder
    below = [path for path in sorted(folder.iterdir()) if path.is_dir() and _is_model(path)]
    if len(below) != 1:
        what = "no Vosk model" if not below else "more than one Vosk model"
        msg = f"{source} holds {what} (a folder with conf/model.conf). Name the right one."
        raise DataError(msg)
    return below[0]


def _is_model(folder: Path) -> bool:
    return (folder / "conf" / "model.conf").is_file()


def _name(root: Path, source: str, scratch: Path) -> str:
    unpacked = root == scratch / "unpacked"
    stem = PurePosixPath(source.replace("\\", "/")).name.removesuffix(".zip")
    wanted = stem if unpacked or (root.name == "model" and stem != "model") else root.name
    if wanted == "model":  # a package keeps it under this name: its parent says more
        wanted = root.parent.name
    return re.sub(r"[^A-Za-z0-9._-]+", "-", wanted).strip(".-") or "model"


def _files(folder: Path) -> Iterator[Path]:
    yield from sorted(path for path in folder.rglob("*") if path.is_file())


def _digest(folder: Path) -> tuple[str, int]:
    whole, size = hashlib.sha256(), 0
    for path in _files(folder):
        with path.open("rb") as file:
            part = hashlib.file_digest(file, "sha256").hexdigest()
        size += path.stat().st_size
        whole.update(f"{path.relative_to(folder).as_posix()}\0{part}\n".encode())
    return whole.hexdigest(), size


@contextmanager
def _quietly() -> Iterator[None]:
    try:
        yield
    except subprocess.TimeoutExpired:
        msg = f"the model did not load within {_TRIAL_S:.0f} seconds. Take a smaller one."
        raise EngineError(msg) from None


def _try_out(folder: Path, clip: Path | None) -> str:
    """Load the model and hear the clip, in a process of its own; return what was heard."""
    command = [sys.executable, "-m", "handsfree.hearing.trial", str(folder)]
    with _quietly():
        done = subprocess.run(
            [*command, *([str(clip)] if clip else [])],
            capture_output=True, text=True, timeout=_TRIAL_S, check=False,
        )  # fmt: skip
    try:
        answer = json.loads(done.stdout.strip().splitlines()[-1])
    except (ValueError, IndexError):
        msg = f"the model in {folder.name} ended the program that loaded it. Download it again."
        raise EngineError(msg) from None
    if "error" in answer:
        raise EngineError(answer["error"])
    return str(answer["heard"])
