"""The synthesiser on pyttsx3: eSpeak NG on Linux, the platform's own voices elsewhere.

The engine lives in a process of its own (`handsfree.speaking.worker`), because pyttsx3 is known to
hang: a watchdog ends that process, the caller gets an `EngineError`, and the next rendering starts
afresh. No cache and no playing here.
"""

from __future__ import annotations

import contextlib
import json
import re
import subprocess
import sys
import tempfile
import threading
from pathlib import Path
from typing import Any, cast

import numpy as np

from handsfree.audio.device import SAMPLE_RATE, Samples
from handsfree.errors import EngineError

__all__ = ["MAX_RATE_WPM", "MIN_RATE_WPM", "Pyttsx3Synthesiser", "trim_silence"]

MIN_RATE_WPM = 100
MAX_RATE_WPM = 450
"""What every engine can speak; people are offered a narrower range."""

_WORKER = Path(__file__).with_name("worker.py")
_CONTROL = re.compile(r"[\x00-\x1f\x7f]+")


class Pyttsx3Synthesiser:
    """Renders text in a process of its own.

    Args:
        timeout_s: Seconds after which a rendering (or the start) counts as hung.
        worker: The program to run; another one stands in for a broken engine.

    Use `start` to have the engine load while other things are done; otherwise the first rendering
    starts it. `close` ends it; it also ends with this program, however that ends.
    """

    def __init__(self, *, timeout_s: float = 5.0, worker: Path = _WORKER) -> None:
        self._timeout_s = timeout_s
        self._worker = worker
        self._process: subprocess.Popen[str] | None = None
        self._greeted = False
        self._about: dict[str, str] | None = None
        self._lock = threading.Lock()
        # The engine can write to nothing but a named file; each lives for milliseconds.
        self._folder = tempfile.TemporaryDirectory(prefix="handsfree-voice-")
        self._count = 0

    @property
    def name(self) -> str:
        """The engine's name: ``espeak``, ``nsss`` or ``sapi5``."""
        return self._described()["name"]

    @property
    def version(self) -> str:
        """Versions of pyttsx3 and, where it says one, of the engine."""
        return self._described()["version"]

    def start(self) -> None:
        """Start the engine without waiting for it; does nothing if it runs.

        Raises:
            EngineError: The process cannot be started.
        """
        with self._lock:
            self._ensure_running()

    def voices(self) -> list[str]:
        """Return the voices' names, English ones first.

        With eSpeak NG a name may carry one of its variants: ``en-us+f3``.

        Raises:
            EngineError: The engine gave no answer.
        """
        names = cast(list[str], self._ask({"op": "voices"})["voices"])
        return sorted(names, key=lambda name: (not name.startswith("en"), name))

    def render(self, text: str, *, rate_wpm: int, voice: str | None = None) -> Samples:
        """Return ``text`` spoken, without silence around it, int16 mono, shape (n,).

        Args:
            text: Any text; control characters and line ends become spaces.
            rate_wpm: Words per minute.
            voice: One of `voices`, or None for the default (British English with eSpeak NG).

        Raises:
            EngineError: The text is empty, the engine gave nothing, crashed or hung.
        """
        spoken = _CONTROL.sub(" ", text).strip()
        if not spoken:
            raise EngineError("There is nothing to speak: the text is empty; give it some words.")
        if not MIN_RATE_WPM <= rate_wpm <= MAX_RATE_WPM:
            raise EngineError(
                f"The voice cannot speak {rate_wpm} words a minute; "
                f"choose {MIN_RATE_WPM} to {MAX_RATE_WPM}."
            )
        with self._lock:
            self._count += 1
            path = Path(self._folder.name) / f"{self._count}.wav"
        try:
            self._ask(
                {
                    "op": "render",
                    "text": spoken,
                    "rate": rate_wpm,
                    "voice": voice,
                    "path": str(path),
                },
                about=f"{spoken[:40]!r} with voice {voice or 'default'}",
            )
            sound = trim_silence(_read_rendered(path, spoken))
        finally:
            with contextlib.suppress(OSError):
                path.unlink(missing_ok=True)
        if len(sound) == 0:
            raise EngineError(
                f"The voice gave only silence for {spoken[:40]!r}; use words that can be spoken."
            )
        return sound

    def close(self) -> None:
        """End the engine; never raises. A later rendering starts it again."""
        with self._lock:
            self._end()
        with contextlib.suppress(OSError):
            self._folder.cleanup()

    def _described(self) -> dict[str, str]:
        if self._about is None:
            self._about = self._ask({"op": "about"})
        return self._about

    def _ask(self, request: dict[str, Any], *, about: str = "a question") -> dict[str, Any]:
        with self._lock:
            process = self._ensure_running()
            hung = threading.Event()

            def give_up() -> None:
                hung.set()
                process.kill()

            watchdog = threading.Timer(self._timeout_s, give_up)
            watchdog.daemon = True
            watchdog.start()
            try:
                if not self._greeted:
                    self._check(self._receive(process), about="its start")
                    self._greeted = True
                self._send(process, request)
                answer = self._receive(process)
            except (OSError, ValueError, TypeError, EOFError) as error:
                self._end()
                if hung.is_set():
                    raise EngineError(
                        f"The voice hung for {self._timeout_s:g} s over {about} and was ended; "
                        "try again, or choose another voice in the settings."
                    ) from error
                raise EngineError(
                    f"The voice's process ended over {about}; try again, "
                    "or run `handsfree ready` to see what is missing."
                ) from error
            except EngineError:
                self._end()
                raise
            finally:
                watchdog.cancel()
        return self._check(answer, about=about)

    @staticmethod
    def _check(answer: dict[str, Any], *, about: str) -> dict[str, Any]:
        if answer.get("ok") is True:
            return answer
        said = answer.get("error", "no reason given")
        raise EngineError(
            f"The voice failed over {about} ({said}); choose another voice in the settings, "
            "or run `handsfree ready` to see what is missing."
        )

    @staticmethod
    def _send(process: subprocess.Popen[str], request: dict[str, Any]) -> None:
        assert process.stdin is not None
        process.stdin.write(json.dumps(request) + "\n")
        process.stdin.flush()

    @staticmethod
    def _receive(process: subprocess.Popen[str]) -> dict[str, Any]:
        assert process.stdout is not None
        line = process.stdout.readline()
        if not line:
            raise EOFError
        answer = json.loads(line)
        if not isinstance(answer, dict):
            raise TypeError
        return answer

    def _ensure_running(self) -> subprocess.Popen[str]:
        if self._process is not None and self._process.poll() is None:
            return self._process
        self._end()
        Path(self._folder.name).mkdir(mode=0o700, exist_ok=True)
        try:
            self._process = subprocess.Popen(
                [sys.executable, "-P", str(self._worker)],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                encoding="ascii",
            )
        except OSError as error:
            raise EngineError(
                f"The voice's process cannot be started ({error.strerror}); "
                "run `handsfree ready` to see what is missing."
            ) from error
        self._greeted = False
        return self._process

    def _end(self) -> None:
        process, self._process = self._process, None
        if process is None:
            return
        for stream in (process.stdin, process.stdout):
            if stream is not None:
                with contextlib.suppress(OSError):
                    stream.close()
        process.kill()
        process.wait()


def _read_rendered(path: Path, text: str) -> Samples:
    from handsfree.audio.aiff import parse_aiff
    from handsfree.audio.wav import mono_16k, parse_wav
    from handsfree.errors import DataError

    try:
        content = path.read_bytes()
        parse = parse_aiff if content[:4] == b"FORM" else parse_wav
        return mono_16k(*parse(content, name="the rendering"), name="the rendering")
    except (OSError, DataError) as error:
        raise EngineError(
            f"The voice gave no sound for {text[:40]!r}; choose another voice in the settings."
        ) from error


def trim_silence(sound: Samples, *, threshold: int = 150, margin_s: float = 0.02) -> Samples:
    """Cut what is quieter than ``threshold`` at both ends, leaving a little so nothing clicks."""
    loud = np.flatnonzero(np.abs(sound.astype(np.int32)) > threshold)
    if len(loud) == 0:
        return sound[:0]
    margin = round(margin_s * SAMPLE_RATE)
    return sound[max(0, loud[0] - margin) : loud[-1] + 1 + margin]
