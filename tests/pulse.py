"""A private PulseAudio server with a virtual room, for tests through the real sound path.

Two null sinks: `mouth` is where a person speaks (its monitor is the microphone), `room` is where
our loudspeaker sounds. Nothing of the machine's own sound system is touched.
"""

import ctypes.util
import glob
import os
import shutil
import signal
import subprocess
import time
from pathlib import Path

import numpy as np

from handsfree.audio.device import SAMPLE_RATE, Samples

__all__ = ["PulseServer", "missing_packages"]

_RAW = ["--raw", "--format=s16le", f"--rate={SAMPLE_RATE}", "--channels=1", "--latency-msec=20"]
_PLUGIN = "/usr/lib/*/alsa-lib/libasound_module_pcm_pulse.so"


def missing_packages() -> list[str]:
    """Return the Debian packages that are needed here and not installed."""
    wanted = {
        "pulseaudio": shutil.which("pulseaudio") is not None,
        "pulseaudio-utils": all(shutil.which(name) for name in ("pactl", "pacat", "parec")),
        "libportaudio2": ctypes.util.find_library("portaudio") is not None,
        "libasound2-plugins": bool(glob.glob(_PLUGIN)),  # noqa: PTH207 - absolute pattern
    }
    return [package for package, present in wanted.items() if not present]


class PulseServer:
    """One server in a folder of its own; `environment` leads a program to it."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        self._server: subprocess.Popen[bytes] | None = None
        self._helpers: list[subprocess.Popen[bytes]] = []
        self.environment = {
            "PULSE_SERVER": f"unix:{folder / 'native'}",
            "PULSE_RUNTIME_PATH": str(folder),
            "PULSE_STATE_PATH": str(folder),
            "XDG_RUNTIME_DIR": str(folder),
        }

    def start(self) -> None:
        """Start the server and wait until it answers."""
        socket = self._folder / "native"
        socket.unlink(missing_ok=True)
        with (self._folder / "log").open("ab") as log:
            self._server = subprocess.Popen(
                [
                    "pulseaudio",
                    "-n",
                    "--daemonize=no",
                    "--exit-idle-time=-1",
                    "--use-pid-file=no",
                    "--disallow-exit",
                    "-L",
                    f"module-native-protocol-unix socket={socket} auth-anonymous=1",
                    "-L",
                    f"module-null-sink sink_name=room rate={SAMPLE_RATE} channels=1",
                    "-L",
                    f"module-null-sink sink_name=mouth rate={SAMPLE_RATE} channels=1",
                ],
                env=self._environ(),
                stdout=log,
                stderr=log,
            )
        for _ in range(200):
            if self._control("info").returncode == 0:
                break
            if self._server.poll() is not None:
                break
            time.sleep(0.05)
        else:
            self.stop()
        if self._server is None or self._server.poll() is not None:
            text = (self._folder / "log").read_text(errors="replace")
            msg = f"PulseAudio did not start:\n{text}"
            raise RuntimeError(msg)
        self.listen_to("mouth")
        self._control("set-default-sink", "room", check=True)
        # A null sink works in steps of two seconds unless someone wants it quicker: silence that
        # is played all the time makes it as quick as a real device.
        for sink in ("mouth", "room"):
            self._helpers.append(self._spawn(["pacat", *_RAW, "-d", sink, "/dev/zero"]))
        time.sleep(0.3)

    def listen_to(self, sink: str) -> None:
        """Make `sink` what the microphone hears: `mouth`, or `room` for our own voice."""
        self._control("set-default-source", f"{sink}.monitor", check=True)

    def speak(self, samples: Samples) -> None:
        """Play into the person's mouth and wait until it is out."""
        self.speak_on(samples).wait(timeout=len(samples) / SAMPLE_RATE + 20)

    def speak_on(self, samples: Samples) -> "subprocess.Popen[bytes]":
        """Play into the person's mouth and return at once."""
        path = self._folder / f"speech-{time.monotonic_ns()}.raw"
        path.write_bytes(samples.astype("<i2").tobytes())
        player = self._spawn(["pacat", *_RAW, "-d", "mouth", str(path)])
        self._helpers.append(player)
        return player

    def record(self) -> "Recording":
        """Begin to record what sounds in the room."""
        path = self._folder / f"room-{time.monotonic_ns()}.raw"
        recorder = self._spawn(["parec", *_RAW, "-d", "room.monitor", str(path)])
        self._helpers.append(recorder)
        for _ in range(100):
            if path.exists() and path.stat().st_size:
                break
            time.sleep(0.02)
        return Recording(recorder, path)

    def kill(self) -> None:
        """End the server as if the device had been pulled out."""
        if self._server is not None:
            self._server.send_signal(signal.SIGKILL)
            self._server.wait(timeout=10)

    def stop(self) -> None:
        """End everything that was started here."""
        for helper in self._helpers:
            helper.kill()
            helper.wait(timeout=10)
        self._helpers.clear()
        self.kill()
        self._server = None

    def _environ(self) -> dict[str, str]:
        return {**os.environ, **self.environment}

    def _spawn(self, command: list[str]) -> "subprocess.Popen[bytes]":
        return subprocess.Popen(
            command,
            env=self._environ(),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    def _control(self, *words: str, check: bool = False) -> "subprocess.CompletedProcess[bytes]":
        return subprocess.run(
            ["pactl", *words], env=self._environ(), capture_output=True, timeout=20, check=check
        )


class Recording:
    """What sounds in the room, until `stop`."""

    def __init__(self, recorder: "subprocess.Popen[bytes]", path: Path) -> None:
        self._recorder = recorder
        self._path = path

    def stop(self) -> Samples:
        """End the recording and return it, int16 at SAMPLE_RATE, shape (n,)."""
        self._recorder.send_signal(signal.SIGINT)
        self._recorder.wait(timeout=10)
        content = self._path.read_bytes()
        return np.frombuffer(content[: len(content) // 2 * 2], dtype="<i2").astype(np.int16)
