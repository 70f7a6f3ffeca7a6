"""``handsfree model``: add a Vosk model, list the models, verify one."""

from __future__ import annotations

import argparse
import tempfile
import wave
from collections.abc import Callable
from pathlib import Path

from handsfree.commands.paths import models_folder
from handsfree.commands.shared import Subparsers, add_command, add_group, data_dir, line
from handsfree.errors import HandsfreeError

__all__ = ["add", "listed", "register", "verify"]

_TRIED_ON = "yes. no. pink. twelve point four."


def register(subparsers: Subparsers) -> None:
    """Add the command."""
    commands = add_group(
        subparsers,
        "model",
        about="add, list and verify Vosk models, which hear better than what comes along",
        example="handsfree model add ~/Downloads/a-small-english-model.zip",
    )
    adding = add_command(
        commands,
        "add",
        about="install a model from a folder, a ZIP file or an https address, after trying it",
        example="handsfree model add ~/Downloads/a-small-english-model.zip",
        run=lambda args: add(args.source, _store(args), told=line),
    )
    adding.add_argument("source", metavar="PATH|ZIP|URL", help="where the model is")
    add_command(
        commands,
        "list",
        about="list the installed models",
        example="handsfree model list",
        run=lambda args: listed(_store(args), told=line),
    )
    verifying = add_command(
        commands,
        "verify",
        about="compare a model's files with what was added",
        example="handsfree model verify a-small-english-model",
        run=lambda args: verify(args.name, _store(args), told=line),
    )
    verifying.add_argument("name", metavar="NAME", help="as it is listed")


def _store(args: argparse.Namespace) -> Path:
    return models_folder(data_dir(args))


def add(source: str, store_dir: Path, *, told: Callable[[str], None] = line) -> int:
    """Install a model from a folder, ZIP file or https address; return the exit code.

    Args:
        source: Where it is.
        store_dir: The folder of the installed models.
        told: Gets each line for people.

    Raises:
        HandsfreeError: It cannot be installed; the message says why and what to do.
    """
    from handsfree.hearing import models

    with tempfile.TemporaryDirectory() as scratch:
        model = models.add(source, store_dir, clip=_clip(Path(scratch)), told=told)
    told(f"Added the model {model.name}, {model.size_bytes / 1e6:.0f} MB.")
    told(f"SHA-256 {model.sha256}.")
    said = _TRIED_ON.replace(".", "")
    told(f"On a spoken clip ({said!r}) it heard {model.heard!r}." if model.heard else "It loads.")
    told("Vosk is used from now on. To go back, use the option --engine pocketsphinx.")
    return 0


def listed(store_dir: Path, *, told: Callable[[str], None] = line) -> int:
    """Tell the installed models, one a line; return the exit code."""
    from handsfree.hearing import models

    found = models.installed(store_dir)
    for model in found:
        told(f"{model.name}, {model.size_bytes / 1e6:.0f} MB, from {model.source}")
    if not found:
        told("No Vosk model is installed. PocketSphinx is used, which needs none.")
    return 0


def verify(name: str, store_dir: Path, *, told: Callable[[str], None] = line) -> int:
    """Compare a model's files with what was added; return the exit code.

    Raises:
        HandsfreeError: There is no such model, or it has changed.
    """
    from handsfree.hearing import models

    model = models.verify(store_dir, name)
    told(f"{model.name} is as it was added.")
    return 0


def _clip(scratch: Path) -> Path | None:
    """Return a spoken clip to try the model on, or None where no voice works."""
    from handsfree.audio.device import SAMPLE_RATE
    from handsfree.speaking.espeak import Pyttsx3Synthesiser

    voice = Pyttsx3Synthesiser()
    try:
        sound = voice.render(_TRIED_ON, rate_wpm=150)
    except HandsfreeError:
        return None
    finally:
        voice.close()
    path = scratch / "clip.wav"
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(SAMPLE_RATE)
        file.writeframes(sound.tobytes())
    return path
