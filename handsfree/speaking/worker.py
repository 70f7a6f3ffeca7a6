"""The process that owns pyttsx3: reads requests, renders them to files, answers.

Run as a program of its own, never imported by the rest: a speech engine that hangs or crashes then
takes nothing with it, and it has the main thread that macOS and Windows engines want. Nothing but
the standard library is imported besides the engine, so that it is ready within a tenth of a
second. It ends when its standard input closes, hence also when its parent is killed.

A request is one line of JSON: {"op": "render", "text", "rate", "voice", "path"}, or {"op":
"voices"}, or {"op": "about"}. The answer is one line of JSON with "ok"; if that is false, "error".
"""

from __future__ import annotations

import contextlib
import ctypes
import json
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

__all__: list[str] = []

_DEFAULT_ESPEAK_VOICE = "en"
"""British English; eSpeak NG has no voice named en-gb."""

_ESPEAK_PACE = 1.24
"""Words a minute that eSpeak NG speaks for each that it is asked for, measured over two passages
of about ninety words with their pauses, at 120 to 300; 1.19 to 1.31."""


class _Engine:
    """pyttsx3 with its errors made visible and its voice always set."""

    def __init__(self) -> None:
        self._library = _load_espeak() if sys.platform.startswith("linux") else None
        import pyttsx3

        self._engine: Any = pyttsx3.init()
        self._errors: list[str] = []
        # A driver's errors only reach this callback: pyttsx3 prints them at best.
        self._engine.connect("error", lambda name, exception: self._errors.append(str(exception)))
        self._is_espeak = self._engine.driver_name == "espeak"
        self._default_voice = (
            _DEFAULT_ESPEAK_VOICE if self._is_espeak else self._engine.getProperty("voice")
        )

    def render(self, text: str, rate: int, voice: str | None, path: str) -> dict[str, Any]:
        self._errors.clear()
        self._engine.setProperty("voice", voice or self._default_voice)
        pace = _ESPEAK_PACE if self._is_espeak else 1.0
        self._engine.setProperty("rate", round(rate / pace))
        self._engine.save_to_file(text, path)
        self._engine.runAndWait()
        if self._errors:
            return {"ok": False, "error": self._errors[0]}
        return {"ok": True}

    def voices(self) -> dict[str, Any]:
        found = self._engine.getProperty("voices")
        if not self._is_espeak:
            return {"ok": True, "voices": [str(voice.id) for voice in found]}
        # The identifier's last part works everywhere; the whole only where the file system minds
        # no capitals, since pyttsx3 lowers them.
        names = sorted({str(voice.id).rsplit("/", 1)[-1] for voice in found})
        return {"ok": True, "voices": names}

    def about(self) -> dict[str, Any]:
        from importlib.metadata import version

        text = f"pyttsx3 {version('pyttsx3')}"
        if self._library is not None:
            self._library.espeak_Info.restype = ctypes.c_char_p
            text += f", eSpeak NG {self._library.espeak_Info(None).decode()}"
        return {"ok": True, "name": self._engine.driver_name, "version": text}


def _load_espeak() -> ctypes.CDLL | None:
    """Load eSpeak NG from its Python package, so that pyttsx3 finds it without a system package.

    The dynamic linker gives pyttsx3 the library that is already loaded under that name.
    """
    try:
        import espeakng_loader
    except ImportError:
        return None  # pyttsx3 then looks for the system's own
    library = ctypes.CDLL(espeakng_loader.get_library_path(), mode=ctypes.RTLD_GLOBAL)
    os.environ["ESPEAK_DATA_PATH"] = str(Path(espeakng_loader.get_data_path()).parent)
    _render_at_once()
    return library


def _render_at_once() -> None:
    """Have eSpeak NG render in the thread that asks, before pyttsx3 is started.

    By default it renders in a thread of its own, and pyttsx3 2.99 races with it: `runAndWait`
    returns before the file is there, or the file lacks its sound. In synchronous mode the library
    leaves out the event that tells the driver to write the file, so that is added here.
    """
    from pyttsx3.drivers import _espeak, espeak

    _espeak.AUDIO_OUTPUT_RETRIEVAL = _espeak.AUDIO_OUTPUT_SYNCHRONOUS
    start = espeak.EspeakDriver._start_synthesis
    end_of_message = (_espeak.EVENT * 2)()
    end_of_message[0].type = _espeak.EVENT_MSG_TERMINATED
    end_of_message[1].type = _espeak.EVENT_LIST_TERMINATED

    def start_and_finish(driver: Any, text: str) -> None:
        start(driver, text)
        driver._onSynth(None, 0, end_of_message)

    espeak.EspeakDriver._start_synthesis = start_and_finish


def _answer(engine: _Engine, request: dict[str, Any]) -> dict[str, Any]:
    operations: dict[str, Callable[[], dict[str, Any]]] = {
        "render": lambda: engine.render(
            request["text"], request["rate"], request["voice"], request["path"]
        ),
        "voices": engine.voices,
        "about": engine.about,
    }
    try:
        return operations[request["op"]]()
    except Exception as error:  # noqa: BLE001 - engines raise anything; the parent must hear of it
        return {"ok": False, "error": f"{type(error).__name__}: {error}"}


def _main() -> None:
    answers = os.fdopen(os.dup(sys.stdout.fileno()), "w", encoding="ascii", buffering=1)
    # pyttsx3 prints a line for each file: it must not get between the answers.
    sys.stdout = Path(os.devnull).open("w", encoding="utf-8")  # noqa: SIM115
    try:
        engine = _Engine()
    except Exception as error:  # noqa: BLE001 - whatever it is, the parent must hear of it
        answers.write(json.dumps({"ok": False, "error": f"{type(error).__name__}: {error}"}) + "\n")
        return
    answers.write(json.dumps({"ok": True}) + "\n")
    for line in sys.stdin:
        answers.write(json.dumps(_answer(engine, json.loads(line))) + "\n")


if __name__ == "__main__":
    with contextlib.suppress(KeyboardInterrupt, BrokenPipeError):
        _main()
