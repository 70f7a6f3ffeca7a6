"""`handsfree check` as its own process, on a real PortAudio device, with a voice in the room."""

import os
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest
from pulse import PulseServer, Recording

from handsfree.audio.device import SAMPLE_RATE
from handsfree.protocol.loader import load
from handsfree.records import Store
from handsfree.records.model import Outcome
from handsfree.speaking.espeak import Pyttsx3Synthesiser

pytestmark = pytest.mark.portaudio

ANSWERS = {"now.signs": "no", "now.danger": "no", "now.gums": "pink", "watch.attitude": "bright"}
QUIET_S = 0.5
"""How long the room is silent before the person answers."""


class Room:
    """Hears the room and says when nobody speaks."""

    def __init__(self, recording: Recording) -> None:
        self._path = recording._path

    def is_silent(self) -> bool:
        """Whether the last half second was quiet."""
        count = int(QUIET_S * SAMPLE_RATE) * 2
        content = self._path.read_bytes()[-count:]
        samples = np.frombuffer(content[: len(content) // 2 * 2], dtype="<i2").astype(float)
        return len(samples) > 0 and float(np.sqrt(np.mean(samples**2))) < 30.0


def questions() -> dict[str, str]:
    """Return what is asked, word for word, and how the person answers."""
    protocol = load()
    known = {}
    for item, answer in ANSWERS.items():
        question = protocol.question(item)
        known[question.prompt] = answer
        known[question.again] = answer
    return known


def test_a_spoken_check_through_portaudio(pulse: PulseServer, tmp_path: Path) -> None:
    """The whole glance is led by voice, heard from the microphone, and stored as it was said."""
    data = tmp_path / "data"
    with Store.open(data) as store:
        dog = store.dogs.add("Tansy")
        store.settings.set("vet_number", "01632 960 106")
    hiss = np.random.default_rng(1).normal(0.0, 40.0, 150 * SAMPLE_RATE).astype(np.int16)
    pulse.speak_on(hiss)  # a virtual card is silent to the bit; no room is
    recording = pulse.record()
    room = Room(recording)
    synthesiser = Pyttsx3Synthesiser()
    said = {
        text: synthesiser.render(text, rate_wpm=165, voice="en-us")
        for text in {*ANSWERS.values(), "yes", "done"}
    }
    synthesiser.close()
    check = subprocess.Popen(
        [sys.executable, "-m", "handsfree.commands.main", "--data", str(data), "check", "Tansy",
         "--routine", "glance", "--mic", "pulse", "--speaker", "pulse", "--no-keys"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env={**os.environ},
    )  # fmt: skip
    lines: list[str] = []
    out = check.stdout
    assert out is not None
    reader = threading.Thread(target=lambda: lines.extend(iter(out.readline, "")))
    reader.start()
    known = questions()
    answered = 0
    end = time.monotonic() + 120
    while check.poll() is None and time.monotonic() < end:
        time.sleep(0.1)
        if len(lines) == answered:
            continue
        last = lines[-1].strip()
        if last.endswith(("Right?", "yes or no?")):
            answer = "yes"
        elif last.startswith("Say repeat"):
            answer = "done"
        else:
            answer = known.get(last, "")
        time.sleep(0.3)
        if answer and room.is_silent() and lines[-1].strip() == last:
            answered = len(lines)
            pulse.speak(said[answer])
    if check.poll() is None:
        check.kill()
    reader.join(timeout=10)
    errors = check.stderr.read() if check.stderr is not None else ""
    recording.stop()
    assert check.returncode == 0, f"{errors}\n{''.join(lines)}"
    with Store.open(data) as store:
        exam = store.exams.of_dog(dog.id)[0]
        found = {a.item: a.value for a in store.exams.answers(exam.id) if a.value is not None}
        assert exam.outcome is Outcome.COMPLETE
    wanted = {"now.signs": "none", "now.danger": "none", "now.gums": "pink",
              "watch.attitude": "bright"}  # fmt: skip
    assert {item: found.get(item) for item in wanted} == wanted, "".join(lines)


def test_no_sound_device_is_said_in_one_sentence(tmp_path: Path) -> None:
    """Without a device the check does not begin, says why, and offers the keys."""
    with Store.open(tmp_path) as store:
        store.dogs.add("Tansy")
    done = subprocess.run(
        [sys.executable, "-m", "handsfree.commands.main", "--data", str(tmp_path), "check", "Tansy",
         "--mic", "no such microphone"],
        capture_output=True, text=True, timeout=60,
        env={**os.environ, "PULSE_SERVER": "unix:/nowhere", "XDG_RUNTIME_DIR": str(tmp_path)},
    )  # fmt: skip
    assert done.returncode != 0
    assert len(done.stderr.strip().splitlines()) == 1
    assert "--typed" in done.stderr
